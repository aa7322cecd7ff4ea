package reading

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

func read(t testing.TB, r *Reader, text string, start Start) Result {
	t.Helper()
	looks, err := blink.ParseNotation(text)
	require.NoError(t, err)
	return r.Read(looks, start)
}

// A frame as sent is answered without doubt, for every pilot: all codewords survive the
// reader that forgives errors.
func TestEveryFrameAsSentIsRead(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	for p := range blink.Tally.Pilots {
		f, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		result := r.Read([]blink.Frame{f}, StartSeen)
		require.Equal(t, p, result.Best().Pilot)
		require.Falsef(t, result.Doubtful(), "%v: %v", p, result.Candidates)
		require.Equal(t, Agrees, r.CheckDigit([]blink.Frame{f}, StartSeen, result))
	}
}

func TestReadings(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	digital116 := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	for _, c := range []struct {
		name, seen string
		start      Start
		best       channelplan.Pilot
		doubtful   bool
		check      CheckDigit
	}{
		{"as sent", "_.. . _. _..", StartSeen, digital116, false, Agrees},
		{"a short too many in the check could be 166 too", "_.. . _. _...", StartSeen, digital116, true, Differs},
		{"an unsure mark", "_.. . ?. _..", StartSeen, digital116, false, Unread},
		{"a group not read: the check digit gives it, with no margin for error", "_.. . * _..", StartSeen, digital116,
			true, Unread},
		{"two groups run together, once", "_.. ._. _..", StartSeen, digital116, true, Unread},
		{"two groups run together, and once not", "_.. ._. _.. // _.. . _. _..", StartSeen, digital116, false, Agrees},
		{"five groups: one split, or 115 digital and the next head", "_.. . _ . _..", StartSeen, digital116,
			true, Unread},
		{"five groups: one split", "_.. . _. _ ..", StartSeen, digital116, false, Unread},
		{"cut short before the check", "_.. . _.", StartSeen, digital116, true, Unread},
		{"all but the head cut off", "_..", StartSeen, channelplan.Pilot{Channel: 100, Kind: channelplan.Digital},
			true, Unread},
		{"begun at the tens, and said so", ". _. _.. _..", StartUnseen, digital116, false, Agrees},
		{"run on into the next frame", "_.. . _. _.. _.. .", StartSeen, digital116, false, Unread},
		{"two frames and no // between them", "_.. . _. _.. _.. . _. _..", StartSeen, digital116, false, Unread},
		{"the same with a mistake", "_.. . _. _... _.. . _. _..", StartSeen, digital116, false, Unread},
		{"more than three frames run together", strings.TrimSpace(strings.Repeat(". . ", 16)), StartSeen,
			channelplan.Pilot{}, true, Unread},
		{"two looks, each with its own error", "_.. . _. _... // _.. .. _. _..", StartSeen, digital116, false, Differs},
		{"a frame and a frame cut short", "_.. . _. _.. // _.. .", StartSeen, digital116, false, Agrees},
		{"one mark", ".", StartSeen, channelplan.Pilot{Channel: 11, Kind: channelplan.Analog}, true, Unread},
		{"nothing that could be a frame", "____ ____ ____ ____", StartSeen, channelplan.Pilot{}, true, Unread},
	} {
		t.Run(c.name, func(t *testing.T) {
			looks, err := blink.ParseNotation(c.seen)
			require.NoError(t, err)
			result := r.Read(looks, c.start)
			assert.Equal(t, c.doubtful, result.Doubtful(), "%v", result.Candidates[:min(4, len(result.Candidates))])
			if !c.doubtful {
				assert.Equal(t, c.best, result.Best().Pilot)
			}
			assert.Equal(t, c.check, r.CheckDigit(looks, c.start, result))
		})
	}
}

