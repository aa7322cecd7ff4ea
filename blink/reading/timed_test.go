package reading

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// observation makes the times that an observer takes of a lamp. It shares nothing with
// the reader except the code.
type observation struct {
	random *rand.Rand
	jitter float64 // relative standard deviation of lengths
	lose   float64 // chance that a stretch is not seen
	flash  float64 // chance that a stretch is broken by a false one
}

// see times a signal for some seconds, beginning anywhere in its period.
func (o observation) see(s blink.Signal, unit time.Duration, seconds float64) []blink.Interval {
	return o.seeOf(blink.Tally, s, unit, seconds)
}

func (o observation) seeOf(code *blink.Code, s blink.Signal, unit time.Duration, seconds float64) []blink.Interval {
	intervals, period, err := code.Signal(s, unit)
	if err != nil {
		panic(err)
	}
	if period == 0 {
		return []blink.Interval{{Lit: intervals[0].Lit, Duration: time.Duration(seconds * float64(time.Second))}}
	}
	skip := o.random.Float64() * period.Seconds()
	i := 0
	for skip >= intervals[i].Duration.Seconds() {
		skip -= intervals[i].Duration.Seconds()
		i++
	}
	var seen []blink.Interval
	add := func(lit bool, d float64) {
		if d <= 0 {
			return
		}
		if n := len(seen); n > 0 && seen[n-1].Lit == lit {
			seen[n-1].Duration += time.Duration(d * float64(time.Second))
			return
		}
		seen = append(seen, blink.Interval{Lit: lit, Duration: time.Duration(d * float64(time.Second))})
	}
	for left := seconds; left > 0; i++ {
		iv := intervals[i%len(intervals)]
		d := iv.Duration.Seconds()*math.Exp(o.random.NormFloat64()*o.jitter) - skip
		skip = 0
		d = min(max(d, 0), left)
		left -= d
		lit := iv.Lit
		if iv.Duration == unit && o.random.Float64() < o.lose {
			lit = !lit
		}
		if o.random.Float64() < o.flash && d > 0.2 {
			at := o.random.Float64() * (d - 0.1)
			add(lit, at)
			add(!lit, 0.05)
			add(lit, d-at-0.05)
			continue
		}
		add(lit, d)
	}
	return seen
}

func anySignal(random *rand.Rand) blink.Signal {
	s := blink.Signal{State: blink.States()[random.IntN(len(blink.States()))]}
	if s.State.ShowsFrame() {
		s.Pilot = channelplan.Pilot{Channel: 1 + random.IntN(199), Kind: channelplan.PilotKinds()[random.IntN(3)]}
	}
	if s.State == blink.Edge {
		s.End = blink.EdgeEnd(1 + random.IntN(2))
	}
	return s
}

var timedReader = sync.OnceValue(func() *TimedReader { return NewTimedReader(blink.Tally, AssumedDurations, nil) })

