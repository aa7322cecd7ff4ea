package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
)

// Section is a label with the text under it.
type Section struct {
	Label string
	Lines []Line
}

// Line is a sentence or two, or a line of a table whose columns line up in a fixed-width
// font.
type Line struct {
	Text  string
	Table bool
}

// Told says what was read, and which pilot and state that is.
func (a *Answer) Told() []Section {
	var all []Section
	switch {
	case a.Recording != nil && a.Doubtful:
		all = append(all, a.Recording.read(), a.Recording.doubt())
	case a.Recording != nil && a.Report != nil:
		all = append(all, a.Recording.read(), Section{"Pilot", []Line{{Text: Describe(a.Report, a.Plan)}}})
	case a.Recording != nil:
		all = append(all, a.Recording.read())
	case len(a.Looks) > 0:
		all = append(all, a.read(), a.pilot())
	}
	if a.Recording != nil && a.Recording.Clip != nil && len(a.Recording.Clip.Lamps) > 1 {
		all = append(all, a.Recording.lamps())
	}
	state := StateText(a.State, a.End)
	if a.Doubtful && a.assumed {
		state = "locked or edge, if what you counted is a frame."
	}
	if len(a.Looks) > 0 && !a.State.ShowsFrame() {
		state = strings.TrimSuffix(state, ".") + " (the marks were read earlier)."
	}
	if (a.Recording == nil || !a.Doubtful) && a.State != blink.NoState {
		all = append(all, Section{"State", []Line{{Text: state}}})
	}
	return all
}

// StateText names a state and says what it means.
func StateText(s blink.State, end blink.EdgeEnd) string {
	return fmt.Sprintf("%s: %s.", s.NameAt(end), s.MeaningAt(end))
}

// mostLooks is how many looks are repeated back to the user.
const mostLooks = 2

// read says what was read and what its check digit says.
func (a *Answer) read() Section {
	shown := a.Looks[:min(len(a.Looks), mostLooks)]
	var lines []Line
	for i, look := range shown {
		text := fmt.Sprintf("%-28s digits %s", look, SpelledDigits(a.Lamp(), look))
		if i < len(shown)-1 {
			text += " //"
		}
		lines = append(lines, Line{text, true})
	}
	if more := len(a.Looks) - len(shown); more > 0 {
		lines = append(lines, Line{Text: "and " + wording.Counted(more, "more look", "more looks"), Table: true})
	}
	lines = append(lines, Line{Text: a.checkText()})
	if o := a.Observer; o != nil {
		lines = append(lines,
			Line{Text: fmt.Sprintf("Weighed by how %s counts: %s in training, %d missed, %d counted twice, %d wrong length.",
				wording.Harmless(o.Name),
				wording.Counted(o.Marks, "mark", "marks"), o.Missed, o.Doubled, o.Mistaken)})
	}
	return Section{"Read", lines}
}

// checkText says whether the check digit agrees.
func (a *Answer) checkText() string {
	checks := a.Lamp().Checks()
	if len(a.Lamp().Groups) == 0 {
		return "This lamp shows no frames, only states."
	}
	if least, most := a.Lamp().FrameLengths(); len(a.Looks) == 1 && a.Check == reading.Unread {
		has := fmt.Sprint(most)
		if least != most {
			has = fmt.Sprintf("%d to %d", least, most)
		}
		if n := len(a.Looks[0]); n < least || n > most {
			what := "This is not a frame"
			if checks {
				what = "Check digit not compared"
			}
			return fmt.Sprintf("%s: you read %s, but a frame has %s.", what, wording.Counted(n, "group", "groups"), has)
		}
	}
	if agree := a.agreeing(); len(agree) > 0 && len(agree) < len(a.Looks) && len(a.Named) < 2 {
		return fmt.Sprintf("The check digit agrees in look %s only.", strings.Join(agree, ", "))
	}
	if !checks {
		return map[reading.CheckDigit]string{
			reading.Agrees:  "It is a valid frame. This code has no check digit.",
			reading.Differs: "These groups are not a frame of this code: something was miscounted.",
			reading.Unread:  "Not every group you read is a digit.",
		}[a.Check]
	}
	return map[reading.CheckDigit]string{
		reading.Agrees:  "The check digit agrees.",
		reading.Differs: "The check digit differs: something was miscounted.",
		reading.Unread:  "No check possible: a group was not clear.",
	}[a.Check]
}