// If the start was not seen, a frame that reads as two pilots is doubtful and both are
// shown. If it was seen, the frame is not doubtful.
func TestStartUnseenIsDoubtfulUnlessRotationsAgree(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	ambiguous := 0
	for p := range blink.Tally.Pilots {
		digits, err := blink.Tally.Digits(p)
		require.NoError(t, err)
		frame, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		others := map[channelplan.Pilot]bool{}
		for s := 1; s < len(digits); s++ {
			if q, err := blink.Tally.Pilot(append(append([]int(nil), digits[s:]...), digits[:s]...)); err == nil &&
				q != p {
				others[q] = true
			}
		}
		result := r.Read([]blink.Frame{frame}, StartUnseen)
		if len(others) == 0 {
			continue
		}
		ambiguous++
		require.Truef(t, result.Doubtful(), "%v reads as %v too", p, others)
		shown := map[channelplan.Pilot]bool{}
		for _, c := range result.Candidates[:1+len(others)] {
			shown[c.Pilot] = true
		}
		require.True(t, shown[p], "%v is among the first", p)
		for q := range others {
			require.True(t, shown[q], "%v, rotated, is among the first", q)
		}
		require.False(t, r.Read([]blink.Frame{frame}, StartSeen).Doubtful(), "%v", p)
	}
	assert.Greater(t, ambiguous, 80)
}

// Marks that continue into the next frame are never silently misread: every pilot, its
// frame and one or two groups more.
func TestRunningOnIsNotMisread(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	sure := 0
	for p := range blink.Tally.Pilots {
		f, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		for more := 1; more <= 2; more++ {
			result := r.Read([]blink.Frame{append(append(blink.Frame{}, f...), f[:more]...)}, StartSeen)
			if !result.Doubtful() {
				require.Equalf(t, p, result.Best().Pilot, "%v and %d groups more", p, more)
				sure++
			}
		}
	}
	assert.Greater(t, sure, 900, "most are read all the same")
}

// Two clean looks at two lamps, every pilot against one: neither is ever sure.
func TestTwoCleanLooksOfTwoLampsAreDoubtful(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	one := blink.Frame{"_..", ".", "_.", "_.."}
	for p := range blink.Tally.Pilots {
		f, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		result := r.Read([]blink.Frame{f, one}, StartSeen)
		same := p == channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
		require.Equalf(t, !same, result.Doubtful(), "%v and 116 digital: %v", p, result.Candidates[:1])
	}
}

// The same error again and again does not make an answer sure: a habit miscounts the
// same frame the same way, and a lamp may show something that is not a frame. A look
// without the error settles it.
func TestTheSameErrorAgainProvesNothing(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	for _, look := range []string{"_.. . _. _.", "_.. . _.", ". . _. _.", ".. _.. ... ...."} {
		text := look
		for range 5 {
			text += " // " + look
			assert.True(t, read(t, r, text, StartSeen).Doubtful(), text)
		}
	}
	settled := read(t, r, "_.. . _. _. // _.. . _. _. // _.. . _. _..", StartSeen)
	assert.False(t, settled.Doubtful())
	assert.Equal(t, channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, settled.Best().Pilot)
}

// If two looks clearly contradict each other, neither is believed.
func TestContradictingLooksAreDoubtful(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	result := read(t, r, "_.. . _. _.. // . _.. ... ...", StartSeen)
	assert.True(t, result.Doubtful())

	// Two against one: the two are believed.
	result = read(t, r, "_.. . _. _.. // . _.. ... ... // _.. . _. _..", StartSeen)
	assert.False(t, result.Doubtful())
	assert.Equal(t, channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, result.Best().Pilot)

	looks, err := blink.ParseNotation("_.. . _. _.. // . _.. ... ... // . _.. ... ... // _.. . _. _...")
	require.NoError(t, err)
	assert.Equal(t, []channelplan.Pilot{{Channel: 116, Kind: channelplan.Digital},
		{Channel: 73, Kind: channelplan.Analog}},
		r.Named(looks, StartSeen), "each look alone names its pilot, and the last is doubtful")
}

