package main

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"github.com/fatih/color"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/lineup/nextstep"
	"tallywink.example/cmd/tallywink/console"
)

// maxAnswerLines is how long an answer is at most: what a technician takes in
// at a pole. Findings give way first, then candidates.
const maxAnswerLines = 20

func (a *answer) print(out *console.Console, care bool) {
	var top, bottom []console.Block
	switch {
	case a.recording != nil && a.doubtful():
		top = append(top, a.recording.readBlock(), a.recording.doubtBlock())
	case a.recording != nil && a.report != nil:
		top = append(top, a.recording.readBlock(), console.Section("Pilot", describe(a.report, a.plan)))
	case a.recording != nil:
		top = append(top, a.recording.readBlock())
	case len(a.looks) > 0:
		top = append(top, a.readBlock(), a.pilotBlock())
	}
	if a.recording != nil && a.recording.clip != nil && len(a.recording.clip.Lamps) > 1 {
		top = append(top, a.recording.lampsBlock())
	}
	state := stateText(a.state, a.end)
	if len(a.looks) > 0 && !a.state.ShowsFrame() {
		state = strings.TrimSuffix(state, ".") + " (the marks were read earlier)."
	}
	if a.recording == nil || !a.doubtful() {
		top = append(top, console.Section("State", state))
	}
	bottom = append(bottom, console.Numbered("Next", a.next))
	if care {
		bottom = append(bottom, careBlock())
	}

	used := 0
	for _, b := range append(append([]console.Block{}, top...), bottom...) {
		used += len(b.Lines)
	}
	if b := a.verdictBlock(maxAnswerLines - used); len(b.Lines) > 0 {
		top = append(top, b)
		used += len(b.Lines)
	}
	if over := used - maxAnswerLines; over > 0 && a.doubtful() && len(top) > 1 {
		pilot := &top[1]
		pilot.Lines = pilot.Lines[:max(len(pilot.Lines)-over, 1)]
	}
	out.Print(append(top, bottom...), a.paint(out))
}

func careBlock() console.Block { return console.Section("Care", nextstep.Caution) }

func stateText(s blink.State, end blink.EdgeEnd) string {
	return fmt.Sprintf("%s: %s.", s.NameAt(end), s.MeaningAt(end))
}

// paint marks good and bad news by the label of the line they stand on.
func (a *answer) paint(out *console.Console) map[string]*color.Color {
	paint := map[string]*color.Color{"State": out.Good, "Pilot": out.Good, "Lineup": out.Good}
	switch a.state {
	case blink.Seeking, blink.Holding, blink.Fault, blink.Dark:
		paint["State"] = out.Bad
	case blink.Edge, blink.Steady:
		paint["State"] = out.Warn
	}
	if a.doubtful() {
		paint["Pilot"], paint["Told"] = out.Bad, out.Bad
	}
	if r, _ := a.judged(); r != nil {
		for _, label := range []string{"Lineup", "Record", "Plan"} {
			paint[label] = byVerdict(out, r.Verdict)
		}
	}
	return paint
}

func byVerdict(c *console.Console, v lineup.Verdict) *color.Color {
	return map[lineup.Verdict]*color.Color{lineup.Usable: c.Good, lineup.WithCare: c.Warn, lineup.Unusable: c.Bad}[v]
}

