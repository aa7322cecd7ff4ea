package capture_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink/capture"
)

// How many recordings with ambient light that wanders by a sine are read right. None
// may be silently wrong. The recordings are invented, three frames each at 60 samples a
// second. 'tallywink help limits' shows the table; -cases makes more of each. Without ambient
// light the same recordings show what its motion costs.
func TestAmbientLight(t *testing.T) {
	least := map[float64]float64{20: 0.95, 10: 0.95, 6: 0.85} // of what must be right, by dB
	for _, dB := range []float64{20, 10, 6} {
		for _, amplitude := range []float64{0, 0.3, 1, 3} {
			for _, period := range []float64{30, 7, 3} {
				if amplitude == 0 && period != 30 {
					continue // no light has no period
				}
				t.Run(fmt.Sprintf("%.0f dB, %g swings, %.0f s", dB, amplitude, period), func(t *testing.T) {
					t.Parallel()
					right, n := 0, 10**cases
					for i := range n {
						random := rand.New(rand.NewPCG(uint64(1000*dB+100*amplitude+period), uint64(i)))
						s := scene{rate: 60, lit: math.Pow(10, dB/20), noise: 1, jitter: 0.02, wander: amplitude,
							wanderSeconds: period * (0.9 + 0.2*random.Float64()), wanderPhase: 7 * random.Float64()}
						s.signal, s.unit = anySignal(random), time.Duration(180+random.IntN(60))*time.Millisecond
						s.seconds = 3 * 46 * s.unit.Seconds()
						trace, err := capture.ReadTrace(strings.NewReader(s.write(random)))
						require.NoError(t, err)
						sure, _ := weighed(t, trace, s.signal)
						right += sure
					}
					t.Logf("%.0f dB, %g swings, %.0f s: right %d of %d", dB, amplitude, period, right, n)
					assert.GreaterOrEqual(t, float64(right), least[dB]*float64(n))
				})
			}
		}
	}
}

// ambientShapes are ways in which ambient light moves other than by a sine, in swings of the
// lamp. They are invented, and the reader's model has none of them.
var ambientShapes = []struct {
	name  string
	least float64 // share that must be right at 10 dB
	light func(random *rand.Rand) light
}{
	{"two waves at once", 0.9, func(random *rand.Rand) light {
		a, b := 7*random.Float64(), 7*random.Float64()
		return func(t float64) float64 { return math.Sin(2*math.Pi*t/7+a) + math.Sin(2*math.Pi*t/3.1+b) }
	}},
	{"to and fro in straight lines", 0.9, func(random *rand.Rand) light {
		begun := random.Float64()
		return func(t float64) float64 {
			_, part := math.Modf(t/5 + begun)
			return 6 * math.Abs(part-0.5)
		}
	}},
	{"clouds with sharp edges", 0.9, func(random *rand.Rand) light {
		var edges []float64
		for at := 0.0; at < 60; at += 3 + 10*random.Float64() {
			edges = append(edges, at)
		}
		return func(t float64) float64 {
			sum, side := 0.0, 5.0
			for _, at := range edges {
				sum += side / (1 + math.Exp(-(t-at)/0.5))
				side = -side
			}
			return sum
		}
	}},
	{"a wave that changes its height and its period", 0.9, func(random *rand.Rand) light {
		begun := 7 * random.Float64()
		return func(t float64) float64 {
			return (1.5 + math.Sin(t/5)) * math.Sin(2*math.Pi*t/3+1.5*math.Sin(t/4+begun))
		}
	}},
	{"a branch that gusts set swinging", 0.8, func(random *rand.Rand) light {
		var gusts []float64
		for at := 2.0; at < 60; at += 6 + 6*random.Float64() {
			gusts = append(gusts, at)
		}
		return func(t float64) float64 {
			sum := 0.0
			for _, at := range gusts {
				if t > at {
					sum += 2 * math.Exp(-(t-at)/3) * math.Sin(2*math.Pi*(t-at)/2.2)
				}
			}
			return sum
		}
	}},
	{"a random walk of curvature", 0, func(random *rand.Rand) light {
		const rate = 60
		var level, slope, curve float64
		var levels [90 * rate]float64
		for i := range levels {
			curve += random.NormFloat64()*0.04 - curve/30
			slope += (80*curve - 6*slope) / rate
			level += (slope - 0.3*level) / rate
			levels[i] = level
		}
		return func(t float64) float64 { return levels[min(max(int(t*rate), 0), len(levels)-1)] }
	}},
}

// Ambient light of other shapes than the model's: at 20 and 10 dB most recordings are read,
// at 6 dB some, and none is silently wrong.
func TestOtherAmbientLight(t *testing.T) {
	for _, shape := range ambientShapes {
		for _, dB := range []float64{20, 10, 6} {
			t.Run(fmt.Sprintf("%s, %.0f dB", shape.name, dB), func(t *testing.T) {
				t.Parallel()
				right, n := 0, 5**cases
				for i := range n {
					random := rand.New(rand.NewPCG(77, uint64(i)))
					ambient := shape.light(random)
					signal, unit := anySignal(random), time.Duration(160+random.IntN(100))*time.Millisecond
					seconds := 3 * 46 * unit.Seconds()
					lamp := lampLight(random, signal, unit, 0.02, seconds)
					swing := math.Pow(10, dB/20)
					var b strings.Builder
					b.WriteString("seconds,brightness\n")
					for k := range int(seconds * 60) {
						at := float64(k) / 60
						fmt.Fprintf(&b, "%.4f,%.5g\n", at, swing*(lamp(at)+ambient(at))+random.NormFloat64())
					}
					trace, err := capture.ReadTrace(strings.NewReader(b.String()))
					require.NoError(t, err)
					sure, _ := weighed(t, trace, signal)
					right += sure
				}
				t.Logf("%s, %.0f dB: right %d of %d", shape.name, dB, right, n)
				need := map[float64]float64{20: max(shape.least, 0.8), 10: shape.least, 6: 0}[dB]
				assert.GreaterOrEqual(t, float64(right), need*float64(n))
			})
		}
	}
}
