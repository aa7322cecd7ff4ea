package cutover

import (
	"container/heap"
	"slices"
	"sort"
	"time"
)

// Which tells of steps whether they are meant.
type Which func(*Step) bool

// Doing are the steps of some actions.
func Doing(actions ...Action) Which {
	return func(s *Step) bool { return slices.Contains(actions, s.Action) }
}

// Spared are those that need not be parked, were their new pilot carried for a while beside
// the old one.
func Spared(s *Step) bool { return s.Addable }

// Needs returns how long all crews together take for some visits: an
// amplifier is visited once the one before it that is visited too is done, each crew is in
// one place at a time, and who has the longest way still below goes first. For visits of
// one length that is the shortest there is (Hu, Parallel sequencing and assembly line
// problems, Operations Research 9, 1961).
func (p *Plan) Needs(which Which) time.Duration {
	return time.Duration(p.rounds(which, p.Crews)) * p.Visit
}

// CrewsFor returns how many crews do some visits in a time, the fewest; 0 where no number
// does, since too many stand in one cascade.
func (p *Plan) CrewsFor(which Which, within time.Duration) int {
	longest, visits := 0, 0
	for _, tail := range p.tails(p.ups(which)) {
		longest = max(longest, tail)
		visits += min(tail, 1)
	}
	fit := int(within / p.Visit)
	if longest > fit {
		return 0
	}
	// More crews never take longer, and one for each visit is enough.
	return 1 + sort.Search(visits, func(n int) bool { return p.rounds(which, n+1) <= fit })
}

// ups returns, for each step that is meant, the nearest before it in its cascade
// that is one too, -1 where there is none; -2 for all others.
func (p *Plan) ups(which Which) []int {
	nearest := make([]int, len(p.Steps)) // the nearest at or above each
	up := make([]int, len(p.Steps))
	for i := range p.Steps {
		s := &p.Steps[i]
		before := -1
		if s.up >= 0 {
			before = nearest[s.up]
		}
		nearest[i], up[i] = before, -2
		if which(s) {
			nearest[i], up[i] = i, before
		}
	}
	return up
}

// tails are how many visits follow one another from each on, itself included; 0 for what
// is not visited.
func (p *Plan) tails(up []int) []int {
	tails := make([]int, len(up))
	for i := len(up) - 1; i >= 0; i-- { // what is below stands behind
		if up[i] == -2 {
			continue
		}
		tails[i] = max(tails[i], 1)
		if before := up[i]; before >= 0 {
			tails[before] = max(tails[before], tails[i]+1)
		}
	}
	return tails
}

// rounds plays the visits through, as many at a time as there are crews.
func (p *Plan) rounds(which Which, crews int) int {
	up := p.ups(which)
	ready := &longestFirst{tails: p.tails(up)}
	below := make(map[int][]int)
	for i, before := range up {
		switch {
		case before >= 0:
			below[before] = append(below[before], i)
		case before == -1:
			ready.steps = append(ready.steps, i)
		}
	}
	heap.Init(ready)
	rounds := 0
	for ; ready.Len() > 0; rounds++ {
		var done []int
		for range min(crews, ready.Len()) {
			done = append(done, heap.Pop(ready).(int))
		}
		for _, i := range done {
			for _, next := range below[i] {
				heap.Push(ready, next)
			}
		}
	}
	return rounds
}

// longestFirst is a heap of steps, the one with the longest tail first.
type longestFirst struct{ steps, tails []int }

func (h *longestFirst) Len() int           { return len(h.steps) }
func (h *longestFirst) Less(i, j int) bool { return h.tails[h.steps[i]] > h.tails[h.steps[j]] }
func (h *longestFirst) Swap(i, j int)      { h.steps[i], h.steps[j] = h.steps[j], h.steps[i] }

// Push is [heap.Interface]'s.
func (h *longestFirst) Push(x any) { h.steps = append(h.steps, x.(int)) }

// Pop is [heap.Interface]'s.
func (h *longestFirst) Pop() any {
	n := len(h.steps) - 1
	x := h.steps[n]
	h.steps = h.steps[:n]
	return x
}
