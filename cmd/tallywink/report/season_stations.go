package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/season"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

type stationDoc struct {
	Amp     string            `json:"amp"`
	Node    string            `json:"node"`
	Line    int               `json:"line"`
	Pilot   channelplan.Pilot `json:"pilot"`
	Through []string          `json:"through"` // amplifiers without AGC since the previous station
	Error   string            `json:"error,omitempty"`
	Season  *seasonCoreDoc    `json:"season"`            // null if there is an error
	Invalid lineup.Rule       `json:"invalid,omitempty"` // the rule by which its pilot is not usable in the lineup
	Steps   [][]string        `json:"steps"`             // one or two ways, of which one is to be chosen, or what to report
}

// NewStationDoc returns the JSON document of one amplifier's season.
func NewStationDoc(st station.Station) any {
	d := stationDoc{Amp: st.ID, Node: st.Node, Line: st.Line, Pilot: st.Pilot,
		Through: append([]string{}, st.Through...), Error: st.Unknown, Invalid: st.Invalid, Steps: [][]string{}}
	if st.Unknown == "" {
		core := newSeasonDoc(st.Question, st.Answer, st.Pilot)
		d.Season = &core.seasonCoreDoc
		if st.Invalid == "" {
			d.Steps = core.Steps
		}
	}
	return d
}

// stationColumns are the list's own columns, before the inventory owner's.
var stationColumns = []string{"amp", "node", "pilot", "cable_db", "swing_db", "range_db", "covered", "spare_db",
	"set_db", "room_up_db", "room_down_db", "not_known", "what", "slope_swing_db", "slope_range_db", "slope_set_db"}

// PrintStationList lists stations for a spreadsheet.
func PrintStationList(out *console.Console, p *plant.Plant, stations []station.Station) {
	w := newWorkList(p, out.Terminal)
	titles, own := ownOf(p, stationColumns)
	rows := w.append(w.mark(), append(slices.Clone(stationColumns), titles...)...)
	for _, st := range stations {
		values := []string{st.ID, st.Node, st.Pilot.String(), "", "", "", "", "", "", "", "", st.Unknown, whatOf(st)}
		if a := st.Answer; st.Unknown == "" {
			values = []string{st.ID, st.Node, st.Pilot.String(), w.tenths(st.SumDB()), w.tenths(a.SwingDB),
				w.tenths(st.Question.UpDB + st.Question.DownDB),
				wording.Either(a.Covered, "yes", "no"), w.tenths(st.SpareDB()),
				wording.Either(st.Settable(), w.tenths(a.SetDB), ""),
				w.tenths(a.RoomUpDB), w.tenths(a.RoomDownDB), "", whatOf(st)}
		}
		values = append(values, slopeValues(w, st)...)
		row, _ := p.Find(st.ID)
		rows = w.append(rows, append(values, own(row)...)...)
	}
	out.Line("%s", strings.TrimSuffix(string(rows), "\n"))
}

// slopeValues are the columns about the slope control; empty where there is none, and where
// nothing is to be set.
func slopeValues(w workList, st station.Station) []string {
	q, a := st.Question, st.Answer
	switch {
	case st.Unknown != "" || !q.HasSlope():
		return []string{"", "", ""}
	case !q.SlopeRangeKnown():
		return []string{w.tenths(a.Slope.SwingDB), "", ""}
	}
	return []string{w.tenths(a.Slope.SwingDB), w.tenths(q.SlopeUpDB + q.SlopeDownDB),
		wording.Either(st.Settable(), w.tenths(a.Slope.SetDB), "")}
}

const (
	// maxStations is how many stations are listed for a person.
	maxStations = 20
	// maxNameColumn is how wide a column of names may become.
	maxNameColumn = 24
)

// whatOf is what a list for programs says about a station: set, or why its control is not
// to be set.
func whatOf(st station.Station) string {
	switch {
	case st.Invalid != "":
		return "not-valid"
	case st.Unknown != "":
		return "unknown"
	case !st.Answer.Covered || st.Question.SlopeShort(st.Answer):
		return "short"
	case st.Question.Tight(st.Answer):
		return "tight"
	}
	return "set"
}

// placeOf is where a station's control belongs today, or the word for why it is not to be
// set: no number stands where somebody could set it.
func placeOf(st station.Station) string {
	if st.Invalid == lineup.RowUnreadable {
		return "unread"
	}
	if what := whatOf(st); what != "set" {
		return strings.ReplaceAll(what, "-", " ")
	}
	return fmt.Sprintf("%+.1f", nonzero(st.Answer.SetDB))
}

// slopePlaceOf is the same for its slope control; "" if it has none, or its range is not known.
func slopePlaceOf(st station.Station) string {
	switch q := st.Question; {
	case st.Unknown != "" || !q.HasSlope() || !q.SlopeRangeKnown():
		return ""
	case !st.Settable():
		return "-"
	}
	return fmt.Sprintf("%+.1f", nonzero(st.Answer.Slope.SetDB))
}

