package drift

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Soft evidence is worth as much as theory allows. If two levels that differ by a, in
// noise of deviation s, are decided from n samples by a matched filter, the probability
// of error is Q(sqrt(n) a / 2s) (Proakis, Digital Communications, binary signaling in
// white noise; the formula from memory). A long and a short mark at a known time differ
// in two units of light: the evidence of the samples must distinguish them equally
// well, to within 1 dB.
func TestMarkErrorRateAgainstTheory(t *testing.T) {
	const (
		rate  = 30 // samples a second
		n     = rate * 2 * 200 / 1000
		marks = 60_000
	)
	q := func(x float64) float64 { return math.Erfc(x/math.Sqrt2) / 2 }
	random := rand.New(rand.NewPCG(14, 14))
	for _, dB := range []float64{-8, -6, -4, -2, 0} {
		swing := math.Pow(10, dB/20) // relative to a deviation of 1
		wrong := 0
		for i := range marks {
			long := i%2 == 0
			lit, dark := survivor{lit: true, level: 3, swing: swing},
				survivor{level: 3, swing: swing} // the state is given
			for range n {
				bright := 3 + random.NormFloat64()
				if long {
					bright += swing
				}
				lit.take(sample{bright: bright, n: 1}, 1)
				dark.take(sample{bright: bright, n: 1}, 1)
			}
			if long != (lit.score > dark.score) {
				wrong++
			}
		}
		got := float64(wrong) / marks
		theory := func(dB float64) float64 { return q(math.Sqrt(n) * math.Pow(10, dB/20) / 2) }
		t.Logf("%3.0f dB a sample: %.4f mistaken, in theory %.4f", dB, got, theory(dB))
		assert.Less(t, got, theory(dB-1), "%g dB: more than 1 dB worse than theory", dB)
		assert.Greater(t, got, theory(dB+1), "%g dB: better than can be", dB)
	}
}

// What a model of ambient light is worth: how much more likely, in natural logarithm, the
// true light is than the same without one of its short marks. Ambient light swings by three
// times the lamp's swing every three seconds, at 10 dB and 60 samples a second. If ambient
// light is known that is half the energy of the mark over the noise's variance, by the
// Neyman-Pearson lemma for a known signal in white noise (any textbook of detection, such as
// Kay, Fundamentals of Statistical Signal Processing, volume 2; from memory).
func TestWorthOfAModel(t *testing.T) {
	const (
		rate    = 60
		unit    = 0.2
		period  = 3.0
		swings  = 3.0
		traces  = 200
		noise2  = 0.1
		shorted = 4.0 // when the mark begins that one of the two does not have
	)
	lit := func(at float64, without bool) bool {
		if at >= shorted && at < shorted+unit {
			return !without
		}
		return math.Mod(at, 8*unit) < 3*unit && (at < shorted-unit || at > shorted+2*unit)
	}
	worth := func(m motion, ambient float64) float64 {
		random := rand.New(rand.NewPCG(3, 3))
		total := 0.0
		for range traces {
			phase := 7 * random.Float64()
			with, without := survivor{swing: 1, ll: 10, ss: 40, cc: 200}, survivor{swing: 1, ll: 10, ss: 40, cc: 200}
			for k := range 9 * rate {
				at := (float64(k) + 0.5) / rate
				bright := ambient*math.Sin(2*math.Pi*at/period+phase) + math.Sqrt(noise2)*random.NormFloat64()
				if lit(at, false) {
					bright++
				}
				with.lit, without.lit = lit(at, false), lit(at, true)
				with.predict(m.over(1.0/rate), 0)
				without.predict(m.over(1.0/rate), 0)
				with.take(sample{seconds: at, bright: bright, n: 1}, noise2)
				without.take(sample{seconds: at, bright: bright, n: 1}, noise2)
			}
			total += with.score - without.score
		}
		return total / traces
	}
	slope := worth(motion{wild: 30}, swings)
	curve := worth(motion{bend: 100}, swings)
	cycle := worth(motion{bend: 0.001, turn: 2 * math.Pi / period}, swings)
	still := worth(motion{wild: 1e-9}, 0)
	t.Logf("slope %.1f, curvature %.1f, period %.1f, still %.1f", slope, curve, cycle, still)
	known := unit * rate / noise2 / 2
	assert.InDelta(t, known, still, 0.15*known) // level and slope are estimated; a sample far off counts less
	assert.Greater(t, curve, 1.5*slope)
	assert.Greater(t, cycle, 1.2*curve)
	assert.Greater(t, cycle, 0.9*still)
}
