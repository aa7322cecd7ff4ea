package capture_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink/capture"
)

// Traces as phones write them: every answer is right or doubtful, and most are right.
// How samples are written belongs to this test; all of it is invented.
func TestTracesAsPhonesWriteThem(t *testing.T) {
	for _, c := range []struct {
		name  string
		right float64
		write func(all []sample, random *rand.Rand) []sample
	}{
		{"in batches with the time of arrival", 0.9, inBatches},
		{"only where the value changes", 0.9, func(all []sample, _ *rand.Rand) []sample {
			var kept []sample
			for _, s := range all {
				s.bright = math.Round(s.bright / 2)
				if len(kept) == 0 || kept[len(kept)-1].bright != s.bright {
					kept = append(kept, s)
				}
			}
			return kept
		}},
		{"a few samples out of order", 0.95, func(all []sample, random *rand.Rand) []sample {
			for range len(all) / 50 {
				i := random.IntN(len(all) - 1)
				all[i], all[i+1] = all[i+1], all[i]
			}
			return all
		}},
		{"all of it out of order by little", 0, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			right, n := 0, 20**cases
			for i := range n {
				random := rand.New(rand.NewPCG(31, uint64(i)))
				s := scene{rate: 40, dark: 20, lit: 60, noise: 3, jitter: 0.02}
				s.signal, s.unit = anySignal(random), time.Duration(180+random.IntN(60))*time.Millisecond
				s.seconds = 3 * 46 * s.unit.Seconds()
				var all []sample
				for line := range strings.Lines(s.write(random)) {
					var one sample
					if k, _ := fmt.Sscanf(line, "%f,%f", &one.seconds, &one.bright); k == 2 {
						all = append(all, one)
					}
				}
				if c.write == nil {
					for k := 0; k+1 < len(all); k += 2 {
						all[k], all[k+1] = all[k+1], all[k]
					}
				} else {
					all = c.write(slices.Clone(all), random)
				}
				var text strings.Builder
				text.WriteString("seconds,brightness\n")
				for _, one := range all {
					fmt.Fprintf(&text, "%.5f,%.4g\n", one.seconds, one.bright)
				}
				trace, err := capture.ReadTrace(strings.NewReader(text.String()))
				if c.write == nil {
					require.ErrorContains(t, err, "the time does not increase here")
					continue
				}
				require.NoError(t, err)
				r, _ := weighed(t, trace, s.signal)
				right += r
			}
			t.Logf("right %d of %d", right, n)
			assert.GreaterOrEqual(t, float64(right), c.right*float64(n))
		})
	}
}