// parallel runs a job for each number below n on all cores.
func parallel(n int, job func(i int)) {
	var wait sync.WaitGroup
	next := make(chan int)
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			for i := range next {
				job(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wait.Wait()
}

// What the lamp sends is read back from its times: every pilot and state, a period and
// a half, beginning anywhere.
func TestEverySignalIsReadFromItsTimes(t *testing.T) {
	var signals []blink.Signal
	for _, s := range blink.States() {
		switch {
		case !s.ShowsFrame():
			signals = append(signals, blink.Signal{State: s})
		case s == blink.Edge:
			for p := range blink.Tally.Pilots {
				signals = append(signals, blink.Signal{State: s, End: blink.EdgeEnd(1 + p.Channel%2), Pilot: p})
			}
		default:
			for p := range blink.Tally.Pilots {
				signals = append(signals, blink.Signal{State: s, Pilot: p})
			}
		}
	}
	r := timedReader()
	// Every rhythm, and every pilot's frame once, locked or edge: the frame is the same,
	// and the rest shows which state it is.
	signals = slices.DeleteFunc(signals, func(s blink.Signal) bool {
		return s.State.ShowsFrame() && (s.State == blink.Edge) != (s.Pilot.Channel%3 == 0)
	})
	parallel(len(signals), func(i int) {
		s := signals[i]
		o := observation{random: rand.New(rand.NewPCG(7, uint64(i)))}
		unit := time.Duration(100+o.random.IntN(301)) * time.Millisecond
		_, period, err := blink.Tally.Signal(s, unit)
		if !assert.NoError(t, err) {
			return
		}
		result := r.Read(o.see(s, unit, max(2.2*period.Seconds(), 12)))
		assert.Equalf(t, s, result.Best().Signal, "unit %v: %v", unit,
			result.Candidates[:min(3, len(result.Candidates))])
		assert.Falsef(t, result.Doubtful(), "%v, unit %v: %v", s, unit,
			result.Candidates[:min(3, len(result.Candidates))])
		assert.Len(t, result.Sequence, 1, "%v", s)
		if s.State != blink.Steady && s.State != blink.Dark {
			assert.InEpsilon(t, unit.Seconds(), result.Unit.Seconds(), 0.03, "the unit is found, too")
		}
	})
}

// Three frames with jitter, lost and false stretches: hardly ever wrong, and if wrong
// then doubtful. Rates and seeds belong to this test.
func TestTimesWithErrors(t *testing.T) {
	r := timedReader()
	for _, c := range []struct {
		name                string
		jitter, lose, flash float64
		n                   int
		right               float64
	}{
		{"8 % jitter", 0.08, 0, 0, 150, 0.99},
		{"8 % jitter, 2 % of the shortest lost, 2 % broken", 0.08, 0.02, 0.02, 150, 0.96},
		{"a shaky thumb: 15 % jitter", 0.15, 0, 0, 100, 0.95},
	} {
		t.Run(c.name, func(t *testing.T) {
			var mutex sync.Mutex
			right, doubtful := 0, 0
			parallel(c.n, func(i int) {
				o := observation{rand.New(rand.NewPCG(11, uint64(i))), c.jitter, c.lose, c.flash}
				s := anySignal(o.random)
				unit := time.Duration(100+o.random.IntN(301)) * time.Millisecond
				result := r.Read(o.see(s, unit, 140*unit.Seconds()))
				mutex.Lock()
				defer mutex.Unlock()
				switch {
				case result.Doubtful():
					doubtful++
				case result.Best().Signal == s:
					right++
				default:
					assert.Failf(t, "silently wrong", "%v read as %v", s, result.Candidates[:1])
				}
			})
			t.Logf("right %d, doubtful %d of %d", right, doubtful, c.n)
			assert.GreaterOrEqual(t, float64(right), c.right*float64(c.n))
		})
	}
}

// After a glimpse the result shows what it can still be.
func TestGlimpse(t *testing.T) {
	r := timedReader()
	lit := func(d time.Duration) blink.Interval { return blink.Interval{Lit: true, Duration: d} }
	dark := func(d time.Duration) blink.Interval { return blink.Interval{Lit: false, Duration: d} }

	states := func(result TimedResult) map[blink.State]float64 {
		all := map[blink.State]float64{}
		for _, c := range result.Candidates {
			all[c.Signal.State] += c.Probability
		}
		return all
	}
	two := states(r.Read([]blink.Interval{lit(2 * time.Second)}))
	for _, s := range []blink.State{blink.Steady, blink.Manual, blink.Thermal, blink.Seeking} {
		assert.Greater(t, two[s], 0.01, "%v: two seconds of light leave it open", s)
	}
	assert.Less(t, two[blink.Locked], 0.001, "no mark of a frame is two seconds long")
	assert.Zero(t, two[blink.Dark])

	ten := r.Read([]blink.Interval{lit(10 * time.Second)})
	assert.Equal(t, blink.Steady, ten.Best().Signal.State)
	assert.False(t, ten.Doubtful(), "after ten seconds nothing else is left")
	assert.Equal(t, blink.Dark, r.Read([]blink.Interval{dark(10 * time.Second)}).Best().Signal.State)

	// Flash, four units, flash: holding or fault until the long dark.
	open := states(r.Read([]blink.Interval{dark(time.Second), lit(1200 * time.Millisecond),
		dark(800 * time.Millisecond), lit(300 * time.Millisecond)}))
	assert.Greater(t, open[blink.Holding], 0.1)
	assert.Greater(t, open[blink.Fault], 0.1)

	nothing := r.Read(nil)
	assert.True(t, nothing.Doubtful())
	assert.Len(t, nothing.Sequence, 1)
}

// If a lamp changes while it is watched, the result is a sequence with times, and the
// last signal is the answer.
func TestChangesAreToldInSequence(t *testing.T) {
	r := timedReader()
	a, b := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital},
		channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}
	for _, c := range []struct {
		name    string
		signals []blink.Signal
	}{
		{"seeking, then locked", []blink.Signal{{State: blink.Seeking}, {State: blink.Locked, Pilot: a}}},
		{"locked on one channel, then on another",
			[]blink.Signal{{State: blink.Locked, Pilot: a}, {State: blink.Locked, Pilot: b}}},
		{"locked, lost, found again", []blink.Signal{{State: blink.Locked, Pilot: a}, {State: blink.Holding},
			{State: blink.Seeking}, {State: blink.Locked, Pilot: b}}},
		{"locked, then at the end of the range", []blink.Signal{{State: blink.Locked, Pilot: a},
			{State: blink.Edge, End: blink.EndLow, Pilot: a}}},
		{"switched off", []blink.Signal{{State: blink.Locked, Pilot: a}, {State: blink.Dark}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := observation{random: rand.New(rand.NewPCG(3, 0)), jitter: 0.05}
			var seen []blink.Interval
			var changed []time.Duration
			for _, s := range c.signals {
				seen = append(seen, o.see(s, 200*time.Millisecond, 26)...)
				var at time.Duration
				for _, iv := range seen {
					at += iv.Duration
				}
				changed = append(changed, at)
			}
			result := r.Read(seen)
			assert.False(t, result.Doubtful(), "%v", result.Candidates[:1])
			require.Len(t, result.Sequence, len(c.signals), "%v", result.Sequence)
			for i, segment := range result.Sequence {
				assert.Equal(t, c.signals[i], segment.Signal)
				assert.InDelta(t, changed[i].Seconds(), segment.To.Seconds(), 4, "told within some seconds")
				if i > 0 {
					assert.Equal(t, result.Sequence[i-1].To, segment.From, "segments touch")
				}
			}
			assert.Equal(t, result.Best().Signal, result.Sequence[len(result.Sequence)-1].Signal)
		})
	}
}

