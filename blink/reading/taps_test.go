package reading

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// tapped is how a person taps frames along with a lamp: each mark some time after its
// end, or the long ones a little before it, never quite the same. Reaction times and
// their spread are invented.
func tapped(frames []blink.Frame, unit time.Duration, early float64, spread time.Duration, random *rand.Rand) []Tap {
	t := blink.Tally.Timing
	var taps []Tap
	at := time.Duration(0)
	for _, f := range frames {
		for _, group := range f {
			for _, m := range []byte(group) {
				lit, lead := t.Short, 0.0
				if m == blink.LongMark {
					lit, lead = t.Long, early
				}
				at += time.Duration(lit) * unit
				reaction := 250*time.Millisecond + time.Duration(random.NormFloat64()*float64(spread)) - time.Duration(lead*float64(unit))
				taps = append(taps, Tap{m, at + reaction})
				at += time.Duration(t.MarkGap) * unit
			}
			at += time.Duration(t.GroupGap-t.MarkGap) * unit
		}
		at += time.Duration(t.Rest-t.GroupGap) * unit
	}
	return taps
}

// Taps split into groups by their pauses, at every speed and for every habit. With a
// steady thumb all groups are right; with a shaky one nearly all.
func TestTapsPartIntoGroups(t *testing.T) {
	groups := NewTapGroups(blink.Tally)
	for _, c := range []struct {
		name   string
		spread time.Duration
		right  int // of a thousand pauses, at least
	}{
		{"no spread", 0, 1000},
		{"a steady thumb", 40 * time.Millisecond, 995},
		{"a shaky thumb", 80 * time.Millisecond, 975},
	} {
		t.Run(c.name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(1, 7))
			pauses, right := 0, 0
			for range 300 {
				unit := time.Duration(180+random.IntN(140)) * time.Millisecond
				frame, err := blink.Tally.Encode(channelplan.Pilot{Channel: 1 + random.IntN(199),
					Kind: channelplan.PilotKinds()[random.IntN(3)]})
				assert.NoError(t, err)
				looks := []blink.Frame{frame, frame}
				taps := tapped(looks, unit, float64(random.IntN(3)), c.spread, random)
				kinds, _ := groups.kinds(taps)
				i := 0
				for n, f := range looks {
					for g, group := range f {
						for m := range group {
							want := withinGroup
							switch {
							case m < len(group)-1:
							case g < len(f)-1:
								want = betweenGroups
							case n < len(looks)-1:
								want = betweenFrames
							default:
								continue
							}
							pauses++
							if likeliest(kinds)[i] == want {
								right++
							}
							i++
						}
					}
				}
			}
			assert.GreaterOrEqual(t, 1000*right, c.right*pauses, "right of %d: %d", pauses, right)
		})
	}
}

// A person who taps from memory waits longer between groups than the lamp. Groups are
// still split correctly, and a frame remains a frame.
func TestTapsFromMemory(t *testing.T) {
	groups := NewTapGroups(blink.Tally)
	frame := blink.Frame{"_..", ".", "_.", "_.."}
	for _, c := range []struct{ within, between float64 }{{0.3, 1.4}, {0.15, 1.2}, {0.3, 1.8}, {0.4, 1.8},
		{0.25, 1.0}, {0.4, 2.4},
		{0.5, 2}, {0.6, 3}, {0.6, 1.5}, {0.4, 1.2}, {0.5, 5}, {1, 3}} {
		var taps []Tap
		at := 0.0
		for i, g := range frame {
			if i > 0 {
				at += c.between - c.within
			}
			for _, m := range []byte(g) {
				taps = append(taps, Tap{m, duration(at)})
				at += c.within
			}
		}
		looks, _ := groups.Split(taps, duration(at+20))
		assert.Equal(t, []blink.Frame{frame}, looks, "%v", c)
	}
}

func TestTapsOneByOne(t *testing.T) {
	groups := NewTapGroups(blink.Tally)
	looks, closed := groups.Split(nil, time.Hour)
	assert.Empty(t, looks)
	assert.False(t, closed)

	// A single tap is open for a while and then over.
	one := []Tap{{blink.LongMark, time.Second}}
	looks, closed = groups.Split(one, time.Second+100*time.Millisecond)
	assert.Equal(t, []blink.Frame{{"_"}}, looks)
	assert.False(t, closed)
	_, closed = groups.Split(one, 10*time.Second)
	assert.True(t, closed)

	// Two frames, the second one cut short; an unsure mark is kept.
	taps := tapped([]blink.Frame{{"_..", ".", "_.", "_.."}, {"_?"}}, 200*time.Millisecond, 0, 0,
		rand.New(rand.NewPCG(1, 1)))
	looks, _ = groups.Split(taps, taps[len(taps)-1].At)
	assert.Equal(t, []blink.Frame{{"_..", ".", "_.", "_.."}, {"_?"}}, looks)

	// All at once, or a day later: no panic, and marks are kept in order.
	looks, _ = groups.Split([]Tap{{'.', 0}, {'.', 0}, {'_', 24 * time.Hour}}, 48*time.Hour)
	assert.Equal(t, []blink.Frame{{".."}, {"_"}}, looks)
}

