package cutover

import (
	"errors"
	"fmt"
	"sort"
	"time"
)

// This file lays the visits of a plan on nights: maintenance windows of the same hours
// every day. What is parked is parked last before the change, so that it is without AGC
// for the shortest time; what moves early is done before that; what locks again begins
// right after the change. Times are those of a clock on the wall, in UTC for want of a
// zone.

// Nights is when crews may work.
type Nights struct {
	Begin  time.Duration // of a window, since midnight
	Length time.Duration // may reach past midnight
	Change time.Time     // when the headend changes its lineup
	// Margin is how long before and after the change nobody works: the headend's own work
	// takes time, and nothing is locked before it says that it is done.
	Margin time.Duration
	From   time.Time // the day from which visits can be made; zero if any will do
}

// ErrWindow is what [Plan.Calendar] and [Plan.CrewsBy] wrap if no visit fits.
var ErrWindow = errors.New("no visit fits")

// Phase is what a visit is for.
type Phase uint8

// The phases, in the order of time.
const (
	MoveNow   Phase = iota // to a pilot that both lineups carry
	ParkNow                // before the change
	LockAfter              // after the change
)

// String returns the word that CSV and JSON use: early, park, lock.
func (p Phase) String() string { return [...]string{"early", "park", "lock"}[p] }

// Job is one visit on the calendar.
type Job struct {
	*Step
	Phase      Phase
	Crew       int // from 1
	Begin, End time.Time
}

// Calendar is a plan's visits with their times.
type Calendar struct {
	Nights
	Jobs []Job // in order of time, then by crew
}

// Begin returns when the first visit begins; the zero time if there is none.
func (c *Calendar) Begin() time.Time {
	if len(c.Jobs) == 0 {
		return time.Time{}
	}
	return c.Jobs[0].Begin
}

// NightOf returns the day on which the window of a job begins.
func (c *Calendar) NightOf(j Job) string { return c.WindowOf(j).Format(time.DateOnly) }

// WindowOf returns when the window of a job begins.
func (c *Calendar) WindowOf(j Job) time.Time {
	day := j.Begin.Add(-c.Nights.Begin)
	return time.Date(day.Year(), day.Month(), day.Day(), 0, 0, 0, 0, time.UTC).Add(c.Nights.Begin)
}

// Late reports whether the first visit would have to begin before the day from which
// visits can be made.
func (c *Calendar) Late() bool { return len(c.Jobs) > 0 && c.Begin().Before(c.From) }

// Unguarded returns the amplifier that is without AGC for the longest time by the clock,
// from the visit that parks it to the end of the one that locks it again, and how long
// that is; "" if none is locked again.
func (c *Calendar) Unguarded() (id string, longest time.Duration) {
	since := map[string]time.Time{}
	for _, j := range c.Jobs {
		switch j.Phase {
		case ParkNow:
			since[j.ID] = j.Begin
		case LockAfter:
			from, planned := since[j.ID]
			if !planned { // parked already
				at := j.SeenAt.Local()
				from = time.Date(at.Year(), at.Month(), at.Day(), at.Hour(), at.Minute(), 0, 0,
					time.UTC) // as the calendar's clock has it
			}
			if d := j.End.Sub(from); d > longest {
				id, longest = j.ID, d
			}
		}
	}
	return id, longest
}

// rounds says when rounds of visits begin: as many as fit stand at the beginning of each
// window, and after the change as soon as its margin is over.
type rounds struct {
	Nights
	visit                time.Duration
	whole, before, after int // how many fit in a window, before the change in its night, and after it
}

func (n Nights) rounds(visit time.Duration) (rounds, error) {
	r := rounds{Nights: n, visit: visit, whole: int(n.Length / visit)}
	if r.whole < 1 {
		return r, fmt.Errorf("%w in a window of %v: a visit takes %v", ErrWindow, n.Length, visit)
	}
	r.before = r.whole
	if into := n.Change.Sub(n.night(0)); into < n.Length {
		r.before, r.after = max(int((into-n.Margin)/visit), 0), max(int((n.Length-into-n.Margin)/visit), 0)
	}
	return r, nil
}

