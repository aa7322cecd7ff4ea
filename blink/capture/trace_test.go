package capture_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// scene is how a lamp is recorded. It shares nothing with the reader except the code.
// All of it is invented, and none of it is made to suit the reader.
type scene struct {
	signal  blink.Signal
	unit    time.Duration
	seconds float64 // of recording
	before  float64 // seconds for which the lamp is lit before it begins
	rate    float64 // samples a second
	jitter  float64 // relative deviation of each length sent
	dark    float64 // brightness of the dark lamp
	lit     float64 // and of the lit one
	noise   float64 // deviation of each sample
	drift   float64 // share of the lamp's swing by which ambient light drifts
	// How far ambient light wanders by a sine, in swings, how long a sine takes, in
	// seconds, and where it begins.
	wander, wanderSeconds, wanderPhase float64
	flicker                            float64 // amplitude of the flicker of lights on AC power
	mainsHz                            float64
	clip                               float64 // brightness at which the sensor saturates; 0: none
	drop                               float64 // share of samples that are lost
	uneven                             float64 // share of a step by which times vary
}

// write records a scene as CSV, beginning anywhere in the signal's period.
func (s scene) write(random *rand.Rand) string {
	intervals, period, err := blink.Tally.Signal(s.signal, s.unit)
	if err != nil {
		panic(err)
	}
	var b strings.Builder
	b.WriteString("seconds,brightness\n")
	i, left := 0, math.Inf(1)
	length := func() float64 {
		return intervals[i%len(intervals)].Duration.Seconds() * math.Exp(random.NormFloat64()*s.jitter)
	}
	if period > 0 {
		skip := random.Float64() * period.Seconds()
		for left = length(); skip >= left; left = length() {
			skip -= left
			i++
		}
		left -= skip
	}
	last := 0.0
	for n := range int(s.seconds * s.rate) {
		at := (float64(n) + s.uneven*(random.Float64()-0.5)) / s.rate
		for step := at - last; step >= left; left = length() {
			step -= left
			last += left
			i++
		}
		left -= at - last
		last = at
		if random.Float64() < s.drop {
			continue
		}
		bright := s.dark
		if at < s.before {
			bright = s.lit
		} else if intervals[i%len(intervals)].Lit {
			bright = s.lit
		}
		swing := s.lit - s.dark
		bright += s.drift*swing*math.Sin(2*math.Pi*at/40) + s.flicker*math.Sin(2*math.Pi*s.mainsHz*2*at) + s.noise*random.NormFloat64()
		if s.wander > 0 {
			bright += s.wander * swing * math.Sin(2*math.Pi*at/s.wanderSeconds+s.wanderPhase)
		}
		if s.clip > 0 {
			bright = min(bright, s.clip)
		}
		fmt.Fprintf(&b, "%.5f,%.5g\n", at, bright)
	}
	return b.String()
}

var reader = sync.OnceValue(func() *reading.TimedReader {
	return reading.NewTimedReader(blink.Tally, reading.AssumedDurations, nil)
})

func anySignal(random *rand.Rand) blink.Signal {
	states := []blink.State{blink.Locked, blink.Locked, blink.Locked, blink.Edge, blink.Manual, blink.Thermal,
		blink.Seeking, blink.Holding, blink.Fault}
	s := blink.Signal{State: states[random.IntN(len(states))]}
	if s.State.ShowsFrame() {
		s.Pilot = channelplan.Pilot{Channel: 1 + random.IntN(158), Kind: channelplan.PilotKinds()[random.IntN(3)]}
	}
	if s.State == blink.Edge {
		s.End = blink.EdgeEnd(1 + random.IntN(2))
	}
	return s
}

