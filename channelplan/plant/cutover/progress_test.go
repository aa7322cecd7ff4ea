package cutover

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
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
)

// A plan is carried out up to some visit, every lamp is read there, and what is left is
// planned: exactly the visits that were not made. The plants are invented.
func TestTheRestIsPlanned(t *testing.T) {
	before, err := demo.Lineup()
	require.NoError(t, err)
	after, err := demo.Next()
	require.NoError(t, err)
	for seed := range uint64(200) {
		random := rand.New(rand.NewPCG(45, seed))
		p := randomPlant(t, random)
		plan := New(p, p.Cascades(), Request{Before: before, After: after, Today: demo.Day(), Visit: 30 * time.Minute,
			Crews: 1 + random.IntN(3)})
		n := Nights{Begin: 22 * time.Hour, Length: 6 * time.Hour, Change: after.Effective.Add(time.Hour)}
		whole, err := plan.Calendar(n)
		require.NoError(t, err)

		made := random.IntN(len(whole.Jobs) + 1)
		seen := map[string]Seen{}
		var want, got []string
		for k, j := range whole.Jobs {
			switch {
			case k >= made:
				want = append(want, fmt.Sprintf("%v %s", j.Phase, j.ID))
			case j.Phase == ParkNow:
				seen[j.ID] = Seen{State: blink.Manual, At: j.End}
			case j.SlopeTo != nil:
				// It may keep its main pilot: the slope pilot is what shows that it was moved.
				seen[j.ID] = Seen{State: blink.Locked, Pilot: j.SlopeTo.Pilot, At: j.End}
			default:
				seen[j.ID] = Seen{State: blink.Locked, Pilot: j.To.Pilot, At: j.End}
			}
		}
		plan.Follow(func(id string) (Seen, bool) { s, ok := seen[id]; return s, ok })
		rest, err := plan.Calendar(n)
		require.NoError(t, err)
		for _, j := range rest.Jobs {
			got = append(got, fmt.Sprintf("%v %s", j.Phase, j.ID))
		}
		assert.ElementsMatch(t, want, got, "seed %d", seed)
		if _, longest := rest.Unguarded(); longest != 0 {
			assert.Less(t, longest, 60*24*time.Hour, "seed %d", seed)
		}
	}
}

// What the lamp shows and the plan does not expect is told, and counts as not done.
func TestFollowIsNotFooled(t *testing.T) {
	before, err := demo.Lineup()
	require.NoError(t, err)
	after, err := demo.Next()
	require.NoError(t, err)
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,low_mhz,high_mhz\nA,N,12,analog,54,330\n"),
		"amps.csv")
	require.NoError(t, err)
	to := channelplan.Pilot{Channel: 24, Kind: channelplan.CW}
	for _, c := range []struct {
		seen     Seen
		stage    Stage
		surprise bool
	}{
		{Seen{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 12, Kind: channelplan.Analog}}, Waiting, false},
		{Seen{State: blink.Manual}, Parked, false},
		{Seen{State: blink.Thermal}, Parked, false},
		{Seen{State: blink.Locked, Pilot: to}, Moved, false},
		{Seen{State: blink.Edge, Pilot: to}, Moved, false},
		{Seen{State: blink.Locked, Pilot: to, Doubtful: true, Words: "doubtful"}, Waiting, true},
		{Seen{State: blink.Locked, Words: "locked"}, Waiting, true},
		{Seen{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog},
			Words: "locked on 73 analog"}, Waiting, true},
		{Seen{State: blink.Holding, Words: "holding"}, Waiting, true},
		{Seen{State: blink.Manual, Doubtful: true, Words: "doubtful"}, Waiting, true},
	} {
		plan := New(p, p.Cascades(), Request{Before: before, After: after, Today: demo.Day(),
			Visit: time.Hour, Crews: 1})
		require.Equal(t, Park, plan.Steps[0].Action)
		require.Equal(t, to, plan.Steps[0].To.Pilot)
		plan.Follow(func(string) (Seen, bool) { return c.seen, true })
		assert.Equal(t, c.stage, plan.Steps[0].Stage, "%+v", c.seen)
		assert.Equal(t, c.surprise, plan.Steps[0].Surprise != "", "%+v", c.seen)
	}
}
