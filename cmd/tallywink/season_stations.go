package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/season"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// runStations answers season for every AGC station of an inventory.
func (s *seasonFlags) runStations(out *console.Console, flags *pflag.FlagSet) (int, error) {
	for _, name := range []string{"span-db", "cable", "pilot", "mhz"} {
		if flags.Changed(name) {
			return 0, misuse("leave one of them out",
				"--amps has its own spans and pilots, so it does not go with --%s", name)
		}
	}
	if s.json && s.csv {
		return 0, misuse("leave one of them out", "you gave both --json and --csv")
	}
	if err := misfitsPage(s.html, s.json, s.csv, named{"--amps", s.amps}); err != nil {
		return 0, err
	}
	q := station.Conditions{StepDB: s.step}
	var err error
	if q.Plan, err = channelplan.ParsePlan(s.plan); err != nil {
		return 0, err
	}
	if q.Passband, err = s.passband(); err != nil {
		return 0, err
	}
	if q.Now, q.Low, q.High, err = s.temperatures(); err != nil {
		return 0, err
	}
	if q.Range, err = s.heldRange(flags); err != nil {
		return 0, err
	}
	if err := (season.Conditions{Now: q.Now, Low: q.Low, High: q.High}).CheckOrder(); err != nil {
		return 0, misuse("see --now, --low and --high", "%v", err)
	}
	if s.lineup != "" {
		if q.Lineup, err = loadFit(out, s.lineup); err != nil {
			return 0, err
		}
		if flags.Changed("plan") && q.Lineup.Plan != q.Plan {
			return 0, misuse("leave --plan out", "--plan says %s, but %s is a lineup for the %s plan", q.Plan.Name(),
				q.Lineup.File, q.Lineup.Plan.Name())
		}
		q.Plan = q.Lineup.Plan
		if q.Today, err = dayOf("", s.lineup); err != nil {
			return 0, err
		}
	}
	p, c, err := loadPlant(out, s.amps, q.Lineup)
	if err != nil {
		return 0, err
	}
	if p.HasPlan {
		if flags.Changed("plan") && p.Plan != q.Plan {
			return 0, misuse("leave --plan out", "--plan says %s, but %s is an inventory for the %s plan",
				q.Plan.Name(), nameOfInput(s.amps), p.Plan.Name())
		}
		q.Plan = p.Plan
	}
	stations := station.Stations(p, c, q)
	if s.node != "" {
		stations = slices.DeleteFunc(stations,
			func(st station.Station) bool { return !strings.EqualFold(st.Node, s.node) })
		if len(stations) == 0 {
			return 0, noNode(s.node)
		}
	}
	if s.amp != "" {
		return s.runStation(out, stations)
	}
	short, unknown, invalid := 0, 0, 0
	for _, st := range stations {
		if st.Invalid != "" {
			invalid++
		}
		switch {
		case st.Unknown != "":
			unknown++
		case !st.Answer.Covered:
			short++
		}
	}
	status := exitWell
	if short+unknown+invalid > 0 || p.LeftOut+len(c.Problems) > 0 {
		status = exitBadNews
	}
	switch {
	case s.html != "":
		return status, s.seasonPage(out, stations, stationBlocks(stations, q, short))
	case s.json:
		return status, out.JSONList(func(yield func(any) bool) {
			for _, st := range stations {
				if !yield(newStationDoc(st)) {
					return
				}
			}
		})
	case s.csv:
		printStationList(out, p, stations)
	default:
		s.printStations(out, stations, q, short)
	}
	return status, nil
}

// runStation answers season for one station, with the steps.
func (s *seasonFlags) runStation(out *console.Console, stations []station.Station) (int, error) {
	i := slices.IndexFunc(stations, func(st station.Station) bool { return strings.EqualFold(st.ID, s.amp) })
	switch {
	case s.csv || s.html != "" || s.all:
		return 0, misuse("leave --amp out, or the others", "--all, --csv and --html are for all stations")
	case i < 0:
		return 0, misuse("check the name, and the mode column, in the inventory", "no AGC station is called %q", s.amp)
	}
	st := stations[i]
	status := exitWell
	if !st.Settable() {
		status = exitBadNews
	}
	switch {
	case s.json:
		return status, out.JSON(newStationDoc(st))
	case st.Unknown != "":
		out.Print([]console.Block{console.Section("Unknown",
			fmt.Sprintf("%s: %s.", console.Shown(st.ID), console.Shown(st.Unknown)))}, nil)
	case st.Invalid != "":
		out.Print([]console.Block{console.Section("Pilot",
			fmt.Sprintf("%s: %v is not valid in this lineup (%s). It needs another pilot first: report it, and don't set the control.",
				console.Shown(st.ID), st.Pilot, st.Invalid)), careBlock()}, nil)
	default:
		out.Print(seasonBlocks(st.Question, st.Answer, st.Pilot), nil)
	}
	return status, nil
}

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

func newStationDoc(st station.Station) stationDoc {
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
	"set_db", "room_up_db", "room_down_db", "not_known", "what"}