// weighed counts a trace as right if it is surely read as the signal that was sent, as
// wrong if surely as another, and as neither if it is doubtful. A wrong one fails the
// test.
func weighed(t *testing.T, trace *capture.Trace, sent blink.Signal) (right, wrong int) {
	t.Helper()
	result, unsteady, err := trace.Read(t.Context(), reader(), nil)
	require.NoError(t, err)
	switch {
	case trace.Unchanging || unsteady || result.Doubtful():
		return 0, 0
	case result.Best().Signal == sent:
		return 1, 0
	}
	assert.Failf(t, "silently wrong", "%v read as %v", sent, result.Best())
	return 0, 1
}

// Realistic recordings of lamps: every answer is right or doubtful, and never silently
// wrong. Lamps, seeds and rates belong to this test.
func TestTraces(t *testing.T) {
	for _, c := range []struct {
		name string
		scene
		n     int
		right float64 // least share of right ones
	}{
		{"clean", scene{rate: 120, lit: 1}, 30, 1},
		{"clean, at a camera's rate, in whole numbers", scene{rate: 30, dark: 40, lit: 180}, 30, 1},
		{"lit for twelve seconds before it begins", scene{rate: 60, lit: 10, noise: 0.4, before: 12}, 30, 0.95},
		{"20 dB of lamp over noise", scene{rate: 120, lit: 10, noise: 1, jitter: 0.03}, 20, 1},
		{"10 dB", scene{rate: 120, lit: math.Sqrt(10), noise: 1, jitter: 0.03}, 30, 1},
		{"6 dB and 8 % jitter", scene{rate: 120, lit: math.Pow(10, 0.3), noise: 1, jitter: 0.08}, 40, 0.95},
		{"ambient light that wanders as far as the lamp swings",
			scene{rate: 60, lit: 1, noise: 0.1, drift: 0.5}, 30, 0.9},
		{"light on 60 Hz mains", scene{rate: 240, lit: 1, noise: 0.1, flicker: 0.5, mainsHz: 60}, 20, 1},
		{"light on 50 Hz mains", scene{rate: 240, lit: 1, noise: 0.1, flicker: 0.5, mainsHz: 50}, 20, 1},
		{"the same, aliased to a slow beat", scene{rate: 30, lit: 1, noise: 0.05, flicker: 0.3, mainsHz: 50.3}, 20,
			0.9},
		{"a sensor that is full", scene{rate: 60, dark: 5, lit: 8, noise: 0.3, clip: 7.5}, 20, 1},
		{"a third of the samples lost, uneven steps",
			scene{rate: 60, lit: 1, noise: 0.1, drop: 0.3, uneven: 0.8}, 20, 1},
		{"12 pictures a second", scene{rate: 12, lit: 1, noise: 0.1}, 20, 0.95},
		{"brightness in tiny units", scene{rate: 60, dark: 1e-9, lit: 3e-9, noise: 2e-10}, 10, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			right, n := 0, c.n**cases
			for i := range n {
				random := rand.New(rand.NewPCG(1, uint64(i)))
				s := c.scene
				s.signal, s.unit = anySignal(random), time.Duration(160+random.IntN(200))*time.Millisecond
				s.seconds = 3 * 46 * s.unit.Seconds()
				trace, err := capture.ReadTrace(strings.NewReader(s.write(random)))
				require.NoError(t, err)
				r, _ := weighed(t, trace, s.signal)
				right += r
			}
			t.Logf("right %d of %d", right, n)
			// Among many, a few are doubtful even if none of a few was.
			least := c.right
			if *cases > 1 {
				least = min(least, 0.99)
			}
			assert.GreaterOrEqual(t, float64(right), least*float64(n), "right of %d: %d", n, right)
		})
	}
}