func TestManyLooksDoNotUnderflow(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	var looks []blink.Frame
	for range blink.MaxLooks {
		looks = append(looks, blink.Frame{"____._..__.", "_._.....____", "....", "_", "_____"})
	}
	result := r.Read(looks, StartUnseen)
	require.NotEmpty(t, result.Candidates)
	for _, c := range result.Candidates {
		require.False(t, math.IsNaN(c.Probability))
	}
	assert.True(t, result.Doubtful())
	assert.InDelta(t, 1, result.Stranger, 1e-6)
}

func TestProbabilitiesAddUp(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	for _, seen := range []string{"_.. . _. _..", ".. _. _. _", "? ? ? ?", "* * * *", "."} {
		result := read(t, r, seen, StartSeen)
		sum := result.Stranger
		last := 1.0
		for _, c := range result.Candidates {
			require.LessOrEqual(t, c.Probability, last, "the best comes first")
			last = c.Probability
			sum += c.Probability
		}
		assert.InDeltaf(t, 1, sum, 1e-3, "%s", seen)
	}
}

func TestPriorWeighsButDoesNotOverrule(t *testing.T) {
	channel1 := channelplan.Pilot{Channel: 1, Kind: channelplan.Analog}
	r := NewReader(blink.Tally, Assumed, func(p channelplan.Pilot) float64 {
		if p.Channel == 1 {
			return OffPlan
		}
		return 1
	})
	f, err := blink.Tally.Encode(channel1)
	require.NoError(t, err)
	assert.Equal(t, channel1, r.Read([]blink.Frame{f}, StartSeen).Best().Pilot, "clearly seen, it is the best even so")
	twice := r.Read([]blink.Frame{f, f}, StartSeen)
	assert.Equal(t, channel1, twice.Best().Pilot)
	assert.False(t, twice.Doubtful(), "seen twice, it is no longer doubtful")
}

// The pass against a plain enumeration that shares no code with it: every way in which
// up to two errors can turn a codeword into what was written.
func TestPassAgainstEnumeration(t *testing.T) {
	model := Model{Missed: 0.004, Doubled: 0.004, Mistaken: 0.003, Together: 0.001, Split: 0.001, GrowsPast: 4,
		Skills: []Skill{{1, 1}}}
	r := rates{model.Missed, model.Doubled, model.Mistaken, model.Together, model.Split, 4}
	for _, c := range []struct{ sent, seen blink.Frame }{
		{blink.Frame{"_.", "."}, blink.Frame{"_.", "."}},
		{blink.Frame{"_.", "."}, blink.Frame{"_.."}},
		{blink.Frame{"_.", "."}, blink.Frame{"_", ".", "."}},
		{blink.Frame{"..", ".", "_"}, blink.Frame{"..", "_"}},
		{blink.Frame{"..", ".", "_"}, blink.Frame{".", ".", "_"}},
		{blink.Frame{"..", ".", "_"}, blink.Frame{"..", "?", "_"}},
		{blink.Frame{"...", "_"}, blink.Frame{"....", "."}},
		{blink.Frame{"...", "_"}, blink.Frame{"_"}},
		{blink.Frame{"......"}, blink.Frame{"....."}},
	} {
		want := enumerate(c.sent, r, 8)(c.seen)
		l := newLook(c.seen)
		forward := make([]float64, l.states)
		forward[0] = 1
		for _, g := range c.sent {
			m := l.matrixOf(g, r)
			next := make([]float64, l.states)
			for a, x := range forward {
				for b := a; b < m.end[a]; b++ {
					next[b] += x * m.cells[a*l.states+b]
				}
			}
			forward = next
		}
		assert.InEpsilonf(t, want, forward[l.last()], 1e-9, "%v written as %v", c.sent, c.seen)
	}
}

