package field_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/field"
)

// cutPlant is a random invented plant with one span cut: the plant alone then determines
// what every lamp shows.
type cutPlant struct {
	*plant.Plant
	c   *plant.Cascades
	cut int // the amplifier whose input span is cut
}

func randomCut(t *testing.T, rng *rand.Rand, mixed float64) cutPlant {
	t.Helper()
	rows := strings.Builder{}
	rows.WriteString("amp,node,channel,carrier,mode,upstream\n")
	n := 6 + rng.IntN(30)
	for i := range n {
		up, pilot, mode := "", "116,digital", ""
		if i > 2 && rng.IntN(9) > 0 {
			up = fmt.Sprintf("A%d", max(0, i-1-rng.IntN(3)))
		}
		if rng.Float64() < mixed {
			pilot = []string{"60,cw", "73,analog"}[rng.IntN(2)]
		}
		if rng.IntN(6) == 0 {
			mode = "thermal"
		}
		fmt.Fprintf(&rows, "A%d,N%d,%s,%s,%s\n", i, i/9, pilot, mode, up)
	}
	p, err := plant.Read(strings.NewReader(rows.String()), "cut.csv")
	require.NoError(t, err)
	return cutPlant{p, p.Cascades(), rng.IntN(n)}
}

func (p cutPlant) below(i int) bool {
	for ; i >= 0; i = p.c.Upstream[i] {
		if i == p.cut {
			return true
		}
	}
	return false
}

// read returns readings at a random share of the amplifiers, taken within the hour after
// the cut; a share, old, of them was taken hours before it.
func (p cutPlant) read(rng *rand.Rand, share, old float64) (all []field.Reading) {
	for i, a := range p.Amplifiers {
		if a.Mode != lineup.AGC || rng.Float64() > share {
			continue
		}
		r := field.Reading{Record: book.Record{Type: field.Type,
			Time: day.Add(time.Duration(rng.IntN(50)) * time.Minute)},
			Amp: a.ID, State: blink.Locked}
		early := rng.Float64() < old
		switch {
		case early:
			r.Time = day.Add(-2*time.Hour - time.Duration(rng.IntN(18*60))*time.Minute)
			r.Pilot = &channelplan.Pilot{Channel: a.Pilot.Channel, Kind: a.Pilot.Kind}
		case p.below(i):
			r.State = []blink.State{blink.Holding, blink.Seeking}[rng.IntN(2)]
		default:
			r.Pilot = &channelplan.Pilot{Channel: a.Pilot.Channel, Kind: a.Pilot.Kind}
		}
		all = append(all, r)
	}
	return all
}

// holds reports whether the cut is in the place that a fault gives.
func (p cutPlant) holds(f field.Fault) bool {
	below, ok := p.Find(f.Below)
	if !ok || !p.below(below) {
		return false
	}
	if f.Above == "" {
		return true
	}
	above, _ := p.Find(f.Above)
	return !p.below(above)
}

// A random span is cut in random plants, which are read in part, with mixed pilots and
// with readings from before the cut: the cut is always in the place that is given, nearly
// always in one fault, and nobody is sent to the headend for it. The plant itself is the
// oracle.
func TestCutsAtRandom(t *testing.T) {
	for name, with := range map[string]struct{ mixed, share, old float64 }{
		"one pilot, all read":         {0, 1, 0},
		"mixed pilots, all read":      {0.3, 1, 0},
		"mixed pilots, half read":     {0.3, 0.5, 0},
		"half read, a third from old": {0.3, 0.5, 0.3},
	} {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(7, 19))
			cuts, within, faults, exact := 0, 0, 0, 0
			for range 1000 {
				p := randomCut(t, rng, with.mixed)
				readings := p.read(rng, with.share, with.old)
				told := field.Compare(p.Plant, p.c, readings, nil).Faults
				if len(told) == 0 {
					continue
				}
				cuts++
				faults += len(told)
				all := true
				for _, f := range told {
					if !p.holds(f) {
						all = false
					}
					if with.share == 1 && with.old == 0 {
						assert.Empty(t, f.ReadNext, "all is read: %s", f.Text)
					}
					assert.NotContains(t, f.Text, "ask the headend about this carrier first")
				}
				if all {
					within++
				}
				if len(told) == 1 {
					exact++
				}
			}
			require.Greater(t, cuts, 400)
			t.Logf("%d cuts: %.1f%% within, %.2f faults a cut, one fault in %.1f%%", cuts,
				100*float64(within)/float64(cuts), float64(faults)/float64(cuts), 100*float64(exact)/float64(cuts))
			assert.GreaterOrEqual(t, within*100, cuts*99, "the cut is within what is told")
			assert.GreaterOrEqual(t, exact*100, cuts*85, "one cut is one fault")
		})
	}
}
