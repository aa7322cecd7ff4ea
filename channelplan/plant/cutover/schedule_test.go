package cutover

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// visits makes a plan of visits to cascades: up is the index of the visit before each.
func visits(crews int, up ...int) *Plan {
	p := &Plan{Request: Request{Crews: crews, Visit: time.Hour}}
	for _, before := range up {
		p.Steps = append(p.Steps, Step{Action: Early, up: before})
	}
	return p
}

// Cascades by hand: more crews don't help along one, and the longest tail goes first.
func TestNeeds(t *testing.T) {
	for _, c := range []struct {
		name  string
		plan  *Plan
		hours int
	}{
		{"one cascade of four, four crews", visits(4, -1, 0, 1, 2), 4},
		{"four alone, four crews", visits(4, -1, -1, -1, -1), 1},
		{"a chain of three beside three alone, two crews", visits(2, -1, -1, -1, -1, 3, 4), 3},
		{"a stem and two branches of two, two crews", visits(2, -1, 0, 1, 0, 3), 3},
		{"nothing", visits(2), 0},
	} {
		assert.Equal(t, time.Duration(c.hours)*time.Hour, c.plan.Needs(doing(Early)), c.name)
		assert.Zero(t, c.plan.Needs(doing(Park)), c.name)
	}
	assert.Equal(t, 0, visits(1, -1, 0, 1).CrewsFor(doing(Early), 2*time.Hour), "no number of crews")
	assert.Equal(t, 2, visits(1, -1, -1, -1).CrewsFor(doing(Early), 2*time.Hour))
}

// Random forests, compared with every possible schedule: none is shorter.
func TestNeedsIsTheShortest(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 1961))
	for range 300 {
		n, crews := 1+r.IntN(8), 1+r.IntN(3)
		up := make([]int, n)
		for i := range up {
			up[i] = r.IntN(i+1) - 1
		}
		// All sets of visits that can be done, round by round.
		sets, rounds := map[int]bool{0: true}, 0
		for ; !sets[1<<n-1]; rounds++ {
			next := map[int]bool{}
			for done := range sets {
				var ready []int
				for i := range n {
					if done>>i&1 == 0 && (up[i] < 0 || done>>up[i]&1 == 1) {
						ready = append(ready, i)
					}
				}
				for choice := range 1 << len(ready) {
					set, count := done, 0
					for k, i := range ready {
						if choice>>k&1 == 1 {
							set, count = set|1<<i, count+1
						}
					}
					if count <= crews {
						next[set] = true
					}
				}
			}
			sets = next
		}
		require.Equal(t, time.Duration(rounds)*time.Hour, visits(crews, up...).Needs(doing(Early)),
			"%v, %d crews", up, crews)
	}
}

// A pilot 7 dB lower, three amplifiers of +-4 dB in a row: +4, +7, +7, worked by hand; an
// amplifier on another pilot removes the change, as far as its range goes.
func TestUntouched(t *testing.T) {
	rows := func(ids ...string) string {
		text := strings.Builder{}
		for i, pilot := range ids {
			up := ""
			if i > 0 {
				up = fmt.Sprintf("A%d", i-1)
			}
			fmt.Fprintf(&text, "A%d,N,%s,,,,,,%s,,4,4\n", i, pilot, up)
		}
		return text.String()
	}
	untouched := func(amps string) (db []float64, held []bool) {
		p := planOf(t, "73,qam256,,,,40,,\n78,qam256,,,,35,,\n", "73,qam256,,,,33,,\n78,qam256,,,,35,,\n",
			"amp,node,channel,carrier,spare_channel,spare_carrier,low_mhz,high_mhz,mode,upstream,role,range_up_db,range_down_db\n"+
				amps, Request{})
		for _, s := range p.Steps {
			require.True(t, s.Untouched.Known)
			db, held = append(db, s.Untouched.DB), append(held, s.Untouched.Held)
		}
		return db, held
	}
	db, held := untouched(rows("73,digital", "73,digital", "73,digital"))
	assert.InDeltaSlice(t, []float64{4, 7, 7}, db, 1e-9)
	assert.Equal(t, []bool{true, false, false}, held)
	db, _ = untouched(rows("73,digital", "78,digital", "73,digital"))
	assert.InDeltaSlice(t, []float64{4, 0, 4}, db, 1e-9)
	db, held = untouched(rows("73,digital", "73,digital", "78,digital"))
	assert.InDeltaSlice(t, []float64{4, 7, 3}, db, 1e-9)
	assert.Equal(t, []bool{true, false, true}, held)
	db, _ = untouched("A0,N,73,digital,,,,,,,,4,4\nA1,N,,,,,,,thermal,A0,,,\nA2,N,73,digital,,,,,,A1,,4,4\n")
	assert.InDeltaSlice(t, []float64{4, 4, 7}, db, 1e-9)
}

// doing selects the steps with one of the actions.
func doing(actions ...Action) Which {
	return func(s *Step) bool { return slices.Contains(actions, s.Action) }
}
