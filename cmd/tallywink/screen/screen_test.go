package screen

import (
	"context"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"tallywink.example/blink"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/trainer"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

// onSimulation runs a session on a simulated screen, which do operates.
func onSimulation(t *testing.T, session trainer.Session, width, height int,
	do func(s tcell.SimulationScreen, stop context.CancelFunc)) {
	t.Helper()
	s := tcell.NewSimulationScreen("UTF-8")
	require.NoError(t, s.Init())
	defer s.Fini()
	s.SetSize(width, height)
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	go do(s, stop)
	run(ctx, s, session, true)
}

func training(t *testing.T, kept *[]progress.Attempt) *trainer.Training {
	l, err := demo.Lineup()
	require.NoError(t, err)
	return trainer.NewTraining(trainer.TrainOptions{Trainee: "Ada",
		Material: lesson.Material{Code: blink.Tally, Lineup: l, Random: rand.New(rand.NewPCG(1, 1))},
		Record:   func(a progress.Attempt) error { *kept = append(*kept, a); return nil }}, time.Now())
}

// The whole loop: begin, answer, leave; and stop by a signal.
func TestTraining(t *testing.T) {
	var kept []progress.Attempt
	s := training(t, &kept)
	onSimulation(t, s, 80, 24, func(s tcell.SimulationScreen, _ context.CancelFunc) {
		s.InjectKey(tcell.KeyEnter, 0, tcell.ModNone) // how to count
		s.InjectKey(tcell.KeyEnter, 0, tcell.ModNone)
		time.Sleep(1500 * time.Millisecond) // the lamp starts blinking
		s.InjectKey(tcell.KeyRune, '7', tcell.ModNone)
		s.InjectKey(tcell.KeyEnter, 0, tcell.ModNone)
		s.SetSize(60, 20)
		s.InjectKey(tcell.KeyEscape, 0, tcell.ModNone) // to the menu
		s.InjectKey(tcell.KeyEscape, 0, tcell.ModNone)
	})
	assert.Equal(t, 1, s.Trained().Answered)
	assert.Len(t, kept, 1)
	assert.NotEmpty(t, s.Trained().Lateness)

	// What is pasted answers nothing, but Ctrl-C leaves in the middle of it.
	s = training(t, &kept)
	onSimulation(t, s, 80, 24, func(s tcell.SimulationScreen, _ context.CancelFunc) {
		s.InjectKey(tcell.KeyRune, '1', tcell.ModNone)
		assert.NoError(t, s.PostEvent(tcell.NewEventPaste(true)))
		for range 3 {
			s.InjectKey(tcell.KeyRune, 'u', tcell.ModNone)
			s.InjectKey(tcell.KeyEnter, 0, tcell.ModNone)
		}
		s.InjectKey(tcell.KeyCtrlC, 0, tcell.ModCtrl)
	})
	assert.True(t, s.Over())
	assert.Zero(t, s.Trained().Answered)

	s = training(t, &kept)
	onSimulation(t, s, 80, 24, func(_ tcell.SimulationScreen, stop context.CancelFunc) { stop() })
	assert.False(t, s.Over())
	s = training(t, &kept)
	onSimulation(t, s, 80, 24, func(s tcell.SimulationScreen,
		_ context.CancelFunc) {
		s.InjectKey(tcell.KeyCtrlC, 0, tcell.ModCtrl)
	})
	assert.True(t, s.Over())
	assert.Zero(t, s.Trained().Answered)
}

// Taps, an answer, and a terminal resized in between; and leaving, by Escape and by a
// signal.
func TestWatching(t *testing.T) {
	watch := func(do func(s tcell.SimulationScreen, stop context.CancelFunc)) trainer.Watched {
		w := trainer.NewWatching(trainer.NewWatchReaders(blink.Tally, nil))
		onSimulation(t, w, 40, 16, do)
		return w.Watched()
	}
	r := watch(func(s tcell.SimulationScreen, _ context.CancelFunc) {
		for _, key := range "_.." {
			s.InjectKey(tcell.KeyRune, key, tcell.ModNone)
			time.Sleep(20 * time.Millisecond)
		}
		s.SetSize(20, 5)
		assert.Eventually(t, func() bool { return strings.HasPrefix(contents(s), "WATCH THE LAMP") }, 5*time.Second,
			10*time.Millisecond)
		s.InjectKey(tcell.KeyEnter, 0, tcell.ModNone)
	})
	assert.Equal(t, []blink.Frame{{"_.."}}, r.Looks)
	r = watch(func(s tcell.SimulationScreen, _ context.CancelFunc) { s.InjectKey(tcell.KeyEscape, 0, tcell.ModNone) })
	assert.True(t, r.Left)
	r = watch(func(_ tcell.SimulationScreen, stop context.CancelFunc) { stop() })
	assert.True(t, r.Left)
	r = watch(func(s tcell.SimulationScreen, _ context.CancelFunc) {
		for range 2 {
			s.InjectKey(tcell.KeyRune, ' ', tcell.ModNone)
			time.Sleep(300 * time.Millisecond)
		}
		s.InjectKey(tcell.KeyEnter, 0, tcell.ModNone)
	})
	require.Len(t, r.Light, 3)
	assert.InDelta(t, 0.3, r.Light[1].Duration.Seconds(), 0.2)
}

// The lamp is drawn lit and unlit, with color and without, in every look and on
// screens too small for it.
func TestLampIsDrawn(t *testing.T) {
	s := tcell.NewSimulationScreen("UTF-8")
	require.NoError(t, s.Init())
	defer s.Fini()
	for _, color := range []bool{true, false} {
		for _, size := range [][2]int{{80, 24}, {40, 3}} {
			s.SetSize(size[0], size[1])
			for _, look := range []lesson.Look{{}, {Small: true}, {Dim: true}, {Glare: true}, {Second: true}} {
				lit := map[bool]string{}
				for _, on := range []bool{true, false} {
					draw(s, trainer.View{Lamp: &trainer.Lamp{Height: min(8, size[1]), Look: look, Lit: on}}, color)
					cells, _, _ := s.GetContents()
					var b strings.Builder
					for _, c := range cells {
						_, background, _ := c.Style.Decompose()
						b.WriteString(string(c.Runes) + background.String())
					}
					lit[on] = b.String()
				}
				assert.NotEqual(t, lit[true], lit[false], "%v %v %v", color, size, look)
			}
		}
	}
}

// contents returns what a simulated screen shows.
func contents(s tcell.SimulationScreen) string {
	cells, width, _ := s.GetContents()
	var b strings.Builder
	for i, c := range cells {
		if i > 0 && i%width == 0 {
			b.WriteByte('\n')
		}
		if len(c.Runes) > 0 {
			b.WriteRune(c.Runes[0])
		}
	}
	return b.String()
}