// agreeing returns the numbers of the looks, of several, whose own check digit agrees.
func (a *Answer) agreeing() []string {
	var agree []string
	for i, c := range a.checks {
		if c == reading.Agrees {
			agree = append(agree, fmt.Sprint(i+1))
		}
	}
	return agree
}

// SpelledDigits writes the digits of a look, with '?' for a group that is not a digit.
func SpelledDigits(code *blink.Code, look blink.Frame) string {
	var digits []string
	whole, known := code.DigitsOf(look)
	for i, g := range look {
		if known {
			digits = append(digits, fmt.Sprint(whole[i]))
		} else if d, ok := code.DigitOf(g); ok {
			digits = append(digits, fmt.Sprint(d))
		} else {
			digits = append(digits, "?")
		}
	}
	return strings.Join(digits, " ")
}

// likeliest says that no candidate is certain enough.
func likeliest(p, needed float64) string {
	return fmt.Sprintf("doubtful: the best match has %s, but %.0f%% is needed.", wording.Percent(p), 100*needed)
}

// pilot names the pilot, or lists the candidates if none is certain.
func (a *Answer) pilot() Section {
	if a.Report != nil {
		text := Describe(a.Report, a.Plan)
		if a.Check != reading.Agrees {
			text = strings.TrimSuffix(text, ".") + fmt.Sprintf(", %s sure.",
				wording.Percent(a.Result.Best().Probability))
		}
		return Section{"Pilot", []Line{{Text: text}}}
	}
	lines := []Line{{Text: likeliest(a.Result.Best().Probability, a.needed())}}
	if len(a.Rhythm) > 0 {
		var states []string
		for _, s := range a.Rhythm {
			states = append(states, s.String())
		}
		return Section{"Pilot",
			[]Line{{Text: fmt.Sprintf("doubtful: the same thing over and over is a rhythm and does not name a pilot. It may be %s.",
				strings.Join(states, " or "))}}}
	}
	if a.OffColor {
		lines[0].Text = fmt.Sprintf("doubtful: it looks like a frame, but this code shows no frame in %s.", a.Color)
	}
	if a.Bars > 0 {
		return Section{"Pilot",
			[]Line{{Text: fmt.Sprintf("doubtful: it may be %v at the edge, with a bar of light taken for a group.",
				a.Framed)}}}
	}
	if a.Result.Stranger > 0.5 {
		lines[0].Text = "doubtful: this does not fit any frame. Was it another lamp, or too many miscounts?"
		if a.showsNoPilot() {
			lines[0].Text = "doubtful: this lamp shows no pilot."
		}
	}
	likely := a.Result.Likely()
	if !a.worthTelling() && len(a.Named) < 2 {
		likely = nil
	}
	for _, c := range likely {
		line := fmt.Sprintf("%5s  %-12s", wording.Percent(c.Probability), c.Pilot)
		if frame, err := a.Lamp().Encode(c.Pilot); err == nil {
			line += " " + fmt.Sprintf("%-24s", frame)
		}
		switch {
		case slices.Contains(a.Named, c.Pilot):
			line += " from one look"
		case a.Lineup != nil:
			line += " " + a.carriedAs(c.Pilot)
		}
		lines = append(lines, Line{strings.TrimRight(line, " "), true})
	}
	if rest := a.others(likely); len(likely) > 0 && rest >= 0.01 {
		lines = append(lines, Line{fmt.Sprintf("%5s  others", wording.Percent(rest)), true})
	}
	return Section{"Pilot", lines}
}

// others returns the probability of everything but the candidates that are listed, so that
// what is shown adds up.
func (a *Answer) others(listed []reading.Candidate) float64 {
	percent := 100.0
	for _, c := range listed {
		percent -= math.Floor(100 * c.Probability)
	}
	return (percent + 0.5) / 100 // shown without the half
}

// carriedAs says in short whether the lineup carries a candidate. That does not change
// its probability: a pilot that is not in the lineup is exactly what the user must hear
// about.
func (a *Answer) carriedAs(p channelplan.Pilot) string {
	c, ok := a.Lineup.InChannel(p.Channel, p.Kind)
	if !ok || c.Kind.Family() != p.Kind {
		return "not in the lineup"
	}
	return "in the lineup"
}

