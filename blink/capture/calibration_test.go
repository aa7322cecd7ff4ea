package capture_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
)

// A light is how bright the scene is at a time, in seconds; instants are when samples
// are taken. All of it is invented, and it knows nothing of how traces are read.
type light func(seconds float64) float64

// sample is a sample as it was taken.
type sample struct{ seconds, bright float64 }

// inBatches gives samples the times at which the batches they came in arrived.
func inBatches(all []sample, random *rand.Rand) []sample {
	for i := 0; i < len(all); {
		n := min(3+random.IntN(6), len(all)-i)
		arrived := all[i+n-1].seconds
		for k := range n {
			all[i+k].seconds = arrived + float64(k)*0.0005
		}
		i += n
	}
	return all
}

// lampLight is 1 where the lamp is lit and 0 where it is dark, beginning anywhere in the
// signal's period; each stretch sent differs from the code's by jitter, a relative
// deviation.
func lampLight(random *rand.Rand, signal blink.Signal, unit time.Duration, jitter, seconds float64) light {
	intervals, period, err := blink.Tally.Signal(signal, unit)
	if err != nil {
		panic(err)
	}
	var edges []float64 // lit from edges[0] to edges[1], and so on
	for at, i := -random.Float64()*period.Seconds(), 0; at < seconds; i++ {
		iv := intervals[i%len(intervals)]
		next := at + iv.Duration.Seconds()*math.Exp(jitter*random.NormFloat64())
		if iv.Lit {
			edges = append(edges, at, next)
		}
		at = next
	}
	return func(seconds float64) float64 {
		i, met := slices.BinarySearch(edges, seconds)
		if met {
			i++
		}
		return float64(i % 2)
	}
}

// telegraph is 1 and 0 for random lengths around mean seconds, with soft edges: the
// shadow of a leaf.
func telegraph(random *rand.Rand, mean, soft, seconds float64) light {
	var edges []float64
	for at := -mean * random.Float64(); at < seconds+mean; at += mean * random.ExpFloat64() {
		edges = append(edges, at)
	}
	return func(at float64) float64 {
		i, _ := slices.BinarySearch(edges, at)
		now, before := float64(i%2), float64((i+1)%2)
		since := at - edges[max(i-1, 0)]
		return now + (before-now)*math.Exp(-max(since, 0)/soft)
	}
}

// evenly takes samples at a rate, each the mean of the light while the sensor looks,
// which is the share open of a step; and adds noise.
func evenly(random *rand.Rand, l light, rate, open, noise, seconds float64) []sample {
	var all []sample
	for n := range int(seconds * rate) {
		at := float64(n) / rate
		sum, looks := 0.0, 1+int(open*20)
		for k := range looks {
			sum += l(at - open/rate*float64(k)/float64(looks))
		}
		all = append(all, sample{at, sum/float64(looks) + noise*random.NormFloat64()})
	}
	return all
}

// outdoors is one class of recordings: how the lamp's light, from 0 to 1, becomes
// samples.
type outdoors struct {
	name   string
	right  float64 // least share of sure and right answers; few recordings are held to it
	record func(random *rand.Rand, lamp light, seconds float64) []sample
}

func ambient(amplitude, period, noise float64) func(*rand.Rand, light, float64) []sample {
	return func(random *rand.Rand, lamp light, seconds float64) []sample {
		phase := 7 * random.Float64()
		return evenly(random, func(at float64) float64 {
			return lamp(at) + amplitude*math.Sin(2*math.Pi*at/period+phase)
		}, 60, 0.5, noise, seconds)
	}
}

