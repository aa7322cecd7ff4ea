package cutover

import (
	"container/heap"
	"slices"
	"sort"
	"time"
)

// Which selects steps.
type Which func(*Step) bool

// Spared selects the steps that would not have to be parked if their new pilot were
// carried along with the old one for a while.
func Spared(s *Step) bool { return s.Addable && s.Stage == Waiting }

// Needs returns how long all crews together take for the selected visits: an amplifier is
// visited once the selected one before it is done, each crew is in one place at a time,
// and amplifiers with the longest way still downstream of them go first. For visits of
// equal length that is the shortest time possible (Hu, Parallel sequencing and assembly
// line problems, Operations Research 9, 1961).
func (p *Plan) Needs(which Which) time.Duration {
	return time.Duration(p.rounds(which, p.Crews)) * p.Visit
}

// CrewsFor returns the fewest crews that can do the selected visits in a given time; 0 if
// no number of crews can, because there are too many in one cascade.
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
	// More crews never take longer, and one crew per visit is enough.
	return 1 + sort.Search(visits, func(n int) bool { return p.rounds(which, n+1) <= fit })
}

// ups returns, for each selected step, the nearest selected step before it in its
// cascade, -1 if there is none; -2 for all other steps.
func (p *Plan) ups(which Which) []int {
	nearest := make([]int, len(p.Steps)) // the nearest selected step at or above each
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

// tails returns how many visits follow one another from each step on, including itself; 0
// for steps that are not visited.
func (p *Plan) tails(up []int) []int {
	tails := make([]int, len(up))
	for i := len(up) - 1; i >= 0; i-- { // downstream steps come later in the list
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

// rounds returns how many visits follow one another with so many crews.
func (p *Plan) rounds(which Which, crews int) int { return len(p.order(which, crews)) }

// order simulates the visits, with as many at a time as there are crews: it returns the
// steps visited at the same time, one such round after another.
func (p *Plan) order(which Which, crews int) [][]int {
	first, below, tails := p.sequence(which)
	ready := &longestFirst{first, tails}
	heap.Init(ready)
	var rounds [][]int
	for ready.Len() > 0 {
		var done []int
		for range min(crews, ready.Len()) {
			done = append(done, heap.Pop(ready).(int))
		}
		for _, i := range done {
			for _, next := range below[i] {
				heap.Push(ready, next)
			}
		}
		rounds = append(rounds, done)
	}
	return rounds
}

// sequence returns the selected steps with which to begin, those that become possible
// after each, and their tails.
func (p *Plan) sequence(which Which) (first []int, below map[int][]int, tails []int) {
	up := p.ups(which)
	below = make(map[int][]int)
	for i, before := range up {
		switch {
		case before >= 0:
			below[before] = append(below[before], i)
		case before == -1:
			first = append(first, i)
		}
	}
	return first, below, p.tails(up)
}

// byNode simulates the visits with crews that stay in a node as long as there is
// something to do: it returns what each crew visits, one round after another, -1 where a
// crew has to wait. That saves driving, but may take longer than [Plan.order].
func (p *Plan) byNode(which Which, crews int) [][]int {
	first, below, tails := p.sequence(which)
	ready := map[string]*longestFirst{} // in each node
	open := &longestFirst{tails: tails} // steps whose nodes wait for a crew; some are done
	left := 0                           // steps in ready
	begin := func(i int) {
		node := p.Steps[i].Node
		if ready[node] == nil {
			ready[node] = &longestFirst{tails: tails}
		}
		heap.Push(ready[node], i)
		heap.Push(open, i)
		left++
	}
	for _, i := range first {
		begin(i)
	}
	at := make([]string, crews) // the node in which a crew is
	has := make([]bool, crews)
	crewsAt := map[string]int{}
	visited := make([]bool, len(p.Steps))
	var rounds [][]int
	round := make([]int, crews)
	for left > 0 {
		busy := 0 // crews up to the last that has a visit
		for crew := range round {
			round[crew] = -1
			if h := ready[at[crew]]; !has[crew] || h == nil || h.Len() == 0 {
				if has[crew] {
					crewsAt[at[crew]]--
				}
				has[crew] = false
				// The node with the longest way to go that nobody is in; else any.
				var passed []int
				for open.Len() > 0 && !has[crew] {
					i := heap.Pop(open).(int)
					switch node := p.Steps[i].Node; {
					case visited[i]:
					case crewsAt[node] > 0:
						passed = append(passed, i)
					default:
						at[crew], has[crew] = node, true
						passed = append(passed, i)
					}
					if len(passed) > 2*crews {
						break
					}
				}
				for _, i := range passed {
					heap.Push(open, i)
					if node := p.Steps[i].Node; !has[crew] && ready[node].Len() > 0 {
						at[crew], has[crew] = node, true
					}
				}
				if !has[crew] {
					continue
				}
				crewsAt[at[crew]]++
			}
			if h := ready[at[crew]]; h.Len() > 0 {
				round[crew] = heap.Pop(h).(int)
				visited[round[crew]] = true
				left--
				busy = crew + 1
			}
		}
		for _, i := range round[:busy] {
			if i >= 0 {
				for _, next := range below[i] {
					begin(next)
				}
			}
		}
		rounds = append(rounds, slices.Clone(round[:busy]))
	}
	return rounds
}

// longestFirst is a heap of steps, the one with the longest tail first.
type longestFirst struct{ steps, tails []int }

func (h *longestFirst) Len() int           { return len(h.steps) }
func (h *longestFirst) Less(i, j int) bool { return h.tails[h.steps[i]] > h.tails[h.steps[j]] }
func (h *longestFirst) Swap(i, j int)      { h.steps[i], h.steps[j] = h.steps[j], h.steps[i] }

// Push implements [heap.Interface].
func (h *longestFirst) Push(x any) { h.steps = append(h.steps, x.(int)) }

// Pop implements [heap.Interface].
func (h *longestFirst) Pop() any {
	n := len(h.steps) - 1
	x := h.steps[n]
	h.steps = h.steps[:n]
	return x
}