// What counts is the answers: whatever the spread of the person's thumb, which is not
// known beforehand, hardly any answer is both wrong and sure. If the spread is wide,
// the answer is doubtful instead.
func TestAnswersOfTaps(t *testing.T) {
	groups, reader := NewTapGroups(blink.Tally), NewReader(blink.Tally, Assumed, nil)
	for _, c := range []struct {
		spread       time.Duration
		frames, sure int // of a hundred, at least
	}{{80 * time.Millisecond, 1, 75}, {120 * time.Millisecond, 1, 45}, {180 * time.Millisecond, 1, 10},
		{250 * time.Millisecond, 1, 0},
		{80 * time.Millisecond, 2, 95}, {120 * time.Millisecond, 2, 80}, {180 * time.Millisecond, 2, 45},
		{250 * time.Millisecond, 2, 15}} {
		random := rand.New(rand.NewPCG(uint64(c.spread), 11))
		sure, wrong := 0, 0
		const all = 75
		for range all {
			unit := time.Duration(180+random.IntN(140)) * time.Millisecond
			pilot := channelplan.Pilot{Channel: 1 + random.IntN(158), Kind: channelplan.PilotKinds()[random.IntN(3)]}
			frame, err := blink.Tally.Encode(pilot)
			assert.NoError(t, err)
			taps := tapped(slices.Repeat([]blink.Frame{frame}, c.frames), unit, float64(random.IntN(3)),
				c.spread, random)
			if r := reader.ReadGroupings(groups.Part(taps).Groupings(), StartSeen); !r.Doubtful() {
				sure++
				if r.Best().Pilot != pilot {
					wrong++
				}
			}
		}
		t.Logf("%v, frames %d: sure %d, of which wrong %d, of %d", c.spread, c.frames, sure, wrong, all)
		assert.Zero(t, wrong, "wrong and sure")
		assert.GreaterOrEqual(t, 100*sure, c.sure*all)
	}
}

// Light that a person tapped with a key, as a thumb follows a lamp: each end comes later by
// a reaction of some 200 ms whose spread nobody knows, and going dark a little sooner or
// later than lighting up. Two frames are enough with a spread of 60 ms, and none of what
// is called sure is wrong. The spreads are invented.
func TestTappedLight(t *testing.T) {
	r := NewTimedReader(blink.Tally, AssumedDurations, nil)
	pilots := slices.Collect(blink.Tally.Pilots)
	for _, c := range []struct {
		spreadMS float64
		frames   int
		sure     int // of 12, at least
	}{{20, 1, 11}, {60, 2, 10}, {80, 2, 7}, {120, 2, 2}} {
		sure := 0
		for seed := range 12 {
			random := rand.New(rand.NewPCG(20, uint64(seed)))
			want := blink.Signal{State: blink.Locked, Pilot: pilots[random.IntN(len(pilots))]}
			frame, _, err := blink.Tally.Signal(want, 200*time.Millisecond)
			require.NoError(t, err)
			light := []blink.Interval{{Duration: 2 * time.Second}}
			for range c.frames {
				light = append(light, frame...)
			}
			lag := map[bool]float64{true: 200, false: 200 + 30*random.NormFloat64()} // by whether it lights up, ms
			var tapped []blink.Interval
			at, last := time.Duration(0), time.Duration(0)
			for _, iv := range light {
				at += iv.Duration
				end := max(at+time.Duration((lag[!iv.Lit]+c.spreadMS*random.NormFloat64())*1e6),
					last+10*time.Millisecond)
				tapped = append(tapped, blink.Interval{Lit: iv.Lit, Duration: end - last})
				last = end
			}
			result := r.ReadTapped(tapped)
			if result.Doubtful() {
				continue
			}
			sure++
			assert.Equal(t, want, result.Best().Signal, "%v, seed %d", c, seed)
		}
		assert.GreaterOrEqual(t, sure, c.sure, "%v", c)
	}
}
