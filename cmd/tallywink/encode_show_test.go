package main

import (
	"errors"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/cmd/tallywink/console"
)

// seenLight is what a play showed, and when.
type seenLight struct {
	at  time.Duration
	lit bool
}

// played plays a lamp for so long on a clock that the test turns, with waits that
// return late by what lateness says, and returns the changes of the light.
func played(t *testing.T, intervals []blink.Interval, length time.Duration, lateness func() time.Duration) (changes []seenLight, shown string) {
	t.Helper()
	var out strings.Builder
	start := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	clock := start
	drawn := 0
	look := func() {
		frames := strings.Split(out.String(), console.EraseLine)
		for _, f := range frames[drawn+1:] {
			if lit := strings.Contains(f, "#"); len(changes) == 0 || lit != changes[len(changes)-1].lit {
				changes = append(changes, seenLight{clock.Sub(start), lit})
			}
		}
		drawn = len(frames) - 1
	}
	require.NoError(t, play(stage{out: &out, now: func() time.Time { return clock }, wait: func(until time.Time) bool {
		look()
		if until.After(clock) {
			clock = until
		}
		clock = clock.Add(lateness())
		return clock.Sub(start) < length
	}}, intervals))
	text := out.String()
	assert.True(t, strings.HasPrefix(text, console.HideCursor))
	assert.True(t, strings.HasSuffix(text, console.EraseLine+console.ShowCursor), "the cursor is shown again, the line empty")
	return changes, text
}

func signalOf(t *testing.T, s blink.Signal, unit time.Duration) (intervals []blink.Interval, period time.Duration) {
	t.Helper()
	intervals, period, err := blink.Tally.Signal(s, unit)
	require.NoError(t, err)
	return intervals, period
}

var seeking = blink.Signal{State: blink.Seeking}

var locked116 = blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}

// Changes stay where they belong, though each is a little late.
func TestPlayIsPlacedByAbsoluteTime(t *testing.T) {
	const late = 7 * time.Millisecond
	intervals, period := signalOf(t, locked116, 200*time.Millisecond)
	changes, _ := played(t, intervals, lookThere+3*period, func() time.Duration { return late })
	require.False(t, changes[0].lit, "dark first: time to look there")
	due, i := lookThere, 0
	for _, c := range changes[1:] {
		assert.Equal(t, seenLight{due + late, intervals[i%len(intervals)].Lit}, c)
		due += intervals[i%len(intervals)].Duration
		i++
	}
	assert.Equal(t, 3*len(intervals), i)
}

// A play that was put aside, or whose terminal stood still, does not catch up: it
// is dark, and begins anew.
func TestPlayBeginsAnewWhereItIsLate(t *testing.T) {
	intervals, _ := signalOf(t, locked116, 200*time.Millisecond)
	n := 0
	changes, _ := played(t, intervals, 10*time.Hour+20*time.Second, func() time.Duration {
		if n++; n == 6 {
			return 10 * time.Hour
		}
		return 0
	})
	var again []seenLight
	for _, c := range changes {
		if c.at > time.Hour {
			again = append(again, c)
		}
	}
	first := 0
	if !again[0].lit {
		first = 1 // it stood still while it was lit
	}
	assert.GreaterOrEqual(t, again[first].at, 10*time.Hour+lookThere)
	for i, iv := range intervals[:len(intervals)-1] {
		assert.Equal(t, iv.Duration, again[first+i+1].at-again[first+i].at, "interval %d", i)
	}
}

// However late it is, and whenever, no more than three flashes begin in a second.
func TestPlayNeverFlashesTooFast(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	most := 0
	short := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 44, Kind: channelplan.CW}}
	for _, s := range []blink.Signal{locked116, short, {State: blink.Fault}} {
		intervals, _ := signalOf(t, s, 180*time.Millisecond)
		changes, _ := played(t, intervals, 5*time.Minute, func() time.Duration {
			if random.IntN(10) == 0 {
				return time.Duration(random.IntN(int(2 * lateMost)))
			}
			return time.Duration(random.IntN(int(40 * time.Millisecond)))
		})
		for i := range changes {
			flashes := 0
			for _, c := range changes[i:] {
				if c.lit && c.at-changes[i].at <= time.Second {
					flashes++
				}
			}
			most = max(most, flashes)
		}
	}
	assert.Equal(t, blink.MaxFlashes, most)
}

func TestPlayRefusesWhatFlashesTooFast(t *testing.T) {
	fast, _ := signalOf(t, blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 44, Kind: channelplan.CW}}, 100*time.Millisecond)
	var out strings.Builder
	require.ErrorIs(t, play(stage{out: &out}, fast), blink.ErrFlashes)
	assert.Empty(t, out.String(), "nothing is shown")
}

func TestPlayReportsAWriterThatFails(t *testing.T) {
	slow, _ := signalOf(t, seeking, 200*time.Millisecond)
	require.ErrorIs(t, play(stage{out: closed{}, now: time.Now}, slow), errClosed)
}

var errClosed = errors.New("closed")

type closed struct{}

func (closed) Write([]byte) (int, error) { return 0, errClosed }