// printStationList lists stations for a spreadsheet.
func printStationList(out *console.Console, p *plant.Plant, stations []station.Station) {
	w := newWorkList(p, out.Terminal)
	titles, own := ownOf(p, stationColumns)
	rows := w.append(w.mark(), append(slices.Clone(stationColumns), titles...)...)
	for _, st := range stations {
		values := []string{st.ID, st.Node, st.Pilot.String(), "", "", "", "", "", "", "", "", st.Unknown, whatOf(st)}
		if a := st.Answer; st.Unknown == "" {
			values = []string{st.ID, st.Node, st.Pilot.String(), w.tenths(st.SumDB()), w.tenths(a.SwingDB),
				w.tenths(st.Question.UpDB + st.Question.DownDB),
				either(a.Covered, "yes", "no"), w.tenths(st.SpareDB()), either(st.Settable(), w.tenths(a.SetDB), ""),
				w.tenths(a.RoomUpDB), w.tenths(a.RoomDownDB), "", whatOf(st)}
		}
		row, _ := p.Find(st.ID)
		rows = w.append(rows, append(values, own(row)...)...)
	}
	out.Line("%s", strings.TrimSuffix(string(rows), "\n"))
}

const (
	// maxStations is how many stations are listed for a person.
	maxStations = 20
	// maxNameColumn is how wide a column of names may become.
	maxNameColumn = 24
)

func (s *seasonFlags) printStations(out *console.Console, stations []station.Station, q station.Conditions, short int) {
	// Long names get wider columns; a narrow screen wraps them anyway.
	id, node := len("amp"), len("node")
	for _, st := range stations {
		id, node = max(id, utf8.RuneCountInString(console.Shown(st.ID))),
			max(node, utf8.RuneCountInString(console.Shown(st.Node)))
	}
	id, node = min(max(id, 10), maxNameColumn), min(max(node, 5), maxNameColumn)
	narrow := out.Width < console.LineWidth
	if !narrow {
		out.Line("%-*s %-*s %-11s cable dB  swing  range margin    set at", id, "amp", node, "node", "pilot")
	}
	listed := 0
	for _, st := range stations {
		if st.Unknown != "" {
			continue
		}
		if listed++; listed > maxStations && !s.all {
			continue
		}
		a := st.Answer
		if narrow {
			out.Print([]console.Block{{Label: fmt.Sprintf("%s %s", console.Shown(st.ID), console.Shown(st.Node)),
				Text: []console.Paragraph{console.Text(fmt.Sprintf(
					"%v: swing %.1f of %.1f dB, margin %+.1f, today %s", st.Pilot, a.SwingDB,
					st.Question.UpDB+st.Question.DownDB, st.SpareDB(), placeOf(st)))}}}, nil)
			continue
		}
		out.Line("%-*s %-*s %-11s %8.1f %6.1f %6.1f %+6.1f %9s", id, console.Shown(st.ID), node,
			console.Shown(st.Node), st.Pilot, st.SumDB(), a.SwingDB,
			st.Question.UpDB+st.Question.DownDB, st.SpareDB(), placeOf(st))
	}
	if more := listed - maxStations; more > 0 && !s.all {
		out.Line("and %d more: --all shows them", more)
	}
	out.Print(append(stationBlocks(stations, q, short), careBlock()), nil)
}

// whatOf is what a list for programs says about a station: set, or why its control is not
// to be set.
func whatOf(st station.Station) string {
	switch {
	case st.Invalid != "":
		return "not-valid"
	case st.Unknown != "":
		return "unknown"
	case !st.Answer.Covered:
		return "short"
	case st.Question.Tight(st.Answer):
		return "tight"
	}
	return "set"
}

// placeOf is where a station's control belongs today, or the word for why it is not to be
// set: no number stands where somebody could set it.
func placeOf(st station.Station) string {
	if what := whatOf(st); what != "set" {
		return strings.ReplaceAll(what, "-", " ")
	}
	return fmt.Sprintf("%+.1f", nonzero(st.Answer.SetDB))
}

// maxThermal is how many stations with thermal amplifiers before them are named.
const maxThermal = 5

// stationBlocks says how many stations are covered, and what to do.
func stationBlocks(stations []station.Station, q station.Conditions, short int) []console.Block {
	var unknown, thermal, invalid []station.Station
	tight := 0
	for _, st := range stations {
		if st.Invalid != "" {
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
				either(tight == 1, "it", "them"))))
	}
	if len(invalid) > 0 {
		b := console.Section("Pilots",
			fmt.Sprintf("%s not valid in this lineup: find another pilot first ('tallywink audit' says why).",
				wording.Counted(len(invalid), "pilot is", "pilots are")))
		var ids []string
		for _, st := range invalid[:min(len(invalid), maxThermal)] {
			ids = append(ids, fmt.Sprintf("%s (%v)", console.Shown(st.ID), st.Pilot))
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
			"not judged: add --lineup to see the ones that are not valid."))
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
			b.Text = append(b.Text, console.Row("and %d more: --json and --csv have all", more))
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
			"the last column says where the gain control belongs today, in dB from the middle of its range. Don't turn the control alone: add --amp ID for a station's steps, and do all of them, from the node down, when your supervisor agrees. Where a word stands instead, set nothing and report it."))
}

// nonzero turns a value that rounds to zero tenths into a plain zero, never a negative
// one.
func nonzero(db float64) float64 {
	if math.Abs(db) < 0.05 {
		return 0
	}
	return db
}
