// Package lesson makes the trainer's questions, judges answers and explains
// them. It has no clock and no screen.
//
// An [Exercise] has items, which are what can be practiced in it, and makes a
// [Question] for an item. The right answer comes from where the answer at a pole comes
// from: the code, the lineup's rules, and the sentences of package answer.
package lesson

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
	"tallywink.example/trainer/progress"
)

// Input is how a question is answered.
type Input uint8

// The ways to answer.
const (
	ByDigit   Input = iota // one digit
	ByHead                 // a carrier, and whether the channel is 100 or more
	ByYesNo                // whether something agrees
	ByPilot                // a channel and a carrier
	ByState                // one of ten states, with one for each end of edge
	ByOption               // one of a few sentences
	BySending              // marks, tapped
)

// Look is how the lamp is shown. The zero Look is a large lamp, shown as often as
// wanted, starting at the long dark.
type Look struct {
	Small, Dim bool
	Glare      bool
	Second     bool // a second lamp next to it, always lit
	MidFrame   bool // it starts in the middle of its rhythm
	Once       bool // it is played once
}

// Question is a question for a trainee.
type Question struct {
	Exercise string
	Item     string   // what is practiced, see [Exercise.Items]
	Ask      []string // the question, in lines
	Way      Input
	Options  []string       // for ByOption
	Meant    []string       // for ByOption: each option as it is recorded, in a word; nil if as it is shown
	States   []blink.Signal // for ByState
	// Kinds are the kinds of carrier that the code has. Hundreds reports whether the kind
	// also says whether the channel is 100 or more.
	Kinds    []channelplan.Kind
	Hundreds bool
	Want     string // the right answer, in the form of [Entry.Answer]
	// Light is what the lamp shows, repeated, or nil if it does not show anything. It ends
	// dark if any of it is dark.
	Light []blink.Interval
	Frame blink.Frame // the marks of Light, if it is a frame or a group
	Look  Look
	// Why explains the right answer.
	Why []string
}

// Material is what questions are made from.
type Material struct {
	Code   *blink.Code
	Lineup *lineup.Lineup
	Today  time.Time // the date for which pilots are judged
	Random *rand.Rand
}

// Exercise is one of the exercises for a code.
type Exercise struct {
	Name  string // one word, as in the records
	Title string // what is practiced
	items []string
	make  func(m Material, item string, unit time.Duration) Question
}

// Exercises returns all exercises that a code has, from the first one to the field.
func Exercises(code *blink.Code) []Exercise {
	all := []Exercise{
		{"digits", digitsTitle(code), digitItems(code), digitQuestion},
		{"heads", headsTitle(code), headItems(code), headQuestion},
		{"pilots", "whole frames: channel and carrier", pilotItems(code), pilotQuestion},
		{"states", statesTitle(code), stateItems(code), stateQuestion},
		{progress.Field, "as in the field: from the middle, small, dim, glare", fieldItems(code), fieldQuestion},
		{progress.Sending, "sending: tap a pilot's frame", sendItems(code), sendQuestion},
		{"judging", "judging: is the pilot valid, and what comes next", judgeItems(code), judgeQuestion},
	}
	return slices.DeleteFunc(all, func(e Exercise) bool { return len(e.items) == 0 })
}

// find returns the exercise of a code with the given name.
func find(code *blink.Code, name string) (Exercise, bool) {
	all := Exercises(code)
	i := slices.IndexFunc(all, func(e Exercise) bool { return e.Name == name })
	if i < 0 {
		return Exercise{}, false
	}
	return all[i], true
}

// Items returns everything that can be practiced in the exercise.
func (e Exercise) Items() []string { return e.items }

// colored says which color the light has, if the code names colors: it can be what tells two
// states apart, and no screen shows it.
func (m Material) colored(ask string, s blink.State) string {
	if color := m.Code.ColorOf(s); color != "" {
		return fmt.Sprintf("The light is %s. %s", color, ask)
	}
	return ask
}