// Read against a plain sum over every start, every place to stop and every writing, for
// small codes of one to four groups, some without a check digit.
func TestReadAgainstEnumeration(t *testing.T) {
	small := func(groups ...blink.Source) *blink.Code {
		code := *blink.Tally
		// Short marks and few pilots: each mark multiplies the writings by seven.
		code.Patterns = [10]blink.Group{"..", ".", "_", "_", ".", "_.", ".", "_", "._", "."}
		code.Heads = code.Heads[:1]
		code.Groups = nil
		for _, from := range groups {
			code.Groups = append(code.Groups, blink.GroupRule{Name: "group", From: from})
		}
		code.FirstChannel, code.LastChannel = 8, 11
		return &code
	}
	model := Model{Missed: 0.02, Doubled: 0.015, Mistaken: 0.01, Together: 0.03, Split: 0.02, GrowsPast: 2,
		Skills:     []Skill{{1, 0.7}, {4, 0.3}},
		WrongStart: 0.1, CutShort: 0.04, RunsOn: 0.02, OtherLamp: 0.05, Stranger: 1e-3}
	for name, code := range map[string]*blink.Code{
		"one group":                     small(blink.FromUnits),
		"two groups, no check":          small(blink.FromTens, blink.FromUnits),
		"two groups":                    small(blink.FromUnits, blink.FromCheck),
		"three groups":                  small(blink.FromKind, blink.FromUnits, blink.FromCheck),
		"four groups, as usual":         small(blink.FromKind, blink.FromTens, blink.FromUnits, blink.FromCheck),
		"four groups, no check":         small(blink.FromKind, blink.FromTens, blink.FromUnits, blink.FromUnits),
		"(unless it is a leading zero)": dropping(small(blink.FromTens, blink.FromUnits, blink.FromCheck)),
		"kind last":                     dropping(small(blink.FromTens, blink.FromUnits, blink.FromKind)),
	} {
		t.Run(name, func(t *testing.T) {
			for _, seen := range []string{"_", "_ ..", ". _ .", ". _ _ .", "._"} {
				looks, err := blink.ParseNotation(seen)
				require.NoError(t, err)
				if least, _ := code.FrameLengths(); len(looks[0]) > least {
					continue // running on has its own test
				}
				for _, start := range []Start{StartSeen, StartUnseen} {
					want := bruteForce(t, code, model, looks[0], start)
					result := NewReader(code, model, nil).Read(looks, start)
					for _, c := range result.Candidates {
						require.InDeltaf(t, want[c.Pilot], c.Probability, 1e-9, "%q, %v", seen, c.Pilot)
					}
				}
			}
		})
	}
}

// dropping makes a code that does not send leading zeros.
func dropping(code *blink.Code) *blink.Code {
	code.Groups[0].DropZero = true
	return code
}

// bruteForce returns the probability of each pilot for one look.
func bruteForce(t *testing.T, code *blink.Code, m Model, look blink.Frame, start Start) map[channelplan.Pilot]float64 {
	weights := map[channelplan.Pilot]float64{}
	sum, n := 0.0, 0
	longest := len(strings.ReplaceAll(look.String(), " ", ""))
	for range code.Pilots {
		n++
	}
	for p := range code.Pilots {
		frame, err := code.Encode(p)
		require.NoError(t, err)
		for _, skill := range m.Skills {
			r := rates{m.Missed * skill.Factor, m.Doubled * skill.Factor, m.Mistaken * skill.Factor,
				m.Together * skill.Factor, m.Split * skill.Factor, m.GrowsPast}
			for s := range frame {
				share := 1.0
				switch {
				case start == StartUnseen || len(frame) == 1:
					share = 1 / float64(len(frame))
				case s == 0:
					share = 1 - m.WrongStart
				default:
					share = m.WrongStart / float64(len(frame)-1)
				}
				turned := append(append(blink.Frame{}, frame[s:]...), frame[:s]...)
				goOn := 1.0
				for e := 1; e <= len(turned); e++ {
					stop := m.CutShort
					if e == len(turned) {
						stop = 1
					}
					w := skill.Share * share * goOn * stop * enumerate(turned[:e], r,
						longest)(look) * (1 - m.Stranger) / float64(n)
					weights[p] += w
					sum += w
					goOn *= 1 - m.CutShort
				}
			}
		}
	}
	sum += m.Stranger * strangerLikelihood(look)
	for p := range weights {
		weights[p] /= sum
	}
	return weights
}

