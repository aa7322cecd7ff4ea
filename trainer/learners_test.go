package trainer

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
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// A learner answers questions by what they show, as people do: they know the right answer,
// and may type another. All learners are invented.
type learner struct {
	slip  float64        // share of answers that are wrong by accident
	takes map[int]int    // digits that are taken for others
	slow  time.Duration  // beyond what has to be seen
	asked map[string]int // by exercise
	marks map[string]int // by mark
}

// keys types an answer, as a person would.
func (l *learner) keys(s *studio, random *rand.Rand) string {
	q := s.question
	want := q.Want
	switch {
	case q.Way == lesson.ByDigit:
		if other, ok := l.takes[int(want[0]-'0')]; ok {
			want = fmt.Sprint(other)
		}
	case q.Way == lesson.ByPilot && len(l.takes) > 0:
		// A digit misread in a frame of which the check digit is not looked at.
		channel, kind, _ := strings.Cut(want, " ")
		for i := range channel {
			if other, ok := l.takes[int(channel[i]-'0')]; ok {
				channel = channel[:i] + fmt.Sprint(other) + channel[i+1:]
			}
		}
		want = channel + " " + kind
	}
	if random.Float64() < l.slip {
		return "u\n"
	}
	typed := ""
	switch q.Way {
	case lesson.ByDigit:
		typed = want
	case lesson.ByYesNo:
		typed = want[:1]
	case lesson.ByPilot:
		channel, kind, _ := strings.Cut(want, " ")
		typed = channel + kind[:1]
	case lesson.ByHead:
		kind, over := strings.CutSuffix(want, "+100")
		typed = kind[:1] + map[bool]string{true: "1"}[over]
	case lesson.ByState:
		for i, choice := range q.States {
			word := choice.State.String()
			if choice.End != blink.NoEnd {
				word += "-" + choice.End.String()
			}
			if word == want {
				typed = fmt.Sprint((i + 1) % 10)
			}
		}
	case lesson.ByOption:
		options := q.Options
		if q.Meant != nil {
			options = q.Meant
		}
		typed = fmt.Sprint(slices.Index(options, want) + 1)
	}
	return typed + "\n"
}

// train lets a learner answer questions in one sitting, until they have been asked as many
// or until done says so.
func (l *learner) train(t *testing.T, seed uint64, most int, done func(s *studio) bool) *studio {
	t.Helper()
	random := rand.New(rand.NewPCG(seed, 77))
	s := newStudio(t, 80, 24, func(o *TrainOptions) { o.Material.Random = rand.New(rand.NewPCG(seed, 1)) })
	l.asked, l.marks = map[string]int{}, map[string]int{}
	for s.press("\n"); s.page == teaching; s.press("\n") {
	}
	for n := 0; n < most && !done(s); n++ {
		require.Equal(t, asking, s.page, s.text())
		q := s.question
		l.asked[q.Exercise]++
		l.marks[q.Item]++
		switch {
		case q.Way == lesson.BySending && random.Float64() < l.slip:
			s.press("u\n")
		case q.Way == lesson.BySending:
			for i, g := range q.Frame {
				if i > 0 {
					s.now = s.now.Add(600 * time.Millisecond)
				}
				for _, m := range string(g) {
					s.now = s.now.Add(map[rune]time.Duration{'.': 200, '_': 600}[m] * time.Millisecond)
					s.Key(m, s.now)
					s.now = s.now.Add(200 * time.Millisecond)
				}
			}
			s.Key(KeyEnter, s.now.Add(time.Second))
		default:
			s.now = s.now.Add(blink.LeadIn + s.enough() + 2*time.Second + l.slow)
			s.press(l.keys(s, random))
		}
		require.Equal(t, answered, s.page, s.text())
		s.press("\n")
	}
	return s
}

// Who knows the code is not drilled: after each digit was shown once, five right and fast
// answers pass an exercise, and the next one opens.
func TestAPerfectLearnerGetsOn(t *testing.T) {
	var all []int
	for seed := range uint64(8) {
		l := &learner{}
		s := l.train(t, seed, 400, func(s *studio) bool { return l.asked["judging"] > 0 })
		require.Positive(t, l.asked["judging"], "%v", l.asked)
		n := len(s.trained.Attempts)
		all = append(all, n)
		for _, a := range s.trained.Attempts {
			require.True(t, a.Right, "%v %s", a.Item, a.Read)
		}
		for _, e := range lesson.Exercises(blink.Tally)[:6] {
			assert.Positive(t, l.asked[e.Name], e.Name)
		}
	}
	t.Logf("questions until the first one on judging: %v", all)
	assert.Less(t, slices.Max(all), 120)
}

// Someone with one slip in ten gets there, too, and needs more questions.
func TestALearnerWithSlips(t *testing.T) {
	perfect, slips := 0, 0
	for seed := range uint64(8) {
		l := &learner{}
		perfect += len(l.train(t, seed, 400, func(*studio) bool { return l.asked["judging"] > 0 }).trained.Attempts)
		l = &learner{slip: 0.1}
		s := l.train(t, seed, 800, func(*studio) bool { return l.asked["judging"] > 0 })
		slips += len(s.trained.Attempts)
		require.Positive(t, l.asked["judging"], "%v", l.asked)
		// What is told on the screen is what the book has.
		stand := progress.Stand("Ada", s.recorded, blink.Tally, s.now)
		assert.Equal(t, s.trained.Answered, stand.Attempts)
		assert.Equal(t, s.trained.Right, stand.Right)
	}
	t.Logf("questions until the first one on judging, 8 learners: %d, and %d with a slip in ten", perfect, slips)
	assert.Greater(t, slips, perfect)
}

// Who takes seven for eight sees sevens more often than the other digits, and is told what
// was mixed up.
func TestALearnerWhoTakesSevenForEight(t *testing.T) {
	seen, others := 0, 0
	for seed := range uint64(8) {
		l := &learner{takes: map[int]int{7: 8}}
		s := l.train(t, seed, 60, func(*studio) bool { return false })
		for d := range 10 {
			if n := l.marks[progress.DigitItem(d)]; d == 7 {
				seen += n
			} else {
				others += n
			}
		}
		stand := progress.Stand("Ada", s.recorded, blink.Tally, s.now)
		require.NotEmpty(t, stand.Confusions)
		assert.Equal(t, []string{"7", "8"}, []string{stand.Confusions[0].Shown, stand.Confusions[0].Read})
	}
	t.Logf("sevens asked: %d; the other nine digits: %.1f each", seen, float64(others)/9)
	assert.Greater(t, float64(seen), 2*float64(others)/9)
}
