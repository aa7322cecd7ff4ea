package lineup_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
)

func parse(t *testing.T, rows ...string) *lineup.Lineup {
	t.Helper()
	l, err := lineup.Read(strings.NewReader("# forward: 54-1002\n# effective: 2026-03-02\nchannel,carrier,low_mhz,high_mhz,level_dbmv,scope\n"+
		strings.Join(rows, "\n")+"\n"), "test.csv")
	require.NoError(t, err)
	require.Empty(t, l.Problems)
	return l
}

func channels(all []lineup.Ranked) (numbers []int) {
	for _, c := range all {
		numbers = append(numbers, c.Pilot.Channel)
	}
	return numbers
}

// A small system with points worked by hand: placement takes 40 (1 - sqrt(f/1002)), an
// edge 5 (1 - distance/60), a block 10 (1 - distance/24), narrowcast 25.
func TestPointsByHand(t *testing.T) {
	l := parse(t, "60,qam256,,,36,", "110,qam256,,,36,narrowcast", "120,qam256,,,36,", ",ofdm,804,996,36,")
	all := lineup.Rank(l, nil, lineup.Context{Today: demo.Day()})
	require.Equal(t, []int{120, 60, 110}, channels(all))
	by := map[int]lineup.Ranked{}
	for _, c := range all {
		by[c.Pilot.Channel] = c
	}
	// 120: center 771, 768 to 774 MHz: placement 40 (1 - 0.87719) = 4.91; block
	// 30 MHz away, none; edges none.
	assert.InDelta(t, 100-4.91, by[120].Score, 0.02, "%v", by[120].Deductions)
	// 60: center 441: 40 (1 - 0.66342) = 13.46.
	assert.InDelta(t, 100-13.46, by[60].Score, 0.02, "%v", by[60].Deductions)
	// 110: center 711: 40 (1 - 0.84237) = 6.31, narrowcast 25.
	assert.InDelta(t, 100-6.31-25, by[110].Score, 0.02, "%v", by[110].Deductions)
	require.Len(t, by[110].Deductions, 2)
	assert.Contains(t, by[110].Deductions[0].Why, "narrowcast: ")
	for _, c := range all {
		sum := 100.0
		for _, term := range c.Deductions {
			sum -= term.Points
		}
		assert.InDelta(t, sum, c.Score, 1e-9, "every point is explained")
	}
	near := parse(t, "124,qam256,,,36,", ",ofdm,804,996,36,") // 792 to 798 MHz: 6 MHz away from the block
	assert.InDelta(t, 100-40*(1-0.89072)-10*0.75, lineup.Rank(near, nil, lineup.Context{Today: demo.Day()})[0].Score,
		0.02)
}

// Through a change, only carriers that both lineups carry the same way are ranked.
func TestBefore(t *testing.T) {
	old := parse(t, "60,analog,,,40,", "70,qam256,,,36,", "80,qam256,,,36,", "90,qam256,,,36,", "100,qam64,,,33,")
	now := parse(t, "60,qam256,,,34,", "70,qam256,,,36.3,", "80,qam256,,,38,", "100,qam256,,,36,", "110,qam256,,,36,")
	assert.Equal(t, []int{70}, channels(lineup.Rank(now, old, lineup.Context{Today: demo.Day()})))
}

func TestPairsAreApart(t *testing.T) {
	l := parse(t, "100,qam256,,,36,", "101,qam256,,,36,", "105,qam256,,,36,", "80,qam256,,,36,")
	pairs := lineup.PilotPairs(lineup.Rank(l, nil, lineup.Context{Today: demo.Day()}), 10)
	require.NotEmpty(t, pairs)
	for _, p := range pairs {
		away := p.Main.Located.FrequencyHz - p.Spare.Located.FrequencyHz
		assert.GreaterOrEqual(t, max(away, -away), int64(60_000_000))
	}
	// 100 to 109 is 54 MHz, 100 to 110 is 60 MHz.
	for other, want := range map[string]int{"109,qam256,,,36,": 0, "110,qam256,,,36,": 2} {
		two := parse(t, "100,qam256,,,36,", other)
		assert.Len(t, lineup.PilotPairs(lineup.Rank(two, nil, lineup.Context{Today: demo.Day()}), 10), want, other)
	}
	assert.Equal(t, 105, pairs[0].Main.Pilot.Channel)
	assert.Equal(t, 80, pairs[0].Spare.Pilot.Channel)
	assert.Len(t, lineup.PilotPairs(lineup.Rank(l, nil, lineup.Context{Today: demo.Day()}), 1), 1)
}

// For the demo system: everything that is ranked is usable, nothing usable is left out,
// and nothing is included that the lamp can't name.
func TestDemo(t *testing.T) {
	l, err := demo.Lineup()
	require.NoError(t, err)
	with := lineup.Context{Today: demo.Day()}
	all := lineup.Rank(l, nil, with)
	ranked := map[channelplan.Pilot]bool{}
	for i, c := range all {
		ranked[c.Pilot] = true
		assert.NotEqual(t, lineup.Unusable, c.Verdict)
		if i > 0 {
			assert.LessOrEqual(t, c.Score, all[i-1].Score)
		}
	}
	for _, c := range l.Carriers {
		p := channelplan.Pilot{Channel: c.Channel, Kind: c.Kind.Family()}
		if c.Channel > 0 && c.Kind != channelplan.OFDM {
			assert.Equal(t, l.Check(p, with).Verdict != lineup.Unusable, ranked[p], fmt.Sprint(p))
		}
	}
}

// A carrier that was part-time, sync-suppressed or narrowcast before the change does not
// hold through it, nor does one that is so afterwards: random lineups, checked against
// the rules of both.
func TestRankThroughAChange(t *testing.T) {
	r := rand.New(rand.NewPCG(19, 7))
	duty, video, scope := []string{"", "", "part-time"}, []string{"", "", "sync-suppressed"},
		[]string{"", "", "narrowcast"}
	row := func(channel int) string {
		kind, v := "qam256", ""
		if r.IntN(2) == 0 {
			kind, v = "analog", video[r.IntN(3)]
		}
		return fmt.Sprintf("%d,%s,40,%s,%s,%s\n", channel, kind, duty[r.IntN(3)], v, scope[r.IntN(3)])
	}
	held := 0
	for range 200 {
		texts := [2]string{}
		for channel := 60; channel < 80; channel++ {
			a, b := row(channel), row(channel)
			if r.IntN(3) > 0 {
				b = a
			}
			texts[0], texts[1] = texts[0]+a, texts[1]+b
		}
		var l [2]*lineup.Lineup
		for i := range l {
			var err error
			l[i],
				err = lineup.Read(strings.NewReader("# forward: 54-1002\nchannel,carrier,level_dbmv,duty,video,scope\n"+
				texts[i]), "x.csv")
			require.NoError(t, err)
		}
		for _, ranked := range lineup.Rank(l[1], l[0], lineup.Context{}) {
			held++
			for i := range l {
				report := l[i].CheckOne(ranked.Pilot, lineup.Context{})
				assert.NotEqual(t, lineup.Unusable, report.Verdict, "%v in %s", ranked.Pilot, texts[i])
				assert.Equal(t, ranked.Carrier.Narrowcast, report.Carrier.Narrowcast)
			}
		}
	}
	assert.Greater(t, held, 500)
}