// With models and codes that do not explain anything, answers are doubtful.
func TestDegenerateModelsAreDoubtful(t *testing.T) {
	look := []blink.Frame{{"_..", ".", "_.", "_.."}}
	for name, r := range map[string]*Reader{
		"a model without skills": NewReader(blink.Tally, Model{}, nil),
		"a model without errors": NewReader(blink.Tally, Model{Skills: []Skill{{1, 1}}}, nil),
		"a prior of nothing":     NewReader(blink.Tally, Model{}, func(channelplan.Pilot) float64 { return 0 }),
		"a prior that is no number": NewReader(blink.Tally, Model{Stranger: 1e-4},
			func(channelplan.Pilot) float64 { return math.NaN() }),
		"a code without pilots": NewReader(&blink.Code{}, Assumed, nil),
	} {
		t.Run(name, func(t *testing.T) {
			for _, looks := range [][]blink.Frame{look, {{"____", "____"}}, {{"____"}, {"...."}}} {
				result := r.Read(looks, StartSeen)
				if name == "a model without errors" && len(looks[0]) == 4 {
					assert.False(t, result.Doubtful(), "without errors, a frame is what it says")
					continue
				}
				assert.True(t, result.Doubtful())
				assert.False(t, math.IsNaN(result.Best().Probability))
			}
		})
	}
}

// enumerate writes down every way to see a frame and returns the probability of each
// writing. A written '?' matches either length.
//
// Writings with more marks than longest are dropped as they grow: they only match looks
// that are longer.
func enumerate(sent blink.Frame, r rates, longest int) func(blink.Frame) float64 {
	type writing struct {
		text string
		p    float64
	}
	all := []writing{{"", 1}}
	extend := func(options map[string]float64) {
		var next []writing
		for _, w := range all {
			for text, p := range options {
				next = append(next, writing{w.text + text, w.p * p})
			}
		}
		merged := map[string]float64{}
		for _, w := range next {
			if len(w.text)-strings.Count(w.text, " ") <= longest {
				merged[strings.TrimLeft(strings.ReplaceAll(w.text, "  ", " "), " ")] += w.p
			}
		}
		all = all[:0]
		for text, p := range merged {
			all = append(all, writing{text, p})
		}
	}
	for i, g := range sent {
		if i > 0 {
			extend(map[string]float64{" ": 1 - r.together, "": r.together})
		}
		for j, m := range []byte(g) {
			if j > 0 {
				extend(map[string]float64{" ": r.split, "": 1 - r.split})
			}
			grow := 1.0
			if run := runOf(string(g), j); run > r.growsPast {
				grow = float64(run) / float64(r.growsPast)
			}
			miss, double := r.missed*grow, r.doubled*grow
			right, wrong := string(m), string(rune(blink.ShortMark+blink.LongMark-m))
			k := 1 - r.mistaken
			extend(map[string]float64{
				"": miss, right: (1 - miss - double) * k, wrong: (1 - miss - double) * r.mistaken,
				right + right: double * k * k, wrong + wrong: double * r.mistaken * r.mistaken,
				right + wrong: double * k * r.mistaken, wrong + right: double * k * r.mistaken,
			})
		}
	}
	return func(seen blink.Frame) float64 {
		sum := 0.0
		for _, w := range all {
			// Gaps at the ends leave no trace, and two in a row count as one.
			var fields []blink.Group
			for g := range splitFields(w.text) {
				fields = append(fields, blink.Group(g))
			}
			if matches(fields, seen) {
				sum += w.p
			}
		}
		return sum
	}
}

