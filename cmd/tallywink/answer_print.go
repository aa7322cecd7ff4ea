package main

import (
	"fmt"
	"strings"

	"github.com/fatih/color"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/lineup/nextstep"
)

// maxAnswerLines is how long an answer is at most: what a technician takes in
// at a pole. Findings give way first, then candidates.
const maxAnswerLines = 20

func (a *answer) print(io *console, care bool) {
	var top, bottom []block
	if len(a.looks) > 0 {
		top = append(top, a.readBlock(), a.pilotBlock())
	}
	state := stateText(a.state, a.end)
	if len(a.looks) > 0 && !a.state.ShowsFrame() {
		state = strings.TrimSuffix(state, ".") + " (the marks are older)."
	}
	top = append(top, section("State", state))
	bottom = append(bottom, numbered("Next", a.next))
	if care {
		bottom = append(bottom, careBlock())
	}

	used := 0
	for _, b := range append(append([]block{}, top...), bottom...) {
		used += len(b.lines)
	}
	if b := a.lineupBlock(maxAnswerLines - used); len(b.lines) > 0 {
		top = append(top, b)
		used += len(b.lines)
	}
	if over := used - maxAnswerLines; over > 0 && a.doubtful() {
		pilot := &top[1]
		pilot.lines = pilot.lines[:max(len(pilot.lines)-over, 1)]
	}
	io.print(append(top, bottom...), a.paint(io))
}

func careBlock() block { return section("Care", nextstep.Caution) }

func stateText(s blink.State, end blink.EdgeEnd) string {
	name := s.String()
	if end != blink.NoEnd {
		name += fmt.Sprintf(" (%v end)", end)
	}
	return fmt.Sprintf("%s: %s.", name, s.MeaningAt(end))
}

// paint marks good and bad news by the label of the line they stand on.
func (a *answer) paint(io *console) map[string]*color.Color {
	paint := map[string]*color.Color{"State": io.good, "Pilot": io.good, "Lineup": io.good}
	switch a.state {
	case blink.Seeking, blink.Holding, blink.Fault, blink.Dark:
		paint["State"] = io.bad
	case blink.Edge, blink.Steady:
		paint["State"] = io.warn
	}
	if a.doubtful() {
		paint["Pilot"] = io.bad
	}
	for _, r := range []*lineup.Report{a.report, a.sought} {
		if r != nil {
			paint["Lineup"], paint["Record"] = io.byVerdict(r.Verdict), io.byVerdict(r.Verdict)
		}
	}
	return paint
}

func (c *console) byVerdict(v lineup.Verdict) *color.Color {
	return map[lineup.Verdict]*color.Color{lineup.Usable: c.good, lineup.WithCare: c.warn, lineup.Unusable: c.bad}[v]
}

// readBlock says what was read and what its check digit says.
func (a *answer) readBlock() block {
	shownLooks := a.looks[:min(len(a.looks), 2)]
	var lines []string
	for i, look := range shownLooks {
		text := fmt.Sprintf("%-28s digits %s", look, spelled(look))
		if i < len(shownLooks)-1 {
			text += " //"
		}
		if len(text) > lineWidth-labelWidth {
			lines = append(lines, wrap(look.String(), lineWidth-labelWidth)...)
			continue
		}
		lines = append(lines, text)
	}
	if more := len(a.looks) - len(shownLooks); more > 0 {
		lines = append(lines, "and "+counted(more, "more look", "more looks"))
	}
	says := map[reading.CheckDigit]string{
		reading.Agrees:  "The check digit agrees.",
		reading.Differs: "The check digit differs: something was miscounted.",
		reading.Unread:  "Check digit not compared: not every group read is a digit.",
	}[a.check]
	if len(a.looks) == 1 && a.check == reading.Unread && len(a.looks[0]) != len(blink.Tally.Groups) {
		says = fmt.Sprintf("Check digit not compared: %s read, and a frame has %d.",
			counted(len(a.looks[0]), "group", "groups"), len(blink.Tally.Groups))
	}
	return block{"Read", append(lines, wrap(says, lineWidth-labelWidth)...)}
}

// spelled writes the digits of a look, '?' for a group that is none.
func spelled(look blink.Frame) string {
	var digits []string
	for _, g := range look {
		if d, ok := blink.Tally.DigitOf(g); ok {
			digits = append(digits, fmt.Sprint(d))
		} else {
			digits = append(digits, "?")
		}
	}
	return strings.Join(digits, " ")
}

