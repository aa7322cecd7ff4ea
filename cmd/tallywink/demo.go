package main

import (
	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/report"
)

var demoCommand = command{
	name:    "demo",
	summary: "the whole job on a built-in, invented system",
	help: `  tallywink demo
  tallywink demo --json

Four readings at three lamps of Quillfen Valley Cable, an invented system: one
as it should be, one read with a mistake and then again, one on a pilot that is
no longer there. Try your own with --lineup demo and --amps demo; the files
are in testdata/demo.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		asJSON := flags.Bool("json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) > 0 {
				return 0, misuse("to read a lamp of your own: tallywink decode _.. . _. _.. --lineup demo",
					"the demo takes no arguments")
			}
			return runDemo(out, *asJSON)
		}
	},
}

// demoLamps holds the readings of the demo, invented like everything in it.
var demoLamps = []struct{ story, amp, marks string }{
	{"A technician at amplifier OSR-03 counts one frame.", "OSR-03", "_.. . _. _.."},
	{"At OSR-05 the last group is counted one short. Doubtful: it does not guess.", "OSR-05", "_.. . _. _."},
	{"A second look, typed after //, settles it.", "OSR-05", "_.. . _. _. // _.. . _. _.."},
	{"BRK-02 was set to a channel that a wideband block covers.", "BRK-02", "_.. ... _... _...."},
}

func runDemo(out *console.Console, asJSON bool) (int, error) {
	l, err := demo.Lineup()
	if err != nil {
		return 0, err
	}
	doc := report.DemoDoc{Schema: answer.Schema, Lineup: report.NewLineupDoc(l)}
	main := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	if !asJSON {
		out.Print([]console.Block{report.SummaryBlock(l), report.BandBlock(l, []channelplan.Pilot{main})}, nil)
	}
	for _, lamp := range demoLamps {
		amp, _, err := demo.Amplifier(lamp.amp)
		if err != nil {
			return 0, err
		}
		looks, err := blink.ParseNotation(lamp.marks)
		if err != nil {
			return 0, err
		}
		reader := answer.NewReader(answer.System{Plan: l.Plan, Lineup: l, Amplifier: &amp.Amplifier,
			Today: demo.Day()}, reading.StartSeen, nil)
		a := reader.Of(looks, blink.Signal{})
		if asJSON {
			doc.Readings = append(doc.Readings, a.Document())
			continue
		}
		out.Line("")
		out.Line("%s", out.Strong.Sprint(lamp.story))
		out.Line("$ tallywink decode %s \\", lamp.marks)
		out.Line("    --lineup demo --amps demo --amp %s", lamp.amp)
		out.Line("")
		report.PrintAnswer(out, a, "", false)
	}
	if asJSON {
		return exitWell, out.JSON(doc)
	}
	out.Line("")
	out.Print([]console.Block{report.CareBlock()}, nil)
	return exitWell, nil
}