// Make makes a question for an item, with the lamp at the given unit.
func (e Exercise) Make(m Material, item string, unit time.Duration) Question {
	q := e.make(m, item, unit)
	q.Exercise, q.Item = e.Name, item
	q.Kinds = m.Code.Kinds()
	q.Hundreds = m.Code.HundredAdds != 0
	return q
}

// last returns the last word of an item.
func last(item string) string {
	words := strings.Fields(item)
	return words[len(words)-1]
}

// light returns a signal's intervals at a unit. Signals are made in this package, so
// one that can't be sent is a bug here.
func (m Material) light(s blink.Signal, unit time.Duration) []blink.Interval {
	intervals, _, err := m.Code.Signal(s, unit)
	if err != nil {
		panic(err)
	}
	return intervals
}

// groupLight returns a single group followed by the long dark.
func (m Material) groupLight(g blink.Group, unit time.Duration) []blink.Interval {
	rest := blink.Interval{Duration: time.Duration(m.Code.Timing.Rest) * unit}
	return append(m.Code.Light(blink.Frame{g}, unit), rest)
}

func digitName(d int) string {
	if d == 0 {
		return "zero"
	}
	return wording.Number(d)
}

func digitsTitle(code *blink.Code) string {
	if len(digitItems(code)) == 10 {
		return "the ten digits, one group at a time"
	}
	return "the digits, one group at a time"
}

// digitItems returns an item for each digit that shows light.
func digitItems(code *blink.Code) []string {
	var items []string
	for _, d := range code.ShownDigits() {
		if code.Patterns[d] != blink.EmptyGroup {
			items = append(items, progress.DigitItem(d))
		}
	}
	return items
}

// otherMarks returns the marks of a random digit of a group that are not these.
func (m Material) otherMarks(rule blink.GroupRule, g blink.Group) blink.Group {
	var others []blink.Group
	for d := range 10 {
		if other := m.Code.MarksOf(rule, d); other != "" && other != blink.EmptyGroup && other != g {
			others = append(others, other)
		}
	}
	if len(others) == 0 {
		return g
	}
	return others[m.Random.IntN(len(others))]
}

func digitQuestion(m Material, item string, unit time.Duration) Question {
	d := int(last(item)[0] - '0')
	g := m.Code.Patterns[d]
	return Question{
		Ask: []string{"Which digit?"}, Way: ByDigit, Want: fmt.Sprint(d),
		Light: m.groupLight(g, unit), Frame: blink.Frame{g},
		Why: []string{fmt.Sprintf("%s is %s.", wording.Capital(digitName(d)), g.Words())},
	}
}

// placeOf returns the index of a group in a pilot's frame, or -1 if it is not there.
func placeOf(code *blink.Code, p channelplan.Pilot, from blink.Source) int {
	return slices.IndexFunc(code.Rules(p), func(g blink.GroupRule) bool { return g.From == from })
}

// headsTitle returns the title of the exercise of heads for a code.
func headsTitle(code *blink.Code) string {
	var what []string
	if g, ok := code.Group(blink.FromKind); ok {
		what = append(what, g.Name+"s")
	}
	if g, ok := code.Group(blink.FromCheck); ok {
		what = append(what, g.Name+" digits that agree or not")
	}
	return strings.Join(what, ", and ")
}

func statesTitle(code *blink.Code) string {
	if code.Bars(blink.EndLow) == 0 {
		return "the lock states"
	}
	return "the lock states, and locked or at the edge"
}

// kindItems returns an item for each kind of carrier of a code and, if its channels go
// that far, one for each kind from channel 100 on.
func kindItems(code *blink.Code, lead string) []string {
	var items []string
	for p := range code.Pilots {
		item := lead + " " + p.Kind.String()
		if p.Channel >= 100 {
			item += "+100"
		}
		if p.Channel <= lastTaught && !slices.Contains(items, item) {
			items = append(items, item)
		}
	}
	return items
}

// headItems returns the items for the heads, and for check digits that agree or differ.
func headItems(code *blink.Code) []string {
	var items []string
	if _, ok := code.Group(blink.FromKind); ok {
		for _, item := range kindItems(code, "head") {
			if code.HundredAdds != 0 || !strings.HasSuffix(item, "+100") {
				items = append(items, item)
			}
		}
	}
	if _, ok := code.Group(blink.FromCheck); ok {
		items = append(items, "check agrees", "check differs")
	}
	return items
}