// One false blink does not change anything, wherever it falls.
func TestAFalseBlinkIsNoChange(t *testing.T) {
	r := timedReader()
	lit := func(d time.Duration) blink.Interval { return blink.Interval{Lit: true, Duration: d} }
	dark := func(d time.Duration) blink.Interval { return blink.Interval{Lit: false, Duration: d} }
	const s, ms = time.Second, time.Millisecond
	seeking := []blink.Interval{lit(500 * ms), dark(40 * ms), lit(700 * ms)}
	for range 5 {
		seeking = append(seeking, dark(1600*ms), lit(1600*ms))
	}
	for name, c := range map[string]struct {
		seen []blink.Interval
		want blink.State
	}{
		"in a steady lamp": {[]blink.Interval{lit(20 * s), dark(40 * ms), lit(20 * s)}, blink.Steady},
		"twice in a steady lamp": {[]blink.Interval{lit(3 * s), dark(40 * ms), lit(20 * s), dark(40 * ms),
			lit(15 * s)}, blink.Steady},
		"in a dark lamp":              {[]blink.Interval{dark(20 * s), lit(40 * ms), dark(20 * s)}, blink.Dark},
		"in the first stretch of all": {seeking, blink.Seeking},
	} {
		t.Run(name, func(t *testing.T) {
			result := r.Read(c.seen)
			assert.Equal(t, c.want, result.Best().Signal.State, "%v",
				result.Candidates[:min(2, len(result.Candidates))])
			assert.Len(t, result.Sequence, 1, "%v", result.Sequence)
		})
	}
}

