package lesson

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
)

func material(t *testing.T, seed uint64) Material {
	l, err := demo.Lineup()
	require.NoError(t, err)
	return Material{Code: blink.Tally, Lineup: l, Today: demo.Day(), Random: rand.New(rand.NewPCG(seed, 1))}
}

// typed returns the keys that give an answer.
func typed(q Question) string { return typedOn(blink.Tally, q) }

func typedOn(code *blink.Code, q Question) string {
	switch q.Way {
	case ByPilot:
		channel, kind, _ := strings.Cut(q.Want, " ")
		return channel + kind[:1]
	case ByHead:
		kind, over, _ := strings.Cut(q.Want, "+")
		return kind[:1] + map[bool]string{true: "1"}[over != ""]
	case ByYesNo:
		return q.Want[:1]
	case ByState:
		i := slices.IndexFunc(code.States(), func(s blink.Signal) bool { return stateWord(s) == q.Want })
		return fmt.Sprint((i + 1) % 10)
	case ByOption:
		return fmt.Sprint(slices.Index(recorded(q), q.Want) + 1)
	case BySending:
		return strings.ReplaceAll(q.Want, " ", "")
	}
	return q.Want
}

// Every mark of every exercise makes questions that can be answered right with their
// own keys. Their light may be shown at the fastest unit, and their right answer is
// what the program says elsewhere.
func TestEveryMark(t *testing.T) {
	for _, e := range Exercises(blink.Tally) {
		for _, mark := range e.Items() {
			for seed := range uint64(4) {
				m := material(t, seed)
				q := e.Make(m, mark, blink.Tally.ShownFrom())
				name := fmt.Sprintf("%s, %s, seed %d", e.Name, mark, seed)
				require.NotEmpty(t, q.Ask, name)
				require.NotEmpty(t, q.Why, name)
				require.Equal(t, mark, q.Item)
				if len(q.Light) > 0 {
					require.NoError(t, blink.CheckShown(q.Light), name)
				}
				entry := NewEntry(q)
				for _, key := range typed(q) {
					require.True(t, entry.Type(key), "%s: key %c", name, key)
				}
				if q.Way == BySending {
					entry.SetSent(q.Frame)
				}
				answer, ok := entry.Answer()
				require.True(t, ok, name)
				require.Equal(t, q.Want, answer, name)
				f := q.Judge(m.Code, answer)
				assert.True(t, f.Right, name)
				assert.Empty(t, f.Differ)

				if p, ok := parsePilot(q.Want); ok && q.Way == ByPilot {
					frame, err := m.Code.Encode(p)
					require.NoError(t, err)
					assert.Equal(t, frame, q.Frame, name)
				}
				if strings.HasPrefix(mark, "verdict") {
					again := material(t, seed) // the same case, from the same seed
					p, amp, _ := again.verdictCase(last(mark))
					r := m.Lineup.Check(p, lineup.Context{Amplifier: &amp, Today: m.Today})
					assert.Equal(t, again.encode(p), q.Frame, name)
					want := map[lineup.Verdict]string{lineup.Usable: "usable", lineup.WithCare: "usable with caution",
						lineup.Unusable: "not usable"}[r.Verdict]
					assert.Equal(t, want, q.Want, name)
					assert.Equal(t, last(mark), r.Verdict.String(), name)
				}
				if q.Way == ByOption {
					assert.Equal(t, 1, countOf(recorded(q), q.Want), "%s: one option is right", name)
					assert.GreaterOrEqual(t, len(q.Options), 3, name)
				}
			}
		}
	}
}

// recorded returns the options as they are recorded.
func recorded(q Question) []string {
	if q.Meant != nil {
		return q.Meant
	}
	return q.Options
}

func countOf(all []string, one string) (n int) {
	for _, s := range all {
		if s == one {
			n++
		}
	}
	return n
}

