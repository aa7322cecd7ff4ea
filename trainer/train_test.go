package trainer

import (
	"bytes"
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

var update = flag.Bool("update", false, "write the golden screens in testdata anew")

// studio is a trainer on a screen of rows, with a clock that the test controls.
type studio struct {
	*Training
	width, height int
	now           time.Time
	seen          View
	recorded      []progress.Attempt
}

func newStudio(t testing.TB, width, height int, change func(*TrainOptions)) *studio {
	l, err := demo.Lineup()
	require.NoError(t, err)
	s := &studio{width: width, height: height, now: noon}
	o := TrainOptions{Trainee: "Ada", Material: lesson.Material{Code: blink.Tally, Lineup: l, Today: demo.Day(),
		Random: rand.New(rand.NewPCG(3, 1))},
		Record: func(a progress.Attempt) error {
			s.recorded = append(s.recorded, a)
			return nil
		}}
	if change != nil {
		change(&o)
	}
	s.Training = NewTraining(o, s.now)
	s.run(0)
	return s
}

// draw draws the screen, and returns when to draw it again.
func (s *studio) draw() time.Time {
	s.seen = s.View(s.now, s.width, s.height)
	return s.seen.Wake
}

// run lets time pass, and redraws when the screen asks for it.
func (s *studio) run(d time.Duration) {
	end := s.now.Add(d)
	for {
		wake := s.draw()
		s.Drawn(s.now)
		if wake.After(end) {
			s.now = end
			s.draw()
			return
		}
		s.now = wake
	}
}

func (s *studio) press(keys string) {
	for _, k := range keys {
		s.Key(k, s.now)
	}
	s.run(0)
}

// text is the screen as text, with a marker where the lamp is.
func (s *studio) text() string { return onPaper(s.seen, s.width, s.height) }

func onPaper(v View, width, height int) string {
	lines := make([]string, height)
	if l := v.Lamp; l != nil {
		for y := l.Y; y < min(l.Y+l.Height, height); y++ {
			lines[y] = strings.Repeat(" ", max(width/2-3, 0)) + map[bool]string{true: "[LAMP]", false: "[lamp]"}[l.Lit]
		}
	}
	for _, r := range v.Rows {
		if r.Y < height {
			lines[r.Y] = strings.Repeat(" ", r.X) + Fit(r.Text, width-r.X)
		}
	}
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return strings.Join(lines, "\n")
}

// golden compares the screen with a file that a reviewer can read.
func (s *studio) golden(t *testing.T, name string) {
	t.Helper()
	path := filepath.Join("testdata", name+".txt")
	got := strings.TrimRight(s.text(), "\n") + "\n"
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, path)
}

// The screens as text, in the promised sizes: the first page, each exercise as a
// question, right and wrong answers, still mode.
func TestGoldenScreens(t *testing.T) {
	for _, size := range [][2]int{{80, 24}, {60, 20}} {
		name := func(page string) string { return fmt.Sprintf("%s-%dx%d", page, size[0], size[1]) }
		s := newStudio(t, size[0], size[1], nil)
		s.golden(t, name("menu"))
		s.press("\n")
		s.golden(t, name("teaching"))
		for i, e := range lesson.Exercises(blink.Tally) {
			s := newStudio(t, size[0], size[1], nil)
			s.press(fmt.Sprint(i + 1))
			s.run(blink.LeadIn + 50*time.Millisecond)
			s.golden(t, name(e.Name))
		}
		s = newStudio(t, size[0], size[1], nil)
		s.press("1")
		s.press(map[bool]string{true: "4", false: "3"}[s.question.Want == "3"] + "\n")
		s.golden(t, name("wrong"))
		s = newStudio(t, size[0], size[1], nil)
		s.press("3u\n")
		s.golden(t, name("unsure"))
		s = newStudio(t, size[0], size[1], func(o *TrainOptions) { o.Note = "A line of the book can't be read." })
		s.golden(t, name("note"))
		s.press("m3")
		s.golden(t, name("still"))
		s.press("?")
		s.golden(t, name("help"))
		seed := uint64(7)
		s = newStudio(t, size[0], size[1], func(o *TrainOptions) { o.Exam = &seed })
		s.golden(t, name("qualification"))
	}
}

