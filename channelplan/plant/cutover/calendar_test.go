package cutover

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
)

// A thousand random plants, followed visit by visit on the clock: nobody works outside the
// window, no crew is in two places, no amplifier comes before the one before it in its
// cascade, none is on AGC on a pilot that the change takes away, and none is left out. The
// plants are invented.
func TestCalendarByTheClock(t *testing.T) {
	before, err := demo.Lineup()
	require.NoError(t, err)
	after, err := demo.Next()
	require.NoError(t, err)
	for seed := range uint64(1000) {
		random := rand.New(rand.NewPCG(44, seed))
		p := randomPlant(t, random)
		visit := time.Duration(20+10*random.IntN(4)) * time.Minute
		plan := New(p, p.Cascades(), Request{Before: before, After: after, Today: demo.Day(), Visit: visit,
			Crews: 1 + random.IntN(4)})
		n := Nights{Begin: time.Duration(random.IntN(24)) * time.Hour,
			Length: time.Duration(1+random.IntN(8)) * time.Hour,
			Change: after.Effective.Add(time.Duration(random.IntN(24*60)) * time.Minute),
			Margin: time.Duration(15*random.IntN(4)) * time.Minute}
		c, err := plan.Calendar(n)
		require.NoError(t, err)

		visits := map[string]int{}
		done := map[Phase]map[string]time.Time{}
		busy := map[int][]Job{}
		last := time.Time{}
		for _, j := range c.Jobs {
			require.False(t, j.Begin.Before(last), "in order of time")
			last = j.Begin
			into := j.Begin.Sub(j.Begin.Truncate(24*time.Hour)) - n.Begin
			if into < 0 {
				into += 24 * time.Hour
			}
			require.LessOrEqual(t, into+visit, n.Length, "within the window, seed %d", seed)
			require.Equal(t, visit, j.End.Sub(j.Begin))
			require.LessOrEqual(t, j.Crew, plan.Crews)
			for _, other := range busy[j.Crew] {
				require.True(t, !j.Begin.Before(other.End) || !other.Begin.Before(j.End),
					"crew %d in two places, seed %d", j.Crew, seed)
			}
			busy[j.Crew] = append(busy[j.Crew], j)
			if j.Phase == LockAfter {
				require.False(t, j.Begin.Before(n.Change), "its new pilot is there")
			} else {
				require.False(t, j.End.After(n.Change), "off its old pilot before that goes, seed %d", seed)
			}
			if night := n.night(0); n.Change.Sub(night) < n.Length { // the change is within a window
				require.False(t, j.Begin.Before(n.Change.Add(n.Margin)) && j.End.After(n.Change.Add(-n.Margin)),
					"the headend's own time, seed %d", seed)
			}
			if done[j.Phase] == nil {
				done[j.Phase] = map[string]time.Time{}
			}
			done[j.Phase][j.ID] = j.End
			visits[j.ID]++
		}
		for i := range plan.Steps {
			s := &plan.Steps[i]
			require.Equal(t, map[Action]int{Early: 1, Park: 2, Strand: 1}[s.Action], visits[s.ID], "%s %v, seed %d",
				s.ID, s.Action, seed)
		}
		for _, j := range c.Jobs {
			for up := j.Step; up.up >= 0; {
				up = &plan.Steps[up.up]
				if end, ok := done[j.Phase][up.ID]; ok {
					require.False(t, j.Begin.Before(end), "%s after %s, seed %d", j.ID, up.ID, seed)
				}
			}
		}

		// Fewest crews: with them it fits, with one less it does not.
		day := after.Effective.AddDate(0, 0, -random.IntN(6))
		n.From = day
		crews, err := plan.CrewsBy(n)
		require.NoError(t, err)
		fits := func(crews int) bool {
			with := *plan
			with.Crews = crews
			c, err := with.Calendar(n)
			require.NoError(t, err)
			// Locking comes after the change: what counts is the first visit before it.
			return len(c.Jobs) == 0 || c.Jobs[0].Phase == LockAfter || !c.Begin().Before(day)
		}
		if crews > 0 {
			assert.True(t, fits(crews), "seed %d", seed)
		}
		if crews > 1 {
			assert.False(t, fits(crews-1), "seed %d", seed)
		}
		if crews == 0 {
			assert.False(t, fits(len(plan.Steps)), "seed %d", seed)
		}
	}
}

