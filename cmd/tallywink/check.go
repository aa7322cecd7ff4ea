package main

import (
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/cmd/tallywink/console"
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
			f      systemFlags
			asJSON bool
			mhz    string
		)
		flags.StringVar(&mhz, "mhz", "", "the frequency in `MHZ` of a cw carrier without a channel")
		f.declare(flags)
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			p, err := pilotArgs(args, mhz, "for instance: tallywink check 116 digital --lineup demo")
			if err != nil {
				return 0, err
			}
			if f.lineup == "" {
				return 0, misuse("add --lineup FILE, or --lineup demo to try it", "checking a pilot takes a lineup")
			}
			sys, err := f.load(out)
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

// pilotArgs reads CHANNEL CARRIER, or 'cw' together with a frequency; the example is
// shown if anything else is given.
func pilotArgs(args []string, mhz, example string) (channelplan.Pilot, error) {
	args = strings.FieldsFunc(strings.Join(args, " "), func(r rune) bool { return r == ' ' || r == ',' })
	if len(args) == 1 && mhz == "" {
		args = splitPilot(args[0])
	}
	if mhz != "" {
		if len(args) != 1 {
			return channelplan.Pilot{}, misuse("for instance: tallywink check --mhz 138.0125 cw --lineup demo",
				"with --mhz the only argument is the carrier, cw")
		}
		kind, err := channelplan.ParsePilotKind(args[0])
		if err != nil {
			return channelplan.Pilot{}, err
		}
		if kind != channelplan.CW {
			return channelplan.Pilot{}, misuse("give its channel instead; 'tallywink plan --near "+mhz+"' finds it",
				"--mhz is for cw carriers, but this is %v", kind)
		}
		hz, err := parseMHz(mhz)
		return channelplan.Pilot{Kind: kind, FrequencyHz: hz}, err
	}
	if len(args) == 1 && len(args[0]) > 3 && isDigits(args[0]) {
		return channelplan.Pilot{},
			misuse(fmt.Sprintf("if they are the digits of a frame, 'tallywink decode %s' reads them", args[0]),
				"there is no channel %s", args[0])
	}
	if len(args) == 1 && strings.Trim(args[0], "0123456789") == "" {
		return channelplan.Pilot{}, misuse("for instance "+args[0]+" digital; the others are analog and cw",
			"give the carrier of channel %s, too", args[0])
	}
	if len(args) != 2 {
		return channelplan.Pilot{}, misuse(example, "give a channel and a carrier")
	}
	// 'digital 116' is as clear as '116 digital'.
	if strings.Trim(args[1], "0123456789") == "" {
		args[0], args[1] = args[1], args[0]
	}
	channel, err := channelplan.ParseChannel(args[0])
	if err != nil {
		return channelplan.Pilot{}, err
	}
	kind, err := channelplan.ParsePilotKind(report.WholeKind(args[1]))
	return channelplan.Pilot{Channel: channel, Kind: kind}, err
}

// splitPilot splits '116digital', 'digital116' or '116-digital', which are as clear as
// '116 digital'.
func splitPilot(text string) []string {
	const digits = "0123456789"
	if word := strings.TrimLeft(text, digits); word != text && word != "" {
		return []string{strings.TrimSuffix(text, word), strings.TrimLeft(word, "-_")}
	}
	if word := strings.TrimRight(text, digits); word != text && word != "" {
		return []string{strings.TrimPrefix(text, word), strings.TrimRight(word, "-_")}
	}
	return []string{text}
}
