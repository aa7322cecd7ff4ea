package main

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/season"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
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
	if err := input.MisfitsPage(s.html, s.json, s.csv, input.At("--amps", s.amps)); err != nil {
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
		if q.Lineup, err = input.LoadLineup(out, s.lineup); err != nil {
			return 0, err
		}
		if flags.Changed("plan") && q.Lineup.Plan != q.Plan {
			return 0, misuse("leave --plan out", "--plan says %s, but %s is a lineup for the %s plan", q.Plan.Name(),
				q.Lineup.File, q.Lineup.Plan.Name())
		}
		q.Plan = q.Lineup.Plan
		if q.Today, err = input.DayOf("", s.lineup); err != nil {
			return 0, err
		}
	}
	p, c, err := input.LoadPlant(out, s.amps, q.Lineup)
	if err != nil {
		return 0, err
	}
	if p.HasPlan {
		if flags.Changed("plan") && p.Plan != q.Plan {
			return 0, misuse("leave --plan out", "--plan says %s, but %s is an inventory for the %s plan",
				q.Plan.Name(), input.NameOf(s.amps), p.Plan.Name())
		}
		q.Plan = p.Plan
	}
	stations := station.Stations(p, c, q)
	if s.node != "" {
		stations = slices.DeleteFunc(stations,
			func(st station.Station) bool { return !strings.EqualFold(st.Node, s.node) })
		if len(stations) == 0 {
			return 0, input.NoNode(s.node)
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
		case !st.Answer.Covered || st.Question.SlopeShort(st.Answer):
			short++
		}
	}
	status := exitWell
	if short+unknown+invalid > 0 || p.LeftOut+len(c.Problems) > 0 {
		status = exitBadNews
	}
	switch {
	case s.html != "":
		return status, report.SeasonPage(out, s.html, input.NameOf(s.amps), stations, report.StationBlocks(stations, q, short))
	case s.json:
		return status, out.JSONList(func(yield func(any) bool) {
			for _, st := range stations {
				if !yield(report.NewStationDoc(st)) {
					return
				}
			}
		})
	case s.csv:
		report.PrintStationList(out, p, stations)
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
		return status, out.JSON(report.NewStationDoc(st))
	case st.Unknown != "":
		out.Print([]console.Block{console.Section("Unknown",
			fmt.Sprintf("%s: %s.", console.Shown(st.ID), console.Shown(st.Unknown)))}, nil)
	case st.Invalid != "":
		out.Print([]console.Block{console.Section("Pilot",
			fmt.Sprintf("%s: %s%v is not valid in this lineup (%s). It needs another pilot first: report it, and don't set the control.",
				console.Shown(st.ID), wording.Either(st.InvalidPilot == st.Pilot, "", "its slope pilot, "), st.InvalidPilot,
				st.Invalid)), report.CareBlock()}, nil)
	default:
		out.Print(report.SeasonBlocks(st.Question, st.Answer, st.Pilot), nil)
	}
	return status, nil
}

func (s *seasonFlags) printStations(out *console.Console, stations []station.Station, q station.Conditions, short int) {
	// Long names get wider columns; a narrow screen wraps them anyway.
	id, node := len("amp"), len("node")
	slope := "" // the title of a column that is only there if one of them has a slope control
	for _, st := range stations {
		if report.SlopePlaceOf(st) != "" {
			slope = "   slope"
		}
		id, node = max(id, utf8.RuneCountInString(console.Shown(st.ID))),
			max(node, utf8.RuneCountInString(console.Shown(st.Node)))
	}
	id, node = min(max(id, 10), report.MaxNameColumn), min(max(node, 5), report.MaxNameColumn)
	narrow := out.Width < console.LineWidth
	if !narrow {
		out.Line("%-*s %-*s %-11s cable dB  swing  range margin    set at%s", id, "amp", node, "node", "pilot", slope)
	}
	listed := 0
	for _, st := range stations {
		if st.Unknown != "" {
			continue
		}
		if listed++; listed > report.MaxStations && !s.all {
			continue
		}
		a := st.Answer
		if narrow {
			out.Print([]console.Block{{Label: fmt.Sprintf("%s %s", console.Shown(st.ID), console.Shown(st.Node)),
				Text: []console.Paragraph{console.Text(fmt.Sprintf(
					"%v: swing %.1f of %.1f dB, margin %+.1f, today %s%s", st.Pilot, a.SwingDB,
					st.Question.UpDB+st.Question.DownDB, st.SpareDB(), report.PlaceOf(st),
					wording.Either(report.SlopePlaceOf(st) == "", "", ", slope "+report.SlopePlaceOf(st))))}}}, nil)
			continue
		}
		out.Line("%s", strings.TrimRight(fmt.Sprintf("%-*s %-*s %-11s %8.1f %6.1f %6.1f %+6.1f %9s %7s", id,
			console.Shown(st.ID), node, console.Shown(st.Node), st.Pilot, st.SumDB(), a.SwingDB,
			st.Question.UpDB+st.Question.DownDB, st.SpareDB(), report.PlaceOf(st), report.SlopePlaceOf(st)), " "))
	}
	if more := listed - report.MaxStations; more > 0 && !s.all {
		out.Line("and %d more: --all shows them", more)
	}
	out.Print(append(report.StationBlocks(stations, q, short), report.CareBlock()), nil)
}
