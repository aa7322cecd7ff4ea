package main

import (
	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var lineupCommand = command{
	name:    "lineup",
	summary: "check a lineup file, list it and draw its band",
	help: `  tallywink lineup demo
  tallywink lineup headend.csv --pilot '116 digital'   mark a pilot
  tallywink lineup headend.csv --json

It lists every problem in the file, with line and column, and then exits 1.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var (
			asJSON, drawing bool
			marked          []string
		)
		flags.StringArrayVar(&marked, "pilot", nil,
			"mark a `PILOT`, such as '116 digital', in the drawing; may be repeated")
		flags.BoolVar(&drawing, "drawing", false, "the drawing and the problems only, without the list")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) != 1 {
				return 0, misuse("for instance: tallywink lineup demo", "give one lineup file")
			}
			var pilots []channelplan.Pilot
			for _, text := range marked {
				p, err := input.PilotArgs([]string{text}, "", "for instance: --pilot '116 digital'")
				if err != nil {
					return 0, err
				}
				pilots = append(pilots, p)
			}
			l, err := input.ReadLineup(args[0])
			if err != nil {
				return 0, err
			}
			status := exitWell
			if len(l.Problems) > 0 {
				status = exitBadNews
			}
			if asJSON {
				return status, out.JSON(report.NewLineupDoc(l))
			}
			out.Print([]console.Block{report.SummaryBlock(l), report.BandBlock(l, pilots)}, nil)
			report.PrintProblems(out, l)
			if !drawing {
				report.PrintCarriers(out, l)
			}
			return status, nil
		}
	},
}
