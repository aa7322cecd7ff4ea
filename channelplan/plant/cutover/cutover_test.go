package cutover

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
)

// read reads an invented lineup.
func read(t *testing.T, rows string) *lineup.Lineup {
	t.Helper()
	l, err := lineup.Read(strings.NewReader("# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz,frequency_mhz,level_dbmv,scope,service\n"+
		rows), "invented")
	require.NoError(t, err)
	require.Empty(t, l.Problems)
	return l
}

func plan(t *testing.T, before, after, amps string, q Request) *Plan {
	t.Helper()
	return planOf(t, before, after,
		"amp,node,channel,carrier,mode,spare_channel,spare_carrier,low_mhz,high_mhz,upstream,role\n"+amps, q)
}

// planOf is plan for an inventory with its own columns.
func planOf(t *testing.T, before, after, amps string, q Request) *Plan {
	t.Helper()
	p, err := plant.Read(strings.NewReader(amps), "amps.csv")
	require.NoError(t, err)
	require.Empty(t, p.Problems)
	q.Before, q.After = read(t, before), read(t, after)
	if q.Crews == 0 {
		q.Crews, q.Visit = 1, 30*time.Minute
	}
	return New(p, p.Cascades(), q)
}

func told(p *Plan) []string {
	var all []string
	for _, n := range p.Nodes {
		for _, s := range n.Steps {
			text := fmt.Sprintf("%s %s %v", n.Name, s.ID, s.Action)
			if s.To != nil {
				text += " " + s.To.Pilot.String()
			}
			if s.OtherDetector != nil {
				text += fmt.Sprintf(" (%v, early %v)", s.OtherDetector.Pilot, s.OtherEarly)
			}
			all = append(all, text)
		}
	}
	return all
}

const (
	before = "10,analog,,,,38,,\n60,cw,,,,41,,\n73,analog,,,,40,,\n78,qam256,,,,35,,\n90,qam256,,,,36,narrowcast,\n108,qam256,,,,37,,\n116,qam256,,,,37,,\n,cw,,,138.0125,30,,Leakage test carrier\n,ofdm,810,1002,,36,,\n"
	after  = "10,qam256,,,,32,,\n24,cw,,,,38,,\n60,cw,,,,41,,\n73,qam256,,,,34,,\n78,qam256,,,,37,,\n90,qam256,,,,36,narrowcast,\n108,qam256,,,,37,,\n,cw,,,138.0125,30,,Leakage test carrier\n,ofdm,744,1002,,36,,\n"
)

func TestPlan(t *testing.T) {
	p := plan(t, before, after, `A3,N1,116,digital,,,,,,A2,
A1,N1,116,digital,,,,,,,
A2,N1,78,digital,,73,analog,,,A1,
A4,N1,108,digital,,,,,,A2,
A5,N1,,,manual,,,,,A4,
A6,N1,116,digital,thermal,,,,,A5,
B1,N2,73,analog,,,,,,,
B2,N2,10,analog,,,,54,330,B1,
B3,N2,10,analog,,,,54,216,B2,
B4,N2,138,digital,,60,cw,,,B1,
B5,N2,60,cw,,,,,,B1,low
B6,N2,73,analog,,,,,,B5,low
`, Request{})
	assert.Equal(t, []string{
		"N1 A1 early 108 digital", // a block covers 116: to what both carry, in order from the node down
		"N1 A2 early 108 digital", // its level moves; it may follow analog and digital
		"N1 A3 early 108 digital",
		"N1 A4 none",
		"N1 A5 by-design",
		"N1 A6 by-design",
		"N2 B1 early 60 cw",                      // a detector that follows analog follows cw
		"N2 B2 park 24 cw",                       // 60 is out of its passband; 24 is new
		"N2 B3 strand (10 digital, early false)", // no analog or cw is left in its band
		"N2 B4 early 60 cw",                      // lost already: moves to its spare
		"N2 B5 none",
		"N2 B6 early 60 cw",
	}, told(p))
	assert.Equal(t, [actions]int{Nothing: 2, ByDesign: 2, Early: 6, Park: 1, Strand: 1}, p.Count)
	assert.Equal(t, 8, p.Touched())
	assert.Equal(t, 1, p.Addable, "24 stands where nothing is today")
	assert.Equal(t, 1, p.SparesLost)
	assert.Equal(t, "60 cw", p.Targets[0].Pilot.String(), "most move there, and to 108")
	assert.Equal(t, []int{0, 1, 2, 2}, []int{p.Nodes[0].Steps[0].Depth, p.Nodes[0].Steps[1].Depth,
		p.Nodes[0].Steps[2].Depth, p.Nodes[0].Steps[3].Depth})
	assert.Contains(t, p.Nodes[0].Steps[1].Why, "its level goes from 35.0 to 37.0 dBmV")

	// A cascade that runs through another node and back.
	cross := plan(t, before, after,
		"C1,N1,116,digital,,,,,,,\nC2,N1,116,digital,,,,,,D1,\nD1,N9,116,digital,,,,,,C1,\n", Request{})
	var order []string
	for _, s := range cross.Steps {
		order = append(order, strings.TrimSpace(s.ID+" "+s.After))
	}
	assert.Equal(t, []string{"C1", "D1 C1 of node N1", "C2 D1 of node N9"}, order)

	only := plan(t, before, after, "A1,N1,116,digital,,,,,,,\nB1,N2,73,analog,,,,,,,\n",
		Request{Node: "n2", Visit: time.Hour, Crews: 2})
	assert.Equal(t, []string{"N2 B1 early 60 cw"}, told(only))
	assert.Equal(t, time.Hour, only.Needs(doing(Early)))
}