// classes are the recordings over which probabilities are held to be true.
var classes = []outdoors{
	{"tame, 20 dB", 0.95, ambient(0, 1, 0.1)},
	{"tame, 10 dB", 0.9, ambient(0, 1, 0.32)},
	{"tame, 6 dB", 0.9, ambient(0, 1, 0.5)},
	{"ambient 0.3 swings, 7 s", 0.9, ambient(0.3, 7, 0.1)},
	{"ambient 1 swing, 3 s", 0.8, ambient(1, 3, 0.1)},
	{"ambient 3 swings, 7 s", 0.7, ambient(3, 7, 0.1)},
	{"10 dB, ambient 1 swing, 7 s", 0.7, ambient(1, 7, 0.32)},
	{"in batches", 0.9, func(random *rand.Rand, lamp light, seconds float64) []sample {
		return inBatches(evenly(random, lamp, 30+20*random.Float64(), 0.5, 0.08, seconds), random)
	}},
	{"written on change", 0.9, func(random *rand.Rand, lamp light, seconds float64) []sample {
		var kept []sample
		for _, s := range evenly(random, lamp, 50, 0.5, 0.06, seconds) {
			s.bright = math.Round(s.bright*8) / 8
			if len(kept) == 0 || kept[len(kept)-1].bright != s.bright {
				kept = append(kept, s)
			}
		}
		return kept
	}},
	{"out of order by ms", 0.9, func(random *rand.Rand, lamp light, seconds float64) []sample {
		all := evenly(random, lamp, 60, 0.5, 0.1, seconds)
		for range len(all) / 40 {
			i := random.IntN(len(all) - 1)
			all[i], all[i+1] = all[i+1], all[i]
		}
		return all
	}},
	{"leaves' shadow added", 0.8, func(random *rand.Rand, lamp light, seconds float64) []sample {
		leaf, strength := telegraph(random, 0.4+1.5*random.Float64(), 0.05+0.1*random.Float64(), seconds),
			0.2+0.5*random.Float64()
		return evenly(random, func(at float64) float64 { return lamp(at) + strength*leaf(at) }, 60, 0.5, 0.08, seconds)
	}},
	{"leaves' shadow on the lamp", 0.3, func(random *rand.Rand, lamp light, seconds float64) []sample {
		leaf, strength := telegraph(random, 0.4+1.5*random.Float64(), 0.05+0.1*random.Float64(), seconds),
			0.2+0.5*random.Float64()
		return evenly(random, func(at float64) float64 { return (lamp(at) + 0.8) * (1 - strength*leaf(at)) }, 60, 0.5,
			0.05, seconds)
	}},
	{"weak and modulated", 0.7, func(random *rand.Rand, lamp light, seconds float64) []sample {
		hz, depth := 90+40*random.Float64(), 0.3+0.7*random.Float64()
		return evenly(random, func(at float64) float64 {
			return lamp(at) * (1 - depth*0.5*(1+math.Sin(2*math.Pi*hz*at)))
		}, 60, 0.2, 0.2, seconds)
	}},
	{"saturated", 0.3, func(random *rand.Rand, lamp light, seconds float64) []sample {
		all := evenly(random, lamp, 60, 0.5, 0.15, seconds)
		var sorted []float64
		for _, s := range all {
			sorted = append(sorted, s.bright)
		}
		slices.Sort(sorted)
		full := sorted[int((0.35+0.45*random.Float64())*float64(len(sorted)-1))]
		for i := range all {
			all[i].bright = min(all[i].bright, full)
		}
		return all
	}},
	{"stretches missing", 0.6, func(random *rand.Rand, lamp light, seconds float64) []sample {
		all := evenly(random, lamp, 60, 0.5, 0.1, seconds)
		for range 2 + random.IntN(4) {
			from, long := seconds*random.Float64(), 0.4+3.6*random.Float64()
			all = slices.DeleteFunc(all, func(s sample) bool { return s.seconds > from && s.seconds < from+long })
		}
		return all
	}},
	{"two lamps mixed", 0.2, func(random *rand.Rand, lamp light, seconds float64) []sample {
		other := lampLight(random, anySignal(random), time.Duration(180+random.IntN(60))*time.Millisecond,
			0.02, seconds)
		share := 0.2 + 0.4*random.Float64()
		return evenly(random, func(at float64) float64 { return lamp(at) + share*other(at) }, 60, 0.5, 0.06, seconds)
	}},
	{"exposure follows the light", 0.8, func(random *rand.Rand, lamp light, seconds float64) []sample {
		all := evenly(random, func(at float64) float64 { return lamp(at) + 0.6 }, 30, 0.7, 0.04, seconds)
		mean, follow := all[0].bright, 0.5+2*random.Float64() // seconds
		for i := range all {
			bright := all[i].bright
			mean += (bright - mean) / (30 * follow)
			all[i].bright = bright / max(mean, 0.1)
		}
		return all
	}},
	{"high-pass", 0.9, func(random *rand.Rand, lamp light, seconds float64) []sample {
		all := evenly(random, lamp, 60, 0.5, 0.06, seconds)
		slow, tau := all[0].bright, 1.5+6*random.Float64()
		for i := range all {
			bright := all[i].bright
			slow += (bright - slow) / (60 * tau)
			all[i].bright = bright - slow
		}
		return all
	}},
	{"12 pictures a second", 0.9, func(random *rand.Rand, lamp light, seconds float64) []sample {
		return evenly(random, lamp, 12, 0.5, 0.08, seconds)
	}},
	{"8 pictures a second", 0.7, func(random *rand.Rand, lamp light, seconds float64) []sample {
		return evenly(random, lamp, 8, 0.9, 0.05, seconds)
	}},
	{"lights on 60 Hz mains", 0.7, func(random *rand.Rand, lamp light, seconds float64) []sample {
		hz := 119.5 + random.Float64()
		return evenly(random, func(at float64) float64 { return lamp(at) + 0.3*math.Sin(2*math.Pi*hz*at) }, 60, 0.3,
			0.06, seconds)
	}},
	{"no lamp, leaves only", 0, func(random *rand.Rand, _ light, seconds float64) []sample {
		return evenly(random, telegraph(random, 0.3+1.5*random.Float64(), 0.02+0.05*random.Float64(), seconds), 60,
			0.5, 0.05, seconds)
	}},
	{"no lamp, a turn signal", 0, func(random *rand.Rand, _ light, seconds float64) []sample {
		period, share := 0.55+0.5*random.Float64(), 0.35+0.3*random.Float64()
		return evenly(random, func(at float64) float64 {
			if math.Mod(at, period) < share*period {
				return 1
			}
			return 0
		}, 60, 0.5, 0.05, seconds)
	}},
}

