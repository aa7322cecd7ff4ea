package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// RankFor ranks the pilots that an amplifier's detector can follow, or all without one.
func RankFor(out *console.Console, sys input.Asked, old *lineup.Lineup, asJSON bool) []lineup.Ranked {
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

// verdictAndCautions names the verdict and, if it is with caution, the rules of the cautions.
func verdictAndCautions(r lineup.Report) string {
	var rules []string
	for _, f := range r.Findings {
		if f.Severity == lineup.Caution {
			rules = append(rules, string(f.Rule))
		}
	}
	text := answer.VerdictWords(&r)
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

func newRankDoc(c lineup.Ranked, sys input.Asked, fits map[channelplan.Pilot]string) rankDoc {
	d := rankDoc{Pilot: answer.NewPilotDocument(&c.Report, sys.Plan),
		VerdictDocument: *answer.NewVerdictDocument(&c.Report), Score: answer.Tenths(c.Score), Terms: []termDoc{},
		Fits: strings.TrimSuffix(fits[c.Pilot], "; ")}
	for _, t := range c.Deductions {
		d.Terms = append(d.Terms, termDoc{answer.Tenths(t.Points), t.Why})
	}
	return d
}

// NewRankDocs returns the JSON document of ranked pilots.
func NewRankDocs(ranked []lineup.Ranked, sys input.Asked, fits map[channelplan.Pilot]string) any {
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

// NewPairDocs returns the JSON document of ranked pairs of a pilot and a spare.
func NewPairDocs(pairs []lineup.PilotPair, sys input.Asked, fits map[channelplan.Pilot]string) any {
	docs := []pairDoc{}
	for _, p := range pairs {
		docs = append(docs, pairDoc{newRankDoc(p.Main, sys, fits), newRankDoc(p.Spare, sys, fits)})
	}
	return docs
}

// PrintRanked lists ranked pilots, the best first.
func PrintRanked(out *console.Console, ranked []lineup.Ranked, most int, through bool,
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

// PrintPairs lists ranked pairs of a pilot and a spare, the best first.
func PrintPairs(out *console.Console, pairs []lineup.PilotPair, fits map[channelplan.Pilot]string) {
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
