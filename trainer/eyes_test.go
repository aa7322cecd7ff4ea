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
	"tallywink.example/blink/reading"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// watched watches the screen's lamp for some time, a look every 20 ms, and returns what it saw.
func (s *studio) watched(d time.Duration) []blink.Interval {
	const look = 20 * time.Millisecond
	var seen []blink.Interval
	for range d / look {
		s.run(look)
		lit := s.seen.Lamp != nil && s.seen.Lamp.Lit
		if n := len(seen); n > 0 && seen[n-1].Lit == lit {
			seen[n-1].Duration += look
		} else {
			seen = append(seen, blink.Interval{Lit: lit, Duration: look})
		}
	}
	return seen
}

// groupIn reads a single group that repeats: lengths alone tell short from long, since the
// rest between is known to be so many units.
func groupIn(seen []blink.Interval, code *blink.Code) blink.Group {
	rest := slices.MaxFunc(seen, func(a, b blink.Interval) int {
		if a.Lit != b.Lit {
			return map[bool]int{true: -1, false: 1}[a.Lit]
		}
		return int(a.Duration - b.Duration)
	}).Duration
	unit := rest / time.Duration(code.Timing.Rest)
	marks, begun := "", false
	for _, iv := range seen {
		switch {
		case !iv.Lit && iv.Duration > rest*3/4:
			if begun && marks != "" {
				return blink.Group(marks)
			}
			begun, marks = true, ""
		case iv.Lit && begun:
			marks += map[bool]string{true: "_", false: "."}[iv.Duration > 2*unit]
		}
	}
	return blink.Group(marks)
}

// Every question that shows a lamp can be answered from what the screen shows, by an eye that
// knows the code and sees nothing else: not the question's answer, only light, and the words
// of the choices.
func TestEveryLampIsAnsweredFromTheScreen(t *testing.T) {
	reader := reading.NewTimedReader(blink.Tally, reading.AssumedDurations, nil)
	for _, exercise := range []struct {
		key       string
		questions int
	}{{"1", 12}, {"3", 10}, {"4", 12}, {"5", 14}} {
		s := newStudio(t, 80, 24,
			func(o *TrainOptions) { o.Material.Random = rand.New(rand.NewPCG(48, uint64(exercise.key[0]))) })
		for s.press(exercise.key); s.page == teaching; s.press("\n") {
		}
		for n := range exercise.questions {
			require.Equal(t, asking, s.page, s.text())
			way := s.question.Way // the screen shows it: what it asks for
			s.run(blink.LeadIn)   // dark, before the lamp begins
			seen := s.watched(38 * time.Second)
			typed := ""
			switch way {
			case lesson.ByDigit:
				digit, ok := blink.Tally.DigitOf(groupIn(seen, blink.Tally))
				require.True(t, ok, "%v", seen)
				typed = fmt.Sprint(digit)
			default:
				best := reader.Read(seen).Best().Signal
				typed = fmt.Sprintf("%d%c", best.Pilot.Channel, best.Pilot.Kind.String()[0])
				if way == lesson.ByState {
					typed = choiceOf(s.text(), best.State.NameAt(best.End))
				}
			}
			s.press(typed + "\n")
			require.Equal(t, answered, s.page, "%s: typed %q\n%s", exercise.key, typed, s.text())
			last := s.recorded[len(s.recorded)-1]
			assert.True(t, last.Right, "exercise %s, question %d, %s: typed %s, saw %v", exercise.key, n, last.Item,
				typed, seen)
			s.press("\n")
		}
		stand := progress.Stand("Ada", s.recorded, blink.Tally, s.now)
		assert.Equal(t, exercise.questions, stand.Attempts)
	}
}

// choiceOf returns the number that the screen has beside a state's name.
func choiceOf(screen, name string) string {
	for line := range strings.SplitSeq(screen, "\n") {
		for _, part := range []string{line[:min(len(line), 26)], line[min(len(line), 26):]} {
			if number, word, ok := strings.Cut(strings.TrimSpace(part), " "); ok && word == name {
				return number
			}
		}
	}
	return "?"
}