// pilotBlock names the pilot, or the candidates where none is sure.
func (a *answer) pilotBlock() block {
	if p, ok := a.pilot(); ok {
		text := describe(p, a.plan)
		if best := a.result.Best().Probability; a.check != reading.Agrees {
			text = strings.TrimSuffix(text, ".") + fmt.Sprintf(", %s sure.", percent(best))
		}
		return section("Pilot", text)
	}
	lines := wrap(fmt.Sprintf("doubtful: the likeliest has %s, and %.0f %% is asked.",
		percent(a.result.Best().Probability), 100*reading.Sure), lineWidth-labelWidth)
	if a.result.Stranger > 0.5 {
		lines = wrap("doubtful: this fits no frame. Another lamp, or a reading beyond repair?", lineWidth-labelWidth)
	}
	for _, c := range a.likely {
		line := fmt.Sprintf("%5s  %-12s", percent(c.Probability), c.Pilot)
		if frame, err := blink.Tally.Encode(c.Pilot); err == nil {
			line += " " + fmt.Sprintf("%-24s", frame)
		}
		if a.lineup != nil {
			line += " " + a.carriedAs(c.Pilot)
		}
		lines = append(lines, strings.TrimRight(line, " "))
	}
	return block{"Pilot", lines}
}

// carriedAs says in short what a lineup has for a candidate. It changes no
// probability: a pilot that is not in the lineup is just what one must hear
// about.
func (a *answer) carriedAs(p blink.Pilot) string {
	c, ok := a.lineup.InChannel(p.Channel, p.Kind)
	if !ok || c.Kind.Family() != p.Kind {
		return "not in the lineup"
	}
	return "in the lineup"
}

// describe says a pilot's channel, kind, frequency and edges.
func describe(p lineup.Pilot, plan channelplan.Plan) string {
	at, ok := lineup.Locate(p, plan)
	switch {
	case p.Channel == 0:
		return fmt.Sprintf("cw carrier at %s MHz.", channelplan.FormatMHz(p.FrequencyHz))
	case !ok:
		return fmt.Sprintf("channel %d %s: not a channel of the %s plan.", p.Channel, p.Kind.Label(), plan.Name())
	}
	c, _ := plan.Channel(p.Channel)
	name := map[bool]string{true: "center", false: "visual carrier"}[at.FrequencyHz == c.CenterHz()]
	extension := ""
	if c.Extension() {
		extension = ", by extension"
	}
	return fmt.Sprintf("channel %d %s: %s %s MHz, edges %s (%s%s).",
		p.Channel, p.Kind.Label(), name, channelplan.FormatMHz(at.FrequencyHz), at.Band, plan.Name(), extension)
}

// percent writes a probability without pretending to more than it is.
func percent(p float64) string {
	switch {
	case p >= 0.9995:
		return "over 99.9 %"
	case p >= 0.99:
		return fmt.Sprintf("%.1f %%", 100*p)
	case p < 0.01:
		return "under 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// lineupBlock says whether the lineup allows the pilot, and by which rules
// not, in no more lines than there is room for.
func (a *answer) lineupBlock(room int) block {
	report, about := a.report, ""
	if report == nil {
		report = a.sought
		if report == nil {
			return block{}
		}
		about = fmt.Sprintf(" (%v, as recorded)", report.Pilot)
	}
	var b block
	if a.lineup != nil {
		b = section("Lineup", verdictText(report, a.lineup, about))
	} else {
		b = section("Record", fmt.Sprintf("%s by the record of %s alone%s.", verdictWords[report.Verdict], shown(a.amp.ID), about))
	}
	left := len(report.Findings)
	for _, f := range report.Findings {
		lines := wrap(findingText(f), lineWidth-labelWidth)
		reserve := 1 // for the line that says how many are left out
		if left == 1 {
			reserve = 0
		}
		if len(b.lines)+len(lines)+reserve > room {
			break
		}
		b.lines = append(b.lines, lines...)
		left--
	}
	if left > 0 {
		b.lines = append(b.lines, fmt.Sprintf("and %d more: 'tallywink check' shows all", left))
	}
	return b
}

func findingText(f lineup.Finding) string {
	return fmt.Sprintf("%v %s: %s.", f.Severity, f.Rule, shown(f.Text))
}

var verdictWords = [...]string{lineup.Usable: "usable", lineup.WithCare: "usable with caution", lineup.Unusable: "not usable"}

// verdictText says a verdict in words, with what is carried there.
func verdictText(r *lineup.Report, l *lineup.Lineup, about string) string {
	text := verdictWords[r.Verdict] + about
	name := l.Name
	if name == "" {
		name = l.File
	}
	if !r.Listed || r.Carrier.Kind.Family() != r.Pilot.Kind {
		return fmt.Sprintf("%s in %s.", text, shown(name))
	}
	text += ": " + shown(name) + " carries " + r.Carrier.Kind.Label()
	if r.Carrier.HasLevel {
		text += fmt.Sprintf(" at %.1f dBmV", r.Carrier.LevelDBmV)
	}
	if r.Carrier.Service != "" {
		text += ", " + shown(r.Carrier.Service)
	}
	return text + "."
}
