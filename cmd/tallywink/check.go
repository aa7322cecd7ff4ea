package main

import (
	"github.com/spf13/pflag"

	"tallywink.example/channelplan/answer"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var checkCommand = command{
	name:    "check",
	summary: "check if a pilot is valid in a lineup",
	help: `  tallywink check 116 digital --lineup demo
  tallywink check 73 analog --lineup demo --amps demo --amp HRN-02
  tallywink check --mhz 138.0125 cw --lineup demo   a cw carrier with no channel

A carrier is analog, digital (qam, qam64 and qam256 work too) or cw. It lists
all problems the rules find, the worst first, with each rule's source.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var (
			f      input.System
			asJSON bool
			mhz    string
		)
		flags.StringVar(&mhz, "mhz", "", "the frequency in `MHZ` of a cw carrier without a channel")
		f.Declare(flags)
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			p, err := input.PilotArgs(args, mhz, "for instance: tallywink check 116 digital --lineup demo")
			if err != nil {
				return 0, err
			}
			if f.Lineup == "" {
				return 0, misuse("add --lineup FILE, or --lineup demo to try it", "checking a pilot takes a lineup")
			}
			sys, err := f.Load(out)
			if err != nil {
				return 0, err
			}
			judged := sys.Judge(p)
			status := exitWell
			if answer.BadPilot(&judged, sys.Strict) {
				status = exitBadNews
			}
			if asJSON {
				return status, out.JSON(report.NewCheckDoc(&judged, sys.Plan))
			}
			report.PrintCheck(out, sys, &judged)
			return status, nil
		}
	},
}