func headQuestion(m Material, item string, unit time.Duration) Question {
	if strings.HasPrefix(item, "check") {
		return checkQuestion(m, last(item) == "agrees", unit)
	}
	kind, over, _ := strings.Cut(last(item), "+")
	p := m.anyPilot(last(item))
	place := placeOf(m.Code, p, blink.FromKind)
	d := m.digits(p)[place]
	frame := m.encode(p)[place : place+1]
	rule := m.Code.Rules(p)[place]
	ask := fmt.Sprintf("The %s: which carrier?", rule.Name)
	if m.Code.HundredAdds != 0 {
		ask = fmt.Sprintf("The %s: which carrier, and is the channel 100 or more?", rule.Name)
	}
	return Question{
		Ask: []string{ask}, Way: ByHead, Want: last(item),
		Light: m.groupLight(frame[0], unit), Frame: frame,
		Why: []string{fmt.Sprintf("%s, %s %d: %s%s.", wording.Capital(frame[0].Words()), rule.Name, d, kind,
			map[bool]string{true: ", channel 100 or more"}[over != ""])},
	}
}

// digits returns the digits of a pilot's frame.
func (m Material) digits(p channelplan.Pilot) []int {
	digits, err := m.Code.Digits(p)
	if err != nil {
		panic(err) // pilots come from the code
	}
	return digits
}

func (m Material) encode(p channelplan.Pilot) blink.Frame {
	frame, err := m.Code.Encode(p)
	if err != nil {
		panic(err) // pilots come from the code
	}
	return frame
}

// checkQuestion shows a frame with its own check digit, or with another.
func checkQuestion(m Material, agrees bool, unit time.Duration) Question {
	p := m.anyPilot("")
	frame := slices.Clone(m.encode(p))
	place := placeOf(m.Code, p, blink.FromCheck)
	all := m.digits(p)
	own := all[place]
	check, want := own, "yes"
	if !agrees {
		want = "no"
		frame[place] = m.otherMarks(m.Code.Rules(p)[place], frame[place])
		spelled, _ := m.Code.DigitsOf(frame)
		check = spelled[place]
	}
	digits := make([]string, place)
	for i := range digits {
		digits[i] = fmt.Sprint(all[i])
	}
	name := m.Code.Rules(p)[place].Name
	why := fmt.Sprintf("The %s digit for %s is %d, but the group said %d.", name, strings.Join(digits, " "), own, check)
	if agrees {
		why = fmt.Sprintf("The %s digit for %s is %d, and the group agrees.", name, strings.Join(digits, " "), own)
	}
	return Question{
		Ask: []string{"A lamp was read as " + strings.Join(digits, " ") + ", and then this group.",
			fmt.Sprintf("The %s digit should be %d (the program works that out for you). Does it agree?", name, own)},
		Way: ByYesNo, Want: want, Light: m.groupLight(frame[place], unit), Frame: frame[place : place+1],
		Why: []string{why},
	}
}

// lastTaught is the last channel that is asked for: channels above it are an extension,
// and no plant has them.
const lastTaught = 158

// anyPilot returns a pilot of the lineup. One time in four, or if the lineup has none
// of that kind, it returns any pilot. Kinds for channels 100 and above end in +100.
func (m Material) anyPilot(kind string) channelplan.Pilot {
	fits := func(p channelplan.Pilot) bool {
		name, over, hasOver := strings.Cut(kind, "+")
		return kind == "" || p.Kind.String() == name && (p.Channel >= 100) == (hasOver && over == "100")
	}
	var listed, all []channelplan.Pilot
	for p := range m.Code.Pilots {
		if p.Channel <= lastTaught && fits(p) {
			all = append(all, p)
			if m.Lineup != nil {
				if c, ok := m.Lineup.InChannel(p.Channel, p.Kind); ok && c.Kind.Family() == p.Kind {
					listed = append(listed, p)
				}
			}
		}
	}
	if len(listed) > 0 && m.Random.IntN(4) > 0 {
		return listed[m.Random.IntN(len(listed))]
	}
	return all[m.Random.IntN(len(all))]
}

