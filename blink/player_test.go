package blink_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// Each change of a play is where the signal has it, measured from the time at which the
// play began.
func TestPlayerKeepsTime(t *testing.T) {
	light, period, err := blink.Tally.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}, 200*time.Millisecond)
	require.NoError(t, err)
	start := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	var p blink.Player
	lit, again := p.Show(start, false)
	assert.False(t, lit, "the zero player is dark")
	assert.True(t, again.IsZero())
	p.Play(blink.Play{Light: light}, start)
	lit, again = p.Show(start, false)
	assert.False(t, lit, "dark first: time to look there")
	at := start.Add(blink.LeadIn)
	require.Equal(t, at, again)
	for i := range 3 * len(light) {
		iv := light[i%len(light)]
		lit, again = p.Show(at, false)
		require.Equal(t, iv.Lit, lit, "interval %d", i)
		require.Equal(t, at, p.ChangedAt(at.Add(time.Millisecond)))
		at = at.Add(iv.Duration)
		require.Equal(t, at, again, "interval %d", i)
	}
	p.Play(blink.Play{Light: light, Once: true, Skip: 5*period + light[0].Duration}, start)
	lit, _ = p.LitAt(start.Add(blink.LeadIn))
	assert.Equal(t, light[1].Lit, lit, "met in its middle")
	lit, again = p.LitAt(start.Add(blink.LeadIn + period))
	assert.False(t, lit, "once is over")
	assert.True(t, again.IsZero())
	p.Stop()
	lit, _ = p.LitAt(start.Add(blink.LeadIn))
	assert.False(t, lit)
}

// WCAG 2.x, success criterion 2.3.1: however late a screen is, and whatever is
// restarted, hidden or shown again, no more than three flashes begin in a second.
func TestPlayerNeverFlashesTooFast(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	short, _, err := blink.Tally.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 44, Kind: channelplan.CW}},
		180*time.Millisecond)
	require.NoError(t, err)
	fast := []blink.Interval{{true, 40 * time.Millisecond},
		{false, 40 * time.Millisecond}} // faster than anything that is ever played
	for _, light := range [][]blink.Interval{short, fast} {
		var p blink.Player
		now := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
		end := now.Add(10 * time.Minute)
		var flashes []time.Time
		was := false
		for now.Before(end) {
			if random.IntN(8) == 0 {
				p.Play(blink.Play{Light: light, Skip: time.Duration(random.IntN(int(10 * time.Second)))},
					now.Add(-time.Duration(random.IntN(int(2*blink.LeadIn)))))
			}
			lit, _ := p.Show(now, random.IntN(10) == 0)
			if lit && !was {
				flashes = append(flashes, now)
			}
			was = lit
			now = now.Add(time.Duration(random.IntN(int(60 * time.Millisecond))))
		}
		require.Greater(t, len(flashes), 300)
		for i := blink.MaxFlashes; i < len(flashes); i++ {
			require.Greater(t, flashes[i].Sub(flashes[i-blink.MaxFlashes]), time.Second)
		}
	}
}