// maxThermal is how many stations with thermal amplifiers before them are named.
const maxThermal = 5

// stationBlocks says how many stations are covered, and what to do.
func stationBlocks(stations []station.Station, q station.Conditions, short int) []console.Block {
	var unknown, thermal, invalid []station.Station
	tight, unread := 0, map[channelplan.Pilot]bool{}
	for _, st := range stations {
		switch st.Invalid {
		case "":
		case lineup.RowUnreadable:
			unread[st.InvalidPilot] = true
		default:
			invalid = append(invalid, st)
		}
		switch {
		case st.Unknown != "":
			unknown = append(unknown, st)
			continue
		case len(st.Thermal) > 0:
			thermal = append(thermal, st)
		}
		if st.Question.Tight(st.Answer) && st.Answer.Covered {
			tight++
		}
	}
	known := len(stations) - len(unknown)
	blocks := []console.Block{
		console.Section("Stations",
			fmt.Sprintf("%d: %d covered, %d not covered, %d with too little data; %v now, %v to %v in the year.",
				len(stations), known-short, short, len(unknown), q.Now, q.Low, q.High)),
	}
	if tight > 0 {
		blocks = append(blocks, console.Section("Tight",
			fmt.Sprintf("%s under %.0f dB to spare, and set-up and drift take 1 to 2 dB (common practice, no source): treat %s as short.",
				wording.Counted(tight, "covered station has", "covered stations have"), season.ReserveDB,
				wording.Either(tight == 1, "it", "them"))))
	}
	if b := slopeBlock(stations); len(b.Text) > 0 {
		blocks = append(blocks, b)
	}
	if n := len(unread); n > 0 {
		blocks = append(blocks, console.Section("Lineup",
			fmt.Sprintf("rows can't be read, so nothing is known of %s: get them fixed, and set nothing there until then.",
				wording.Counted(n, "pilot of these", "pilots of these"))))
	}
	if len(invalid) > 0 {
		b := console.Section("Pilots",
			fmt.Sprintf("%s not valid in this lineup: find another pilot first%s.",
				wording.Counted(len(invalid), "pilot is", "pilots are"),
				console.Typed(" ('tallywink audit' says why)", "")))
		var ids []string
		for _, st := range invalid[:min(len(invalid), maxThermal)] {
			ids = append(ids, fmt.Sprintf("%s (%s%v)", console.Shown(st.ID),
				wording.Either(st.InvalidPilot == st.Pilot, "", "slope pilot "), st.InvalidPilot))
		}
		text := strings.Join(ids, ", ")
		if more := len(invalid) - maxThermal; more > 0 {
			text += fmt.Sprintf(", and %d more", more)
		}
		b.Text = append(b.Text, console.Text(text+"."))
		blocks = append(blocks, b)
	}
	if q.Lineup == nil {
		blocks = append(blocks, console.Section("Pilots",
			"not judged"+console.Typed(": add --lineup to see the ones that are not valid", "")+"."))
	}
	if len(thermal) > 0 {
		b := console.Block{Label: "Thermal"}
		for _, st := range thermal[:min(len(thermal), maxThermal)] {
			b.Text = append(b.Text,
				console.Text(console.Shown(fmt.Sprintf("%s swings %.1f dB if %s before it compensates fully, and %.1f dB if not at all; the list counts the larger.",
					st.ID, st.LeastDB, strings.Join(st.Thermal, ", "), st.Answer.SwingDB))))
		}
		if more := len(thermal) - maxThermal; more > 0 {
			b.Text = append(b.Text, console.Row("and %d more", more))
		}
		blocks = append(blocks, b)
	}
	if len(unknown) > 0 {
		b := console.Block{Label: "Unknown"}
		for _, st := range unknown[:min(len(unknown), 5)] {
			b.Text = append(b.Text, console.Text(fmt.Sprintf("%s: %s.", console.Shown(st.ID),
				console.Shown(st.Unknown))))
		}
		if more := len(unknown) - 5; more > 0 {
			b.Text = append(b.Text, console.Row("and %d more%s", more, console.Typed(": --json and --csv have all", "")))
		}
		blocks = append(blocks, b)
	}
	beyond := 0
	for _, st := range stations {
		if st.Answer.Beyond {
			beyond++
		}
	}
	if beyond > 0 {
		blocks = append(blocks, console.Section("Caution",
			fmt.Sprintf("at %s a frequency is more than twice the one a loss was given for: the square root law reads low there.",
				wording.Counted(beyond, "station", "stations"))))
	}
	return append(blocks,
		console.Section("Today",
			console.Typed("the column 'set at' says where the gain control belongs today, in dB from the middle of its range, and 'slope' where the slope control does.",
				"the last column says where the gain control belongs today, in dB from the middle of its range.")+
				" Don't turn the control alone: "+
				console.Typed("add --amp ID for", "get")+" a station's steps, and do all of them, from the node down, when your supervisor agrees. Where a word stands instead, set nothing and report it."))
}