// Describe gives a pilot's channel, kind, frequency and edges.
func Describe(r *lineup.Report, plan channelplan.Plan) string {
	p := r.Pilot
	at := channelplan.FormatMHz(r.Located.FrequencyHz)
	c, ok := plan.Channel(p.Channel)
	switch {
	case p.Channel == 0:
		return fmt.Sprintf("cw carrier at %s MHz.", at)
	case !ok:
		return fmt.Sprintf("channel %d %s: not a channel of the %s plan.", p.Channel, p.Kind.Label(), plan.Name())
	}
	name := map[channelplan.Kind]string{channelplan.Analog: "visual carrier", channelplan.Digital: "center",
		channelplan.CW: "carrier"}[p.Kind]
	extension := ""
	if c.Extension() {
		extension = ", by extension"
	}
	return fmt.Sprintf("channel %d %s: %s %s MHz, edges %s (%s%s).", p.Channel, p.Kind.Label(), name, at,
		lineup.Band{LowHz: c.LowHz(), HighHz: c.HighHz()}, plan.Name(), extension)
}

// Verdict is the text on whether a pilot is valid, in parts, so that a face with little
// room can leave some out.
type Verdict struct {
	Label       string // what it is judged by: Lineup, Record or Plan
	Full, Short string
	Findings    []string // the most serious first
	Report      *lineup.Report
}

// Verdict says whether the pilot is valid and, if not, which rules it breaks; nil if
// there is nothing to judge, or nothing to judge it by.
func (a *Answer) Verdict() *Verdict {
	r, asRecorded := a.Shown()
	if r == nil {
		return nil
	}
	if asRecorded && !a.recordMatters(r) {
		return nil
	}
	about := ""
	if asRecorded {
		about = fmt.Sprintf(" (%v, on record)", r.Pilot)
	}
	v := &Verdict{Report: r}
	for _, f := range r.Findings {
		v.Findings = append(v.Findings, FindingText(f))
	}
	switch {
	case a.Lineup != nil:
		v.Label, v.Full, v.Short = "Lineup", VerdictText(r, a.Lineup, about, true),
			VerdictText(r, a.Lineup, about, false)
		if asRecorded {
			v.Label = "Record"
		}
		return v
	case a.Amplifier != nil:
		v.Label, v.Full = "Record", fmt.Sprintf("%s%s: judged only by the record of %s.", VerdictWords(r),
			about, wording.Harmless(a.Amplifier.ID))
	default:
		v.Label, v.Full = "Plan", fmt.Sprintf("%s: judged by the channel plan.", VerdictWords(r))
	}
	v.Short = v.Full
	return v
}

// recordMatters reports whether the verdict on the recorded pilot belongs in an answer
// that names none: it must be heard if it is bad news, or if the lamp shows that the AGC
// is without its pilot. Elsewhere, 'usable' would sound like good news about the lamp.
func (a *Answer) recordMatters(r *lineup.Report) bool {
	switch {
	case a.Amplifier != nil && a.Amplifier.Mode != lineup.AGC:
		return false
	case r.Verdict != lineup.Usable:
		return true
	}
	switch a.State {
	case blink.Fault, blink.Dark, blink.Steady:
		return false
	}
	return true
}

// Meter says what a meter should show at the amplifier, by its design, at the pilot that
// was read or is on record and at the balance channels; nil if the record does not say. A
// pilot that is not usable has no level worth telling. No other level is told: a lineup's
// level is the one at its reference point, and must not be used to balance an amplifier.
func (a *Answer) Meter() []Line {
	if r, _ := a.Shown(); r == nil {
		return nil
	}
	return a.System.Meter(a.metered())
}

