package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
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
		var system systemFlags
		var before, node string
		var pairs, all, asJSON bool
		system.declare(flags)
		flags.StringVar(&before, "before", "",
			"only carriers that are the same in this older lineup, a CSV `FILE`, or demo")
		flags.StringVar(&node, "node", "", "with --amps, pilots for all amplifiers of this `NODE`")
		flags.BoolVar(&pairs, "pairs", false, "main and spare pilots far enough apart")
		flags.BoolVar(&all, "all", false, "all of them, not the ten best")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if err := demoArgs(args, "rank", map[*string]string{&system.lineup: demo.Name},
				&system.lineup); err != nil {
				return 0, err
			}
			if system.lineup == "" {
				return 0, misuse("add --lineup FILE, or --lineup demo to try it", "ranking needs a lineup")
			}
			amps := system.amps
			many := amps != "" && system.amp == ""
			switch {
			case node != "" && !many:
				return 0, misuse("add --amps FILE, and leave --amp out", "--node is for the amplifiers of an inventory")
			case many:
				system.amps = ""
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
			var ranked []lineup.Ranked
			var fits map[channelplan.Pilot]string
			if many {
				if ranked, fits, err = rankForAll(out, amps, node, sys.Lineup, old, asJSON); err != nil {
					return 0, err
				}
			} else {
				ranked = rankFor(out, sys, old, asJSON)
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
				return status, out.JSON(newPairDocs(lineup.PilotPairs(ranked, most), sys, fits))
			case asJSON:
				return status, out.JSON(newRankDocs(ranked, sys, fits))
			case pairs:
				printPairs(out, lineup.PilotPairs(ranked, most), fits)
			default:
				printRanked(out, ranked, most, old != nil, fits)
			}
			return status, nil
		}
	},
}

// rankFor ranks the pilots that an amplifier's detector can follow, or all without one.
func rankFor(out *console.Console, sys system, old *lineup.Lineup, asJSON bool) []lineup.Ranked {
	ranked := lineup.Rank(sys.Lineup, old, sys.Context())
	a := sys.Amplifier
	if a == nil || a.Mode != lineup.AGC {
		return ranked
	}
	if !a.Detector.Known() && !asJSON {
		out.Print([]console.Block{console.Section("For",
			fmt.Sprintf("%s. Its detector is not on record: only the kinds of its pilot and spare are counted, analog and cw as one.",
				console.Shown(a.ID)))}, nil)
	}
	return slices.DeleteFunc(ranked, func(c lineup.Ranked) bool { return !cutover.Follows(*a, c.Pilot.Kind) })
}

// rankForAll ranks the pilots that all AGC amplifiers of an inventory or of a node can
// use. If no pilot fits them all, it ranks all pilots by how many they fit, and fits says
// how many that is.
func rankForAll(out *console.Console, amps, node string, l, before *lineup.Lineup,
	asJSON bool) (ranked []lineup.Ranked, fits map[channelplan.Pilot]string, err error) {
	p, _, err := loadPlant(out, amps, l)
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
				text = fmt.Sprintf("no pilot fits all %d amplifiers with AGC: a pilot must be in the passband, and of a kind that the detector follows. Try it node by node (--node).",
					of)
			}
			fits[c.Pilot] = fmt.Sprintf("fits %d of %d, all but %s%s; ", of-n, of,
				strings.Join(c.Misfits[:min(n, 2)], ", "), either(n > 2, fmt.Sprintf(" and %d more", n-2), ""))
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

// verdictAndCautions names the verdict and, if it is with caution, the rules of the cautions.
func verdictAndCautions(r lineup.Report) string {
	var rules []string
	for _, f := range r.Findings {
		if f.Severity == lineup.Caution {
			rules = append(rules, string(f.Rule))
		}
	}
	text := answer.VerdictWords(r.Verdict)
	if len(rules) > 0 {
		text += " (" + strings.Join(rules, ", ") + ")"
	}
	return text
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
	// Fits says which of the amplifiers it is for can use it, if some can't.
	Fits string `json:"fits,omitempty"`
}

func newRankDoc(c lineup.Ranked, sys system, fits map[channelplan.Pilot]string) rankDoc {
	d := rankDoc{Pilot: answer.NewPilotDocument(&c.Report, sys.Plan),
		VerdictDocument: *answer.NewVerdictDocument(&c.Report), Score: answer.Tenths(c.Score), Terms: []termDoc{},
		Fits: strings.TrimSuffix(fits[c.Pilot], "; ")}
	for _, t := range c.Deductions {
		d.Terms = append(d.Terms, termDoc{answer.Tenths(t.Points), t.Why})
	}
	return d
}

func newRankDocs(ranked []lineup.Ranked, sys system, fits map[channelplan.Pilot]string) []rankDoc {
	docs := []rankDoc{}
	for _, c := range ranked {
		docs = append(docs, newRankDoc(c, sys, fits))
	}
	return docs
}

type pairDoc struct {
	Main  rankDoc `json:"main"`
	Spare rankDoc `json:"spare"`
}

func newPairDocs(pairs []lineup.PilotPair, sys system, fits map[channelplan.Pilot]string) []pairDoc {
	docs := []pairDoc{}
	for _, p := range pairs {
		docs = append(docs, pairDoc{newRankDoc(p.Main, sys, fits), newRankDoc(p.Spare, sys, fits)})
	}
	return docs
}

func printRanked(out *console.Console, ranked []lineup.Ranked, most int, through bool,
	fits map[channelplan.Pilot]string) {
	if len(ranked) == 0 && through {
		out.Print([]console.Block{console.Section("None",
			"no carrier that can be a pilot is the same in both lineups: 'tallywink rank' without --before lists those of the new one.")},
			nil)
		return
	}
	if len(ranked) == 0 {
		out.Print([]console.Block{console.Section("None",
			"no carrier here can be a pilot: 'tallywink lineup' says what is wrong with each.")}, nil)
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
		out.Print([]console.Block{console.Section(fmt.Sprintf("%d.", i+1),
			fmt.Sprintf("%v: %s%.1f points, %s. %s.", c.Pilot, console.Shown(fits[c.Pilot]), c.Score,
				verdictAndCautions(c.Report), why))}, nil)
	}
	if left := len(ranked) - most; left > 0 {
		out.Line("%s", strings.Repeat(" ", console.LabelWidth)+fmt.Sprintf("and %d more: --all shows them", left))
	}
}

func printPairs(out *console.Console, pairs []lineup.PilotPair, fits map[channelplan.Pilot]string) {
	if len(pairs) == 0 {
		out.Print([]console.Block{console.Section("None",
			"no two carriers that can be pilots are far enough apart.")}, nil)
		return
	}
	for i, p := range pairs {
		away := math.Abs(float64(p.Main.Located.FrequencyHz-p.Spare.Located.FrequencyHz)) / 1e6
		out.Print([]console.Block{console.Section(fmt.Sprintf("%d.", i+1),
			fmt.Sprintf("main %v (%s%.1f points), spare %v (%s%.1f points), %.0f MHz apart.",
				p.Main.Pilot, console.Shown(fits[p.Main.Pilot]), p.Main.Score, p.Spare.Pilot,
				console.Shown(fits[p.Spare.Pilot]), p.Spare.Score, away))}, nil)
	}
}
