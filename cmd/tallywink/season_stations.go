package main

import (
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/season"
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
	q, err := s.conditions(out, flags)
	if err != nil {
		return 0, err
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
		return status, report.SeasonPage(out, s.html, input.NameOf(s.amps), stations, q, short)
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
		report.PrintStations(out, stations, q, short, s.all)
	}
	return status, nil
}

// conditions returns what the flags say for all stations.
func (s *seasonFlags) conditions(out *console.Console, flags *pflag.FlagSet) (station.Conditions, error) {
	q := station.Conditions{StepDB: s.step}
	var err error
	if q.Plan, err = channelplan.ParsePlan(s.plan); err != nil {
		return q, err
	}
	if q.Passband, err = s.passband(); err != nil {
		return q, err
	}
	if q.Now, q.Low, q.High, err = s.temperatures(); err != nil {
		return q, err
	}
	if q.Range, err = s.heldRange(flags); err != nil {
		return q, err
	}
	if err := (season.Conditions{Now: q.Now, Low: q.Low, High: q.High}).CheckOrder(); err != nil {
		return q, misuse("see --now, --low and --high", "%v", err)
	}
	if s.lineup != "" {
		if q.Lineup, err = input.LoadLineup(out, s.lineup); err != nil {
			return q, err
		}
		if flags.Changed("plan") && q.Lineup.Plan != q.Plan {
			return q, misuse("leave --plan out", "--plan says %s, but %s is a lineup for the %s plan", q.Plan.Name(),
				q.Lineup.File, q.Lineup.Plan.Name())
		}
		q.Plan = q.Lineup.Plan
		if q.Today, err = input.DayOf("", s.lineup); err != nil {
			return q, err
		}
	}
	return q, nil
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
	if s.json {
		return status, out.JSON(report.NewStationDoc(st))
	}
	report.PrintStation(out, st)
	return status, nil
}