// Answers are recorded one by one, each before the next question, with what was shown,
// what was read, how long it took and how often the lamp was played.
func TestAnswersAreRecorded(t *testing.T) {
	s := newStudio(t, 80, 24, nil)
	s.press("1")
	want := s.question.Want
	s.run(blink.LeadIn + 2*time.Second)
	s.press("\n") // nothing typed yet
	assert.Contains(t, s.text(), "Type an answer first.")
	assert.Empty(t, s.recorded)
	s.press("r")
	s.run(blink.LeadIn + time.Second)
	s.press(want + "\n")
	assert.Contains(t, s.text(), "Right.")
	require.Len(t, s.recorded, 1)
	a := s.recorded[0]
	assert.Equal(t, []any{"Ada", "digits", want, want, true, int64(300),
		(3*time.Second + blink.LeadIn).Milliseconds(), 2}, // from the first light on, including replays

		[]any{a.Trainee, a.Exercise, a.Shown, a.Read, a.Right, a.UnitMS, a.TookMS, a.Plays})
	s.press("r") // to see it again
	s.run(3 * time.Second)
	s.press("\n")
	assert.NotEqual(t, a.Item, s.question.Item, "nothing comes twice in a row")
	s.press("u\n\x1b\x1b") // to the menu, and out
	require.Len(t, s.recorded, 2)
	assert.Equal(t, lesson.Unsure, s.recorded[1].Read)
	assert.True(t, s.over)
	assert.Equal(t, 2, s.trained.Answered)
	assert.Equal(t, 1, s.trained.Right)
}

// Esc closes help, then goes back to the menu, then leaves; in a qualification run it asks
// first.
func TestEscapeGoesBack(t *testing.T) {
	s := newStudio(t, 80, 24, nil)
	s.press("5?")
	assert.True(t, s.helped)
	s.press("\x1b")
	assert.False(t, s.helped)
	assert.Equal(t, asking, s.page)
	s.press("\x1b")
	assert.Contains(t, s.text(), "Enter shows how the lamp is counted, then begins.")
	assert.False(t, s.over)
	s.press("\x1b")
	assert.True(t, s.over)

	seed := uint64(7)
	s = newStudio(t, 80, 24, func(o *TrainOptions) { o.Exam = &seed })
	s.press("\n\x1b")
	assert.Contains(t, s.text(), "Leave the run? It then has no result. Esc again leaves.")
	assert.False(t, s.over)
	s.press("u\x1b")
	assert.False(t, s.over, "another key in between")
	s.press("\x1b")
	assert.True(t, s.over)
	assert.Nil(t, s.trained.Exam)
}

// What was tapped and then given up is not judged.
func TestSentMarksThatWereGivenUp(t *testing.T) {
	s := newStudio(t, 80, 24, nil)
	s.press("6..u")
	assert.Contains(t, s.text(), "Answer: not sure")
	s.press("_")
	assert.Contains(t, s.text(), "Answer: _")
	s.press("_\b\n")
	require.Len(t, s.recorded, 1)
	assert.Equal(t, "_", s.recorded[0].Read)
	assert.Zero(t, s.recorded[0].Plays)
}

// Keys pressed before the screen was gone do not ask or record anything.
func TestKeysAfterTheEnd(t *testing.T) {
	s := newStudio(t, 80, 24, nil)
	s.press("1")
	s.press("7\x1b\x1b\n\n")
	assert.Empty(t, s.recorded)
}