func pilotItems(code *blink.Code) []string { return kindItems(code, "pilot") }

func pilotQuestion(m Material, item string, unit time.Duration) Question {
	p := m.anyPilot(last(item))
	frame := m.encode(p)
	return Question{
		Ask: []string{m.colored("Which pilot?", blink.Locked)}, Way: ByPilot, Want: p.String(),
		Light: m.light(blink.Signal{State: blink.Locked, Pilot: p}, unit), Frame: frame,
		Why: []string{m.spelled(p)},
	}
}

// spelled writes a frame group by group: '_.. 7, . 1, _. 6, _.. check 7'.
func (m Material) spelled(p channelplan.Pilot) string {
	rules := m.Code.Rules(p)
	digits := m.digits(p)
	words := make([]string, len(digits))
	for i, d := range digits {
		words[i] = fmt.Sprintf("%s %d", rules[i].Name, d)
	}
	return wording.Capital(strings.Join(words, ", ")) + "."
}

// stateWord returns a state as an answer: 'edge-low'.
func stateWord(s blink.Signal) string {
	if s.End != blink.NoEnd {
		return fmt.Sprintf("%v-%v", s.State, s.End)
	}
	return s.State.String()
}

func stateItems(code *blink.Code) []string {
	var items []string
	for _, s := range code.States() {
		items = append(items, "state "+stateWord(s))
	}
	return items
}

func stateQuestion(m Material, item string, unit time.Duration) Question {
	states := m.Code.States()
	s := states[slices.IndexFunc(states, func(s blink.Signal) bool { return stateWord(s) == last(item) })]
	s = m.withPilot(s, m.anyPilot)
	return Question{
		Ask: []string{m.colored("Which state?", s.State)}, Way: ByState, States: states, Want: stateWord(s),
		Light: m.light(s, unit),
		Why: []string{fmt.Sprintf("%s: %s.", wording.Capital(s.State.NameAt(s.End)), m.Code.Look(s.State, s.End)),
			fmt.Sprintf("It means: %s.", s.State.MeaningAt(s.End))},
	}
}

// withPilot adds a pilot to a state that is shown by its frame.
func (m Material) withPilot(s blink.Signal, pilot func(kind string) channelplan.Pilot) blink.Signal {
	if s.State.ShowsFrame() && !m.Code.HasRhythm(s) {
		s.Pilot = pilot("")
	}
	return s
}

func fieldItems(code *blink.Code) []string {
	var items []string
	for _, m := range append(pilotItems(code), stateItems(code)...) {
		items = append(items, "field "+m)
	}
	return items
}

func fieldQuestion(m Material, item string, unit time.Duration) Question {
	inner := strings.TrimPrefix(item, "field ")
	var q Question
	if strings.HasPrefix(inner, "pilot") {
		q = pilotQuestion(m, inner, unit)
	} else {
		q = stateQuestion(m, inner, unit)
	}
	chance := func(n int) bool { return m.Random.IntN(n) == 0 }
	q.Look = Look{Small: chance(3), Dim: chance(3), Glare: chance(4), Second: chance(4), MidFrame: chance(2),
		Once: q.Way == ByPilot && chance(3)}
	q.Look.Once = q.Look.Once && !q.Look.MidFrame // a single look at half a frame does not show anything
	return q
}

func sendItems(code *blink.Code) []string {
	var items []string
	for _, m := range pilotItems(code) {
		items = append(items, "sending "+last(m))
	}
	return items
}

func sendQuestion(m Material, item string, _ time.Duration) Question {
	p := m.anyPilot(last(item))
	frame := m.encode(p).Lit() // a group without light is a longer pause
	return Question{
		Ask: []string{fmt.Sprintf("Send %v: tap its frame in the lamp's rhythm, with a pause between groups.%s", p,
			m.checkText(p))},
		Way: BySending, Want: frame.String(), Frame: frame,
		Why: []string{fmt.Sprintf("%v is %s", p, m.encode(p)), m.spelled(p)},
	}
}

