package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/season"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

type seasonInputsDoc struct {
	Spans       []spanDoc `json:"spans"`
	PilotHz     int64     `json:"pilot_hz"`
	LowHz       int64     `json:"low_hz"`
	HighHz      int64     `json:"high_hz"`
	NowF        float64   `json:"now_f"`
	LowF        float64   `json:"low_f"`
	HighF       float64   `json:"high_f"`
	RangeUpDB   float64   `json:"range_up_db"`
	RangeDownDB float64   `json:"range_down_db"`
	StepDB      float64   `json:"step_db"`
	// Of the slope pilot, if there is one.
	SlopeHz     int64   `json:"slope_hz,omitempty"`
	SlopeUpDB   float64 `json:"slope_range_up_db,omitempty"`
	SlopeDownDB float64 `json:"slope_range_down_db,omitempty"`
}

// slopeSeasonDoc is about the slope control of an amplifier with two pilots.
type slopeSeasonDoc struct {
	SwingDB  float64  `json:"swing_db"` // of the difference of the levels at both pilots
	OffsetDB float64  `json:"offset_db"`
	Covered  *bool    `json:"covered"` // null if the range is not known
	SetDB    *float64 `json:"set_db"`  // null if the range is not known
}

func newSlopeSeasonDoc(q season.Conditions, a season.Answer) *slopeSeasonDoc {
	if !q.HasSlope() {
		return nil
	}
	d := &slopeSeasonDoc{SwingDB: hundredths(a.Slope.SwingDB), OffsetDB: hundredths(a.Slope.OffsetDB)}
	if q.SlopeRangeKnown() {
		set := hundredths(a.Slope.SetDB)
		d.Covered, d.SetDB = &a.Slope.Covered, &set
	}
	return d
}

type spanDoc struct {
	DB float64 `json:"db"` // at 68 F
	Hz int64   `json:"hz"`
}

// seasonCoreDoc holds what is said about one station, alone or among many.
type seasonCoreDoc struct {
	Inputs      seasonInputsDoc `json:"inputs"`
	SwingDB     float64         `json:"swing_db"`
	LowDB       float64         `json:"low_db"`  // level at the low temperature, relative to today's
	HighDB      float64         `json:"high_db"` // the same at the high temperature
	Covered     bool            `json:"covered"`
	OffsetDB    float64         `json:"offset_db"`
	SetDB       float64         `json:"set_db"` // where the control should be today, from the middle of its range
	RoomUpDB    float64         `json:"room_up_db"`
	RoomDownDB  float64         `json:"room_down_db"`
	SwingLowDB  float64         `json:"swing_low_edge_db"`
	SwingHighDB float64         `json:"swing_high_edge_db"`
	Beyond      bool            `json:"beyond"` // the square root law reads low there
	Slope       *slopeSeasonDoc `json:"slope,omitempty"`
}

type seasonDoc struct {
	Schema int `json:"schema"`
	seasonCoreDoc
	Steps [][]string `json:"steps"` // one or two ways, of which one is to be chosen, or what to report
}

func newSeasonCoreDoc(q season.Conditions, a season.Answer) seasonCoreDoc {
	d := seasonCoreDoc{SwingDB: hundredths(a.SwingDB), LowDB: hundredths(a.LowDB), HighDB: hundredths(a.HighDB),
		Covered:  a.Covered,
		OffsetDB: hundredths(a.OffsetDB), SetDB: hundredths(a.SetDB), RoomUpDB: hundredths(a.RoomUpDB),
		RoomDownDB: hundredths(a.RoomDownDB),
		SwingLowDB: hundredths(a.SwingLowDB), SwingHighDB: hundredths(a.SwingHighDB), Beyond: a.Beyond,
		Slope: newSlopeSeasonDoc(q, a)}
	d.Inputs = seasonInputsDoc{PilotHz: q.PilotHz, LowHz: q.LowHz, HighHz: q.HighHz, NowF: hundredths(float64(q.Now)),
		LowF: hundredths(float64(q.Low)), HighF: hundredths(float64(q.High)),
		RangeUpDB: q.UpDB, RangeDownDB: q.DownDB, StepDB: q.StepDB,
		SlopeHz: q.SlopeHz, SlopeUpDB: q.SlopeUpDB, SlopeDownDB: q.SlopeDownDB}
	for _, s := range q.Spans {
		d.Inputs.Spans = append(d.Inputs.Spans, spanDoc{hundredths(s.LossDB), s.AtHz})
	}
	return d
}