// slopeBlock says where the range of a slope control is too small; it has no text if that is
// nowhere.
func slopeBlock(stations []station.Station) console.Block {
	b := console.Block{Label: "Slope"}
	short := 0
	for _, st := range stations {
		q := st.Question
		if st.Unknown != "" || !q.SlopeShort(st.Answer) {
			continue
		}
		if short++; short <= maxThermal {
			b.Text = append(b.Text, console.Text(fmt.Sprintf(
				"%s: the level at its slope pilot, %v, moves %.1f dB against the main pilot's; the slope control has %.1f dB.",
				console.Shown(st.ID), st.Slope.Pilot, st.Answer.Slope.SwingDB, q.SlopeUpDB+q.SlopeDownDB)))
		}
	}
	if more := short - maxThermal; more > 0 {
		b.Text = append(b.Text, console.Row("and %d more", more))
	}
	return b
}

// nonzero turns a value that rounds to zero tenths into a plain zero, never a negative
// one.
func nonzero(db float64) float64 {
	if math.Abs(db) < 0.05 {
		return 0
	}
	return db
}

// PrintStation tells about one station, with the steps.
func PrintStation(out *console.Console, st station.Station) {
	switch {
	case st.Unknown != "":
		out.Print([]console.Block{console.Section("Unknown",
			fmt.Sprintf("%s: %s.", console.Shown(st.ID), console.Shown(st.Unknown)))}, nil)
	case st.Invalid != "":
		out.Print([]console.Block{console.Section("Pilot", console.Shown(st.ID)+": "+invalidText(st)), CareBlock()}, nil)
	default:
		out.Print(SeasonBlocks(st.Question, st.Answer, st.Pilot), nil)
	}
}

// invalidText says why a station's control is not to be set.
func invalidText(st station.Station) string {
	which := wording.Either(st.InvalidPilot == st.Pilot, "", "its slope pilot, ") + st.InvalidPilot.String()
	switch st.Invalid {
	case lineup.RowUnreadable:
		return fmt.Sprintf("there is no way to say if %s is valid: a row of the lineup can't be read (%s). Get it fixed, and don't set the control until then.",
			which, st.Invalid)
	case lineup.CarrierMismatch:
		return fmt.Sprintf("the lineup lists another kind of carrier than %s (%s): the record or the lineup is wrong. Ask which, and don't set the control until then.",
			which, st.Invalid)
	}
	return fmt.Sprintf("%s is not valid in this lineup (%s). It needs another pilot first: report it, and don't set the control.",
		which, st.Invalid)
}

// PrintStations lists stations, and says how many of them are short, unknown or not valid;
// all is whether the list is printed to its end.
func PrintStations(out *console.Console, stations []station.Station, q station.Conditions, short int, all bool) {
	// Long names get wider columns; a narrow screen wraps them anyway.
	id, node := len("amp"), len("node")
	slope := "" // the title of a column that is only there if one of them has a slope control
	for _, st := range stations {
		if slopePlaceOf(st) != "" {
			slope = "   slope"
		}
		id, node = max(id, utf8.RuneCountInString(console.Shown(st.ID))),
			max(node, utf8.RuneCountInString(console.Shown(st.Node)))
	}
	id, node = min(max(id, 10), maxNameColumn), min(max(node, 5), maxNameColumn)
	narrow := out.Width < console.LineWidth
	if !narrow {
		out.Line("%-*s %-*s %-11s cable dB  swing  range margin    set at%s", id, "amp", node, "node", "pilot", slope)
	}
	listed := 0
	for _, st := range stations {
		if st.Unknown != "" {
			continue
		}
		if listed++; listed > maxStations && !all {
			continue
		}
		a := st.Answer
		if narrow {
			out.Print([]console.Block{{Label: fmt.Sprintf("%s %s", console.Shown(st.ID), console.Shown(st.Node)),
				Text: []console.Paragraph{console.Text(fmt.Sprintf(
					"%v: swing %.1f of %.1f dB, margin %+.1f, today %s%s", st.Pilot, a.SwingDB,
					st.Question.UpDB+st.Question.DownDB, st.SpareDB(), placeOf(st),
					wording.Either(slopePlaceOf(st) == "", "", ", slope "+slopePlaceOf(st))))}}}, nil)
			continue
		}
		out.Line("%s", strings.TrimRight(fmt.Sprintf("%-*s %-*s %-11s %8.1f %6.1f %6.1f %+6.1f %9s %7s", id,
			console.Shown(st.ID), node, console.Shown(st.Node), st.Pilot, st.SumDB(), a.SwingDB,
			st.Question.UpDB+st.Question.DownDB, st.SpareDB(), placeOf(st), slopePlaceOf(st)), " "))
	}
	if more := listed - maxStations; more > 0 && !all {
		out.Line("and %d more: --all shows them", more)
	}
	out.Print(append(stationBlocks(stations, q, short), CareBlock()), nil)
}
