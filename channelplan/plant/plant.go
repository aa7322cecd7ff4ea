// Package plant is the amplifiers of a cable system as an inventory lists them: it reads
// the file, finds one amplifier in it, and follows cascades.
//
// [Begin] reads an inventory's header; then [Inventory.Decoder] reads rows fast, for
// callers that process millions of them, [Find] returns one amplifier, and [Read] returns
// all. [Plant.Cascades] puts them in order from the node down.
//
// An inventory is a CSV file with the columns amp, node, channel and carrier, and
// optionally mode, spare_channel, spare_carrier, low_mhz, high_mhz, upstream, span_db,
// span_mhz, range_up_db, range_down_db, role, detector; for an amplifier with a second
// pilot, for slope, slope_channel, slope_carrier, slope_range_up_db, slope_range_down_db,
// slope_detector, or a second row with the role low; and the amplifier's design:
// balance_low_mhz, balance_high_mhz, in_low_dbmv, in_high_dbmv, out_low_dbmv,
// out_high_dbmv, test_point_db, pad and equalizer. All other columns are the owner's own.
package plant

import (
	"fmt"
	"slices"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/table"
)

// Amplifier is an amplifier's record in an inventory.
type Amplifier struct {
	lineup.Amplifier
	// SpanDB is the loss of the span before it at 68 F, at the frequency SpanHz; both are
	// 0 if the record does not say.
	SpanDB float64
	SpanHz int64
}

// columns holds the columns of an inventory that have a meaning.
var columns = []string{"amp", "node", "channel", "carrier", "mode", "spare_channel", "spare_carrier",
	"low_mhz", "high_mhz", "upstream", "role", "detector", "span_db", "span_mhz", "range_up_db", "range_down_db",
	"balance_low_mhz", "balance_high_mhz", "in_low_dbmv", "in_high_dbmv", "out_low_dbmv", "out_high_dbmv",
	"test_point_db", "pad", "equalizer", "slope_channel", "slope_carrier", "slope_range_up_db", "slope_range_down_db",
	"slope_detector"}

// Column reports whether a column has a meaning, given its name in a header that was
// read; all others are the owner's own.
func Column(name string) bool { return slices.Contains(columns, name) }

// alike holds the columns that [Decoder] reads only once for all rows with the same text
// in them.
var alike = []string{"mode", "channel", "carrier", "spare_channel", "spare_carrier",
	"low_mhz", "high_mhz", "role", "detector", "range_up_db", "range_down_db",
	"slope_channel", "slope_carrier", "slope_range_up_db", "slope_range_down_db", "slope_detector"}

// row is a row that is being turned into an amplifier.
type row struct {
	*table.Layout
	fields []table.Field
	line   int
	// detectors are the types of detector that the inventory names, in lower case.
	detectors map[string]lineup.Detector
}

// wrong returns what is wrong with a value; hint is what to do, if the text does not say.
func (r row) wrong(at table.Field, hint, format string, args ...any) *fault.Error {
	return &fault.Error{Line: r.line, Column: at.Column, Text: fmt.Sprintf(format, args...), Hint: hint}
}

// unread returns why a value can't be read. Name is the column, if the error does not say;
// more is what else can be done.
func (r row) unread(at table.Field, name string, err error, more string) *fault.Error {
	f := fault.Of(err)
	f.Line, f.Column = r.line, at.Column
	if name != "" {
		f.Text = name + ": " + f.Text
	}
	f.Hint = f.HintAnd(more)
	return f
}

// settings reads the columns in alike. If it returns both ok and a problem, the rest of
// the row can be used anyway.
func (r row) settings() (a Amplifier, ok bool, problem *fault.Error) {
	value := func(name string) table.Field { return r.Value(r.fields, name) }
	var err error
	if a.Mode, err = lineup.ParseMode(value("mode").Text); err != nil {
		return a, false, r.unread(value("mode"), "", err, "")
	}
	if a.Role, err = lineup.ParseRole(value("role").Text); err != nil {
		return a, false, r.unread(value("role"), "", err, "")
	}
	for _, d := range []struct {
		name string
		into *lineup.Detector
	}{{"detector", &a.Detector}, {"slope_detector", &a.Slope.Detector}} {
		text := value(d.name)
		if text.Text == "" {
			continue
		}
		named, ok := r.detectors[strings.ToLower(text.Text)]
		if !ok {
			if named, err = lineup.ParseDetector(text.Text); err != nil {
				problem = r.unread(text, d.name, err,
					"or name a type that a remark '# detector NAME: ...' above the header describes")
			}
		}
		*d.into = named
	}
	if wrong := r.pilots(&a); wrong != nil {
		return a, false, wrong
	}
	var odd *fault.Error
	if a.Passband, odd = r.passband(); odd != nil {
		return a, false, odd
	}
	if a.Range, odd = r.held("range_up_db", "range_down_db"); problem == nil {
		problem = odd
	}
	if a.Role == lineup.LowPilot && a.Range.IsZero() { // the row is about the slope pilot alone
		if a.Range, odd = r.held("slope_range_up_db", "slope_range_down_db"); problem == nil {
			problem = odd
		}
	}
	if !a.Slope.Pilot.IsZero() {
		if a.Slope.Range, odd = r.held("slope_range_up_db", "slope_range_down_db"); problem == nil {
			problem = odd
		}
	}
	return a, true, problem
}

