package answer

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/lineup"
)

// A rhythm that is counted as marks is never read as a pilot, however often it repeats
// and however it is grouped; the answer asks for it as a rhythm.
func TestRhythmsCountedAsMarks(t *testing.T) {
	r := NewReader(System{Amplifier: &lineup.Amplifier{ID: "A-01"}}, reading.StartSeen, nil)
	for _, c := range []struct {
		marks string
		state blink.State
	}{
		{strings.Repeat("_ ", 12), blink.Seeking}, {strings.Repeat(". ", 12), blink.Seeking},
		{strings.Repeat(".", 12), blink.Seeking},
		{strings.Repeat("... ", 7), blink.Fault}, {strings.Repeat(".. ", 13), blink.Holding},
		{strings.Repeat("... // ", 4), blink.Fault},
		{strings.Repeat("_ ", 4), blink.Seeking}, {strings.Repeat("_ ", 3), blink.Seeking},
		{"_ x _ _ _ _", blink.Seeking},
		{strings.Repeat("_ . ", 5), blink.Thermal}, {strings.Repeat("__ ", 6), blink.Holding},
	} {
		looks, err := blink.ParseNotation(strings.TrimSuffix(strings.TrimSpace(c.marks), "//"))
		require.NoError(t, err, c.marks)
		a := r.Of(looks, blink.Signal{})
		_, ok := a.Pilot()
		assert.False(t, ok, c.marks)
		assert.True(t, a.Doubtful, c.marks)
		assert.True(t, a.BadNews(false), c.marks)
		require.NotEmpty(t, a.Rhythm, c.marks)
		assert.Equal(t, c.state, a.Rhythm[0], c.marks)
		d := a.Document()
		assert.Equal(t, c.state, d.Candidates[0].State, c.marks)
		assert.Nil(t, d.Pilot)
		sum := 0.0
		for _, one := range d.Candidates {
			sum += one.Probability
		}
		assert.LessOrEqual(t, sum, 1.0001)
		assert.Contains(t, d.Next[0], c.state.String())
		assert.True(t, a.Reading("", time.Now()).Doubtful)
		for _, s := range a.Told() {
			assert.NotEqual(t, "State", s.Label, "no state is told: %s", c.marks)
		}
	}
	// Every frame is still a frame, including those with equal groups, and those with one
	// mark missed or doubled.
	for p := range blink.Tally.Pilots {
		frame, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		assert.Empty(t, rhythmOf(blink.Tally, []blink.Frame{frame}), "%v", p)
		assert.Empty(t, rhythmOf(blink.Tally, []blink.Frame{frame, frame}), "%v", p)
	}
}

// If nothing is known, no state is reported.
func TestNoStateWhereNothingIsKnown(t *testing.T) {
	r := NewReader(System{}, reading.StartSeen, nil)
	for _, marks := range []string{"*", "..", "x"} {
		looks, err := blink.ParseNotation(marks)
		require.NoError(t, err)
		a := r.Of(looks, blink.Signal{})
		assert.Equal(t, blink.NoState, a.State, marks)
	}
}