// NewSeasonDoc returns the JSON document of a season.
func NewSeasonDoc(q season.Conditions, a season.Answer, pilot channelplan.Pilot) any {
	return newSeasonDoc(q, a, pilot)
}

func newSeasonDoc(q season.Conditions, a season.Answer, pilot channelplan.Pilot) seasonDoc {
	d := seasonDoc{Schema: answer.Schema, seasonCoreDoc: newSeasonCoreDoc(q, a)}
	first, ways := seasonWays(q, a, pilot)
	if len(ways) == 0 {
		d.Steps = [][]string{first}
	}
	for _, way := range ways {
		d.Steps = append(d.Steps, append(slices.Clone(first), way...))
	}
	return d
}

// The steps for setting the control to the season are common practice, with no source.
const (
	seasonFirst = "Ask your supervisor: this moves levels for everyone downstream, so the whole cascade is done in one go, from the node down."
	seasonInput = "Write down output levels, pad, equalizer, control and switch. Measure the pilot and both balance channels at the input test point, and add the test point loss. Pilot missing, or anything over 2 dB off design? Stop: find that fault first. Don't pad it away."
	padTo       = "With pad and equalizer, bring the output %s at both balance channels, as close as their steps allow: the AGC's level makes up the rest."
	lockIt      = "Switch to AGC and wait for lock. The lamp must show %v%s."
	agcLevel    = "Set the AGC's level until the output is at design. No lock, or out of reach? Put it back as you found it, and report."
	reportIt    = "Don't set this control by the season. Report it: the AGC's range is too small for this span. The supervisor decides on a module with more range, a station in between, or a visit each season."
)

// slopeShort is what to do where the slope control's range does not suffice.
const slopeShort = "Don't set these controls by the season. Report it: the slope control's range is too small for this span. The supervisor decides on another module, an equalizer for each season, or a station in between."

// slopeText says what the slope control has to do over the year.
func slopeText(q season.Conditions, a season.Answer) string {
	text := fmt.Sprintf("the slope pilot is at %s MHz. Over the year, the level there moves %.1f dB against the main pilot's",
		channelplan.FormatMHz(q.SlopeHz), a.Slope.SwingDB)
	switch {
	case !q.SlopeRangeKnown():
		return text + "; how far the slope control reaches is not known."
	case !a.Slope.Covered:
		return fmt.Sprintf("%s, and the slope control has only %.1f dB: not covered.", text, q.SlopeUpDB+q.SlopeDownDB)
	}
	return fmt.Sprintf("%s, and the slope control has %.1f dB: covered. Today it belongs at %s.",
		text, q.SlopeUpDB+q.SlopeDownDB, slopePlace(a))
}

// slopePlace says where the slope control belongs.
func slopePlace(a season.Answer) string {
	switch db := nonzero(a.Slope.SetDB); {
	case db > 0:
		return fmt.Sprintf("%.1f dB more slope than at its middle", db)
	case db < 0:
		return fmt.Sprintf("%.1f dB less slope than at its middle", -db)
	}
	return "its middle"
}

// middleOf names the place of the control from which its range is counted: the middle, if
// that is as far from both ends.
func middleOf(q season.Conditions) string {
	if q.UpDB == q.DownDB {
		return "the middle of its range"
	}
	return fmt.Sprintf("the place that leaves %.1f dB up and %.1f dB down", q.UpDB, q.DownDB)
}

