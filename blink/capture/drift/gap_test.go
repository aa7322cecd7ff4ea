package drift_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink/capture/drift"
)

// Pieces that are too short to find a lamp in, the first one without any change: what is
// known of ambient light goes on across the gaps, so every piece is found, split where samples
// are missing, and lit and dark where the lamp is. The light is invented: 3 s lit and 3 s
// dark, with a cloud.
func TestWhatIsKnownGoesAcrossGaps(t *testing.T) {
	random := rand.New(rand.NewPCG(15, 15))
	lit := func(at float64) bool { return math.Mod(at, 6) < 3 }
	missing := [][2]float64{{1, 2}, {4, 5}, {7, 8}, {10, 11}, {13, 14}, {16, 17}, {19, 20}, {22, 23}}
	s := &drift.Splitter{}
	for at := 0.0; at < 25; at += 1.0 / 60 {
		gone := false
		for _, m := range missing {
			gone = gone || at > m[0] && at < m[1]
		}
		if gone {
			continue
		}
		bright := 0.3*math.Sin(2*math.Pi*at/20) + 0.05*random.NormFloat64()
		if lit(at) {
			bright++
		}
		s.Add(at, bright)
	}
	pieces := s.Finish()
	require.Len(t, pieces, len(missing)+1)
	for i, p := range pieces {
		at := p.From.Seconds()
		if i > 0 {
			assert.InDelta(t, missing[i-1][1], at, 0.05)
		}
		for _, iv := range p.Intervals {
			middle := at + iv.Duration.Seconds()/2
			assert.Equal(t, lit(middle), iv.Lit, "at %.2f s", middle)
			at += iv.Duration.Seconds()
		}
		if i < len(missing) {
			assert.InDelta(t, missing[i][0], at, 0.05)
		}
	}
	assert.False(t, s.Unsteady())
}
