package blink_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// Source: WCAG 2.x, success criterion 2.3.1: no more than three flashes in any one
// second. Checked for every signal at every unit that may be shown.
func TestNothingShownFlashesMoreThanThreeTimesASecond(t *testing.T) {
	require.Equal(t, 180*time.Millisecond, blink.Tally.ShownFrom())
	for unit := blink.Tally.ShownFrom(); unit <= blink.Tally.Timing.MaxUnit; unit += time.Millisecond {
		for s := range signals {
			intervals, _, err := blink.Tally.Signal(s, unit)
			require.NoError(t, err)
			require.NoErrorf(t, blink.CheckShown(intervals), "%v at %v", s, unit)
		}
	}
}

// Same source. The function is checked against the criterion's own words with the
// simplest possible count: slide a second over the light in steps of 10 ms and count
// pairs of opposing changes.
func TestPeakFlashesIsNeverBelowThePlainCount(t *testing.T) {
	for _, p := range []channelplan.Pilot{{Channel: 9, Kind: channelplan.CW}, {Channel: 199, Kind: channelplan.CW},
		{Channel: 44, Kind: channelplan.CW}, {Channel: 116, Kind: channelplan.Digital}} {
		for _, unit := range []time.Duration{100, 130, 160, 180, 200, 300} {
			intervals, period, err := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: p},
				unit*time.Millisecond)
			require.NoError(t, err)
			const step = 10 * time.Millisecond
			var light []bool
			for len(light) < int((period+2*time.Second)/step) {
				for _, iv := range intervals {
					for range iv.Duration / step {
						light = append(light, iv.Lit)
					}
				}
			}
			plain := 0
			for start := range int(period / step) {
				changes := 0
				for i := start + 1; i <= start+int(time.Second/step); i++ {
					if light[i] != light[i-1] {
						changes++
					}
				}
				plain = max(plain, changes/2)
			}
			got := blink.PeakFlashes(intervals)
			assert.GreaterOrEqual(t, got, plain, "%v at %v", p, unit)
			assert.LessOrEqual(t, got, plain+1, "%v at %v", p, unit)
		}
	}
}

func TestFlashesOverTheLimitAreRefused(t *testing.T) {
	square := func(half time.Duration) []blink.Interval { return []blink.Interval{{true, half}, {false, half}} }
	for _, c := range []struct {
		name  string
		light []blink.Interval
		peak  int
	}{
		{"2 Hz", square(250 * time.Millisecond), 3}, // five changes fit into a closed second
		{"3 Hz", square(time.Second / 6), 4},        // 166.67 ms: the seventh change falls into the second by rounding
		{"4 Hz", square(125 * time.Millisecond), 5},
		{"once in ten seconds", []blink.Interval{{true, time.Second / 10}, {false, 10 * time.Second}}, 1},
		{"always lit", []blink.Interval{{true, time.Second}}, 0},
		{"a billion steps of nothing", []blink.Interval{{true, 1}, {true, 1}}, 0},
		{"lit in two pieces", []blink.Interval{{true, time.Second}, {true, time.Second}}, 0},
		{"no time at all", []blink.Interval{{true, 0}, {false, 0}}, 0},
		{"nothing", nil, 0},
		{"a nanosecond flicker", square(1), 1000},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.peak, blink.PeakFlashes(c.light))
			if c.peak > blink.MaxFlashes {
				require.ErrorIs(t, blink.CheckShown(c.light), blink.ErrFlashes)
			} else {
				require.NoError(t, blink.CheckShown(c.light))
			}
		})
	}
	fast, _, err := blink.Tally.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 44, Kind: channelplan.CW}},
		100*time.Millisecond)
	require.NoError(t, err)
	require.ErrorIs(t, blink.CheckShown(fast), blink.ErrFlashes, "what may be computed at 100 ms may not be shown")
}

// Source: IHO Dictionary S-32 and IHO chart symbols, section P (lights). Occulting: the
// light is longer than the darkness, and the eclipses are equal. Isophase: light and
// darkness are equal. Flashing: the light is shorter than the darkness, and its flashes
// are equal, fewer than 50 a minute. Group: a fixed number together, a period apart.
// Long flash: 2 s and more.
func TestRhythmClassesOfLightsAtSea(t *testing.T) {
	for state, class := range map[blink.State]string{
		blink.Manual: "occulting (1)", blink.Thermal: "occulting (2)", blink.Seeking: "isophase", blink.Holding: "flashing (2)",
		blink.Fault: "flashing (3)",
	} {
		intervals, period, err := blink.Tally.Signal(blink.Signal{State: state}, blink.Tally.Timing.Unit)
		require.NoError(t, err)
		var lit, dark []time.Duration
		var litSum, darkSum time.Duration
		for _, iv := range intervals {
			if iv.Lit {
				lit, litSum = append(lit, iv.Duration), litSum+iv.Duration
			} else {
				dark, darkSum = append(dark, iv.Duration), darkSum+iv.Duration
			}
		}
		equal := func(d []time.Duration) bool {
			for _, x := range d {
				if x != d[0] {
					return false
				}
			}
			return true
		}
		got := "none"
		switch {
		case litSum > darkSum && equal(dark):
			got = "occulting (" + string(rune('0'+len(dark))) + ")"
		case litSum == darkSum && equal(lit) && equal(dark):
			got = "isophase"
		case litSum < darkSum && equal(lit):
			got = "flashing (" + string(rune('0'+len(lit))) + ")"
			assert.Less(t, lit[0], 2*time.Second, "%v: 2 s would be a long flash", state)
		}
		assert.Equal(t, class, got, "%v", state)
		assert.Less(t, float64(len(lit))/period.Minutes(), 50.0, "%v: 50 a minute would be quick", state)
		assert.LessOrEqual(t, float64(len(lit))/period.Seconds(), 1.0, "%v: below one flash a second", state)
	}
}

// All rhythms differ in proportion alone, so the reader need not know the unit.
func TestRhythmsDifferByProportion(t *testing.T) {
	share := map[string]blink.State{}
	for _, s := range []blink.State{blink.Manual, blink.Thermal, blink.Seeking, blink.Holding, blink.Fault} {
		key := ""
		unit := blink.Tally.Rhythms[s][0].Units
		for _, b := range blink.Tally.Rhythms[s] {
			key += time.Duration(float64(b.Units)/float64(unit)*float64(time.Second)).String() + " "
		}
		other, taken := share[key]
		assert.Falsef(t, taken, "%v has the proportions of %v", s, other)
		share[key] = s
	}
}

// However often it is asked, a shutter lets no more than three flashes pass in any
// second, and lets more pass as soon as that second is over.
func TestShutter(t *testing.T) {
	var s blink.Shutter
	begin := time.Date(2026, 11, 25, 7, 0, 0, 0, time.UTC)
	want, shown := false, false
	var lights []time.Time // when it became lit
	for ms := range 20_000 {
		now := begin.Add(time.Duration(ms) * time.Millisecond)
		want = !want
		lit, again := s.Show(want, now)
		if lit != want {
			require.True(t, again.After(now))
			require.LessOrEqual(t, again.Sub(now), 1100*time.Millisecond)
		} else {
			require.Zero(t, again)
		}
		if lit && !shown {
			lights = append(lights, now)
		}
		shown = lit
	}
	require.Greater(t, len(lights), 3*18, "it does not stay shut")
	for i := range lights[blink.MaxFlashes:] {
		require.Greater(t, lights[i+blink.MaxFlashes].Sub(lights[i]), time.Second)
	}
}
