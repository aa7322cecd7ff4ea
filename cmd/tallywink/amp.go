package main

import (
	"errors"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var ampCommand = command{
	name:    "amp",
	summary: "all that is known about one amplifier",
	help: `  tallywink amp OSR-03 --lineup demo --amps demo
  tallywink amp OSR-03                  with 'tallywink settings' made once

What its lamp must show, whether its pilot and its spare are valid, what is next
to the pilot, what a meter should show by its design, and what was read there
last. Exit status 1 if its pilot is not valid. --withdraw takes back the last
reading noted there; it stays in the book, and does not count any more.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		a := &amping{}
		a.Declare(flags)
		input.DeclareSheet(flags, &a.Sheet)
		a.SheetGiven = true
		flags.StringVar(&a.book, "book", "", "the field book, a `FILE` (default: in your own data folder)")
		flags.StringVar(&a.by, "by", "", "with --withdraw, your `NAME` (default: your own on this machine)")
		flags.BoolVar(&a.withdraw, "withdraw", false, "take back the last reading noted there: it was wrong")
		flags.BoolVar(&a.json, "json", false, "answer as one JSON document")
		return a.run
	},
}

// amping is the command with its flags.
type amping struct {
	input.System
	book, by       string
	withdraw, json bool
}

func (c *amping) run(out *console.Console, args []string) (int, error) {
	switch {
	case len(args) == 1 && c.Amp == "":
		c.Amp = args[0]
	case len(args) > 0 || c.Amp == "":
		return 0, misuse("for instance: tallywink amp OSR-03 --lineup demo --amps demo", "name one amplifier")
	}
	if c.Amps == "" {
		return 0, misuse("add --amps FILE, or --amps demo, or set it once with 'tallywink settings'",
			"this takes the inventory that lists the amplifier")
	}
	sys, err := c.Load(out)
	if err != nil {
		return 0, err
	}
	k, err := c.known(out, sys)
	if err == nil && c.withdraw {
		k, err = c.takeBack(out, k)
	}
	if err != nil {
		return 0, err
	}
	status := exitWell
	if !c.withdraw && (answer.BadPilot(k.Pilot, sys.Strict) || answer.BadPilot(k.Slope, sys.Strict)) {
		status = exitBadNews
	}
	if c.json {
		return status, out.JSON(k.Document())
	}
	out.Print(k.Blocks(), nil)
	return status, nil
}

// takeBack withdraws the last reading noted at the amplifier.
func (c *amping) takeBack(out *console.Console, k report.KnownAmp) (report.KnownAmp, error) {
	if len(k.Readings) == 0 {
		return k, misuse("nothing to take back", "no reading is noted at %s", k.Amplifier.ID)
	}
	b, err := input.OpenBook(c.book, input.FieldBook)
	if err != nil {
		return k, err
	}
	last := k.Readings[len(k.Readings)-1]
	if err := b.Append(k.Noted.Withdraw(k.Last, wording.Either(c.by == "", loginName(), c.by),
		time.Now())); err != nil {
		return k, err
	}
	out.Remark("taken back: %s, %s%s", last.Time.Local().Format(field.Minute), console.Shown(last.Words()),
		console.Shown(wording.Either(last.Who == "", "", ", read by "+last.Who)))
	k.Readings = k.Readings[:len(k.Readings)-1]
	return k, nil
}

// lastReadings is how many readings are shown.
const lastReadings = 5

func (c *amping) known(out *console.Console, sys input.Asked) (report.KnownAmp, error) {
	k := report.KnownAmp{Asked: sys}
	judged := func(as lineup.Amplifier) *lineup.Report {
		if as.Pilot.IsZero() {
			return nil
		}
		on := sys.System
		on.Amplifier = &as
		r := on.Judge(as.Pilot)
		return &r
	}
	k.Pilot, k.Spare = judged(sys.Amplifier.On(sys.Amplifier.Pilot)), judged(sys.Amplifier.On(sys.Amplifier.Spare))
	if at, ok := sys.Amplifier.AtSlope(); ok {
		k.Slope = judged(at)
	}
	if sys.Lineup != nil && k.Pilot != nil {
		k.Neighbors = sys.Lineup.Neighbors(sys.Amplifier.Pilot)
		if k.Slope != nil {
			k.SlopeNeighbors = sys.Lineup.Neighbors(k.Slope.Pilot)
		}
	}
	b, err := input.OpenBook(c.book, input.FieldBook)
	if err != nil {
		return k, err
	}
	if _, err := os.Stat(b.Path); errors.Is(err, os.ErrNotExist) && c.book == "" {
		return k, nil // nothing was noted yet
	}
	in, err := b.Open()
	if err != nil {
		return k, err
	}
	defer in.Close()
	read, err := field.Read(in, b.Path, time.Time{}, time.Now())
	if err != nil {
		return k, err
	}
	input.RemarkBooks(out, book.Places(b.Path, read.Damaged), read.Clock)
	k.Noted = read
	for i, r := range read.Readings {
		if strings.EqualFold(r.Amp, sys.Amplifier.ID) {
			k.Readings, k.Last = append(k.Readings, r), i
		}
	}
	k.Readings = k.Readings[max(len(k.Readings)-lastReadings, 0):]
	return k, nil
}