// Pieces of one observation add up if one signal explains them, and are kept separate
// if none does.
func TestPiecesAddUp(t *testing.T) {
	r := timedReader()
	a := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	b := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}}
	o := observation{random: rand.New(rand.NewPCG(9, 9)), jitter: 0.05}
	const unit = 200 * time.Millisecond
	short := func(s blink.Signal, from time.Duration) Piece { return Piece{from, o.see(s, unit, 5)} }
	several := []Piece{short(a, 0), short(a, 6*time.Second), short(a, 12*time.Second), short(a, 18*time.Second),
		short(a, 24*time.Second)}
	one, _ := r.ReadPieces(t.Context(), several[:1], nil)
	all, _ := r.ReadPieces(t.Context(), several, nil)
	assert.Equal(t, a, all.Best().Signal)
	assert.False(t, all.Doubtful())
	assert.Greater(t, all.Best().Probability, one.Best().Probability, "more pieces tell more")
	require.Len(t, all.Sequence, 1)
	assert.Equal(t, time.Duration(0), all.Sequence[0].From)
	assert.InDelta(t, 29, all.Sequence[0].To.Seconds(), 0.1)

	changed, _ := r.ReadPieces(t.Context(), []Piece{{0, o.see(a, unit, 20)}, {25 * time.Second, o.see(b, unit, 20)}},
		nil)
	assert.Equal(t, b, changed.Best().Signal, "the last piece answers")
	require.Len(t, changed.Sequence, 2)
	assert.Equal(t, a, changed.Sequence[0].Signal)
	assert.Equal(t, 25*time.Second, changed.Sequence[1].From)

	within, _ := r.ReadPieces(t.Context(),
		[]Piece{{0, append(o.see(blink.Signal{State: blink.Holding}, unit, 20), o.see(a, unit, 25)...)}}, nil)
	assert.Equal(t, a, within.Best().Signal)
	require.Len(t, within.Sequence, 2, "a change within a piece is told, too")

	// However many agree, the last one still counts.
	var many []Piece
	for k := range 15 {
		many = append(many, Piece{time.Duration(k) * 20 * time.Second,
			o.see(blink.Signal{State: blink.Holding}, unit, 15)})
	}
	many = append(many, Piece{300 * time.Second, o.see(blink.Signal{State: blink.Fault}, unit, 20)})
	turned, _ := r.ReadPieces(t.Context(), many, nil)
	assert.Equal(t, blink.Fault, turned.Best().Signal.State)
	require.Len(t, turned.Sequence, 2)
	assert.Equal(t, blink.Holding, turned.Sequence[0].Signal.State)

	// A long piece is read in parts and reported as one.
	long, _ := r.ReadPieces(t.Context(), []Piece{{0, o.see(a, unit, 300)}}, nil)
	assert.Equal(t, a, long.Best().Signal)
	require.Len(t, long.Sequence, 1)
	assert.InDelta(t, 300, long.Sequence[0].To.Seconds(), 0.1)

	none, err := r.ReadPieces(t.Context(), nil, nil)
	require.NoError(t, err)
	assert.True(t, none.Doubtful())
}

// Input that no lamp produces gets a doubtful answer, without a panic.
func TestTimesThatMakeNoSense(t *testing.T) {
	r := timedReader()
	random := rand.New(rand.NewPCG(5, 5))
	var noise, tiny []blink.Interval
	for i := range 80 {
		noise = append(noise, blink.Interval{Lit: i%2 == 0,
			Duration: time.Duration(random.ExpFloat64() * float64(500*time.Millisecond))})
		tiny = append(tiny, blink.Interval{Lit: i%2 == 0, Duration: 1})
	}
	for name, seen := range map[string][]blink.Interval{
		"noise": noise, "nanoseconds": tiny,
		"no lengths": {{Lit: true}, {Lit: false}},
		"negative":   {{Lit: true, Duration: -1}},
		"a year of light": {{Lit: true, Duration: time.Second}, {Lit: false, Duration: 365 * 24 * time.Hour},
			{Lit: true, Duration: time.Second}},
	} {
		t.Run(name, func(t *testing.T) {
			result := r.Read(seen)
			require.NotEmpty(t, result.Candidates)
			sum := result.Stranger
			for _, c := range result.Candidates {
				require.False(t, math.IsNaN(c.Probability))
				sum += c.Probability
			}
			assert.InDelta(t, 1, sum, 1e-3)
		})
	}
	assert.True(t, r.Read(noise).Doubtful())
}