// Every question fits on the smallest screen: the input and the keys are always on it,
// and the lamp gets smaller if necessary.
func TestEveryQuestionFits(t *testing.T) {
	for _, size := range [][2]int{{60, 20}, {80, 24}, {40, 30}} {
		for _, e := range lesson.Exercises(blink.Tally) {
			for _, mark := range e.Items() {
				for seed := range uint64(3) {
					s := newStudio(t, size[0], size[1],
						func(o *TrainOptions) { o.Material.Random = rand.New(rand.NewPCG(seed, 9)) })
					s.page, s.unit = asking, 200*time.Millisecond
					s.question = e.Make(s.options.Material, mark, s.unit)
					s.entry = lesson.NewEntry(s.question)
					s.player.Play(blink.Play{Light: s.question.Light}, s.now)
					s.run(0)
					require.Contains(t, s.text(), "\nAnswer:", "%s at %v:\n%s", mark, size, s.text())
					require.Contains(t, strings.Join(strings.Fields(s.text()), " "), "or u if you are not sure.",
						"%s at %v:\n%s", mark, size, s.text())
				}
			}
		}
	}
}

// If a record can't be written, the session ends and says why: it never asks a question
// whose answer would be lost.
func TestABookThatIsFull(t *testing.T) {
	full := errors.New("no space left")
	s := newStudio(t, 80, 24, func(o *TrainOptions) { o.Record = func(progress.Attempt) error { return full } })
	s.press("1u\n")
	assert.True(t, s.over)
	assert.Equal(t, full, s.trained.Err)
	assert.Zero(t, s.trained.Answered)
}

// Sent frames are graded by count and by rhythm.
func TestSending(t *testing.T) {
	// A frame whose groups can't be told without their pauses, as '. .' could be '..'.
	send := func(unit, gap time.Duration) *studio {
		s := newStudio(t, 80, 24, nil)
		for s.press("6"); !strings.Contains(s.question.Want, ". ."); s.press("6") {
			s.press("\x1b")
		}
		for i, g := range s.question.Frame {
			if i > 0 {
				s.run(gap)
			}
			for _, m := range string(g) {
				s.run(map[rune]time.Duration{'.': unit, '_': 3 * unit}[m])
				s.press(string(m))
				s.run(unit)
			}
		}
		s.run(time.Second)
		s.press("\n")
		return s
	}
	s := send(200*time.Millisecond, 600*time.Millisecond)
	assert.True(t, s.feedback.Right, s.text())
	s = send(200*time.Millisecond, 0) // all in one group
	assert.False(t, s.feedback.Right)
	assert.Contains(t, s.text(), "The marks are right, but not the pauses:")
}

// A qualification run with right answers passes. With one pilot misread it fails,
// though 19 are right. With one answer unsure it passes. If it is not finished there is
// no result.
func TestQualification(t *testing.T) {
	seed := uint64(7)
	run := func(spoil string, answers int) *studio {
		s := newStudio(t, 80, 24, func(o *TrainOptions) { o.Exam = &seed })
		s.press("\n")
		spoiled := false
		for range answers {
			require.NotContains(t, s.text(), "Right.", "no feedback")
			q := s.question
			keys := q.Want
			switch q.Way {
			case lesson.ByPilot:
				channel, kind, _ := strings.Cut(q.Want, " ")
				keys = channel + kind[:1]
				if !spoiled && spoil != "" {
					keys, spoiled = map[string]string{"misread": "1c", "unsure": "u"}[spoil], true
				}
			case lesson.ByState:
				for i, c := range q.Choices() {
					if strings.Split(c, " ")[1] == strings.Split(q.Want, "-")[0] &&
						(!strings.Contains(q.Want, "-") || strings.Contains(c, strings.Split(q.Want, "-")[1]+" end")) {
						keys = fmt.Sprint((i + 1) % 10)
						break
					}
				}
			}
			// Until enough of the lamp was shown, no answer is accepted: a trainee who knows the
			// questions of a seed can't pass blind.
			answered := len(s.result.Answers)
			s.press(keys + "\n")
			if keys != "u" {
				require.Len(t, s.result.Answers, answered, "%s before the light", keys)
				require.Contains(t, s.text(), "Not yet")
				s.run(s.enough() + 3*time.Second) // and the dark before it
				s.press("\n")
			}
		}
		return s
	}
	s := run("", 20)
	e := s.trained.Exam
	assert.True(t, e.Passed(), s.text())
	assert.Contains(t, s.text(), "PASSED: Ada, qualification run of 2026-11-25 12:03, seed 7.")
	assert.Equal(t, "seed 7", s.recorded[0].Run)
	s.press("\n")
	assert.True(t, s.over)
	s = run("misread", 20)
	e = s.trained.Exam
	assert.Equal(t, []any{false, 19, 1}, []any{e.Passed(), e.Right, e.Misread})
	assert.Contains(t, s.text(), "NOT PASSED")
	s = run("unsure", 20)
	assert.True(t, s.trained.Exam.Passed(), "not sure is no misreading, and 19 suffice")
	s = run("", 5)
	s.press("\x1b")
	assert.Nil(t, s.trained.Exam)
	s = newStudio(t, 80, 24, func(o *TrainOptions) { o.Exam = &seed })
	s.press("m\n")
	for range 20 {
		s.press("u\n")
	}
	assert.True(t, s.trained.Exam.Still)
	assert.Contains(t, s.text(), "In still mode: the pulses were drawn")
	assert.True(t, s.recorded[0].Still)

	var page bytes.Buffer
	require.NoError(t, WriteReport(&page, blink.Tally, "Ada <&> \"Quill\" \x1b[31m", e))
	d := xml.NewDecoder(&page)
	texts := 0
	for {
		token, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err, "well-formed")
		if start, ok := token.(xml.StartElement); ok && start.Name.Local == "text" {
			texts++
		}
	}
	assert.Greater(t, texts, 60)
}

