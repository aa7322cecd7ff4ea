package capture

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Single samples far off both neighbors are left out; marks, noise, edges and slow samples are
// not. The trace is invented: marks of 100 ms, the shortest there are, at 30 samples a second.
func TestGlitchesAreLeftOut(t *testing.T) {
	for _, c := range []struct {
		name       string
		step       float64
		noise      float64
		glitches   int
		wantPassed bool // the glitches, too
	}{
		{"without noise", 1.0 / 30, 0, 20, false},
		{"with noise", 1.0 / 30, 3, 20, false},
		{"fast", 1.0 / 120, 3, 20, false},
		{"slow: a single sample may be a mark", 1.0 / 12, 3, 20, true},
	} {
		random := rand.New(rand.NewPCG(49, 1))
		var passed []arrived
		g := &glitches{emit: func(seconds, bright float64) { passed = append(passed, arrived{seconds, bright}) }}
		const samples = 2000
		extreme := 0
		for k := range samples {
			at := float64(k) * c.step
			bright := 50.0
			if int(at/0.1)%2 == 1 {
				bright = 150
			}
			bright += c.noise * random.NormFloat64()
			if k > 200 && k%(1800/c.glitches) == 0 {
				bright = 900
				extreme++
			}
			g.add(at, bright)
		}
		g.finish()
		left := 0
		for _, s := range passed {
			if s.bright > 800 {
				left++
			}
		}
		if c.wantPassed {
			assert.Len(t, passed, samples, c.name)
			continue
		}
		assert.Zero(t, left, c.name)
		assert.InDelta(t, samples-extreme, len(passed), 2, "%s: nothing else is left out", c.name)
	}
}
