package screen

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/trainer"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// flashes counts, for each cell, how often it goes bright or dark again. A cell is bright
// if the lamp or its glare is drawn lit in it; text is small (WCAG 2.x, 2.3.1, counts
// pairs of opposing changes, and exempts small areas).
type flashes struct {
	bright  map[[2]int]bool
	changes map[[2]int][]time.Time
	most    int // the most changes of one cell in any second
}

func (f *flashes) see(s tcell.SimulationScreen, now time.Time) {
	width, height := s.Size()
	contents, _, _ := s.GetContents()
	seen := map[[2]int]bool{}
	for i, c := range contents {
		fg, bg, _ := c.Style.Decompose()
		if lit := bg == amber || bg == dimAmber || fg == glare; lit && i/width < height {
			seen[[2]int{i % width, i / width}] = true
		}
	}
	change := func(cell [2]int) {
		all := f.changes[cell]
		for len(all) > 0 && now.Sub(all[0]) > time.Second {
			all = all[1:]
		}
		f.changes[cell] = append(all, now)
		f.most = max(f.most, len(f.changes[cell]))
	}
	for cell := range seen {
		if !f.bright[cell] {
			change(cell)
		}
	}
	for cell := range f.bright {
		if !seen[cell] {
			change(cell)
		}
	}
	f.bright = seen
}

// Whatever keys are pressed and however the window is resized, at sixty redraws per
// second, no place on the screen flashes more than three times in a second.
func TestNothingFlashesWhateverIsPressed(t *testing.T) {
	begun := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	l, err := demo.Lineup()
	require.NoError(t, err)
	train := func(exam bool, keys string) func(uint64, time.Time) trainer.Session {
		return func(seed uint64, now time.Time) trainer.Session {
			o := trainer.TrainOptions{Trainee: "Ada", Record: func(progress.Attempt) error { return nil },
				Material: lesson.Material{Code: blink.Tally, Lineup: l, Today: demo.Day(),
					Random: rand.New(rand.NewPCG(seed, 1))}}
			if exam {
				o.Exam = &seed
			}
			s := trainer.NewTraining(o, now)
			for _, k := range keys {
				s.Key(k, now)
			}
			return s
		}
	}
	show := func(signal blink.Signal) func(uint64, time.Time) trainer.Session {
		return func(_ uint64, now time.Time) trainer.Session {
			light, _, err := blink.Tally.Signal(signal, 200*time.Millisecond)
			require.NoError(t, err)
			s, err := trainer.NewShowing("A lamp that is shown, with a line of text that wraps where the window is narrow",
				light, now)
			require.NoError(t, err)
			return s
		}
	}
	locked := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	const keys = "?urm0123456789adcyn._ \n\b\n\n"
	for name, c := range map[string]struct {
		session func(uint64, time.Time) trainer.Session
		keys    string
		every   int // redraws between keys; 0 is at random
		resized int // likewise for the window
		sizes   [2][2]int
	}{
		"help pressed fast in judging":  {train(false, "7\x1b7"), "?", 4, 0, [2][2]int{}},
		"not sure, on and on":           {train(false, "5"), "u\n\n", 5, 0, [2][2]int{}},
		"any key, due":                  {train(false, "\n\n"), keys, 0, 0, [2][2]int{}},
		"any key, in the field":         {train(false, "5"), keys, 0, 0, [2][2]int{}},
		"any key, qualifying":           {train(true, "\n"), keys, 0, 0, [2][2]int{}},
		"resized across 60 columns":     {train(false, "4"), "", 0, 5, [2][2]int{{59, 24}, {60, 24}}},
		"resized in rows":               {train(false, "3"), "", 0, 5, [2][2]int{{80, 19}, {80, 20}}},
		"any key and resized":           {train(false, "\n\n"), keys, 0, 9, [2][2]int{{60, 30}, {90, 22}}},
		"a lamp that is shown, resized": {show(locked), "", 0, 7, [2][2]int{{60, 24}, {80, 7}}},
		"a steady lamp that is resized": {show(blink.Signal{State: blink.Steady}), "", 0, 6,
			[2][2]int{{60, 24}, {100, 24}}},
		"a steady lamp, resized at a lag": {show(blink.Signal{State: blink.Steady}), "", 0, 31,
			[2][2]int{{60, 24}, {80, 6}}},
	} {
		t.Run(name, func(t *testing.T) {
			s := tcell.NewSimulationScreen("UTF-8")
			require.NoError(t, s.Init())
			defer s.Fini()
			s.SetSize(80, 24)
			r := rand.New(rand.NewPCG(9, 9))
			now, seed, gate := begun, uint64(7), trainer.Gate{}
			session := c.session(seed, now)
			met := flashes{bright: map[[2]int]bool{}, changes: map[[2]int][]time.Time{}}
			pressed := 0
			for frame := range 60 * 60 {
				if c.keys != "" && (c.every > 0 && frame%c.every == 0 || c.every == 0 && r.IntN(4) == 0) {
					i := pressed
					if c.every == 0 {
						i = r.IntN(len(c.keys))
					}
					session.Key([]rune(c.keys)[i%len(c.keys)], now)
					pressed++
				}
				if c.resized > 0 && frame%c.resized == 0 && frame/240%2 == 1 { // for four seconds out of eight
					size := c.sizes[frame/c.resized%2]
					s.SetSize(size[0], size[1])
				}
				if session.Over() {
					seed++
					session = c.session(seed, now)
				}
				width, height := s.Size()
				draw(s, gate.Pass(session.View(now, width, height), width, height, now), true)
				session.Drawn(now)
				gate.Drawn(now)
				met.see(s, now)
				now = now.Add(time.Second / 60)
			}
			assert.NotEmpty(t, met.changes, "light was shown")
			assert.LessOrEqual(t, met.most, 2*blink.MaxFlashes, "changes of one place in a second")
		})
	}
}
