package report

import (
	"fmt"
	"strings"

	"github.com/fatih/color"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// maxAnswerLines is the most lines in an answer: a terminal's.
// Findings are dropped first, except for the one that makes a pilot unusable; then
// candidates.
const maxAnswerLines = 24

// PrintAnswer prints an answer; flags are those that give the system and the amplifier,
// and care adds the usual caution.
func PrintAnswer(out *console.Console, a *answer.Answer, flags string, care bool) {
	var top, bottom []console.Block
	for _, s := range a.Told() {
		top = append(top, blockOf(s))
	}
	var steps []string
	for _, s := range a.Next {
		steps = append(steps, stepOf(a, s))
	}
	bottom = append(bottom, console.Numbered("Next", steps))
	if care {
		b := CareBlock()
		if a.NoteOnly() {
			b = console.Section("Care", answer.CautionInShort)
		}
		bottom = append(bottom, b)
	}
	used := 0
	for _, b := range append(append([]console.Block{}, top...), bottom...) {
		used += b.Height()
	}
	if lines := a.Meter(); lines != nil {
		b := blockOf(answer.Section{Label: "Meter", Lines: lines})
		bottom = append([]console.Block{b}, bottom...)
		used += b.Height()
	}
	if v := a.Verdict(); v != nil {
		b := verdictBlock(v, flags, maxAnswerLines-used)
		top = append(top, b)
		used += b.Height()
	}
	if over := used - maxAnswerLines; over > 0 && a.Doubtful && len(top) > 1 {
		pilot := &top[1]
		for keep := pilot.Height() - over; len(pilot.Text) > 1 && pilot.Height() > keep; {
			pilot.Text = pilot.Text[:len(pilot.Text)-1]
		}
	}
	out.Print(append(top, bottom...), paintOf(out, a))
	if out.Width < smallScreen && care {
		// What was read first has left the screen by now.
		out.Print([]console.Block{{Text: []console.Paragraph{console.Text(a.Brief())}}}, nil)
	}
}

// smallScreen is the width below which an answer ends with its verdict once more.
const smallScreen = 60

// blockOf lays out a section.
func blockOf(s answer.Section) console.Block {
	b := console.Block{Label: s.Label}
	for _, line := range s.Lines {
		b.Text = append(b.Text, console.Paragraph{Text: line.Text, Row: line.Table})
	}
	return b
}

// CareBlock is the caution that goes with everything that sends somebody to an amplifier.
func CareBlock() console.Block { return console.Section("Care", answer.Caution) }

// paintOf chooses colors for good and bad news, by the label of the line.
func paintOf(out *console.Console, a *answer.Answer) map[string]*color.Color {
	paint := map[string]*color.Color{"State": out.Good, "Pilot": out.Good, "Lineup": out.Good}
	switch a.State {
	case blink.Seeking, blink.Holding, blink.Fault, blink.Dark:
		paint["State"] = out.Bad
	case blink.Edge, blink.Steady:
		paint["State"] = out.Warn
	}
	if a.Doubtful {
		paint["Pilot"], paint["Reading"] = out.Bad, out.Bad
	}
	if r, _ := a.Shown(); r != nil {
		for _, label := range []string{"Lineup", "Record", "Plan"} {
			paint[label] = byVerdict(out, r.Verdict)
		}
	}
	return paint
}

func byVerdict(c *console.Console, v lineup.Verdict) *color.Color {
	return map[lineup.Verdict]*color.Color{lineup.Usable: c.Good, lineup.WithCare: c.Warn, lineup.Unusable: c.Bad}[v]
}

// verdictBlock says whether the pilot is valid and, if not, which rules it breaks, in no
// more lines than there is room for.
func verdictBlock(v *answer.Verdict, flags string, room int) console.Block {
	b := console.Section(v.Label, v.Full)
	if room < b.Height()+min(3*len(v.Findings), 3) {
		b = console.Section(v.Label, v.Short)
	}
	left := len(v.Findings)
	for _, f := range v.Findings {
		more := console.Section("", f)
		reserve := 1 // for the line that says how many are left out
		if left == 1 {
			reserve = 0
		}
		first := left == len(v.Findings) && v.Report.Verdict == lineup.Unusable // why it is not usable must be said
		if !first && b.Height()+more.Height()+reserve > room {
			break
		}
		b.Text = append(b.Text, more.Text...)
		left--
	}
	if left > 0 && (b.Height() < room || left == len(v.Findings)) {
		b.Text = append(b.Text, console.Row("%s", moreText(left, v.Report, flags)))
	}
	return b
}

// moreText says how many findings are left out and how to see them.
func moreText(left int, r *lineup.Report, flags string) string {
	text := fmt.Sprintf("and %d more: tallywink check %v%s", left, r.Pilot, flags)
	if len(text) > console.TextWidth {
		return fmt.Sprintf("and %d more: 'tallywink check' shows all", left)
	}
	return strings.TrimRight(text, " ")
}

// stepOf returns a step of an answer as text.
func stepOf(a *answer.Answer, s answer.Step) string {
	how := input.ActText(s.Act)
	if s.Act == fault.PickLamp {
		const most = 4
		var places []string
		for _, p := range a.Places[:min(len(a.Places), most)] {
			places = append(places, fmt.Sprintf("--at %.0f,%.0f", p.X, p.Y))
		}
		how = ": " + strings.Join(places, " or ")
	}
	return s.With(how)
}
