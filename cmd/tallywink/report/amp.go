package report

import (
	"fmt"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// KnownAmp is what is known about an amplifier.
type KnownAmp struct {
	input.Asked
	Pilot, Spare *lineup.Report // nil if there is none on record
	Slope        *lineup.Report // on its slope pilot; nil if it has one pilot
	// The carriers right next to its pilot, and to its slope pilot.
	Neighbors, SlopeNeighbors []lineup.Carrier
	Readings                  []field.Reading // the last ones, oldest first
	Noted                     field.Book      // all of them, and the index of the last one here
	Last                      int
}

// mustShow introduces what the lamp shows if all is as on record.
func (k KnownAmp) mustShow(s blink.Signal) string {
	if k.Pilot != nil && k.Pilot.Verdict == lineup.Unusable && !k.Pilot.Undecided() && s.ShowsFrame() {
		return fmt.Sprintf("the record says %v, which is not valid: see Pilot. If locked on it, the lamp would show:",
			s.Pilot)
	}
	return "must show " + answer.SignalText(s) + ":"
}

// slopeFrame returns the frame for the slope pilot; nil if it has none, or the code can't
// name it.
func (k KnownAmp) slopeFrame() blink.Frame {
	if k.Slope == nil {
		return nil
	}
	return frameOf(k.Lamp(), blink.Signal{State: blink.Locked, Pilot: k.Slope.Pilot})
}

// meterAt says what a meter should show at a carrier, by the amplifier's design; "" if the
// record does not say. The lineup's own level is the headend's, and stays out of it.
func (k KnownAmp) meterAt(c lineup.Carrier) string {
	e := k.Lineup.ExpectCarrier(c, k.Amplifier.Design)
	switch {
	case !e.InputKnown:
		return ""
	case e.TestPointDB > 0:
		return fmt.Sprintf(", %.1f dBmV at the input test point by design", e.Input-e.TestPointDB)
	}
	return fmt.Sprintf(", %.1f dBmV on the line at the input by design", e.Input)
}

// Blocks tells what is known of the amplifier.
func (k KnownAmp) Blocks() []console.Block {
	blocks := []console.Block{console.Section("Amp", ampText(*k.Amplifier))}
	if up := k.Amplifier.Upstream; up != "" {
		blocks = append(blocks, console.Section("Fed by", console.Shown(up)+"."))
	}
	code, s := k.Lamp(), MustShow(k.Lamp(), *k.Amplifier)
	if intervals, _, err := code.Signal(s, code.Timing.Unit); err == nil {
		show := console.Block{Label: "Lamp", Text: []console.Paragraph{console.Text(k.mustShow(s))}}
		if frame := frameOf(code, s); frame != nil {
			show.Text = append(show.Text, console.Row("%-28s digits %s", frame, answer.SpelledDigits(code, frame)))
		}
		show.Text = append(show.Text, lightText(code, s, intervals, code.Timing.Unit)...)
		if frame := k.slopeFrame(); frame != nil {
			// The marks end their line: a period behind them would be one more mark.
			show.Text = append(show.Text,
				console.Text(fmt.Sprintf("It may name its slope pilot instead, %v:", k.Slope.Pilot)),
				console.Row("%-28s digits %s", frame, answer.SpelledDigits(code, frame)))
		}
		blocks = append(blocks, show)
	}
	for _, p := range []struct {
		label string
		r     *lineup.Report
	}{{"Pilot", k.Pilot}, {"Slope", k.Slope}, {"Spare", k.Spare}} {
		if p.r == nil {
			continue
		}
		b := console.Section(p.label, answer.Describe(p.r, k.Plan))
		if k.Lineup != nil {
			b.Text = append(b.Text, console.Text(answer.VerdictText(p.r, k.Lineup, "", true)))
			for _, f := range p.r.Findings {
				if f.Severity != lineup.Note {
					b.Text = append(b.Text, console.Hung("  ", answer.FindingText(f)))
				}
			}
		}
		blocks = append(blocks, b)
	}
	for _, n := range []struct {
		of  string
		all []lineup.Carrier
	}{{"", k.Neighbors}, {"its slope pilot: ", k.SlopeNeighbors}} {
		if len(n.all) == 0 {
			continue
		}
		b := console.Block{Label: "Next to"}
		for i, c := range n.all {
			b.Text = append(b.Text,
				console.Text(console.Shown(fmt.Sprintf("%s%v, %s, at %s MHz%s.", wording.Either(i == 0, n.of, ""), c,
					c.Kind.Label(), channelplan.FormatMHz(c.FrequencyHz), k.meterAt(c)))))
		}
		blocks = append(blocks, b)
	}
	if lines := k.meter(); lines != nil {
		blocks = append(blocks, blockOf(answer.Section{Label: "Meter", Lines: lines}))
	}
	read := console.Block{Label: "Read"}
	for _, r := range k.Readings {
		who := ""
		if r.Who != "" {
			who = ", " + r.Who
		}
		read.Text = append(read.Text,
			console.Text(wording.Sentence(console.Shown(fmt.Sprintf("%s: %s%s", r.Time.Local().Format(field.Minute),
				r.Words(), who)))))
	}
	if len(read.Text) == 0 {
		read.Text = []console.Paragraph{console.Text("nothing noted yet.")}
	}
	return append(blocks, read, CareBlock())
}

// ampDoc is what is known about an amplifier, for programs.
type ampDoc struct {
	Schema         int                     `json:"schema"`
	Amp            string                  `json:"amp"`
	Node           string                  `json:"node"`
	Upstream       string                  `json:"upstream"`
	State          blink.State             `json:"state"` // what the lamp must show
	Marks          string                  `json:"marks"` // the frame it must show; empty if none
	Pilot          *answer.PilotDocument   `json:"pilot"` // null if it has no pilot by design
	Verdict        *answer.VerdictDocument `json:"verdict"`
	Spare          *spareDoc               `json:"spare"`
	Slope          *spareDoc               `json:"slope,omitempty"`       // the second pilot, if it has one
	SlopeMarks     string                  `json:"slope_marks,omitempty"` // the frame that the lamp may show for it
	Neighbors      []string                `json:"neighbors"`
	Meter          string                  `json:"meter"`
	SlopeNeighbors []string                `json:"slope_neighbors,omitempty"`
	Readings       []field.Reading         `json:"readings"` // the last ones, oldest first
}

// meter says what a meter should show at its pilots that are valid: no other has a level
// worth telling.
func (k KnownAmp) meter() []answer.Line {
	if k.Pilot == nil {
		return nil
	}
	var valid []channelplan.Pilot
	for _, r := range []*lineup.Report{k.Pilot, k.Slope} {
		if r != nil && r.Verdict != lineup.Unusable {
			valid = append(valid, r.Pilot)
		}
	}
	return k.Meter(valid...)
}

// Document returns the JSON document of what is known of the amplifier.
func (k KnownAmp) Document() any {
	s := MustShow(k.Lamp(), *k.Amplifier)
	d := ampDoc{Schema: answer.Schema, Amp: k.Amplifier.ID, Node: k.Amplifier.Node, Upstream: k.Amplifier.Upstream,
		State: s.State, Marks: frameOf(k.Lamp(), s).String(),
		Neighbors: []string{}, Readings: append([]field.Reading{}, k.Readings...)}
	if k.Pilot != nil {
		d.Pilot, d.Verdict = answer.NewPilotDocument(k.Pilot, k.Plan), answer.NewVerdictDocument(k.Pilot)
		var lines []string
		for _, line := range k.meter() {
			lines = append(lines, line.Text)
		}
		d.Meter = strings.Join(lines, " ")
	}
	if k.Spare != nil {
		d.Spare = &spareDoc{answer.NewPilotDocument(k.Spare, k.Plan), *answer.NewVerdictDocument(k.Spare)}
	}
	if k.Slope != nil {
		d.Slope = &spareDoc{answer.NewPilotDocument(k.Slope, k.Plan), *answer.NewVerdictDocument(k.Slope)}
		d.SlopeMarks = k.slopeFrame().String()
	}
	for _, c := range k.Neighbors {
		d.Neighbors = append(d.Neighbors, c.String())
	}
	for _, c := range k.SlopeNeighbors {
		d.SlopeNeighbors = append(d.SlopeNeighbors, c.String())
	}
	return d
}