// pilots reads the main pilot, the spare and the slope pilot.
func (r row) pilots(a *Amplifier) *fault.Error {
	value := func(name string) table.Field { return r.Value(r.fields, name) }
	var err error
	for _, p := range []struct {
		channel, carrier string
		into             *channelplan.Pilot
		required         bool
	}{
		{"channel", "carrier", &a.Pilot, a.Mode == lineup.AGC},
		{"spare_channel", "spare_carrier", &a.Spare, false},
		{"slope_channel", "slope_carrier", &a.Slope.Pilot, false},
	} {
		channel, kind := value(p.channel), value(p.carrier)
		switch {
		case channel.Text == "" && kind.Text == "" && !p.required:
			continue
		case channel.Text == "" && p.required:
			return r.wrong(channel,
				"write the pilot's channel, or mode manual or thermal if it has no pilot by design",
				"there is no %s", p.channel)
		case channel.Text == "":
			return r.wrong(kind, "write both or neither", "there is a %s but no %s", p.carrier, p.channel)
		case kind.Text == "":
			return r.wrong(channel, "write analog, digital or cw", "there is a %s but no %s",
				p.channel, p.carrier)
		}
		if p.into.Kind, err = channelplan.ParsePilotKind(kind.Text); err != nil {
			return r.unread(kind, "", err, "")
		}
		if p.into.Channel, err = channelplan.ParseChannel(channel.Text); err != nil {
			return r.unread(channel, "", err, "")
		}
	}
	if a.Spare == a.Pilot { // a spare that is lost together with the pilot is not a spare
		a.Spare = channelplan.Pilot{}
	}
	switch {
	case a.Slope.Pilot.IsZero():
		a.Slope = lineup.SlopePilot{}
	case a.Slope.Pilot == a.Pilot:
		return r.wrong(value("slope_channel"),
			"leave the slope columns empty if it has one pilot", "its slope pilot is its main pilot")
	case !below(a.Slope.Pilot, a.Pilot):
		return r.wrong(value("slope_channel"),
			"swap the two if they are the wrong way round", "its slope pilot is not below its main pilot")
	case a.Role == lineup.LowPilot:
		return r.wrong(value("slope_channel"),
			"leave the slope columns empty", "a row with the role low is a slope pilot's, and has no second one")
	}
	return nil
}

// passband reads the amplifier's own passband; the zero Band if the row gives none.
func (r row) passband() (band lineup.Band, problem *fault.Error) {
	low, high := r.Value(r.fields, "low_mhz"), r.Value(r.fields, "high_mhz")
	if low.Text == "" && high.Text == "" {
		return band, nil
	}
	var err error
	if band.LowHz, err = channelplan.ParseMHz(r.Number(low.Text)); err != nil {
		return lineup.Band{}, r.unread(low, "low_mhz", err, "")
	}
	if band.HighHz, err = channelplan.ParseMHz(r.Number(high.Text)); err != nil {
		return lineup.Band{}, r.unread(high, "high_mhz", err, "")
	}
	if band.LowHz >= band.HighHz {
		return lineup.Band{}, r.wrong(low, "put its lower end in low_mhz", "the passband ends below where it starts")
	}
	return band, nil
}

// below reports whether a pilot is lower in the band than another; the channel plans have
// their channels in the same order. It is true for what is in no plan: that is told elsewhere.
func below(low, high channelplan.Pilot) bool {
	a, ok := lineup.Locate(low, channelplan.STD)
	b, ok2 := lineup.Locate(high, channelplan.STD)
	return !ok || !ok2 || a.FrequencyHz < b.FrequencyHz
}

// held reads a range from the columns of its two sides. If there is a problem, the range is
// zero.
func (r row) held(upName, downName string) (lineup.Range, *fault.Error) {
	var held lineup.Range
	up, down := r.Value(r.fields, upName), r.Value(r.fields, downName)
	for _, side := range []struct {
		name string
		at   table.Field
		into *float64
	}{{upName, up, &held.UpDB}, {downName, down, &held.DownDB}} {
		if side.at.Text == "" {
			continue
		}
		db, err := r.decibels(side.at.Text)
		if err != nil || db < 0 || db > mostRangeDB {
			return lineup.Range{}, r.wrong(side.at, "leave it empty if you do not know it",
				"%s %q is not a range in dB, from 0 to %d", side.name, side.at.Text, mostRangeDB)
		}
		*side.into = db
	}
	if (up.Text == "") != (down.Text == "") {
		return lineup.Range{}, r.wrong(up,
			fmt.Sprintf("write both %s and %s, or neither if you do not know them", upName, downName),
			"only one side of the range is given")
	}
	return held, nil
}