// seasonWays returns what to do: the steps that come first, and one or two ways to put the
// control where it should be, of which one is to be chosen. Each way ends with the output
// at design: it is never left off design in AGC. The AGC has its own level setting, and
// pads come in steps. Where the range does not suffice, there is no way, and first says to
// report it.
func seasonWays(q season.Conditions, a season.Answer, pilot channelplan.Pilot) (first []string, ways [][]string) {
	if !a.Covered || q.Tight(a) {
		return []string{reportIt}, nil
	}
	slope := ""
	switch {
	case q.SlopeShort(a):
		return []string{slopeShort}, nil
	case q.HasSlope() && !q.SlopeRangeKnown():
		slope = " How far its slope control reaches is not on record: keep that away from its ends, or stop and report."
	case q.HasSlope():
		slope = fmt.Sprintf(" Set the slope control to %s.", slopePlace(a))
	}
	amount := fmt.Sprintf("%.1f dB", math.Abs(a.SetDB))
	way := func(control, output string) []string {
		return []string{"In manual, set the gain control " + control + "." + slope, fmt.Sprintf(padTo, output),
			fmt.Sprintf(lockIt, pilot, wording.Either(q.HasSlope(), " or its slope pilot", "")), agcLevel}
	}
	first = []string{seasonFirst, answer.Interrupts, seasonInput}
	if math.Abs(a.SetDB) < 0.05 {
		return first, [][]string{way("to "+middleOf(q), "to design")}
	}
	more, below := "more", "below"
	if a.SetDB < 0 {
		more, below = "less", "above"
	}
	return first, [][]string{
		way(fmt.Sprintf("to %s %s gain than at %s", amount, more, middleOf(q)), "to design"),
		way("to "+middleOf(q), fmt.Sprintf("%s %s design", amount, below)),
	}
}

// SeasonBlocks tells what a season asks of an AGC, and what to do.
func SeasonBlocks(q season.Conditions, a season.Answer, p channelplan.Pilot) []console.Block {
	name := p.String()
	if p.Kind == channelplan.CW && p.Channel == 0 {
		name = "cw carrier"
	}
	blocks := []console.Block{
		console.Section("Cable",
			fmt.Sprintf("%s, %.1f dB at 68 F in all; at the pilot, %s at %s MHz, %.1f dB today at %v.",
				wording.Counted(len(q.Spans), "span", "spans"), q.SumDB(), name,
				channelplan.FormatMHz(q.PilotHz), a.LossNowDB, q.Now)),
		console.Section("Swing",
			fmt.Sprintf("compared with today, the pilot is %+.1f dB at %v and %+.1f dB at %v: %.1f dB in all. At %s MHz it is %.1f dB, at %s MHz %.1f dB.",
				a.LowDB, q.Low, a.HighDB, q.High, a.SwingDB, channelplan.FormatMHz(q.LowHz), a.SwingLowDB,
				channelplan.FormatMHz(q.HighHz), a.SwingHighDB)),
	}
	held := fmt.Sprintf("covered: the AGC has %.1f dB up and %.1f dB down, and needs %.1f dB in all.", q.UpDB,
		q.DownDB, a.SwingDB)
	if q.Tight(a) {
		held = fmt.Sprintf("tight: the AGC has %.1f dB up and %.1f dB down, and needs %.1f dB in all. That leaves %.1f dB, and set-up and drift take 1 to 2 dB (common practice, no source): treat it as not covered.",
			q.UpDB, q.DownDB, a.SwingDB, q.SpareDB(a))
	}
	if !a.Covered {
		held = fmt.Sprintf("not covered: the AGC has %.1f dB in all, but needs %.1f dB. In extreme weather it will be at the end of its range.",
			q.UpDB+q.DownDB, a.SwingDB)
	}
	set := fmt.Sprintf("the gain control belongs at %+.1f dB from %s (seasonal offset %+.2f dB). That leaves %.1f dB for the heat and %.1f dB for the cold.",
		a.SetDB, middleOf(q), a.OffsetDB, a.RoomUpDB, a.RoomDownDB)
	if a.SetDB >= q.UpDB || a.SetDB <= -q.DownDB {
		set = fmt.Sprintf("the gain control would be at the end of its range, %+.1f dB from the middle; the seasons call for %+.1f dB (offset %+.2f dB). That leaves %.1f dB for the heat and %.1f dB for the cold.",
			a.SetDB, q.AskedDB(a), a.OffsetDB, a.RoomUpDB, a.RoomDownDB)
	}
	first, ways := seasonWays(q, a, p)
	if len(ways) == 0 {
		set = strings.Replace(set, "control belongs at", "control would belong at", 1)
		blocks = append([]console.Block{console.Section("Report", first[0])}, blocks...)
	}
	blocks = append(blocks, console.Section("Range", held), console.Section("Today", set),
		console.Block{Label: "Plot",
			Text: []console.Paragraph{console.Drawn(func(width int) []string { return seasonPlot(q, a, width) })}})
	if q.HasSlope() {
		blocks = append(blocks, console.Section("Slope", slopeText(q, a)))
	}
	switch len(ways) {
	case 0: // told above
	case 1:
		blocks = append(blocks, console.Numbered("First", first), console.Numbered("Then", ways[0]))
	default:
		blocks = append(blocks, console.Numbered("First", first),
			console.Section("Then",
				"one of these two ways, never both: way one if you can read the control's place in dB, way two if you can only find its middle."),
			console.Numbered("Way one", ways[0]), console.Numbered("Way two", ways[1]))
	}
	if a.Beyond {
		blocks = append(blocks, console.Section("Caution",
			"a frequency here is more than twice the one the loss was given for: the square root law reads low there."))
	}
	return append(blocks, console.Section("Caution",
		"never leave the output off design in AGC. It is the cable's temperature that counts, not the air's."),
		CareBlock())
}