// WCAG 2.x, success criterion 2.3.1: over an hour of random keys, mostly replays, on a
// machine with late redraws, the screen never flashes more than three times in any
// second.
func TestAnHourFlashesNoMoreThanThreeTimesASecond(t *testing.T) {
	random := rand.New(rand.NewPCG(15, 15))
	var changes []time.Time
	s := newStudio(t, 80, 24, nil)
	lit := false
	keys := "rrrrr\n\n0123456789adcyn._u\b?"
	s.press("3")
	for s.now.Sub(noon) < time.Hour && !s.over {
		wake := s.draw()
		if s.shownLit != lit {
			lit = s.shownLit
			changes = append(changes, s.now)
		}
		s.now = wake.Add(time.Duration(random.ExpFloat64() * float64(15*time.Millisecond)))
		if random.IntN(60) == 0 {
			s.now = s.now.Add(time.Duration(random.IntN(400)) * time.Millisecond)
		}
		if random.IntN(4) == 0 {
			s.Key(rune(keys[random.IntN(len(keys))]), s.now)
		}
	}
	require.Greater(t, len(changes), 2000, "it did flash")
	for i := range changes {
		n := 0
		for _, c := range changes[i:] {
			if c.Sub(changes[i]) > time.Second {
				break
			}
			n++
		}
		require.LessOrEqual(t, (n+1)/2, blink.MaxFlashes, "at %v", changes[i].Sub(noon))
	}
}

// The lamp shows the right light at the right time: each change of light is where the
// signal has it, and none is drawn twice.
func TestTheLampKeepsTime(t *testing.T) {
	s := newStudio(t, 80, 24, nil)
	s.press("3")
	light, begin := s.question.Light, s.player.Begin()
	assert.Equal(t, blink.LeadIn, begin.Sub(s.now))
	var at time.Duration
	s.now = begin
	for i := range 3 * len(light) {
		iv := light[i%len(light)]
		wake := s.draw()
		s.Drawn(s.now.Add(2 * time.Millisecond))
		require.Equal(t, iv.Lit, s.shownLit, "interval %d", i)
		at += iv.Duration
		for wake.Before(begin.Add(at)) { // the screen also redraws in between
			s.now = wake
			wake = s.draw()
			require.True(t, s.scheduled.IsZero(), "nothing changes within an interval")
		}
		require.Equal(t, begin.Add(at), wake, "interval %d", i)
		s.now = wake
	}
	for _, late := range s.trained.Lateness {
		assert.Equal(t, 2*time.Millisecond, late)
	}
	assert.Empty(t, s.trained.LatenessText(), "on time")
	assert.Empty(t, Trained{}.LatenessText())
	assert.Contains(t, Trained{Lateness: []time.Duration{time.Millisecond, 90 * time.Millisecond}}.LatenessText(),
		"pulses came up to 90 ms late")
}