// Two recordings of one lamp with a long gap between them: two pieces, and their
// evidence adds up.
func TestGapsPartATrace(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	s := scene{signal: blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}},
		unit: 200 * time.Millisecond, seconds: 40, rate: 60, lit: 1, noise: 0.1}
	var kept strings.Builder
	for line := range strings.Lines(s.write(random)) {
		seconds, err := strconv.ParseFloat(strings.Split(line, ",")[0], 64)
		if err == nil && seconds > 14 && seconds < 25 {
			continue
		}
		kept.WriteString(line)
	}
	trace, err := capture.ReadTrace(strings.NewReader(kept.String()))
	require.NoError(t, err)
	require.Len(t, trace.Pieces, 2)
	assert.InDelta(t, 25, trace.Pieces[1].From.Seconds(), 0.1)
	assert.InDelta(t, 40, trace.Length.Seconds(), 0.1)
	result, _, err := trace.Read(t.Context(), reader(), nil)
	require.NoError(t, err)
	assert.Equal(t, s.signal, result.Best().Signal)
	assert.False(t, result.Doubtful())
}

// A lamp that blinked and then stays dark or lit for a long time, while ambient light
// drifts either way: it keeps the state it was last in.
func TestLongStillnessKeepsTheState(t *testing.T) {
	for _, final := range []bool{false, true} {
		for _, slope := range []float64{-0.004, 0, 0.004} {
			random := rand.New(rand.NewPCG(6, 6))
			var text strings.Builder
			text.WriteString("seconds,brightness\n")
			for n := range 30 * 900 {
				at := float64(n) / 30
				lit := at > 60 && final || at <= 60 && math.Mod(at, 3.2) < 1.6 // seeking, then still
				bright := slope*at + 0.05*random.NormFloat64()
				if lit {
					bright++
				}
				fmt.Fprintf(&text, "%.4f,%.4f\n", at, bright)
			}
			trace, err := capture.ReadTrace(strings.NewReader(text.String()))
			require.NoError(t, err)
			result, _, err := trace.Read(t.Context(), reader(), nil)
			require.NoError(t, err)
			want := map[bool]blink.State{false: blink.Dark, true: blink.Steady}[final]
			assert.Equal(t, want, result.Best().Signal.State, "slope %g", slope)
			assert.Equal(t, blink.Seeking, result.Sequence[0].Signal.State)
		}
	}
}

// A few samples a second are enough for a slow rhythm.
func TestSlowSamplesAreNoGaps(t *testing.T) {
	s := scene{signal: blink.Signal{State: blink.Seeking}, unit: 200 * time.Millisecond, seconds: 60, rate: 3, lit: 1}
	trace, err := capture.ReadTrace(strings.NewReader(s.write(rand.New(rand.NewPCG(1, 1)))))
	require.NoError(t, err)
	assert.False(t, trace.Unchanging)
	assert.Len(t, trace.Pieces, 1)
}

// A lamp that never changes is always lit or always dark; a trace does not show which.
func TestUnchangingTraces(t *testing.T) {
	for name, s := range map[string]scene{
		"noise alone":     {signal: blink.Signal{State: blink.Steady}, rate: 60, dark: 1, lit: 3, noise: 0.2},
		"no noise at all": {signal: blink.Signal{State: blink.Dark}, rate: 60, dark: 1, lit: 3},
		"ambient that sets": {signal: blink.Signal{State: blink.Dark}, rate: 60, dark: 1, lit: 3, noise: 0.05,
			drift: 0.3},
	} {
		t.Run(name, func(t *testing.T) {
			s.unit, s.seconds = 200*time.Millisecond, 15
			trace, err := capture.ReadTrace(strings.NewReader(s.write(rand.New(rand.NewPCG(1, 1)))))
			require.NoError(t, err)
			assert.True(t, trace.Unchanging)
			assert.Empty(t, trace.Pieces)
			assert.False(t, trace.Unsteady)
		})
	}
}