// If the pilot's own carrier is fit again after the change, and nothing is carried the
// same way in both, the amplifier is parked and locked on its own pilot.
func TestParkedOnItsOwn(t *testing.T) {
	p := plan(t, "78,qam256,,,,35,,\n", "78,qam256,,,,38,,\n", "A,N1,78,digital,,,,,,,\n", Request{})
	assert.Equal(t, []string{"N1 A park 78 digital"}, told(p))
	assert.Zero(t, p.Addable)
	p = plan(t, "78,qam256,,,,35,,\n80,analog,,,,40,,\n", "78,qam256,,,,35,,\n", "A,N1,80,analog,,,,,,,\n", Request{})
	assert.Equal(t, []string{"N1 A strand (78 digital, early true)"}, told(p))
	// A channel next to the pilot's new place does not matter, one that covers it does.
	p = plan(t, "73,analog,,,,40,,\n23,qam256,,,,30,,\n", "24,cw,,,,38,,\n23,qam256,,,,30,,\n",
		"A,N1,73,analog,,,,,,,\n", Request{})
	assert.Equal(t, 1, p.Addable)
	// An amplifier that moves early is measured at today's level.
	p = plan(t, "73,analog,,,,40,,\n80,analog,,,,40,,\n", "80,analog,,,,40.4,,\n", "A,N1,73,analog,,,,,,,\n", Request{})
	require.Equal(t, []string{"N1 A early 80 analog"}, told(p))
	level, ok := p.Targets[0].LevelFor(Early)
	assert.True(t, ok)
	assert.Equal(t, 40.0, level)
	// Nobody moves to an unknown level.
	p = plan(t, "73,analog,,,,40,,\n80,analog,,,,,,\n", "80,analog,,,,,,\n81,qam256,,,,36,,\n",
		"A,N1,73,analog,,,,,,,\n", Request{})
	assert.Equal(t, []string{"N1 A strand (81 digital, early false)"}, told(p))
	p = plan(t, "73,analog,,,,40,,\n24,qam256,,,,30,,\n", "24,cw,,,,38,,\n", "A,N1,73,analog,,,,,,,\n", Request{})
	assert.Equal(t, []string{"N1 A park 24 cw"}, told(p))
	assert.Zero(t, p.Addable)
}

// The demo's plan, checked step by step against the rules: an amplifier that moves early
// moves to a pilot that both lineups carry the same way and that is fit for it in both;
// an amplifier that is left alone keeps such a pilot.
func TestDemoPlanHolds(t *testing.T) {
	old, err := demo.Lineup()
	require.NoError(t, err)
	next, err := demo.Next()
	require.NoError(t, err)
	inv, err := plant.Read(demo.Inventory(), demo.Name)
	require.NoError(t, err)
	p := New(inv, inv.Cascades(), Request{Before: old, After: next, Visit: 30 * time.Minute, Crews: 2})
	seen := map[string]bool{}
	for _, n := range p.Nodes {
		for _, s := range n.Steps {
			seen[s.ID] = true
			if s.Upstream != "" {
				require.True(t, seen[s.Upstream], "%s comes before %s", s.Upstream, s.ID)
			}
			a := s.Amplifier.Amplifier
			switch s.Action {
			case Early, Nothing:
				if s.To != nil {
					a.Pilot = s.To.Pilot
				}
				require.True(t, lineup.Alike(next, old, a.Pilot), s.ID)
				a = a.On(a.Pilot)
				with := lineup.Context{Amplifier: &a}
				require.NotEqual(t, lineup.Unusable, old.CheckOne(a.Pilot, with).Verdict, s.ID)
				require.NotEqual(t, lineup.Unusable, next.CheckOne(a.Pilot, with).Verdict, s.ID)
			case Park:
				a = a.On(s.To.Pilot)
				require.NotEqual(t, lineup.Unusable,
					next.CheckOne(a.Pilot, lineup.Context{Amplifier: &a}).Verdict, s.ID)
			case ByDesign:
				require.NotEqual(t, lineup.AGC, s.Mode)
			}
		}
	}
	assert.Len(t, seen, len(inv.Amplifiers))
	for action, n := range p.Count {
		assert.Positive(t, n, "the demo shows every action: %v", Action(action))
	}
}

