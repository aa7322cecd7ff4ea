package main

import (
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var rankCommand = command{
	name:    "rank",
	summary: "which carriers of a lineup can be pilots, best first, and why",
	help: `  tallywink rank demo
  tallywink rank demo-next --before demo
  tallywink rank new.csv --before old.csv
  tallywink rank --lineup new.csv --pairs
  tallywink rank --lineup new.csv --amps amps.csv --node N16 --pairs

Each starts with 100 points, and it shows every deduction. How many points a
reason takes is common practice, with no source: the order is advice, the
verdicts come from the rules. With --amps and no --amp, it ranks the pilots that
all amplifiers can use, by passband and detector on record. --before keeps those
that are the same in both lineups; with --pairs, main and spare pilot are at
least 60 MHz apart.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var system input.System
		var before, node string
		var pairs, all, asJSON bool
		system.Declare(flags)
		flags.StringVar(&before, "before", "",
			"only carriers that are the same in this older lineup, a CSV `FILE`, or demo")
		flags.StringVar(&node, "node", "", "with --amps, pilots for all amplifiers of this `NODE`")
		flags.BoolVar(&pairs, "pairs", false, "main and spare pilots far enough apart")
		flags.BoolVar(&all, "all", false, "all of them, not the ten best")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if err := input.DemoArgs(args, "rank", map[*string]string{&system.Lineup: demo.Name},
				&system.Lineup); err != nil {
				return 0, err
			}
			if system.Lineup == "" {
				return 0, misuse("add --lineup FILE, or --lineup demo to try it", "ranking needs a lineup")
			}
			amps := system.Amps
			many := amps != "" && system.Amp == ""
			switch {
			case node != "" && !many:
				return 0, misuse("add --amps FILE, and leave --amp out", "--node is for the amplifiers of an inventory")
			case many:
				system.Amps = ""
			}
			sys, err := system.Load(out)
			if err != nil {
				return 0, err
			}
			var old *lineup.Lineup
			if before != "" {
				if old, err = input.LoadBefore(out, before, sys.Lineup); err != nil {
					return 0, err
				}
			}
			var ranked []lineup.Ranked
			var fits map[channelplan.Pilot]string
			if many {
				if ranked, fits, err = rankForAll(out, amps, node, sys.Lineup, old, asJSON); err != nil {
					return 0, err
				}
			} else {
				ranked = report.RankFor(out, sys, old, asJSON)
			}
			most := 10
			if all {
				most = len(ranked)
			}
			status := exitWell
			if len(ranked) == 0 {
				status = exitBadNews
			}
			switch {
			case asJSON && pairs:
				return status, out.JSON(report.NewPairDocs(lineup.PilotPairs(ranked, most), sys, fits))
			case asJSON:
				return status, out.JSON(report.NewRankDocs(ranked, sys, fits))
			case pairs:
				report.PrintPairs(out, lineup.PilotPairs(ranked, most), fits)
			default:
				report.PrintRanked(out, ranked, most, old != nil, fits)
			}
			return status, nil
		}
	},
}

// rankForAll ranks the pilots that all AGC amplifiers of an inventory or of a node can
// use. If no pilot fits them all, it ranks all pilots by how many they fit, and fits says
// how many that is.
func rankForAll(out *console.Console, amps, node string, l, before *lineup.Lineup,
	asJSON bool) (ranked []lineup.Ranked, fits map[channelplan.Pilot]string, err error) {
	p, _, err := input.LoadPlant(out, amps, l)
	if err != nil {
		return nil, nil, err
	}
	all, of := cutover.CommonPilots(p, node, l, before)
	if of == 0 {
		return nil, nil, misuse("check the inventory, and --node", "there is no amplifier with AGC to find a pilot for")
	}
	text := fmt.Sprintf("these fit all %s with AGC.", wording.Counted(of, "amplifier", "amplifiers"))
	for _, c := range all {
		ranked = append(ranked, c.Ranked)
		if n := len(c.Misfits); n > 0 {
			if fits == nil {
				fits = map[channelplan.Pilot]string{}
				text = fmt.Sprintf("no pilot fits all %d amplifiers with AGC: a pilot must be in the passband, and of a kind that the detector follows.%s",
					of, wording.Either(node == "", " Try it node by node (--node).", ""))
			}
			fits[c.Pilot] = fmt.Sprintf("fits %d of %d, all but %s%s; ", of-n, of,
				strings.Join(c.Misfits[:min(n, 2)], ", "), wording.Either(n > 2, fmt.Sprintf(" and %d more", n-2), ""))
		}
	}
	switch {
	case len(all) == 0:
	case asJSON && fits != nil:
		out.Remark("tallywink: %s", text)
	case !asJSON:
		out.Print([]console.Block{console.Section("For", text)}, nil)
	}
	return ranked, fits, nil
}
