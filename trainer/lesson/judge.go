package lesson

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
)

// This file has the questions that need judgment: is a pilot valid, and what comes first.
// The right answers are those of the rules and of the next steps.

func judgeQuestion(m Material, item string, unit time.Duration) Question {
	switch {
	case strings.HasPrefix(item, "verdict"):
		return verdictQuestion(m, last(item), unit)
	case strings.HasPrefix(item, "doubt"):
		return doubtQuestion(m, last(item))
	}
	return stepQuestion(m, item, unit)
}

// doubts are the kinds of doubtful readings, with what to do about each. They say what
// package answer says.
var doubts = []struct{ kind, do, why string }{
	{"differs", "Count one more whole frame, and enter both looks.",
		"Something was miscounted. A second look settles what one can't."},
	{"looks", "Make sure that both looks are of the same lamp. Then look once more.",
		"Each look is a good frame, but they name different pilots."},
	{"long", "Wait for the long dark, and count one frame after it.",
		"That is more than one frame has: you counted on, or began in the middle."},
	{"third", "Change nothing, and have someone else read it.", "Doubtful three times is not bad luck any more."},
}

// doubtQuestion asks what to do about a reading that can't be trusted. Nothing flashes.
func doubtQuestion(m Material, kind string) Question {
	p := m.goodPilot()
	frame := m.encode(p)
	miscounted := slices.Clone(frame)
	i := m.Random.IntN(len(miscounted))
	miscounted[i] = m.otherMarks(m.Code.Rules(p)[i], frame[i])
	other := m.goodPilot()
	for range 100 {
		if other != p {
			break
		}
		other = m.goodPilot()
	}
	ask := map[string]string{
		"differs": fmt.Sprintf("You counted %s once. The program says: doubtful.", miscounted),
		"looks": fmt.Sprintf("You counted %s, then %s. The program says that the looks disagree.", frame,
			m.encode(other)),
		"long": fmt.Sprintf("You counted %s %s. The program says: doubtful.", frame, frame[:1]),
		"third": fmt.Sprintf("You counted this lamp three times, the last time as %s. It was doubtful each time.",
			miscounted),
	}[kind]
	q := Question{Ask: []string{ask, "What now?"}, Way: ByOption, Want: kind}
	for _, i := range m.Random.Perm(len(doubts)) {
		q.Options, q.Meant = append(q.Options, doubts[i].do), append(q.Meant, doubts[i].kind)
		if doubts[i].kind == kind {
			q.Why = []string{doubts[i].why, "Right: " + doubts[i].do, "Until it is certain, no setting is changed."}
		}
	}
	return q
}

// verdictOptions are the answers to whether a pilot is valid.
var verdictOptions = []string{"usable", "usable with caution", "not usable"}

// verdictCase makes a pilot and an amplifier's record for which the rules give the
// wanted verdict, if the lineup allows one.
func (m Material) verdictCase(want string) (p channelplan.Pilot, amp lineup.Amplifier, r lineup.Report) {
	first, last := max(m.Code.FirstChannel, 2), min(m.Code.LastChannel, lastTaught)
	kinds := m.Code.Kinds()
	for range 400 { // until one is found, or give up
		p = m.anyPilot("")
		if want == "unusable" &&
			len(m.Code.Presets) == 0 { // something that is not in the lineup, or is different there
			p = channelplan.Pilot{Channel: first + m.Random.IntN(last-first+1), Kind: kinds[m.Random.IntN(len(kinds))]}
		}
		amp = m.anyAmplifier(p)
		r = m.Lineup.Check(p, lineup.Context{Amplifier: &amp, Today: m.Today})
		if r.Verdict.String() == want && !r.Undecided() {
			break
		}
	}
	return p, amp, r
}