// The amplifier to do first is the next one up the cascade that is visited, if it is of
// another node; nobody has to wait for one that is not visited.
func TestAfterTheVisitedOne(t *testing.T) {
	lineups := [2]string{"57,qam256,,,,34,,\n72,qam256,,,,34,,\n73,qam256,,,,34,,\n",
		"57,qam256,,,,34,,\n73,qam256,,,,34,,\n"}
	p := plan(t, lineups[0], lineups[1],
		"M-1,X1,72,digital,,,,,,,\nM-2,X2,,,manual,,,,,M-1,\nM-3,X3,72,digital,,,,,,M-2,\nM-4,x3,72,digital,,,,,,M-3,\nK-1,X1,57,digital,,,,,,,\nK-2,X3,72,digital,,,,,,K-1,\n",
		Request{Visit: time.Hour, Crews: 1})
	after := map[string]string{}
	for _, s := range p.Steps {
		after[s.ID] = s.After
	}
	assert.Equal(t, map[string]string{"M-1": "", "M-2": "", "M-3": "M-1 of node X1", "M-4": "", "K-1": "",
		"K-2": ""}, after)
	assert.Len(t, p.Nodes, 3, "x3 is X3")
}

// Pilots for many amplifiers, on random plants: each one fits or misfits every amplifier
// by its own record, looked at one by one; those that fit all are returned alone. A new
// spare is valid, far from the pilot and not the pilot itself. The plants are invented.
func TestCommonPilots(t *testing.T) {
	now, err := demo.Lineup()
	require.NoError(t, err)
	next, err := demo.Next()
	require.NoError(t, err)
	kinds := []string{"digital", "analog", "cw"}
	for seed := range 60 {
		random := rand.New(rand.NewPCG(19, uint64(seed)))
		var rows strings.Builder
		rows.WriteString("amp,node,channel,carrier,spare_channel,spare_carrier,low_mhz,high_mhz\n")
		for i := range 1 + random.IntN(12) {
			high := []string{"550", "750", "1002"}[random.IntN(3)]
			kind := kinds[random.IntN(1+random.IntN(3))]
			fmt.Fprintf(&rows, "A%d,N%d,%d,%s,%d,%s,54,%s\n", i, random.IntN(2), 2+random.IntN(115), kind,
				2+random.IntN(115), kind, high)
		}
		p, err := plant.Read(strings.NewReader(rows.String()), "amps.csv")
		require.NoError(t, err)
		for _, node := range []string{"", "N1"} {
			common, of := CommonPilots(p, node, next, now)
			for _, c := range common {
				var misfits []string
				count := 0
				for _, a := range p.Amplifiers {
					if node != "" && a.Node != node {
						continue
					}
					count++
					on := a.On(c.Pilot)
					with := lineup.Context{Amplifier: &on}
					line := func(k channelplan.Kind) bool { return k != channelplan.Digital }
					if line(a.Pilot.Kind) != line(c.Pilot.Kind) ||
						next.CheckOne(c.Pilot, with).Verdict == lineup.Unusable ||
						now.CheckOne(c.Pilot, with).Verdict == lineup.Unusable {
						misfits = append(misfits, a.ID)
					}
				}
				assert.Equal(t, count, of)
				assert.ElementsMatch(t, misfits, c.Misfits, "%v in %s", c.Pilot, rows.String())
				assert.True(t, len(common[0].Misfits) > 0 || len(misfits) == 0,
					"only those that fit all, where there are such")
			}
		}
		plan := New(p, p.Cascades(), Request{Before: now, After: next, Visit: time.Hour, Crews: 1})
		for _, s := range plan.Steps {
			if s.NewSpare.IsZero() {
				continue
			}
			main := s.Pilot
			if s.To != nil {
				main = s.To.Pilot
			}
			on := s.On(s.NewSpare)
			assert.NotEqual(t, lineup.Unusable, next.CheckOne(s.NewSpare, lineup.Context{Amplifier: &on}).Verdict)
			assert.NotEqual(t, main, s.NewSpare)
		}
	}
}

// What a detector can follow, by its record, goes before the kinds of pilot and spare.
func TestDetectorsDecideWhereTheyMove(t *testing.T) {
	const before, after = "73,analog,,,,40,,\n60,cw,,,,41,,\n108,qam256,,,,36,,\n",
		"73,qam256,,,,34,,\n60,cw,,,,41,,\n108,qam256,,,,36,,\n"
	p := planOf(t, before, after,
		"# detector P2: digital power 600-870\n# detector L: analog cw\namp,node,channel,carrier,detector,upstream\n"+
			"A,N1,73,analog,p2,\nB,N1,73,analog,L,A\nC,N1,73,analog,,B\nD,N1,73,analog,analog digital power,C\nE,N1,73,analog,analog,D\n",
		Request{})
	assert.Equal(t, []string{
		"N1 A early 108 digital", // by its type
		"N1 B early 60 cw",       // by its type
		"N1 C early 60 cw",       // assumed: a line like its pilot
		"N1 D early 108 digital", // its channel still carries something that it follows, at another level
		"N1 E strand (108 digital, early true)",
	}, told(p))
	assert.Equal(t, 1, p.Undetected)
	// B and E hold their gain if nobody goes there; D follows the lower level and raises its
	// output.
	assert.InDelta(t, 6, p.Steps[3].Untouched.DB, 1e-9)
	assert.InDelta(t, 6, p.Steps[4].Untouched.DB, 1e-9, "it passes on what D sends")
}
