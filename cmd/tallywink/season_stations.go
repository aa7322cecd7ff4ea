package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
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
			return 0, misuse("leave one of them out", "--amps has its own spans and pilots, so it does not go with --%s", name)
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
	p, c, err := loadPlant(out, s.amps, nil)
	if err != nil {
		return 0, err
	}
	if p.HasPlan {
		if flags.Changed("plan") && p.Plan != q.Plan {
			return 0, misuse("leave --plan out", "--plan says %s, but %s is an inventory for the %s plan", q.Plan.Name(), nameOfInput(s.amps), p.Plan.Name())
		}
		q.Plan = p.Plan
	}
	stations := station.Stations(p, c, q)
	if s.node != "" {
		stations = slices.DeleteFunc(stations, func(st station.Station) bool { return !strings.EqualFold(st.Node, s.node) })
		if len(stations) == 0 {
			return 0, noNode(s.node)
		}
	}
	short, unknown := 0, 0
	for _, st := range stations {
		switch {
		case st.Unknown != "":
			unknown++
		case !st.Answer.Covered:
			short++
		}
	}
	status := exitWell
	if short+unknown > 0 || p.LeftOut+len(c.Problems) > 0 {
		status = exitBadNews
	}
	switch {
	case s.html != "":
		return status, s.seasonPage(out, stations, stationBlocks(stations, q, short))
	case s.json:
		docs := []stationDoc{}
		for _, st := range stations {
			docs = append(docs, newStationDoc(st))
		}
		return status, out.JSON(docs)
	case s.csv:
		printStationList(out, p, stations)
	default:
		s.printStations(out, stations, q, short)
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
	Season  *seasonCoreDoc    `json:"season"` // null if there is an error
}

func newStationDoc(st station.Station) stationDoc {
	d := stationDoc{Amp: st.ID, Node: st.Node, Line: st.Line, Pilot: st.Pilot,
		Through: append([]string{}, st.Through...), Error: st.Unknown}
	if st.Unknown == "" {
		core := newSeasonCoreDoc(st.Question, st.Answer)
		d.Season = &core
	}
	return d
}

// stationColumns are the list's own columns, before the inventory owner's.
var stationColumns = []string{"amp", "node", "pilot", "cable_db", "swing_db", "range_db", "covered", "spare_db", "set_db", "room_up_db", "room_down_db", "not_known"}

// printStationList lists stations for a spreadsheet.
func printStationList(out *console.Console, p *plant.Plant, stations []station.Station) {
	w := newWorkList(p, out.Terminal)
	titles, own := ownOf(p, stationColumns)
	rows := w.append(w.mark(), append(slices.Clone(stationColumns), titles...)...)
	for _, st := range stations {
		values := []string{st.ID, st.Node, st.Pilot.String(), "", "", "", "", "", "", "", "", st.Unknown}
		if a := st.Answer; st.Unknown == "" {
			values = []string{st.ID, st.Node, st.Pilot.String(), w.tenths(st.SumDB()), w.tenths(a.SwingDB), w.tenths(st.Question.UpDB + st.Question.DownDB),
				either(a.Covered, "yes", "no"), w.tenths(st.SpareDB()), w.tenths(a.SetDB), w.tenths(a.RoomUpDB), w.tenths(a.RoomDownDB), ""}
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
		id, node = max(id, utf8.RuneCountInString(console.Shown(st.ID))), max(node, utf8.RuneCountInString(console.Shown(st.Node)))
	}
	id, node = min(max(id, 10), maxNameColumn), min(max(node, 5), maxNameColumn)
	narrow := out.Width < console.LineWidth
	if !narrow {
		out.Line("%-*s %-*s %-11s cable dB  swing  range  spare  set today", id, "amp", node, "node", "pilot")
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
			out.Print([]console.Block{{Label: fmt.Sprintf("%s %s", console.Shown(st.ID), console.Shown(st.Node)), Text: []console.Paragraph{console.Text(fmt.Sprintf(
				"%v: swing %.1f of %.1f dB, spare %+.1f%s, set today %+.1f", st.Pilot, a.SwingDB, st.Question.UpDB+st.Question.DownDB, st.SpareDB(), either(markOf(st) == "", "", " ("+markOf(st)+")"), nonzero(a.SetDB)))}}}, nil)
			continue
		}
		line := fmt.Sprintf("%-*s %-*s %-11s %8.1f %6.1f %6.1f %+6.1f  %+9.1f", id, console.Shown(st.ID), node, console.Shown(st.Node), st.Pilot, st.SumDB(), a.SwingDB,
			st.Question.UpDB+st.Question.DownDB, st.SpareDB(), nonzero(a.SetDB))
		out.Line("%s", strings.TrimRight(line+"  "+markOf(st), " "))
	}
	if more := listed - maxStations; more > 0 && !s.all {
		out.Line("and %d more: --all shows them", more)
	}
	out.Print(append(stationBlocks(stations, q, short), careBlock()), nil)
}

// markOf is what a list says about a station's range.
func markOf(st station.Station) string {
	switch {
	case !st.Answer.Covered:
		return "short"
	case st.Question.Tight(st.Answer):
		return "tight"
	}
	return ""
}

// maxThermal is how many stations with thermal amplifiers before them are named.
const maxThermal = 5

// stationBlocks says how many stations are covered, and what to do.
func stationBlocks(stations []station.Station, q station.Conditions, short int) []console.Block {
	var unknown, thermal []station.Station
	tight := 0
	for _, st := range stations {
		switch {
		case st.Unknown != "":
			unknown = append(unknown, st)
			continue
		case len(st.Thermal) > 0:
			thermal = append(thermal, st)
		}
		if markOf(st) == "tight" {
			tight++
		}
	}
	known := len(stations) - len(unknown)
	blocks := []console.Block{
		console.Section("Stations", fmt.Sprintf("%d: %d covered, %d not covered, %d with too little data; %v now, %v to %v in the year.",
			len(stations), known-short, short, len(unknown), q.Now, q.Low, q.High)),
	}
	if tight > 0 {
		blocks = append(blocks, console.Section("Tight", fmt.Sprintf("%s under %.0f dB to spare, and set-up and drift take 1 to 2 dB (common practice, no source): treat it as short.",
			wording.Counted(tight, "covered station has", "covered stations have"), season.ReserveDB)))
	}
	if len(thermal) > 0 {
		b := console.Block{Label: "Thermal"}
		for _, st := range thermal[:min(len(thermal), maxThermal)] {
			b.Text = append(b.Text, console.Text(console.Shown(fmt.Sprintf("%s swings %.1f dB if %s before it compensates fully, and %.1f dB if not at all; the list counts the larger.",
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
			b.Text = append(b.Text, console.Text(fmt.Sprintf("%s: %s.", console.Shown(st.ID), console.Shown(st.Unknown))))
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
		blocks = append(blocks, console.Section("Caution", fmt.Sprintf("at %s a frequency is more than twice the one a loss was given for: the square root law reads low there.",
			wording.Counted(beyond, "station", "stations"))))
	}
	return append(blocks,
		console.Section("Set", "set the gain control today as the last column says, from the middle of its range. 'tallywink season --span-db ...' gives both ways to get there. Never leave the output off design in AGC."))
}

// nonzero turns a value that rounds to zero tenths into a plain zero, never a negative
// one.
func nonzero(db float64) float64 {
	if math.Abs(db) < 0.05 {
		return 0
	}
	return db
}
