package main

import (
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/season"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var cutoverCommand = command{
	name:    "cutover",
	summary: "a work plan for the day the headend changes its lineup",
	help: `  tallywink cutover demo
  tallywink cutover --amps amps.csv --before old.csv --lineup new.csv
  tallywink cutover demo --node N16 --visit 45m --crews 2
  tallywink cutover demo --csv > work.csv
  tallywink cutover demo --crews 4 --window 00:00-06:00 --ics crews.ics
  tallywink cutover --amps a.csv --before b.csv --lineup c.csv --book f.jsonl

Which amplifiers move before the change, to a pilot that is the same in both
lineups; which are parked in manual or thermal while their channel moves and
locked again after; in order down each cascade (the column upstream), node by
node, with what the lamp must show, how long it takes and how to back out.
--window lays the visits on nights; --change-at says when that night the
headend changes its lineup. --book takes out what is done, by the last reading
of each lamp, and plans the rest. The record says which carriers a detector can
follow: the kind of its pilot and of its spare. Exit status 1 if an amplifier
would be stranded, or if the nights do not suffice.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		c := &cuttingOver{}
		c.Declare(flags, "the lineup in use now, a CSV `FILE`, or demo")
		input.DurationVar(flags, &c.visit, "visit", 30*time.Minute, time.Minute,
			"how long a visit takes, with the drive, such as `45m`")
		flags.IntVar(&c.crews, "crews", 1, "how many `CREWS` work at once")
		flags.StringVar(&c.daySwing, "day-swing", "30F",
			"how much warmer the cable is by day than by night, in `DEGREES`, such as 30F or 17C")
		flags.StringVar(&c.node, "node", "", "only the work at this `NODE`")
		flags.StringVar(&c.window, "window", "", "lay the visits on nights: the `HOURS` of work, such as 00:00-06:00")
		flags.StringVar(&c.changeAt, "change-at", "",
			"with --window, the `TIME` of the change, such as 03:00 (default: halfway)")
		input.DurationVar(flags, &c.margin, "margin", 30*time.Minute, time.Minute,
			"with --window, how long nobody works before and after the change, such as `30m`")
		flags.StringVar(&c.book, "book", "",
			"a field book, a `FILE`: what its readings show as done is not planned again")
		flags.StringVar(&c.since, "since", "", "with --book, count readings from this `DAY` on, such as 2026-12-01")
		flags.StringVar(&c.ics, "ics", "", "with --window, also write a calendar `FILE` (iCalendar)")
		input.DeclareSheet(flags, &c.sheet)
		flags.BoolVar(&c.csv, "csv", false, "a work list for dispatch, a row for each visit")
		flags.BoolVar(&c.json, "json", false, "answer as one JSON document")
		input.HTMLVar(flags, &c.html)
		return func(out *console.Console, args []string) (int, error) { return c.run(out, flags, args) }
	},
}

// cuttingOver is the command with its flags.
type cuttingOver struct {
	input.Plant
	visit       time.Duration
	crews       int
	node, sheet string
	html        string
	daySwing    string
	csv, json   bool
	window      string // when crews may work
	changeAt    string
	ics         string
	book, since string // what has been done
	margin      time.Duration
}

func (c *cuttingOver) run(out *console.Console, flags *pflag.FlagSet, args []string) (int, error) {
	err := input.DemoArgs(args, "cutover", map[*string]string{&c.Amps: demo.Name, &c.Lineup: demo.NextName,
		&c.Before: demo.Name}, &c.Amps)
	if err != nil {
		return 0, err
	}
	switch {
	case c.Amps == "" || c.Before == "" || c.Lineup == "":
		return 0, misuse("give all three, or try 'tallywink cutover demo'",
			"a cutover needs --amps, --before and --lineup")
	case c.json && c.csv:
		return 0, misuse("leave one of them out", "you gave both --json and --csv")
	case c.visit <= 0 || c.visit > 24*time.Hour:
		return 0, misuse("30m is usual", "--visit can't be %v", c.visit)
	case c.margin < 0 || c.margin > 12*time.Hour:
		return 0, misuse("30m is usual", "--margin can't be %v", c.margin)
	case c.crews < 1 || c.crews > 1000:
		return 0, misuse("1 is the default", "--crews can't be %d", c.crews)
	}
	inputs := []input.Named{input.At("--amps", c.Amps), input.At("--lineup", c.Lineup), input.At("--before", c.Before),
		input.At("--sheet", c.sheet)}
	if err := input.MisfitsPage(c.html, c.json, c.csv); err != nil {
		return 0, err
	}
	if err := input.DistinctFiles([]input.Named{input.At("--ics", c.ics), input.At("--html", c.html)},
		inputs...); err != nil {
		return 0, err
	}
	code, err := input.LoadSheet(c.sheet)
	if err != nil {
		return 0, err
	}
	after, before, today, err := c.Lineups(out)
	if err != nil {
		return 0, err
	}
	p, cascades, err := input.LoadPlant(out, c.Amps, after)
	if err != nil {
		return 0, err
	}
	daySwing, err := season.ParseSwing(c.daySwing)
	if err != nil {
		return 0, misuse("30F is the default", "--day-swing: %v", err)
	}
	plan := cutover.New(p, cascades, cutover.Request{Before: before, After: after, Today: today, Visit: c.visit,
		Crews: c.crews, Node: c.node, DaySwing: daySwing})
	if c.node != "" && len(plan.Nodes) == 0 {
		return 0, input.NoNode(c.node)
	}
	if c.book != "" {
		if err := c.follow(out, plan, p, cascades); err != nil {
			return 0, err
		}
	} else if c.since != "" {
		return 0, misuse("add --book FILE", "--since says which readings of a book count")
	}
	nights, err := c.nights(plan)
	if err != nil {
		return 0, err
	}
	status := exitWell
	if plan.Count[cutover.Strand] > 0 || p.LeftOut+len(cascades.Problems) > 0 {
		status = exitBadNews
	}
	w := report.WorkPlan{Plan: plan, Plant: p, Code: code,
		Problems: append(slices.Clone(p.Problems), cascades.Problems...),
		LeftOut:  p.LeftOut, Broken: len(cascades.Problems),
		Cautions: report.CautionsOf(before, after, p, c.node, today), Calendar: nights, Jobs: report.ByVisit(nights),
		Assumed:     !flags.Changed("visit") && !flags.Changed("crews"),
		ChangeGiven: c.changeAt != "", SwingGiven: flags.Changed("day-swing"), Followed: c.book != ""}
	if nights != nil && nights.Late() {
		status = exitBadNews
	}
	if c.ics != "" {
		if err := w.WriteICalendar(out, c.ics); err != nil {
			return 0, err
		}
	}
	switch {
	case c.html != "":
		return status, w.Page(out, c.html, cascades)
	case c.json:
		return status, out.JSON(w.Document())
	case c.csv:
		out.Line("%s", strings.TrimSuffix(string(w.List(out.Terminal)), "\n"))
	default:
		out.Print(w.Blocks(), nil)
	}
	return status, nil
}