// joinRows joins the two rows of an amplifier with two pilots, in either order: one of them
// has the role low, and is the slope pilot's. ok is false if these are not two such rows.
func joinRows(a, b Amplifier) (joined Amplifier, ok bool) {
	main, low := a, b
	if main.Role == lineup.LowPilot {
		main, low = low, main
	}
	if !secondRow(main.Amplifier, low.Amplifier) {
		return Amplifier{}, false
	}
	main.Slope = lineup.SlopePilot{Pilot: low.Pilot, Range: low.Range, Detector: low.Detector}
	if main.Upstream == "" {
		main.Upstream = low.Upstream
	}
	if main.SpanDB == 0 {
		main.SpanDB, main.SpanHz = low.SpanDB, low.SpanHz
	}
	return main, true
}

// secondRow reports whether a row can be that of an amplifier's slope pilot, beside the
// amplifier's main row.
func secondRow(main, low lineup.Amplifier) bool {
	return main.Mode == lineup.AGC && low.Mode == lineup.AGC && low.Role == lineup.LowPilot &&
		main.Role != lineup.LowPilot && main.Slope.Pilot.IsZero() && below(low.Pilot, main.Pilot)
}

// The limits for plausible values of a design, in dBmV and dB.
const (
	mostDesignDBmV = 70
	mostTestDB     = 40
)

// design reads what an amplifier is set up to. The problem is about the first value that
// can't be read: half a design is of no use.
func (r row) design() (d lineup.Design, problem *fault.Error) {
	value := func(name string) table.Field { return r.Value(r.fields, name) }
	d.Pad, d.Equalizer = value("pad").Text, value("equalizer").Text
	fitted := d
	levels := 0
	for _, b := range []struct {
		low, high string
		into      *lineup.Balance
	}{{"in_low_dbmv", "in_high_dbmv", &d.Input}, {"out_low_dbmv", "out_high_dbmv", &d.Output}} {
		low, high := value(b.low), value(b.high)
		if low.Text == "" && high.Text == "" {
			continue
		}
		for _, side := range []struct {
			at   table.Field
			name string
			into *float64
		}{{low, b.low, &b.into.LowDBmV}, {high, b.high, &b.into.HighDBmV}} {
			db, err := r.decibels(side.at.Text)
			if err != nil || db < -mostDesignDBmV || db > mostDesignDBmV {
				return fitted, r.wrong(side.at, "write both balance channels' levels, or neither",
					"%s %q is not a level in dBmV, from -%d to %d", side.name, side.at.Text, mostDesignDBmV,
					mostDesignDBmV)
			}
			*side.into = db
		}
		b.into.Known = true
		levels++
	}
	if t := value("test_point_db"); t.Text != "" {
		db, err := r.decibels(t.Text)
		if err != nil || db < 0 || db > mostTestDB {
			return fitted, r.wrong(t, "leave it empty if you do not know it",
				"test_point_db %q is not a loss in dB, from 0 to %d", t.Text, mostTestDB)
		}
		d.TestPointDB = db
	}
	if levels == 0 {
		return d, nil
	}
	for _, side := range []struct {
		name string
		into *int64
	}{{"balance_low_mhz", &d.LowHz}, {"balance_high_mhz", &d.HighHz}} {
		hz, err := channelplan.ParseMHz(r.Number(value(side.name).Text))
		if err != nil {
			return fitted, r.unread(value(side.name), side.name, err,
				"design levels need the frequencies of both balance channels")
		}
		*side.into = hz
	}
	if d.LowHz >= d.HighHz {
		return fitted, r.wrong(value("balance_low_mhz"), "swap the two",
			"balance_low_mhz is not below balance_high_mhz")
	}
	return d, nil
}

// The limits for plausible values of a record, in dB.
const (
	mostRangeDB = 50
	mostSpanDB  = 200
)

// span reads the loss of the span before an amplifier.
func (r row) span() (db float64, hz int64, problem *fault.Error) {
	loss, at := r.Value(r.fields, "span_db"), r.Value(r.fields, "span_mhz")
	if loss.Text == "" && at.Text == "" {
		return 0, 0, nil
	}
	db, err := r.decibels(loss.Text)
	if err != nil || !(db > 0) || db > mostSpanDB {
		return 0, 0, r.wrong(loss, "leave it empty if you do not know it",
			"span_db %q is not a span loss in dB, above 0 and up to %d", loss.Text, mostSpanDB)
	}
	if hz, err = channelplan.ParseMHz(r.Number(at.Text)); err != nil {
		return 0, 0, r.unread(at, "span_mhz", err, "")
	}
	return db, hz, nil
}

func (r row) decibels(text string) (float64, error) { return table.ParseNumber(r.Number(text)) }
