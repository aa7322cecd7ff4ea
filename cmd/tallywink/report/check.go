package report

import (
	"strings"

	"github.com/fatih/color"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

type checkDoc struct {
	Schema int                   `json:"schema"`
	Pilot  *answer.PilotDocument `json:"pilot"`
	answer.VerdictDocument
}

// NewCheckDoc returns the JSON document of how a pilot was judged.
func NewCheckDoc(r *lineup.Report, plan channelplan.Plan) any {
	return checkDoc{answer.Schema, answer.NewPilotDocument(r, plan), *answer.NewVerdictDocument(r)}
}

// PrintCheck tells how a pilot was judged.
func PrintCheck(out *console.Console, sys input.Asked, r *lineup.Report) {
	blocks := []console.Block{console.Section("Pilot", answer.Describe(r, sys.Plan)),
		console.Section("Lineup", answer.VerdictText(r, sys.Lineup, "", true))}
	if sys.Amplifier != nil {
		blocks = append(blocks, console.Section("Amp", ampText(*sys.Amplifier)))
	}
	findings := console.Block{Label: "Rules"}
	for _, f := range r.Findings {
		findings.Text = append(findings.Text, console.Text(answer.FindingText(f)+" ("+f.Source+")"))
	}
	if len(r.Findings) == 0 {
		findings.Text = []console.Paragraph{console.Text("No problems found.")}
	}
	blocks = append(blocks, findings)
	if lines := sys.Meter(r.Pilot); lines != nil {
		blocks = append(blocks, blockOf(answer.Section{Label: "Meter", Lines: lines}))
	}
	out.Print(blocks, map[string]*color.Color{"Lineup": byVerdict(out, r.Verdict)})
}

// ampText summarizes an amplifier's record in one line.
func ampText(a lineup.Amplifier) string {
	parts := []string{console.Shown(a.ID)}
	if a.Node != "" {
		parts = append(parts, "node "+console.Shown(a.Node))
	}
	if !a.Pilot.IsZero() {
		parts = append(parts, "recorded pilot "+a.Pilot.String())
	}
	if !a.Slope.Pilot.IsZero() {
		parts = append(parts, "slope pilot "+a.Slope.Pilot.String())
	}
	if !a.Spare.IsZero() {
		parts = append(parts, "spare "+a.Spare.String())
	}
	if a.Mode != lineup.AGC {
		parts = append(parts, a.Mode.String()+" by design")
	}
	if !a.Passband.IsZero() {
		parts = append(parts, "passband "+a.Passband.String())
	}
	if a.Detector.Known() {
		parts = append(parts, "detector "+a.Detector.String())
	}
	return strings.Join(parts, ", ") + "."
}