// runOf returns the length of the run of equal marks that a mark is in.
func runOf(group string, at int) int {
	n := 1
	for i := at - 1; i >= 0 && group[i] == group[at]; i-- {
		n++
	}
	for i := at + 1; i < len(group) && group[i] == group[at]; i++ {
		n++
	}
	return n
}

func splitFields(s string) func(func(string) bool) {
	return func(yield func(string) bool) {
		field := ""
		for _, r := range s + " " {
			if r != ' ' {
				field += string(r)
			} else if field != "" {
				if !yield(field) {
					return
				}
				field = ""
			}
		}
	}
}

func matches(written []blink.Group, seen blink.Frame) bool {
	if len(written) != len(seen) {
		return false
	}
	for i := range seen {
		if len(seen[i]) != len(written[i]) {
			return false
		}
		for j := range len(seen[i]) {
			if seen[i][j] != blink.UnsureMark && seen[i][j] != written[i][j] {
				return false
			}
		}
	}
	return true
}

// observe writes down a frame like an observer with the given error rates per mark. It
// shares nothing with the reader except the words of the model.
func observe(f blink.Frame, missed, doubled, mistaken float64, random *rand.Rand) blink.Frame {
	var seen blink.Frame
	for _, g := range f {
		var marks []byte
		for _, m := range []byte(g) {
			write := func() {
				if random.Float64() < mistaken {
					marks = append(marks, blink.ShortMark+blink.LongMark-m)
				} else {
					marks = append(marks, m)
				}
			}
			switch x := random.Float64(); {
			case x < missed:
			case x < missed+doubled:
				write()
				write()
			default:
				write()
			}
		}
		if len(marks) > 0 {
			seen = append(seen, blink.Group(marks))
		}
	}
	return seen
}

type score struct{ right, doubtful, wrong float64 } // shares of all readings, in percent

// simulate reads n lamps, each with a number of looks, by an observer factor times
// worse than the good one of the model, without a lineup.
func simulate(t testing.TB, reader *Reader, factor float64, looks, n int) score {
	random := rand.New(rand.NewPCG(uint64(looks), uint64(factor)))
	var pilots []channelplan.Pilot
	for p := range blink.Tally.Pilots {
		if p.Channel <= 158 {
			pilots = append(pilots, p)
		}
	}
	var s score
	each := 100 / float64(n)
	for range n {
		p := pilots[random.IntN(len(pilots))]
		f, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		var seen []blink.Frame
		for len(seen) < looks {
			if o := observe(f, 0.004*factor, 0.004*factor, 0.003*factor, random); len(o) > 0 {
				seen = append(seen, o)
			}
		}
		switch r := reader.Read(seen, StartSeen); {
		case r.Doubtful():
			s.doubtful += each
		case r.Best().Pilot == p:
			s.right += each
		default:
			s.wrong += each
		}
	}
	return s
}