func verdictQuestion(m Material, want string, unit time.Duration) Question {
	p, amp, r := m.verdictCase(want)
	index := map[lineup.Verdict]int{lineup.Usable: 0, lineup.WithCare: 1, lineup.Unusable: 2}[r.Verdict]
	ask := []string{fmt.Sprintf("The lamp shows %v. The amplifier's record says %v, passband %v. The lineup has:", p,
		amp.Pilot, amp.Passband)}
	ask = append(ask, m.slice(p.Channel)...)
	why := []string{wording.Capital(verdictOptions[index]) + "."}
	for _, f := range r.Findings {
		if f.Severity > lineup.Note || len(r.Findings) == 1 {
			why = append(why, fmt.Sprintf("%v %s: %s.", f.Severity, f.Rule, strings.TrimRight(f.Text, ".")))
		}
	}
	// The verdict also says what comes next and who decides.
	steps := answer.Steps(answer.Situation{System: answer.System{Code: m.Code, Lineup: m.Lineup, Amplifier: &amp},
		State: blink.Locked, Report: &r})
	var texts []string
	for _, step := range steps {
		texts = append(texts, step.Text)
	}
	why = append(why, "First: "+texts[0])
	if len(texts) > 1 {
		why = append(why, "Then: "+texts[1])
	}
	if !m.Lineup.Effective.IsZero() {
		ask = append(ask, fmt.Sprintf("It took effect on %s; today is %s.", m.Lineup.Effective.Format(time.DateOnly),
			m.Today.Format(time.DateOnly)))
	}
	return Question{
		Ask: append(ask, "Is it a valid pilot here?"), Way: ByOption, Options: verdictOptions,
		Want:  verdictOptions[index],
		Light: m.light(blink.Signal{State: blink.Locked, Pilot: p}, unit), Frame: m.encode(p), Why: why,
	}
}

// anyAmplifier is an invented record. In three of four its pilot is the one read, and
// in three of four its passband is the lineup's.
func (m Material) anyAmplifier(p channelplan.Pilot) lineup.Amplifier {
	a := lineup.Amplifier{ID: "this", Pilot: p, Passband: m.Lineup.Forward}
	if m.Random.IntN(4) == 0 {
		other := m.anyPilot("")
		a.Pilot = channelplan.Pilot{Channel: other.Channel, Kind: other.Kind}
	}
	if m.Random.IntN(4) == 0 {
		a.Passband.HighHz = a.Passband.LowHz + (a.Passband.HighHz-a.Passband.LowHz)*3/4
	}
	return a
}

// beside returns a channel and its neighbors in frequency, lowest first: above 13 comes
// 23.
func (m Material) beside(channel int) []int {
	own, ok := m.Lineup.Plan.Channel(channel)
	if !ok {
		return []int{channel}
	}
	all := []int{channel}
	for n := channelplan.FirstChannel; n <= channelplan.LastExtended; n++ {
		const slack = channelplan.ChannelWidthHz / 20 // neighbors may have different offsets
		c, ok := m.Lineup.Plan.Channel(n)
		switch {
		case !ok || n == channel:
		case max(own.LowHz()-c.HighHz(), c.HighHz()-own.LowHz()) < slack:
			all = append([]int{n}, all...)
		case max(c.LowHz()-own.HighHz(), own.HighHz()-c.LowHz()) < slack:
			all = append(all, n)
		}
	}
	return all
}

// slice returns the lineup's carriers in a channel and its neighbors, one per line.
func (m Material) slice(channel int) []string {
	var lines []string
	for _, n := range m.beside(channel) {
		c, ok := m.Lineup.InChannel(n, channelplan.Digital)
		if !ok {
			c, ok = m.Lineup.InChannel(n, channelplan.Analog)
		}
		if !ok {
			c, ok = m.Lineup.InChannel(n, channelplan.CW)
		}
		if !ok {
			if n > 0 {
				lines = append(lines, fmt.Sprintf("  %3d  nothing of its own", n))
			}
			continue
		}
		text := fmt.Sprintf("  %3d  %-22s", n, c.Kind.Label())
		if c.HasLevel {
			text += fmt.Sprintf(" %5.1f dBmV", c.LevelDBmV)
		}
		for _, more := range []struct {
			is   bool
			word string
		}{{c.PartTime, "part-time"}, {c.SyncSuppressed, "sync-suppressed"}, {c.Narrowcast, "narrowcast"}} {
			if more.is {
				text += ", " + more.word
			}
		}
		lines = append(lines, text)
	}
	for _, c := range m.Lineup.Carriers {
		if c.Kind == channelplan.OFDM {
			lines = append(lines, fmt.Sprintf("  OFDM %v", c.Band))
		}
	}
	return lines
}

