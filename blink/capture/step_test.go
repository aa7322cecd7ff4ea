package capture_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink/capture"
)

// Light that steps, once or twice, is no lamp that is always lit or dark; a lamp that something
// covers, or that the sun outshines, is not off and not stuck. All of it is invented.
func TestLightThatSteps(t *testing.T) {
	for _, c := range []struct {
		name   string
		lamp   bool
		covers bool // the lamp's own light is not seen after the first step
		step   func(random *rand.Rand) float64
	}{
		{"no lamp", false, false, func(random *rand.Rand) float64 { return 1 + 4*random.Float64() }},
		{"a lamp, and a step of ambient light", true, false,
			func(random *rand.Rand) float64 { return 1 + 5*random.Float64() }},
		{"a lamp that is covered", true, true, func(random *rand.Rand) float64 { return -0.8 - 2*random.Float64() }},
		{"a lamp that the sun outshines", true, true, func(random *rand.Rand) float64 { return 2 + 4*random.Float64() }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			row := ""
			for i := range 8 * *cases {
				random := rand.New(rand.NewPCG(57, uint64(i)))
				signal, unit := anySignal(random), time.Duration(160+random.IntN(100))*time.Millisecond
				seconds := 3 * 46 * unit.Seconds()
				lamp := lampLight(random, signal, unit, 0.02, seconds)
				at, step, noise := seconds*(0.3+0.4*random.Float64()), c.step(random), 0.1+0.25*random.Float64()
				var b strings.Builder
				b.WriteString("seconds,brightness\n")
				for k := range int(seconds * 60) {
					now := float64(k) / 60
					bright := noise * random.NormFloat64()
					if c.lamp && !(c.covers && now > at) {
						bright += lamp(now)
					}
					if now > at {
						bright += step
					}
					fmt.Fprintf(&b, "%.4f,%.5g\n", now, bright)
				}
				trace, err := capture.ReadTrace(strings.NewReader(b.String()))
				require.NoError(t, err)
				result, unsteady, err := trace.Read(t.Context(), reader(), nil)
				require.NoError(t, err)
				switch {
				case trace.Unchanging || unsteady || result.Doubtful():
					row += "d"
				case c.lamp && result.Best().Signal == signal:
					row += "R"
				default:
					row += "W"
					t.Logf("%d: %v with a step of %.1f after %.0f s, noise %.2f, read as %v", i, signal, step, at, noise,
						result.Best())
				}
			}
			t.Logf("%s: %s", c.name, row)
			assert.NotContains(t, row, "W")
		})
	}
}
