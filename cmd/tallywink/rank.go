package main

import (
	"fmt"
	"math"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/tallywink/console"
)

var rankCommand = command{
	name:    "rank",
	summary: "which carriers of a lineup can be pilots, best first, and why",
	help: `  tallywink rank demo
  tallywink rank demo-next --before demo
  tallywink rank new.csv --before old.csv
  tallywink rank --lineup new.csv --pairs

Each starts with 100 points, and it shows every deduction. How many points a
reason takes is common practice, with no source: the order is advice, the
verdicts come from the rules. --before keeps those that are the same in both
lineups; with --pairs, main and spare pilot are at least 60 MHz apart.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var system systemFlags
		var before string
		var pairs, all, asJSON bool
		system.declare(flags)
		flags.StringVar(&before, "before", "", "only carriers that are the same in this older lineup, a CSV `FILE`, or demo")
		flags.BoolVar(&pairs, "pairs", false, "main and spare pilots far enough apart")
		flags.BoolVar(&all, "all", false, "all of them, not the ten best")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if err := demoArgs(args, "rank", map[*string]string{&system.lineup: demo.Name}, &system.lineup); err != nil {
				return 0, err
			}
			if system.lineup == "" {
				return 0, misuse("add --lineup FILE, or --lineup demo to try it", "ranking needs a lineup")
			}
			sys, err := system.load(out)
			if err != nil {
				return 0, err
			}
			var old *lineup.Lineup
			if before != "" {
				if old, err = loadBefore(out, before, sys.Lineup); err != nil {
					return 0, err
				}
			}
			ranked := lineup.Rank(sys.Lineup, old, sys.Context())
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
				return status, out.JSON(newPairDocs(lineup.PilotPairs(ranked, most), sys))
			case asJSON:
				return status, out.JSON(newRankDocs(ranked, sys))
			case pairs:
				printPairs(out, lineup.PilotPairs(ranked, most))
			default:
				printRanked(out, ranked, most, old != nil)
			}
			return status, nil
		}
	},
}

type termDoc struct {
	Points float64 `json:"points"`
	Why    string  `json:"why"`
}

type rankDoc struct {
	Pilot *answer.PilotDocument `json:"pilot"`
	answer.VerdictDocument
	Score float64   `json:"score"`
	Terms []termDoc `json:"terms"` // why the score is less than 100
}

func newRankDoc(c lineup.Ranked, sys system) rankDoc {
	d := rankDoc{Pilot: answer.NewPilotDocument(&c.Report, sys.Plan), VerdictDocument: *answer.NewVerdictDocument(&c.Report), Score: answer.Tenths(c.Score), Terms: []termDoc{}}
	for _, t := range c.Deductions {
		d.Terms = append(d.Terms, termDoc{answer.Tenths(t.Points), t.Why})
	}
	return d
}

func newRankDocs(ranked []lineup.Ranked, sys system) []rankDoc {
	docs := []rankDoc{}
	for _, c := range ranked {
		docs = append(docs, newRankDoc(c, sys))
	}
	return docs
}

type pairDoc struct {
	Main  rankDoc `json:"main"`
	Spare rankDoc `json:"spare"`
}

func newPairDocs(pairs []lineup.PilotPair, sys system) []pairDoc {
	docs := []pairDoc{}
	for _, p := range pairs {
		docs = append(docs, pairDoc{newRankDoc(p.Main, sys), newRankDoc(p.Spare, sys)})
	}
	return docs
}

func printRanked(out *console.Console, ranked []lineup.Ranked, most int, through bool) {
	if len(ranked) == 0 && through {
		out.Print([]console.Block{console.Section("None", "no carrier that can be a pilot is the same in both lineups: 'tallywink rank' without --before lists those of the new one.")}, nil)
		return
	}
	if len(ranked) == 0 {
		out.Print([]console.Block{console.Section("None", "no carrier here can be a pilot: 'tallywink lineup' says what is wrong with each.")}, nil)
		return
	}
	for i, c := range ranked[:min(len(ranked), most)] {
		why := "nothing against it"
		var reasons []string
		for _, t := range c.Deductions {
			reasons = append(reasons, fmt.Sprintf("-%.1f %s", t.Points, console.Shown(t.Why)))
		}
		if len(reasons) > 0 {
			why = strings.Join(reasons, "; ")
		}
		out.Print([]console.Block{console.Section(fmt.Sprintf("%d.", i+1), fmt.Sprintf("%v: %.1f points, %s. %s.", c.Pilot, c.Score, answer.VerdictWords(c.Verdict), why))}, nil)
	}
	if left := len(ranked) - most; left > 0 {
		out.Line("%s", strings.Repeat(" ", console.LabelWidth)+fmt.Sprintf("and %d more: --all shows them", left))
	}
}

func printPairs(out *console.Console, pairs []lineup.PilotPair) {
	if len(pairs) == 0 {
		out.Print([]console.Block{console.Section("None", "no two carriers that can be pilots are far enough apart.")}, nil)
		return
	}
	for i, p := range pairs {
		away := math.Abs(float64(p.Main.Located.FrequencyHz-p.Spare.Located.FrequencyHz)) / 1e6
		out.Print([]console.Block{console.Section(fmt.Sprintf("%d.", i+1), fmt.Sprintf("main %v (%.1f points), spare %v (%.1f points), %.0f MHz apart.",
			p.Main.Pilot, p.Main.Score, p.Spare.Pilot, p.Spare.Score, away))}, nil)
	}
}