// An example of good feedback: specific, in words, and with a drawing that marks the
// difference.
func TestFeedbackSaysWhatWasSeen(t *testing.T) {
	m := material(t, 1)
	digits, _ := find(blink.Tally, "digits")
	q := digits.Make(m, "digit 7", 200*time.Millisecond)
	f := q.Judge(m.Code, "8")
	assert.False(t, f.Right)
	assert.Equal(t, []string{"This was seven, a long and two shorts. You answered eight: a long and three shorts."},
		f.Lines)
	assert.Equal(t, "### # #", f.Shown)
	assert.Equal(t, "### # # #", f.Read)
	assert.Equal(t, "       ^^", f.Differ)

	pilots, _ := find(blink.Tally, "pilots")
	q = pilots.Make(m, "pilot digital+100", 200*time.Millisecond)
	q.Frame, q.Want = m.encode(channelplan.Pilot{Channel: 116, Kind: 2}), "116 digital"
	f = q.Judge(m.Code, "126 digital")
	assert.Equal(t, []string{"It was 116 digital: you read 126 digital.",
		"The tens is a short: you read two shorts."}, f.Lines[:2])
	assert.Equal(t, "### # #    #      ### #    ### # #", f.Shown)
	assert.True(t, strings.HasPrefix(f.Differ, "            ^^"), f.Differ)
	groups := q.GroupsRead(m.Code, "126 digital")
	require.Len(t, groups, 3, "the check digit is not answered")
	assert.Equal(t, ".", groups[1].Shown)
	assert.Equal(t, "..", groups[1].Read)
	assert.Nil(t, q.GroupsRead(m.Code, Unsure))
	f = q.Judge(m.Code, Unsure)
	assert.Equal(t, "It was 116 digital.", f.Lines[0])
	assert.False(t, f.Right)
}

func TestEntryKeys(t *testing.T) {
	m := material(t, 1)
	pilots, _ := find(blink.Tally, "pilots")
	e := NewEntry(pilots.Make(m, "pilot cw", 200*time.Millisecond))
	_, ok := e.Answer()
	assert.False(t, ok)
	for _, key := range "1169" { // a fourth digit is not accepted
		e.Type(key)
	}
	assert.Equal(t, "116", e.Text())
	_, ok = e.Answer()
	assert.False(t, ok, "no carrier yet")
	assert.True(t, e.Type('d'))
	assert.False(t, e.Type('z'))
	assert.Equal(t, "116 digital", e.Text())
	e.Erase()
	e.Erase()
	assert.Equal(t, "11", e.Text())
	assert.True(t, e.Type('u'))
	assert.Equal(t, "not sure", e.Text())
	answer, ok := e.Answer()
	assert.True(t, ok)
	assert.Equal(t, Unsure, answer)
	e.Erase()
	assert.Equal(t, "", e.Text())
	states, _ := find(blink.Tally, "states")
	e = NewEntry(states.Make(m, "state dark", 200*time.Millisecond))
	assert.True(t, e.Type('0'))
	assert.Equal(t, "dark", e.Text())
	assert.Len(t, blink.Tally.States(), 10, "a key each")
}

// A class gets the same readings from the same seed, and different ones from another
// seed.
func TestExamIsFixedBySeed(t *testing.T) {
	a, b, c := Exam(material(t, 1), 7, 200*time.Millisecond), Exam(material(t, 2), 7, 200*time.Millisecond),
		Exam(material(t, 1), 8, 200*time.Millisecond)
	require.Len(t, a, 20)
	same := 0
	for i := range a {
		assert.Equal(t, a[i].Want, b[i].Want)
		assert.Equal(t, a[i].Look, b[i].Look)
		if a[i].Want == c[i].Want {
			same++
		}
	}
	assert.Less(t, same, 10)
	// Every state comes in every run, and no pilot comes twice.
	for seed := range uint64(200) {
		seen := map[string]int{}
		states := map[string]bool{}
		for _, q := range Exam(material(t, 1), seed, 200*time.Millisecond) {
			seen[q.Want]++
			if q.Way == ByState {
				states[q.Want] = true
			} else {
				assert.Equal(t, 1, seen[q.Want], "seed %d: %s", seed, q.Want)
			}
		}
		assert.Len(t, states, len(stateItems(blink.Tally)), "seed %d", seed)
	}
}