// Readings with simulated human error, from a fixed seed. The rates are the assumptions
// of [Assumed]. The yardstick is a reader that is told how good the observer is: with
// exactly the observer's own rates it is Bayes-optimal, and no reader can be right more
// often at the same trust. Ours is not told, and loses some points because it does not
// trust a poor observer like a good one.
func TestReadingsWithHumanError(t *testing.T) {
	ours := NewReader(blink.Tally, Assumed, nil)
	told := func(factor float64) *Reader {
		m := Assumed
		m.Skills = []Skill{{factor, 1}}
		m.Together, m.Split, m.WrongStart, m.CutShort, m.Stranger = 0, 0, 0, 0, 0
		return NewReader(blink.Tally, m, nil)
	}
	for _, c := range []struct {
		factor          float64
		looks, n        int
		right, mayWrong float64 // percent
		behind          float64 // points behind the reader that is told, at most
	}{
		{1, 1, 20_000, 92.5, 0.08, 2.5},
		{1, 2, 10_000, 99.8, 0.02, 0.1},
		{5, 1, 10_000, 68, 0.6, 2.5},
		{5, 2, 8_000, 95.5, 0.2, 1},
	} {
		got, best := simulate(t, ours, c.factor, c.looks, c.n), simulate(t, told(c.factor), c.factor, c.looks, c.n)
		t.Logf("%gx the good observer's errors, %d look(s): right %.2f %%, doubtful %.2f %%, silently wrong %.3f %% (told the rates: %.2f, %.2f, %.3f)",
			c.factor, c.looks, got.right, got.doubtful, got.wrong, best.right, best.doubtful, best.wrong)
		assert.Greater(t, got.right, c.right, "right and not doubtful")
		assert.Less(t, got.wrong, c.mayWrong, "silently wrong")
		assert.Greater(t, got.right, best.right-c.behind, "as often as the told reader, but for a little")
	}
	// Worse than any observer of the model: it may be doubtful as often as it likes, but
	// what it is sure of must be right.
	poor := simulate(t, ours, 10, 1, 4000)
	t.Logf("10x: right %.2f %%, doubtful %.2f %%, silently wrong %.2f %%", poor.right, poor.doubtful, poor.wrong)
	assert.Less(t, poor.wrong, 0.05*(poor.wrong+poor.right), "of what is not doubtful, 95 %% is right")
}

func TestSecondLook(t *testing.T) {
	r := NewReader(blink.Tally, Assumed, nil)
	result := read(t, r, ". . _... ..", StartSeen)
	require.True(t, result.Doubtful())
	looks := []blink.Frame{{".", ".", "_...", ".."}}
	apart := r.Differences(looks, result)
	require.NotEmpty(t, apart)
	assert.Equal(t,
		"Count the last group (check) again: a short is 18 analog, two shorts is 68 analog or 19 digital.",
		apart[0].String())

	// A single candidate: where its frame differs from what was read.
	lone := blink.Frame{"_..", ".", "*", "_.."}
	result = r.Read([]blink.Frame{lone}, StartSeen)
	require.True(t, result.Doubtful())
	require.Len(t, result.Likely(), 1)
	apart = r.Differences([]blink.Frame{lone}, result)
	require.Len(t, apart, 1)
	assert.Equal(t, "Count the third group (units) again: a long and a short is 116 digital.", apart[0].String())
	clean := blink.Frame{"_..", ".", "_.", "_.."}
	assert.Empty(t, r.Differences([]blink.Frame{clean}, r.Read([]blink.Frame{clean}, StartSeen)),
		"nothing to tell where nothing differs")
	for g, want := range map[int]string{0: "first", 3: "last", 2: "third"} {
		assert.Equal(t, want, place(g, 4))
	}
	assert.Equal(t, "8th", place(7, 9))
}

// BenchmarkRead comes with a baseline: the strict lookup, which compares four digits
// with each of the 597 codewords and does not forgive anything.
func BenchmarkRead(b *testing.B) {
	looks, err := blink.ParseNotation("_.. . _. _...")
	require.NoError(b, err)
	b.Run("forgiving", func(b *testing.B) {
		reader := NewReader(blink.Tally, Assumed, nil)
		b.ReportAllocs()
		for b.Loop() {
			reader.Read(looks, StartSeen)
		}
	})
	b.Run("baseline-strict", func(b *testing.B) {
		digits, _ := blink.Tally.DigitsOf(looks[0])
		digits[3] = 7
		b.ReportAllocs()
		for b.Loop() {
			if _, err := blink.Tally.Pilot(digits); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("reader-made", func(b *testing.B) {
		for b.Loop() {
			NewReader(blink.Tally, Assumed, nil)
		}
	})
}