// seasonPlot draws where the control is within its range, one line per temperature: '['
// and ']' are the ends of the range, '|' its middle, '*' the control, '!' a control that
// would be beyond an end. It is as wide as there is room; if that is too little, it is a
// table.
func seasonPlot(q season.Conditions, a season.Answer, room int) []string {
	const names, notes, rows = 16, 6, 7 // columns before and after the plot, and its lines
	width := min(room-names-notes, 41)
	width -= 1 - width%2 // an odd one has a middle
	if width < 13 {
		return seasonTable(q, a)
	}
	most := max(q.UpDB, q.DownDB)
	column := func(db float64) int { return int(math.Round((db/most + 1) / 2 * float64(width-1))) }
	temperatures := []season.Fahrenheit{}
	for i := range rows {
		temperatures = append(temperatures, q.Low+(q.High-q.Low)*season.Fahrenheit(i)/(rows-1))
	}
	lines := []string{fmt.Sprintf("%-16s%+.1f dB%s%+.1f dB", "", -q.DownDB, strings.Repeat(" ", width-12), q.UpDB)}
	draw := func(t season.Fahrenheit, note string) {
		row := []byte(strings.Repeat(" ", width))
		row[column(-q.DownDB)], row[column(q.UpDB)], row[column(0)] = '[', ']', '|'
		at := q.StandsAt(t, a)
		sign := byte('*')
		if at > q.UpDB || at < -q.DownDB {
			sign = '!'
		}
		row[min(max(column(at), 0), width-1)] = sign
		lines = append(lines, strings.TrimRight(fmt.Sprintf("%-15v %s %s", t, row, note), " "))
	}
	shown := false
	for _, t := range temperatures {
		if !shown && q.Now <= t {
			shown = true
			draw(q.Now, "today")
			if q.Now == t {
				continue
			}
		}
		draw(t, "")
	}
	return lines
}

// seasonTable says where the control is within its range, a line for each temperature.
func seasonTable(q season.Conditions, a season.Answer) []string {
	var lines []string
	for _, t := range []season.Fahrenheit{q.Low, q.Now, q.High} {
		at := nonzero(q.StandsAt(t, a))
		lines = append(lines, fmt.Sprintf("%.0f F: %+.1f dB%s", float64(t), at,
			wording.Either(at > q.UpDB || at < -q.DownDB, "!", "")))
	}
	return append(lines, fmt.Sprintf("of %+.1f to %+.1f", -q.DownDB, q.UpDB))
}
