package reading

import "tallywink.example/blink"

// look is a written frame, laid out for the forward pass.
//
// The pass walks through a codeword's marks and, in step with them, through the marks
// that were written. A state is the number k of written marks used so far, and whether
// a gap has been written since the last of them: a group whose marks were all missed
// leaves two gaps, of which only one is written. Before the first and after the last
// written mark, gaps leave no trace.
type look struct {
	marks []byte // all written marks in a row
	gap   []bool // gap[k]: a gap is before written mark k
	// wait[k] is the state with k marks used and no gap since; ready[k] is the state in
	// which mark k may come next. Without a gap before mark k they are the same state;
	// with a gap, ready comes after wait.
	wait, ready []int
	states      int
}

func newLook(f blink.Frame) *look {
	l := &look{}
	for i, g := range f {
		for j := range len(g) {
			l.marks = append(l.marks, g[j])
			l.gap = append(l.gap, i > 0 && j == 0)
		}
	}
	for k := range len(l.marks) + 1 {
		l.wait = append(l.wait, l.states)
		if k < len(l.marks) && l.gap[k] {
			l.states++
		}
		l.ready = append(l.ready, l.states)
		l.states++
	}
	return l
}

// last is the state in which everything written is used.
func (l *look) last() int { return l.states - 1 }

// matrix holds, for one digit, the probability of going from the state before its group
// to the state after its group and the gap behind it. Rows are nonzero from the
// diagonal up to, but not including, end.
type matrix struct {
	cells []float64
	end   []int
}

// matrixOf computes the matrix of a digit's marks for an observer.
func (l *look) matrixOf(pattern blink.Group, r rates) matrix {
	n := l.states
	m := matrix{cells: make([]float64, n*n), end: make([]int, n)}
	runs := runLengths(pattern)
	from := 0
	for k := range l.wait {
		for ; from <= l.ready[k]; from++ {
			row := m.cells[from*n : (from+1)*n]
			row[from] = 1
			reach := k // no mark written after this one can have been used yet
			for i := range len(pattern) {
				if i > 0 {
					l.gapEvent(row, from, k, reach, r.split)
				}
				l.markEvent(row, from, k, reach, pattern[i], r, r.miscount(runs[i]))
				reach = min(reach+2, len(l.marks))
			}
			// A whole group that was seen but not read matches any digit.
			if from == l.ready[k] && k < len(l.marks) && l.marks[k] == blink.UnreadMark[0] {
				row[l.wait[k+1]] += 1
				reach = max(reach, k+1)
			}
			l.gapEvent(row, from, k, reach, 1-r.together)
			m.end[from] = l.ready[reach] + 1
		}
	}
	return m
}

// gapEvent moves probability to the states after a gap that is written with probability
// p. Only the states from first on, with low to high marks used, are occupied.
func (l *look) gapEvent(row []float64, first, low, high int, p float64) {
	for k := max(low, 1); k <= min(high, len(l.marks)-1); k++ {
		wait, ready := l.wait[k], l.ready[k]
		if wait < first {
			continue
		}
		if wait != ready {
			row[ready] += row[wait] * p
		}
		// If the lamp shows no gap here, a written gap is a contradiction.
		row[wait] *= 1 - p
	}
}

// markEvent moves probability past one mark of the codeword. Only the states
// from first on, with low to high marks used, are occupied.
func (l *look) markEvent(row []float64, first, low, high int, mark byte, r rates, miscount float64) {
	missed, doubled := min(r.missed*miscount, mostRate), min(r.doubled*miscount, mostRate)
	once := 1 - missed - doubled
	if mark == blink.EmptyGroup[0] {
		missed, doubled, once = leftOut, 0, 1-leftOut
	}
	// Go from the last state to the first, so that probability is not moved twice.
	for k := high; k >= low; k-- {
		if l.wait[k] >= first && l.wait[k] != l.ready[k] {
			row[l.wait[k]] *= missed
		}
		state := l.ready[k]
		p := row[state]
		row[state] = p * missed
		if k == len(l.marks) {
			continue
		}
		seen := p * emission(mark, l.marks[k], r)
		row[l.wait[k+1]] += seen * once
		if k+1 < len(l.marks) && !l.gap[k+1] {
			row[l.wait[k+2]] += seen * emission(mark, l.marks[k+1], r) * doubled
		}
	}
}

// leftOut is the chance that a group without light is not written at all: nothing is there
// to be counted. This is an assumption.
const leftOut = 0.5

// emission is the probability that a mark that was seen is written this way. A mark
// written as unsure says nothing about its length.
func emission(mark, written byte, r rates) float64 {
	if mark != written && (mark == blink.EmptyGroup[0] || written == blink.EmptyGroup[0]) {
		return 0
	}
	switch {
	case mark == blink.EmptyGroup[0] && written == mark:
		return 1
	case written == mark:
		return 1 - r.mistaken
	case written == blink.UnsureMark:
		return 1
	case written == blink.UnreadMark[0]:
		return 0
	}
	return r.mistaken
}

// runLengths returns, for each mark, the length of the run of equal marks that it is
// in.
func runLengths(g blink.Group) []int {
	runs := make([]int, len(g))
	for start := 0; start < len(g); {
		end := start
		for end < len(g) && g[end] == g[start] {
			end++
		}
		for i := start; i < end; i++ {
			runs[i] = end - start
		}
		start = end
	}
	return runs
}