func TestTracesThatCannotBeRead(t *testing.T) {
	const head = "seconds,brightness\n"
	for _, c := range []struct{ name, text, says string }{
		{"nothing", "", "1:1: the file is empty; it needs a header line"},
		{"remarks only", "# none\n",
			"1:1: the trace has no header line; start the trace with a header line: seconds,brightness"},
		{"no header", "0,1\n0.1,2\n",
			"1:1: the trace needs a column named seconds and one named brightness; start the trace"},
		{"half a header", "seconds,light\n", "1:1: the trace needs a column named seconds and one named brightness"},
		{"a header alone", head, "1:1: the trace has fewer than two samples; record the lamp"},
		{"one sample", head + "0,1\n", "2:1: the trace has fewer than two samples"},
		{"text in a number", head + "0,1\n0.1,lit\n", `3:5: "lit" is not a number of brightness; write a plain number`},
		{"time running backwards", head + "0,1\n1,1\n0.5,1\n",
			"4:1: the time does not increase here; sort the samples"},
		{"time standing still", head + "0,1\n0,1\n", "the time does not increase: all samples have the same one"},
		{"not a number", head + "0,NaN\n", `2:3: "NaN" is not a number of brightness`},
		{"no end of it", head + "0,1e300\n", `2:3: "1e300" is not a number of brightness`},
		{"infinity", head + "Inf,1\n", `2:1: "Inf" is not a number of seconds`},
		{"a value missing", head + "0.5\n", "2:4: there is no value for brightness here"},
		{"an endless line", head + strings.Repeat("1", 100_000) + "\n", "2:1: the line is longer than 64 kB"},
		{"binary", "sec\x00onds", "1:1: the file is not text"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := capture.ReadTrace(strings.NewReader(c.text))
			var e *fault.Error
			require.ErrorAs(t, err, &e)
			assert.Contains(t, err.Error(), c.says)
			assert.NotEmpty(t, e.Hint)
		})
	}
	_, err := capture.ReadTrace(io.MultiReader(strings.NewReader(head+"0,1\n"), brokenReader{}))
	require.ErrorContains(t, err, "the card is out")
}

type brokenReader struct{}

func (brokenReader) Read([]byte) (int, error) { return 0, errors.New("the card is out") }

// Traces as instruments and spreadsheets write them.
func TestTracesAsTheyAreWritten(t *testing.T) {
	plain := []string{"seconds,brightness", "0,1", "0.5,2", "1,1.5"}
	for name, text := range map[string]string{
		"as specified":               strings.Join(plain, "\n") + "\n",
		"no end of the last line":    strings.Join(plain, "\n"),
		"CRLF and a mark":            "\ufeff" + strings.Join(plain, "\r\n") + "\r\n",
		"semicolons, decimal commas": "seconds;brightness\n0;1\n0,5;2\n1;1,5\n",
		"tabs and more columns":      "frame\tBrightness\tSeconds\n1\t1\t0\n2\t2\t0.5\n3\t1.5\t1\n",
		"remarks and empty lines":    "# phone on the rail\n\nseconds,brightness\n0,1\n# cloud\n0.5,2\n\n1,1.5\n",
		"quotes and blanks":          "\"seconds\", \"brightness\"\n 0 , \"1\"\n0.5,2\n1,1.5\n",
	} {
		t.Run(name, func(t *testing.T) {
			trace, err := capture.ReadTrace(strings.NewReader(text))
			require.NoError(t, err)
			assert.Equal(t, 3, trace.Samples)
			assert.Equal(t, time.Second, trace.Length)
		})
	}
}

// cases multiplies the roughly three hundred seeded cases of TestTraces: -cases 36
// makes ten thousand of them and takes a quarter of an hour.
var cases = flag.Int("cases", 1, "times as many seeded cases")

var update = flag.Bool("update", false, "write the sample recordings in testdata anew")

