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