// Lights that blink without following the code are not taken for lamps: turn signals,
// beacons, leaves. Their rates are invented.
func TestStrangersAreNotRead(t *testing.T) {
	r := timedReader()
	for name, lengths := range map[string][]time.Duration{
		"a turn signal": {350 * time.Millisecond, 350 * time.Millisecond},
		"a slow flash":  {500 * time.Millisecond, time.Second},
		"a double beacon": {90 * time.Millisecond, 120 * time.Millisecond, 90 * time.Millisecond,
			900 * time.Millisecond},
		"a long flash": {2 * time.Second, 11 * time.Second},
		"no rhythm":    nil,
	} {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(3, 3))
			var seen []blink.Interval
			for i := range 30 {
				d := 0.3 * random.ExpFloat64()
				if lengths != nil {
					d = lengths[i%len(lengths)].Seconds() * math.Exp(0.04*random.NormFloat64())
				}
				seen = append(seen, blink.Interval{Lit: i%2 == 0, Duration: duration(d)})
			}
			result := r.Read(seen)
			assert.Greater(t, result.Stranger, 0.95, "read as %v", result.Best())
			assert.Negative(t, result.Fit)
			pieces, _ := r.ReadPieces(t.Context(),
				[]Piece{{Intervals: seen[:15]}, {From: time.Minute, Intervals: seen[15:]}}, nil)
			assert.True(t, pieces.Doubtful())
		})
	}
}

// The duration model's own values: a density adds up to 1, and the chance of a longer
// length and the average excess are its integrals.
func TestDurationModelIsConsistent(t *testing.T) {
	m := AssumedDurations
	for _, sent := range []float64{0.1, 0.2, 0.8, 3.6} {
		const n = 200_000
		step := 10 * sent / n
		sum, excess := 0.0, 0.0
		for i := range n {
			x := (float64(i) + 0.5) * step
			p := m.density(x, sent, 0.09) * step
			sum += p
			if x > sent*1.1 {
				excess += p * (x - sent*1.1)
			}
		}
		assert.InDelta(t, 1, sum, 1e-3)
		assert.InDelta(t, excess, m.excess(sent*1.1, sent, 0.09), sent*2e-3)
		tail := 0.0
		for i := range n {
			if x := (float64(i) + 0.5) * step; x > sent*0.95 {
				tail += m.density(x, sent, 0.09) * step
			}
		}
		assert.InDelta(t, tail, m.longer(sent*0.95, sent, 0.09), 2e-3)
	}
}

// BenchmarkReadTimes comes with a baseline: the same amount of arithmetic without an
// answer, one multiplication for each stretch of each signal, interval and unit tried.
func BenchmarkReadTimes(b *testing.B) {
	r := timedReader()
	o := observation{random: rand.New(rand.NewPCG(1, 1)), jitter: 0.08}
	seen := o.see(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}, 200*time.Millisecond, 27)
	b.Run("three-frames", func(b *testing.B) {
		b.ReportMetric(float64(len(seen)), "intervals")
		for b.Loop() {
			r.Read(seen)
		}
	})
	b.Run("baseline-multiply", func(b *testing.B) {
		weights := make([]float64, len(r.lit))
		for b.Loop() {
			for range len(r.framePaces(seen)) * len(seen) {
				for k := range weights {
					weights[k] = weights[k]*0.5 + 1
				}
			}
		}
	})
}