// Still mode draws the pulses and does not flash anything.
func TestStillMode(t *testing.T) {
	s := newStudio(t, 80, 24, nil)
	s.press("m3")
	for range 200 {
		s.run(100 * time.Millisecond)
		require.False(t, s.shownLit)
	}
	assert.Contains(t, s.text(), "#")
}

// How the lamp looks in the field: the look that is requested is on the screen.
func TestLooks(t *testing.T) {
	s := newStudio(t, 60, 20, nil)
	s.press("5")
	for _, look := range []lesson.Look{{Small: true}, {Dim: true}, {Glare: true}, {Second: true}, {Once: true},
		{MidFrame: true}} {
		s.question.Look = look
		s.question.Light = []blink.Interval{{Lit: true, Duration: time.Second}, {Duration: 9 * time.Second}}
		s.play(s.now)
		s.run(blink.LeadIn + 100*time.Millisecond)
		if look.Once {
			s.press("r")
			assert.Contains(t, s.text(), "One look only")
			s.run(20 * time.Second)
			assert.False(t, s.shownLit, "it is over")
		}
	}
}

// Screens that are too small say so. Names with wide, combining or invisible characters
// do not break the layout. A window that is resized during animation is redrawn.
func TestOddScreensAndNames(t *testing.T) {
	s := newStudio(t, 20, 5, nil)
	assert.Contains(t, strings.ReplaceAll(s.text(), "\n", " "), "The trainer needs 60 columns and 20")
	s.press("3") // a screen that can't be seen does not take answers
	s.run(2 * time.Second)
	s.width, s.height = 80, 24
	s.run(100 * time.Millisecond)
	assert.Contains(t, s.text(), "Enter shows how the lamp is counted, then begins.")
	s.press("3")
	s.run(2 * time.Second)
	assert.Contains(t, s.text(), "Which pilot?")
	for _, size := range [][2]int{{1, 1}, {0, 0}, {60, 20}, {200, 60}, {20, 5}} {
		s.width, s.height = size[0], size[1]
		s.run(300 * time.Millisecond)
	}
	for name, ends := range map[string]string{
		"測定技術員":                     "測定技術員",
		"e\u0301ve":                 "e\u0301ve",
		"\x1b[31mred\u202e":         "?[31mred?",
		strings.Repeat("long ", 20): "long long long long long",
	} {
		s := newStudio(t, 60, 20, func(o *TrainOptions) { o.Trainee = name })
		assert.Equal(t, ends, shownName(name))
		assert.NotContains(t, s.text(), "\x1b")
	}
}

// BenchmarkLateness plays a frame in real time and reports how late its changes are
// drawn, next to the lateness of a bare timer.
func BenchmarkLateness(b *testing.B) {
	report := func(b *testing.B, late []time.Duration) {
		sum := Trained{Lateness: late}
		b.ReportMetric(float64(maxOf(late))/float64(time.Millisecond), "ms-latest")
		if testing.Verbose() {
			b.Log(sum.LatenessText())
		}
	}
	b.Run("trainer", func(b *testing.B) {
		s := newStudio(b, 80, 24, nil)
		for b.Loop() {
			s.now = time.Now()
			s.press("3")
			end := s.player.Begin().Add(2 * time.Second)
			for now := time.Now(); now.Before(end); now = time.Now() {
				s.now = now
				wake := s.draw()
				s.Drawn(time.Now())
				time.Sleep(time.Until(wake))
			}
			s.page = menu
		}
		report(b, s.trained.Lateness)
	})
	b.Run("baseline-timer", func(b *testing.B) {
		var late []time.Duration
		for b.Loop() {
			for range 10 {
				until := time.Now().Add(200 * time.Millisecond)
				time.Sleep(time.Until(until))
				late = append(late, time.Since(until))
			}
		}
		report(b, late)
	})
}

func maxOf(all []time.Duration) (most time.Duration) {
	for _, d := range all {
		most = max(most, d)
	}
	return most
}
