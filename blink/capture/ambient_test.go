package capture

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// How many recordings with ambient light that wanders by a sine are read right. None
// may be silently wrong. The recordings are invented, three frames each at 60 samples a
// second. README shows the table; -cases makes more of each.
func TestAmbientLight(t *testing.T) {
	type cell struct{ right, wrong, n int }
	least := map[string]float64{} // of what must be right, sometimes below the figure in the table
	for _, dB := range []float64{20, 10, 6} {
		for _, amplitude := range []float64{0.3, 1, 3} {
			for _, period := range []float64{30, 7, 3} {
				need := map[float64]map[float64]float64{20: {0.3: 0.95, 1: 0.95, 3: 0.95},
					10: {0.3: 0.95, 1: 0.95, 3: 0}, 6: {0.3: 0, 1: 0, 3: 0}}[dB][amplitude]
				switch {
				case dB == 10 && amplitude == 1 && period == 3:
					need = 0.6
				case period == 30:
					need = max(need, 0.75)
				}
				least[fmt.Sprint(dB, amplitude, period)] = need
				t.Run(fmt.Sprintf("%.0f dB, %g swings, %.0f s", dB, amplitude, period), func(t *testing.T) {
					t.Parallel()
					var c cell
					for i := range 20 * *cases {
						random := rand.New(rand.NewPCG(uint64(1000*dB+100*amplitude+period), uint64(i)))
						s := scene{rate: 60, lit: math.Pow(10, dB/20), noise: 1, jitter: 0.02, wander: amplitude,
							wanderSeconds: period * (0.9 + 0.2*random.Float64()), wanderPhase: 7 * random.Float64()}
						s.signal, s.unit = anySignal(random), time.Duration(180+random.IntN(60))*time.Millisecond
						s.seconds = 3 * 46 * s.unit.Seconds()
						trace, err := ReadTrace(strings.NewReader(s.write(random)))
						require.NoError(t, err)
						right, wrong := weighed(t, trace, s.signal)
						c.n, c.right, c.wrong = c.n+1, c.right+right, c.wrong+wrong
					}
					t.Logf("%.0f dB, %g swings, %.0f s: right %d%%, wrong %d of %d", dB, amplitude, period,
						100*c.right/c.n, c.wrong, c.n)
					assert.Zero(t, c.wrong, "silently wrong")
					assert.GreaterOrEqual(t, float64(c.right), least[fmt.Sprint(dB, amplitude, period)]*float64(c.n))
				})
			}
		}
	}
}