// A light that repeats something that is not a frame of the code is not read as the
// nearest frame: each error by itself would be likely, the same error every time is
// not.
func TestForeignFramesAreNotRead(t *testing.T) {
	r := timedReader()
	unit := 200 * time.Millisecond
	for name, groups := range map[string][]string{
		"three groups":            {"_..", ".", "_."},
		"two groups":              {"_..", "."},
		"five groups":             {"_..", ".", "_.", "_..", "_.."},
		"a wrong check digit":     {"_..", ".", "_.", "_."},
		"another wrong one":       {".", ".", "_.", "_."},
		"a head that there isn't": {"..", ".", ".", "_...."},
	} {
		t.Run(name, func(t *testing.T) {
			var period []blink.Interval
			for i, g := range groups {
				if i > 0 {
					period = append(period, blink.Interval{Duration: 4 * unit})
				}
				for j, m := range g {
					if j > 0 {
						period = append(period, blink.Interval{Duration: unit})
					}
					period = append(period, blink.Interval{Lit: true,
						Duration: map[rune]time.Duration{'.': unit, '_': 3 * unit}[m]})
				}
			}
			period = append(period, blink.Interval{Duration: 12 * unit})
			seen := []blink.Interval{{Duration: unit}}
			for range 4 {
				seen = append(seen, period...)
			}
			result := r.Read(seen)
			assert.True(t, result.Doubtful(), "%v", result.Best())
			if result.Best().Signal.State.ShowsFrame() {
				assert.NotEmpty(t, result.NotAFrame)
			}
			pieces, _ := r.ReadPieces(t.Context(), []Piece{{Intervals: seen}}, nil)
			assert.True(t, pieces.Doubtful())
		})
	}
}

// Keys that a terminal hands over in one go are nanoseconds apart: they mean nothing, and
// are told as nothing, not as no number.
func TestTapsThatArriveTogether(t *testing.T) {
	r := NewTimedReader(blink.Tally, AssumedDurations, nil)
	for _, apart := range []time.Duration{1, 700, 20 * time.Microsecond} {
		for _, taps := range []int{2, 5, 11} {
			light := []blink.Interval{{Duration: time.Millisecond}}
			for i := range taps {
				light = append(light, blink.Interval{Lit: i%2 == 0, Duration: apart * time.Duration(1+i%3)})
			}
			light[taps].Duration = time.Second
			for _, result := range []TimedResult{r.ReadTapped(light), r.Read(light)} {
				assert.False(t, math.IsNaN(result.Best().Probability), "%d taps, %v apart", taps, apart)
				assert.False(t, math.IsNaN(result.Stranger) || math.IsNaN(result.Fit), "%d taps, %v apart", taps, apart)
			}
		}
	}
}

// A camera goes from one lamp to another, with a unit of its own: what the first one showed for
// longer, or more clearly, is not told of the second with certainty.
func TestAnotherLampAtTheEnd(t *testing.T) {
	random := rand.New(rand.NewPCG(46, 1))
	wrong, right := 0, 0
	states := []blink.State{blink.Manual, blink.Thermal, blink.Seeking, blink.Holding, blink.Fault}
	for range 60 {
		a, b := blink.Signal{State: states[random.IntN(len(states))]},
			blink.Signal{State: states[random.IntN(len(states))]}
		if a == b {
			continue
		}
		o := observation{random: random, jitter: 0.02}
		seen := append(o.see(a, 200*time.Millisecond, 15), o.see(b, 300*time.Millisecond, 22)...)
		result, err := timedReader().ReadPieces(t.Context(), []Piece{{Intervals: joined(seen)}}, nil)
		require.NoError(t, err)
		switch {
		case result.Doubtful():
		case result.Best().Signal == b:
			right++
		default:
			t.Logf("%v then %v read as %v: %v", a.State, b.State, result.Best(), joined(seen))
			wrong++
		}
	}
	t.Logf("right %d, surely wrong %d", right, wrong)
	assert.LessOrEqual(t, wrong, 1)
	assert.Greater(t, right, 15)
}