// readBlock says what was read and what its check digit says.
func (a *answer) readBlock() console.Block {
	shownLooks := a.looks[:min(len(a.looks), 2)]
	var lines []string
	for i, look := range shownLooks {
		text := fmt.Sprintf("%-28s digits %s", look, spelled(a.lamp(), look))
		if i < len(shownLooks)-1 {
			text += " //"
		}
		if len(text) > console.TextWidth {
			lines = append(lines, console.Wrap(look.String(), console.TextWidth)...)
			continue
		}
		lines = append(lines, text)
	}
	if more := len(a.looks) - len(shownLooks); more > 0 {
		lines = append(lines, "and "+console.Counted(more, "more look", "more looks"))
	}
	says := map[reading.CheckDigit]string{
		reading.Agrees:  "The check digit agrees.",
		reading.Differs: "The check digit differs: something was miscounted.",
		reading.Unread:  "Check digit not compared: not every group read is a digit.",
	}[a.check]
	if !a.lamp().Checks() {
		says = map[reading.CheckDigit]string{
			reading.Agrees:  "It is a frame of the code, which has no check digit.",
			reading.Differs: "The groups read are no frame of the code: something was miscounted.",
			reading.Unread:  "Not every group read is a digit.",
		}[a.check]
	}
	if least, most := a.lamp().FrameLengths(); len(a.looks) == 1 && a.check == reading.Unread {
		has := fmt.Sprint(most)
		if least != most {
			has = fmt.Sprintf("%d to %d", least, most)
		}
		if n := len(a.looks[0]); n < least || n > most {
			says = fmt.Sprintf("%s: %s read, and a frame has %s.", either(a.lamp().Checks(), "Check digit not compared", "This is no frame"), console.Counted(n, "group", "groups"), has)
		}
	}
	lines = append(lines, console.Wrap(says, console.TextWidth)...)
	if a.observer != nil {
		lines = append(lines, console.Wrap(a.observer.text(), console.TextWidth)...)
	}
	return console.Block{Label: "Read", Lines: lines}
}

// spelled writes the digits of a look, '?' for a group that is none.
func spelled(code *blink.Code, look blink.Frame) string {
	var digits []string
	for _, g := range look {
		if d, ok := code.DigitOf(g); ok {
			digits = append(digits, fmt.Sprint(d))
		} else {
			digits = append(digits, "?")
		}
	}
	return strings.Join(digits, " ")
}

// pilotBlock names the pilot, or the candidates where none is sure.
func (a *answer) pilotBlock() console.Block {
	if a.report != nil {
		text := describe(a.report, a.plan)
		if best := a.result.Best().Probability; a.check != reading.Agrees {
			text = strings.TrimSuffix(text, ".") + fmt.Sprintf(", %s sure.", percent(best))
		}
		return console.Section("Pilot", text)
	}
	lines := console.Wrap(fmt.Sprintf("doubtful: the likeliest has %s, and %.0f%% is needed.",
		percent(a.result.Best().Probability), 100*reading.Sure), console.TextWidth)
	if a.result.Stranger > 0.5 {
		lines = console.Wrap("doubtful: this fits no frame. Another lamp, or a reading beyond repair?", console.TextWidth)
	}
	likely := a.result.Likely()
	if !a.worthTelling() && len(a.named) < 2 {
		likely = nil
	}
	for _, c := range likely {
		line := fmt.Sprintf("%5s  %-12s", percent(c.Probability), c.Pilot)
		if frame, err := a.lamp().Encode(c.Pilot); err == nil {
			line += " " + fmt.Sprintf("%-24s", frame)
		}
		switch {
		case slices.Contains(a.named, c.Pilot):
			line += " named by a look"
		case a.lineup != nil:
			line += " " + a.carriedAs(c.Pilot)
		}
		lines = append(lines, strings.TrimRight(line, " "))
	}
	return console.Block{Label: "Pilot", Lines: lines}
}

// carriedAs says in short what a lineup has for a candidate. It changes no
// probability: a pilot that is not in the lineup is just what one must hear
// about.
func (a *answer) carriedAs(p channelplan.Pilot) string {
	c, ok := a.lineup.InChannel(p.Channel, p.Kind)
	if !ok || c.Kind.Family() != p.Kind {
		return "not in the lineup"
	}
	return "in the lineup"
}

// describe says a pilot's channel, kind, frequency and edges.
func describe(r *lineup.Report, plan channelplan.Plan) string {
	p := r.Pilot
	at := channelplan.FormatMHz(r.Located.FrequencyHz)
	c, ok := plan.Channel(p.Channel)
	switch {
	case p.Channel == 0:
		return fmt.Sprintf("cw carrier at %s MHz.", at)
	case !ok:
		return fmt.Sprintf("channel %d %s: not a channel of the %s plan.", p.Channel, p.Kind.Label(), plan.Name())
	}
	name := map[channelplan.Kind]string{channelplan.Analog: "visual carrier", channelplan.Digital: "center", channelplan.CW: "carrier"}[p.Kind]
	return fmt.Sprintf("channel %d %s: %s %s MHz, edges %s (%s%s).", p.Channel, p.Kind.Label(), name, at,
		lineup.Band{LowHz: c.LowHz(), HighHz: c.HighHz()}, plan.Name(), either(c.Extension(), ", by extension", ""))
}