// beforehand returns when the k-th round before the change begins; 0 is the last.
func (r rounds) beforehand(k int) time.Time {
	if k < r.before {
		return r.night(0).Add(time.Duration(r.before-1-k) * r.visit)
	}
	k -= r.before
	return r.night(-1 - k/r.whole).Add(time.Duration(r.whole-1-k%r.whole) * r.visit)
}

// afterward returns when the k-th round after the change begins.
func (r rounds) afterward(k int) time.Time {
	if k < r.after {
		return r.Change.Add(r.Margin + time.Duration(k)*r.visit)
	}
	k -= r.after
	return r.night(1 + k/r.whole).Add(time.Duration(k%r.whole) * r.visit)
}

// night returns when a window begins: 0 is the last one that begins before the change or
// with it, -1 the one before.
func (n Nights) night(i int) time.Time {
	midnight := time.Date(n.Change.Year(), n.Change.Month(), n.Change.Day(), 0, 0, 0, 0, time.UTC)
	begin := midnight.Add(n.Begin)
	if begin.After(n.Change) {
		begin = midnight.AddDate(0, 0, -1).Add(n.Begin)
	}
	return begin.AddDate(0, 0, i)
}

// Calendar lays the plan's visits on nights. The error wraps [ErrWindow].
func (p *Plan) Calendar(n Nights) (*Calendar, error) {
	r, err := n.rounds(p.Visit)
	if err != nil {
		return nil, err
	}
	c := &Calendar{Nights: n}
	add := func(phase Phase, order [][]int, begin func(round int) time.Time) {
		for round, steps := range order {
			for crew, i := range steps {
				if i < 0 {
					continue
				}
				at := begin(round)
				c.Jobs = append(c.Jobs, Job{&p.Steps[i], phase, crew + 1, at, at.Add(p.Visit)})
			}
		}
	}
	parks, moves := p.shared(ToPark), p.shared(ToMove)
	late := func(parks, moves [][]int) bool {
		total := len(parks) + len(moves)
		return total > 0 && r.beforehand(total-1).Before(n.From)
	}
	if late(parks, moves) {
		// The shortest order may still fit.
		if quick, quicker := p.order(ToPark, p.Crews), p.order(ToMove, p.Crews); !late(quick, quicker) {
			parks, moves = quick, quicker
		}
	}
	add(MoveNow, moves, func(round int) time.Time { return r.beforehand(len(parks) + len(moves) - 1 - round) })
	add(ParkNow, parks, func(round int) time.Time { return r.beforehand(len(parks) - 1 - round) })
	add(LockAfter, p.shared(ToLock), r.afterward)
	return c, nil
}

// shared shares visits out among the crews: by node, unless that takes clearly longer than
// need be.
func (p *Plan) shared(which Which) [][]int {
	const more = 20 // one round in so many
	shortest := p.order(which, p.Crews)
	if local := p.byNode(which, p.Crews); len(local) <= len(shortest)+len(shortest)/more {
		return local
	}
	return shortest
}

// CrewsBy returns the fewest crews with which the calendar begins no earlier than n.From;
// 0 if no number of crews can, because there are too many visits in one cascade. The error
// wraps [ErrWindow].
func (p *Plan) CrewsBy(n Nights) (int, error) {
	r, err := n.rounds(p.Visit)
	if err != nil {
		return 0, err
	}
	room := 0
	for room < len(p.Steps) && !r.beforehand(room).Before(n.From) {
		room++
	}
	most := max(len(p.Steps), 1)
	fits := func(crews int) bool { return p.rounds(ToMove, crews)+p.rounds(ToPark, crews) <= room }
	if !fits(most) {
		return 0, nil
	}
	return 1 + sort.Search(most, func(n int) bool { return fits(n + 1) }), nil
}