// Worked by hand: 4 visits of 1 h in one cascade, two crews, windows from 22:00 to 01:00,
// a change at midnight. Two parked ones stand in the last two hours before midnight, early
// ones in the night before, and locking goes on from midnight and in the next night.
func TestCalendarByHand(t *testing.T) {
	before, err := demo.Lineup()
	require.NoError(t, err)
	after, err := demo.Next()
	require.NoError(t, err)
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,upstream\nA,N,116,digital,\nB,N,116,digital,A\nC,N,12,analog,B\nD,N,12,analog,C\n"),
		"amps.csv")
	require.NoError(t, err)
	plan := New(p, p.Cascades(), Request{Before: before, After: after, Today: demo.Day(), Visit: time.Hour, Crews: 2})
	require.Equal(t, Early, plan.Steps[0].Action)
	plan.Steps[2].Action, plan.Steps[3].Action = Park, Park
	plan.Steps[2].To, plan.Steps[3].To = plan.Steps[0].To, plan.Steps[0].To
	n := Nights{Begin: 22 * time.Hour, Length: 3 * time.Hour, Change: time.Date(2026, 12, 9, 0, 0, 0, 0, time.UTC)}
	c, err := plan.Calendar(n)
	require.NoError(t, err)
	var got []string
	for _, j := range c.Jobs {
		got = append(got, fmt.Sprintf("%s %v %s crew %d", j.Begin.Format("01-02 15:04"), j.Phase, j.ID, j.Crew))
	}
	assert.Equal(t, []string{
		"12-07 23:00 early A crew 1", "12-08 00:00 early B crew 1",
		"12-08 22:00 park C crew 1", "12-08 23:00 park D crew 1",
		"12-09 00:00 lock C crew 1", "12-09 22:00 lock D crew 1",
	}, got)

	id, longest := c.Unguarded()
	assert.Equal(t, "D", id)
	assert.Equal(t, 24*time.Hour, longest, "from 23:00 to 23:00 a day later")

	// With half an hour's margin, one less fits before and none after in that night.
	n.Margin = 30 * time.Minute
	c, err = plan.Calendar(n)
	require.NoError(t, err)
	got = nil
	for _, j := range c.Jobs[2:] {
		got = append(got, fmt.Sprintf("%s %v %s", j.Begin.Format("01-02 15:04"), j.Phase, j.ID))
	}
	assert.Equal(t, []string{"12-08 00:00 park C", "12-08 22:00 park D", "12-09 22:00 lock C", "12-09 23:00 lock D"},
		got)
	n.Margin = 0

	_, err = plan.Calendar(Nights{Begin: 0, Length: 59 * time.Minute, Change: n.Change})
	require.ErrorIs(t, err, ErrWindow)
}

// The file keeps to RFC 5545: lines end with CR LF and have at most 75 octets (3.1), text
// is escaped (3.3.11), every event has UID and DTSTAMP (3.6.1), and no two have the same
// UID (3.8.4.7).
func TestICalendar(t *testing.T) {
	before, err := demo.Lineup()
	require.NoError(t, err)
	after, err := demo.Next()
	require.NoError(t, err)
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,upstream\n\"Ä;1,\\2\",Nöd,116,digital,\nB,N,12,analog,\n"),
		"amps.csv")
	require.NoError(t, err)
	plan := New(p, p.Cascades(), Request{Before: before, After: after, Today: demo.Day(),
		Visit: 30 * time.Minute, Crews: 1})
	plan.Steps[1].Action = Park
	c, err := plan.Calendar(Nights{Begin: 0, Length: 6 * time.Hour, Change: after.Effective.Add(3 * time.Hour)})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, c.WriteICalendar(&b, time.Date(2026, 11, 27, 1, 2, 3, 0, time.UTC)))
	text := b.String()
	require.True(t, strings.HasSuffix(text, "\r\n"))
	lines := strings.Split(strings.TrimSuffix(text, "\r\n"), "\r\n")
	uids := map[string]bool{}
	for _, line := range lines {
		assert.LessOrEqual(t, len(line), 75, line)
		assert.NotContains(t, line, "\n")
		if uid, ok := strings.CutPrefix(line, "UID:"); ok {
			assert.False(t, uids[uid])
			uids[uid] = true
		}
	}
	assert.Len(t, uids, 3, "early, park, lock")
	assert.Equal(t, 3, strings.Count(text, "DTSTAMP:20261127T010203Z\r\n"))
	unfolded := strings.ReplaceAll(text, "\r\n ", "")
	assert.Contains(t, unfolded, `Ä\;1\,\\2 in Nöd: to `)
	assert.Contains(t, unfolded, "SUMMARY:Crew 1: park 1 amplifier before the change\r\n")
	assert.Equal(t, "BEGIN:VCALENDAR", lines[0])
	assert.Equal(t, "END:VCALENDAR", lines[len(lines)-1])
}

// randomPlant returns up to thirty amplifiers in random cascades, six to a node. It is invented.
func randomPlant(t *testing.T, random *rand.Rand) *plant.Plant {
	t.Helper()
	pilots := []string{"116,digital", "73,analog", "12,analog", "108,digital", "60,cw", "138,digital"}
	var rows strings.Builder
	slopes := []string{","}
	if random.IntN(8) == 0 { // planning takes longer with so many different settings
		slopes = []string{",", "60,cw", "73,analog", "88,digital"}
	}
	rows.WriteString("amp,node,channel,carrier,upstream,slope_channel,slope_carrier\n")
	for i := range 1 + random.IntN(30) {
		up := ""
		if i > 0 && random.IntN(5) > 0 {
			up = fmt.Sprintf("A%d", random.IntN(i))
		}
		main, slope := pilots[random.IntN(len(pilots))], slopes[random.IntN(len(slopes))]
		if slope == main {
			slope = ","
		}
		fmt.Fprintf(&rows, "A%d,N%d,%s,%s,%s\n", i, i/6, main, up, slope)
	}
	p, err := plant.Read(strings.NewReader(rows.String()), "amps.csv")
	require.NoError(t, err)
	return p
}