var recordings = flag.Int("recordings", 5, "recordings of each class of light outdoors")

// told is one answer: the probability it was told with, and whether it was right.
type told struct {
	class       int
	seed        uint64
	probability float64 // 0 if the trace was told to be unsteady or unchanging
	sure, right bool
	sent, read  string
}

// A probability of 0.99 means that 99 of 100 are right: over recordings of light as it is
// outdoors, answers are gathered by the probability told with them, and counted. The
// recordings are invented, see [classes]; three frames each, of any signal.
func TestProbabilitiesAreTrue(t *testing.T) {
	var lock sync.Mutex
	var all []told
	t.Run("classes", func(t *testing.T) {
		for class, c := range classes {
			t.Run(c.name, func(t *testing.T) {
				t.Parallel()
				right := 0
				for seed := range uint64(*recordings) {
					random := rand.New(rand.NewPCG(0xca11b, uint64(class)<<32|seed))
					sent, unit := anySignal(random), time.Duration(180+random.IntN(60))*time.Millisecond
					seconds := 3 * 46 * unit.Seconds()
					noLamp := strings.HasPrefix(c.name, "no lamp")
					var b strings.Builder
					b.WriteString("seconds,brightness\n")
					for _, s := range c.record(random, lampLight(random, sent, unit, 0.02, seconds), seconds) {
						fmt.Fprintf(&b, "%.5f,%.5g\n", s.seconds, s.bright)
					}
					trace, err := capture.ReadTrace(strings.NewReader(b.String()))
					require.NoError(t, err)
					result, unsteady, err := trace.Read(t.Context(), reader(), nil)
					require.NoError(t, err)
					a := told{class: class, seed: seed, sent: fmt.Sprint(sent)}
					if !trace.Unchanging && !unsteady && len(result.Candidates) > 0 {
						best := result.Best()
						a.probability, a.sure, a.right, a.read = best.Probability, !result.Doubtful(), !noLamp &&
							best.Signal == sent, fmt.Sprint(best.Signal)
					}
					if a.sure && a.right {
						right++
					}
					if a.sure && !a.right {
						t.Logf("%s: sure and wrong, seed %d: %s read as %s, told %.5f", c.name, seed, a.sent, a.read,
							a.probability)
					}
					lock.Lock()
					all = append(all, a)
					lock.Unlock()
				}
				t.Logf("%s: sure and right: %d of %d", c.name, right, *recordings)
				assert.GreaterOrEqual(t, float64(right), c.right*float64(*recordings))
			})
		}
	})
	bounds := []float64{0, 0.5, 0.8, 0.9, 0.95, 0.99, 0.999, 1.01}
	table := "told            answers  right\n"
	for i, from := range bounds[:len(bounds)-1] {
		n, right, sum := 0, 0, 0.0
		for _, a := range all {
			if a.probability > 0 && a.probability >= from && a.probability < bounds[i+1] {
				n++
				sum += a.probability
				if a.right {
					right++
				}
			}
		}
		if n == 0 {
			continue
		}
		table += fmt.Sprintf("%.3f to %.3f  %6d  %5.1f %%\n", from, min(bounds[i+1], 1), n,
			100*float64(right)/float64(n))
		if from >= 0.9 {
			// Wrong ones must not be more than chance allows: as many as were told, and three
			// deviations.
			wrong, expected := float64(n-right), float64(n)-sum
			assert.LessOrEqual(t, wrong, expected+3*math.Sqrt(expected+1), "told %.3f to %.3f", from, bounds[i+1])
		}
	}
	t.Log("\n" + table)
}