// samples are the recordings in testdata/traces: how each was made, from which seed,
// and what it shows. All are invented.
func samples() map[string]scene {
	locked := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	edge := blink.Signal{State: blink.Edge, End: blink.EndLow,
		Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}}
	cw := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 5, Kind: channelplan.CW}}
	return map[string]scene{
		"locked-116-digital": {signal: locked, unit: 200 * time.Millisecond, rate: 30, seconds: 24, dark: 20,
			lit: 80, noise: 6, jitter: 0.02},
		"holding": {signal: blink.Signal{State: blink.Holding}, unit: 200 * time.Millisecond,
			rate: 30, seconds: 15, dark: 20, lit: 80, noise: 6, jitter: 0.02},
		"edge-low-73-analog-10db": {signal: edge, unit: 180 * time.Millisecond, rate: 60, seconds: 33,
			lit: math.Sqrt(10), noise: 1, jitter: 0.05},
		"locked-5-cw-6db": {signal: cw, unit: 220 * time.Millisecond, rate: 120, seconds: 30,
			lit: math.Pow(10, 0.3), noise: 1, jitter: 0.08},
		"thermal-drift": {signal: blink.Signal{State: blink.Thermal}, unit: 200 * time.Millisecond,
			rate: 30, seconds: 40, dark: 50, lit: 90, noise: 3, drift: 0.4},
		"fault-dropped-samples": {signal: blink.Signal{State: blink.Fault}, unit: 250 * time.Millisecond,
			rate: 60, seconds: 30, dark: 10, lit: 60, noise: 4, drop: 0.35, uneven: 0.8},
		"seeking-mains-flicker": {signal: blink.Signal{State: blink.Seeking}, unit: 200 * time.Millisecond,
			rate: 240, seconds: 12, dark: 30, lit: 70, noise: 2, flicker: 18, mainsHz: 60},
		"manual-full-sensor": {signal: blink.Signal{State: blink.Manual}, unit: 200 * time.Millisecond,
			rate: 30, seconds: 20, dark: 150, lit: 300, noise: 8, clip: 255},
		"locked-116-digital-glimpse": {signal: locked, unit: 200 * time.Millisecond, rate: 30, seconds: 2, dark: 20,
			lit: 80, noise: 6},
	}
}

// The sample recordings in testdata are what the generator writes, and each reads as
// what it was made from. The glimpse is too short for that.
func TestSampleTraces(t *testing.T) {
	for name, s := range samples() {
		t.Run(name, func(t *testing.T) {
			text := s.write(rand.New(rand.NewPCG(4, 2)))
			path := filepath.Join("..", "..", "testdata", "traces", name+".csv")
			if *update {
				require.NoError(t, os.WriteFile(path, []byte(text), 0o644))
			}
			file, err := os.ReadFile(path)
			require.NoError(t, err)
			require.True(t, text == string(file), "%s is not what the generator writes", path)
			trace, err := capture.ReadTrace(bytes.NewReader(file))
			require.NoError(t, err)
			result, _, err := trace.Read(t.Context(), reader(), nil)
			require.NoError(t, err)
			if strings.HasSuffix(name, "glimpse") {
				assert.True(t, result.Doubtful())
				return
			}
			assert.Equal(t, s.signal, result.Best().Signal)
			assert.False(t, result.Doubtful() || trace.Unsteady, "%v", result.Best())
			if want := lightClass(s.signal.State); want != "" {
				assert.Equal(t, want, classOf(trace.Pieces[0].Intervals))
			}
		})
	}
}

// lightClass is the class of a rhythm in the vocabulary of lights at sea: IHO
// Dictionary S-32 and IHO chart symbols, section P. Frames have none.
func lightClass(s blink.State) string {
	return map[blink.State]string{
		blink.Manual: "occulting", blink.Thermal: "group occulting (2)", blink.Seeking: "isophase",
		blink.Holding: "group flashing (2)", blink.Fault: "group flashing (3)",
	}[s]
}