// percent writes a probability without pretending to more than it is.
func percent(p float64) string {
	switch {
	case p >= 0.9995:
		return "over 99.9%"
	case p >= 0.99:
		return fmt.Sprintf("%.1f%%", math.Floor(1000*p)/10)
	case p < 0.01:
		return "under 1%"
	}
	// Never up: what is not enough must not look like enough.
	return fmt.Sprintf("%.0f%%", math.Floor(100*p))
}

// judged returns the report to show: on the pilot that was read; without
// one, on the one on record. about says which in the second case.
func (a *answer) judged() (r *lineup.Report, about string) {
	if a.report != nil {
		if a.lineup == nil && a.amp == nil && len(a.report.Findings) == 0 {
			return nil, "" // nothing known to judge by, nothing to say
		}
		return a.report, ""
	}
	if a.recorded != nil && !a.doubtful() {
		return a.recorded, fmt.Sprintf(" (%v, as recorded)", a.recorded.Pilot)
	}
	return nil, ""
}

// verdictBlock says whether the pilot is allowed, and by which rules not, in
// no more lines than there is room for.
func (a *answer) verdictBlock(room int) console.Block {
	report, about := a.judged()
	if report == nil {
		return console.Block{}
	}
	var b console.Block
	switch {
	case a.lineup != nil:
		b = console.Section("Lineup", verdictText(report, a.lineup, about, true))
		if room < len(b.Lines)+min(3*len(report.Findings), 3) {
			b = console.Section("Lineup", verdictText(report, a.lineup, about, false))
		}
	case a.amp != nil:
		b = console.Section("Record", fmt.Sprintf("%s%s: by the record of %s alone.", verdictWords[report.Verdict], about, console.Shown(a.amp.ID)))
	default:
		b = console.Section("Plan", fmt.Sprintf("%s: by the channel plan.", verdictWords[report.Verdict]))
	}
	left := len(report.Findings)
	for _, f := range report.Findings {
		lines := console.Wrap(findingText(f), console.TextWidth)
		reserve := 1 // for the line that says how many are left out
		if left == 1 {
			reserve = 0
		}
		if len(b.Lines)+len(lines)+reserve > room {
			break
		}
		b.Lines = append(b.Lines, lines...)
		left--
	}
	if left > 0 {
		b.Lines = append(b.Lines, a.moreText(left, report.Pilot))
	}
	return b
}

// moreText says how many findings are left out and how to see them.
func (a *answer) moreText(left int, p channelplan.Pilot) string {
	text := fmt.Sprintf("and %d more: tallywink check %v%s", left, p, a.flags)
	if len(text) > console.TextWidth {
		return fmt.Sprintf("and %d more: 'tallywink check' shows all", left)
	}
	return text
}

func findingText(f lineup.Finding) string {
	return fmt.Sprintf("%v %s: %s", f.Severity, f.Rule, console.Sentence(console.Shown(f.Text)))
}

var verdictWords = [...]string{lineup.Usable: "usable", lineup.WithCare: "usable with caution", lineup.Unusable: "not usable"}

// verdictText says a verdict in words, with what is carried there, in full or
// in short.
func verdictText(r *lineup.Report, l *lineup.Lineup, about string, full bool) string {
	text := verdictWords[r.Verdict] + about + ": " + console.Shown(nameOf(l))
	switch {
	case !r.Listed:
		return text + " does not carry it."
	case r.Carrier.Kind.Family() != r.Pilot.Kind:
		return text + " carries " + r.Carrier.Kind.Label() + " there."
	}
	text += " carries " + r.Carrier.Kind.Label()
	if full && r.Carrier.HasLevel {
		text += fmt.Sprintf(" at %.1f dBmV", r.Carrier.LevelDBmV)
	}
	if full && r.Carrier.Service != "" {
		text += ", " + console.Shown(r.Carrier.Service)
	}
	return text + "."
}

// nameOf returns what to call a lineup, in no more letters than a line bears.
func nameOf(l *lineup.Lineup) string {
	const letters = 40
	if l.Name != "" {
		return clipped(l.Name, letters)
	}
	return clipped(l.File, letters)
}