// stepQuestion asks for the first thing to do in a state. The other options are those of
// other states.
func stepQuestion(m Material, item string, unit time.Duration) Question {
	state, err := blink.ParseState(last(item))
	if err != nil {
		panic(err) // items only name states that exist
	}
	shown := slices.DeleteFunc(m.Code.States(), func(s blink.Signal) bool { return s.State != state })
	s := shown[0]
	if len(shown) > 1 {
		s = shown[m.Random.IntN(len(shown))]
	}
	s = m.withPilot(s, func(string) channelplan.Pilot { return m.goodPilot() })
	want := answer.First(state)
	options, meant := []string{want}, []string{state.String()}
	states := m.Code.States()
	const most = 4
	for _, i := range m.Random.Perm(len(states)) {
		o := answer.First(states[i].State)
		if len(options) < most && !slices.ContainsFunc(options, func(have string) bool { return alike(have, o) }) {
			options, meant = append(options, o), append(meant, states[i].State.String())
		}
	}
	m.Random.Shuffle(len(options), func(i, j int) {
		options[i], options[j], meant[i], meant[j] = options[j], options[i], meant[j], meant[i]
	})
	why := []string{fmt.Sprintf("%s: %s.", wording.Capital(s.State.NameAt(s.End)), s.State.MeaningAt(s.End)),
		"Right: " + want}
	for i, step := range m.steps(s) {
		why = append(why, fmt.Sprintf("%d. %s", i+1, step))
	}
	return Question{
		Ask: []string{m.colored("Read the state off the lamp. What comes first?", s.State)}, Way: ByOption,
		Options: options, Meant: meant, Want: state.String(),
		Light: m.light(s, unit), Why: why,
	}
}

// alike reports whether two steps are so similar that a careful reader could choose
// either: most words of the shorter one are in the other.
func alike(a, b string) bool {
	words := func(s string) []string {
		return strings.FieldsFunc(strings.ToLower(s),
			func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) })
	}
	short, long := words(a), words(b)
	if len(short) > len(long) {
		short, long = long, short
	}
	count := map[string]int{}
	for _, w := range long {
		count[w]++
	}
	shared := 0
	for _, w := range short {
		if count[w] > 0 {
			count[w]--
			shared++
		}
	}
	const most = 0.6
	return float64(shared) >= most*float64(len(short))
}

// goodPilot returns a usable pilot of the lineup, or any pilot if it has none.
func (m Material) goodPilot() channelplan.Pilot {
	p := m.anyPilot("")
	for range 100 {
		if m.Lineup.Check(p, lineup.Context{Today: m.Today}).Verdict == lineup.Usable {
			break
		}
		p = m.anyPilot("")
	}
	return p
}

// steps returns the steps that [answer.Steps] gives for a state.
func (m Material) steps(s blink.Signal) []string {
	at := answer.Situation{System: answer.System{Code: m.Code, Lineup: m.Lineup}, State: s.State, End: s.End}
	if s.ShowsFrame() {
		r := m.Lineup.Check(channelplan.Pilot{Channel: s.Pilot.Channel, Kind: s.Pilot.Kind},
			lineup.Context{Today: m.Today})
		at.Report = &r
	}
	var texts []string
	for _, step := range answer.Steps(at) {
		texts = append(texts, step.Text)
	}
	return texts
}