// classOf classifies a light by its recorded intervals alone, as these sources define
// it: occulting, the light is longer than the darkness; isophase, they are equal;
// flashing, the light is shorter. A group is what comes before the period repeats,
// which the longest stretch of the rarer kind ends.
func classOf(intervals []blink.Interval) string {
	inner := intervals[1 : len(intervals)-1] // the first and the last are cut
	longest := map[bool]time.Duration{}
	for _, iv := range inner {
		longest[iv.Lit] = max(longest[iv.Lit], iv.Duration)
	}
	// The stretch that ends a group is the long dark of flashes, or the long
	// light of eclipses.
	ends := longest[true] > longest[false]
	var ended []int
	for i, iv := range inner {
		if iv.Lit == ends && iv.Duration > longest[ends]*7/10 {
			ended = append(ended, i)
		}
	}
	sums := map[bool]time.Duration{}
	for _, iv := range inner[ended[0]+1 : ended[len(ended)-1]+1] { // whole periods
		sums[iv.Lit] += iv.Duration
	}
	ratio := float64(sums[true]) / float64(sums[false])
	group := (ended[len(ended)-1] - ended[0]) / 2 / (len(ended) - 1)
	name := "isophase"
	switch {
	case ratio > 1.25:
		name = "occulting"
	case ratio < 0.8:
		name = "flashing"
	}
	if group > 1 {
		return fmt.Sprintf("group %s (%d)", name, group)
	}
	return name
}

// BenchmarkTenHours reads ten hours at 120 samples a second and reports the memory in
// use at the end, next to that for a tenth of it.
func BenchmarkTenHours(b *testing.B) {
	for _, hours := range []float64{1, 10} {
		b.Run(fmt.Sprintf("%g-hours", hours), func(b *testing.B) {
			for b.Loop() {
				r := &lampReader{left: int(hours * 3600 * 120)}
				trace, err := capture.ReadTrace(r)
				if err != nil {
					b.Fatal(err)
				}
				var m runtime.MemStats
				runtime.GC()
				runtime.ReadMemStats(&m)
				b.ReportMetric(float64(m.HeapAlloc)/1e6, "MB")
				b.ReportMetric(float64(len(trace.Pieces[0].Intervals)), "intervals")
			}
		})
	}
}

// lampReader generates a blinking lamp's trace as it is read.
type lampReader struct {
	left, n int
	rest    []byte
}

func (r *lampReader) Read(p []byte) (int, error) {
	for len(r.rest) < len(p) && r.left > 0 {
		if r.n == 0 {
			r.rest = append(r.rest, "seconds,brightness\n"...)
		}
		lit := 0
		if r.n/192%2 == 0 { // isophase, with units of 200 ms
			lit = 1
		}
		r.rest = fmt.Appendf(r.rest, "%.4f,%d.%d\n", float64(r.n)/120, lit, r.n%7)
		r.n++
		r.left--
	}
	if len(r.rest) == 0 {
		return 0, io.EOF
	}
	n := copy(p, r.rest)
	r.rest = r.rest[:copy(r.rest, r.rest[n:])]
	return n, nil
}

func BenchmarkTrace(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 1))
	text := scene{signal: blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}},
		unit: 200 * time.Millisecond, seconds: 300, rate: 240, lit: 1, noise: 0.1, jitter: 0.02}.write(random)
	b.Run("trace", func(b *testing.B) {
		b.SetBytes(int64(len(text)))
		b.ReportAllocs()
		for b.Loop() {
			if _, err := capture.ReadTrace(strings.NewReader(text)); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("baseline-csv", func(b *testing.B) {
		b.SetBytes(int64(len(text)))
		b.ReportAllocs()
		for b.Loop() {
			r := csv.NewReader(strings.NewReader(text))
			r.ReuseRecord = true
			if _, err := r.Read(); err != nil {
				b.Fatal(err)
			}
			for {
				row, err := r.Read()
				if err == io.EOF {
					break
				}
				for _, v := range row {
					if _, err := strconv.ParseFloat(v, 64); err != nil {
						b.Fatal(err)
					}
				}
			}
		}
	})
}