// checkText says which check digit a pilot's frame has, since nobody has to know it; "" if
// it has none.
func (m Material) checkText(p channelplan.Pilot) string {
	place := placeOf(m.Code, p, blink.FromCheck)
	if place < 0 {
		return ""
	}
	return fmt.Sprintf(" Its %s digit is %d.", m.Code.Rules(p)[place].Name, m.digits(p)[place])
}

func judgeItems(code *blink.Code) []string {
	var items []string
	if len(code.Groups) > 0 {
		items = []string{"verdict usable", "verdict caution", "verdict unusable"}
		for _, d := range doubts {
			items = append(items, "doubt "+d.kind)
		}
	}
	for _, s := range blink.States() {
		if code.Look(s, blink.NoEnd) != "" {
			items = append(items, "action "+s.String())
		}
	}
	return items
}

// Exam returns the questions of a qualification run: twenty mixed readings as in the
// field, always the same for a seed and lineup. Every state and rhythm comes once, but
// at most half of the readings are states; the others are pilots of every kind. No
// pilot comes twice if there are enough.
func Exam(m Material, seed uint64, unit time.Duration) []Question {
	m.Random = rand.New(rand.NewPCG(seed, progress.RunLength))
	field, _ := find(m.Code, progress.Field)
	shuffled := func(items []string) []string {
		items = slices.Clone(items)
		m.Random.Shuffle(len(items), func(i, j int) { items[i], items[j] = items[j], items[i] })
		return items
	}
	states := shuffled(stateItems(m.Code))
	chosen := states[:min(len(states), progress.RunLength/2)]
	kinds := pilotItems(m.Code)
	if len(kinds) == 0 {
		kinds = states // the lamp shows nothing else
	}
	for len(chosen) < progress.RunLength {
		kinds = shuffled(kinds)
		chosen = append(chosen, kinds[:min(len(kinds), progress.RunLength-len(chosen))]...)
	}
	var questions []Question
	taken := map[string]bool{}
	for _, item := range shuffled(chosen) {
		q := field.Make(m, "field "+item, unit)
		for range 50 { // if a kind has too few pilots, one repeats
			if !taken[q.Want] {
				break
			}
			q = field.Make(m, "field "+item, unit)
		}
		taken[q.Want] = true
		questions = append(questions, q)
	}
	return questions
}

// GroupsRead compares a frame with the answer, group by group. It returns nil if the
// answer does not name a pilot or the question does not show one.
func (q Question) GroupsRead(code *blink.Code, answer string) []progress.GroupRead {
	read, ok := q.frameOf(code, answer)
	if !ok || len(read) != len(q.Frame) {
		return nil
	}
	check := -1 // the check digit is not part of the answer: it follows from the rest
	if p, ok := parsePilot(q.Want); ok && q.Way == ByPilot {
		check = placeOf(code, p, blink.FromCheck)
	}
	var groups []progress.GroupRead
	for i, g := range q.Frame {
		if i != check {
			groups = append(groups, progress.GroupRead{Shown: string(g), Read: string(read[i])})
		}
	}
	return groups
}

// frameOf returns the marks that an answer means.
func (q Question) frameOf(code *blink.Code, answer string) (blink.Frame, bool) {
	switch q.Way {
	case ByDigit:
		if len(answer) == 1 && answer[0] >= '0' && answer[0] <= '9' {
			g := code.Patterns[answer[0]-'0']
			return blink.Frame{g}, g != ""
		}
	case ByPilot:
		p, ok := parsePilot(answer)
		if !ok {
			return nil, false
		}
		frame, err := code.Encode(p)
		return frame, err == nil
	case BySending:
		looks, err := blink.ParseNotation(answer)
		if err == nil && len(looks) == 1 {
			return looks[0], true
		}
	}
	return nil, false
}

func parsePilot(answer string) (channelplan.Pilot, bool) {
	var p channelplan.Pilot
	var kind string
	if n, err := fmt.Sscanf(answer, "%d %s", &p.Channel, &kind); n != 2 || err != nil {
		return p, false
	}
	var err error
	p.Kind, err = channelplan.ParsePilotKind(kind)
	return p, err == nil
}