// Meter says what a meter should show at the system's amplifier at pilots, those that are not
// zero, and at the balance channels; nil if the record or the lineup does not say.
func (s System) Meter(pilots ...channelplan.Pilot) []Line {
	if s.Lineup == nil || s.Amplifier == nil {
		return nil
	}
	d := s.Amplifier.Design
	var rows []Line
	add := func(what string, hz int64, e lineup.Expected) {
		text := fmt.Sprintf("%-21s %8s MHz", what, channelplan.FormatMHz(hz))
		in, out := e.AtMeter()
		if e.InputKnown {
			text += fmt.Sprintf("  input %5.1f", in)
		}
		if e.OutputKnown {
			text += fmt.Sprintf("  output %5.1f", out)
		}
		rows = append(rows, Line{text + " dBmV", true})
	}
	for _, p := range pilots {
		if e := s.expected(p); !e.IsZero() {
			if c, ok := s.Lineup.Standing(p); ok {
				add("pilot "+p.String(), c.FrequencyHz, e)
			}
		}
	}
	digital := false
	for _, b := range s.Lineup.Balance(d) {
		name := "balance"
		if b.Channel != 0 {
			name = fmt.Sprintf("balance, channel %d", b.Channel)
		}
		add(name, b.FrequencyHz, b.Expected)
		digital = digital || b.Kind.Family() == channelplan.Digital
	}
	if rows == nil {
		return nil
	}
	place := "by design, on the line (add your test point loss to what the meter shows):"
	if d.TestPointDB > 0 {
		place = fmt.Sprintf("by design, at the test points, %g dB under the line:", d.TestPointDB)
	}
	rows = append([]Line{{Text: place}}, rows...)
	var more []string
	if d.Pad != "" {
		more = append(more, "pad "+wording.Harmless(d.Pad))
	}
	if d.Equalizer != "" {
		more = append(more, "equalizer "+wording.Harmless(d.Equalizer))
	}
	text := ""
	if len(more) > 0 {
		text = "On record: " + strings.Join(more, ", ") + "."
	}
	if digital {
		text += " QAM reads lower than an analog carrier at design: that is in these numbers."
	}
	if text != "" {
		rows = append(rows, Line{Text: strings.TrimSpace(text)})
	}
	return rows
}

// expected returns what the amplifier's design requires at a pilot; zero if the record or
// the lineup does not say.
func (s System) expected(p channelplan.Pilot) lineup.Expected {
	if s.Lineup == nil || s.Amplifier == nil {
		return lineup.Expected{}
	}
	return s.Lineup.Expect(p, s.Amplifier.Design)
}

// FindingText returns a finding as text, with its severity and rule.
func FindingText(f lineup.Finding) string {
	return fmt.Sprintf("%v %s: %s", f.Severity, f.Rule, wording.Sentence(wording.Harmless(f.Text)))
}

// VerdictWords returns a verdict in words: usable, usable with caution, not usable; or not
// known to be valid, if the lineup's row can't be read.
func VerdictWords(r *lineup.Report) string {
	if undecided(r) {
		return "not known to be valid"
	}
	return [...]string{lineup.Usable: "usable", lineup.WithCare: "usable with caution",
		lineup.Unusable: "not usable"}[r.Verdict]
}

// VerdictText returns a verdict in words, with what the lineup carries there, in full or
// in short; about is added after the verdict.
func VerdictText(r *lineup.Report, l *lineup.Lineup, about string, full bool) string {
	words, name := VerdictWords(r)+about, wording.Harmless(LineupName(l))
	text := words + ": " + name
	switch {
	case undecided(r):
		return text + " has a row there that can't be read."
	case !r.Listed:
		return text + " does not carry it."
	case r.Carrier.Kind.Family() != r.Pilot.Kind:
		return text + " carries " + r.Carrier.Kind.Label() + " there."
	case r.Verdict == lineup.Unusable:
		text = words + ", although " + name
	}
	text += " carries " + r.Carrier.Kind.Label()
	if full && r.Carrier.Service != "" {
		text += ", " + wording.Harmless(r.Carrier.Service)
	}
	return text + "."
}

// LineupName returns the name to show for a lineup, cut to the length that a line has
// room for.
func LineupName(l *lineup.Lineup) string {
	const letters = 40
	if l.Name != "" {
		return wording.Clipped(l.Name, letters)
	}
	return wording.Clipped(l.File, letters)
}

// NearText says where a frequency is, given what the plan found for it: the channel that
// holds it or, in two sentences, that no channel does and which is nearest. landmark ends
// the sentence on the channel that holds it; "" is none.
func NearText(c channelplan.Channel, place channelplan.Place, hz int64, landmark string) []string {
	mhz, plan := channelplan.FormatMHz(hz), c.Plan().Name()
	if place == channelplan.InChannel {
		return []string{fmt.Sprintf("%s MHz is in channel %d (%s), %s MHz above its lower edge%s.", mhz, c.Number(),
			plan, channelplan.FormatMHz(hz-c.LowHz()), landmark)}
	}
	return []string{
		fmt.Sprintf("No %s channel covers %s MHz: %s.", plan, mhz, place.Why()),
		fmt.Sprintf("The nearest is channel %d, %s MHz away.", c.Number(), channelplan.FormatMHz(c.DistanceHz(hz))),
	}
}
