package main

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan/carrier"
)

// A play on a clock that the test turns, with waits that return late: changes
// stay where they belong, and the terminal is left as it was.
func TestPlayIsPlacedByAbsoluteTime(t *testing.T) {
	intervals, period, err := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: blink.Pilot{Channel: 116, Kind: carrier.Digital}}, 200*time.Millisecond)
	require.NoError(t, err)
	var out strings.Builder
	start := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	clock := start
	var waits []time.Duration
	err = play(stage{out: &out, now: func() time.Time { return clock }, wait: func(until time.Time) bool {
		waits = append(waits, until.Sub(start))
		clock = until.Add(7 * time.Millisecond) // always late
		return len(waits) < 3*len(intervals)
	}}, intervals)
	require.NoError(t, err)

	var at time.Duration
	for i, w := range waits {
		at += intervals[i%len(intervals)].Duration
		assert.Equal(t, at, w, "change %d is not moved by lateness before it", i)
	}
	assert.Equal(t, 3*period, waits[len(waits)-1])

	text := out.String()
	assert.True(t, strings.HasPrefix(text, hideCursor))
	assert.True(t, strings.HasSuffix(text, eraseLine+showCursor), "the cursor is shown again, the line empty")
	frames := strings.Split(strings.TrimPrefix(text, hideCursor+eraseLine), eraseLine)
	for i, iv := range intervals {
		assert.Equal(t, iv.Lit, strings.Contains(frames[i], "#"), "frame %d", i)
	}
}

func TestPlayRefusesWhatFlashesTooFast(t *testing.T) {
	fast, _, err := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: blink.Pilot{Channel: 44, Kind: carrier.CW}}, 100*time.Millisecond)
	require.NoError(t, err)
	var out strings.Builder
	require.ErrorIs(t, play(stage{out: &out}, fast), blink.ErrFlashes)
	assert.Empty(t, out.String(), "nothing is shown")
}

func TestPlayReportsAWriterThatFails(t *testing.T) {
	seeking, _, err := blink.Tally.Signal(blink.Signal{State: blink.Seeking}, 200*time.Millisecond)
	require.NoError(t, err)
	require.ErrorIs(t, play(stage{out: closed{}, now: time.Now}, seeking), errClosed)
}

var errClosed = errors.New("closed")

type closed struct{}

func (closed) Write([]byte) (int, error) { return 0, errClosed }
