package reading

import (
	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// turn is a code's codewords as they read when begun at one of their groups.
//
// Codewords share beginnings and ends. The first half of each is a path down a tree of
// prefixes, and the second half a path up from a tree of suffixes. A codeword is one
// path of each, so the pass runs once per node instead of once per codeword.
type turn struct {
	prefixes, suffixes []node // a node comes after its parent; node 0 is the empty root
	prefixOf, suffixOf []int  // by codeword
}

// node adds one digit: after a prefix, or before a suffix.
type node struct {
	parent, digit int
	depth         int // digits from the root, this one included
}

// newTurn lays out codewords that begin at group start and continue for a number of
// groups, from frame to frame.
func newTurn(codewords [][]int, start, groups int) turn {
	t := turn{prefixOf: make([]int, len(codewords)), suffixOf: make([]int, len(codewords))}
	prefixes, suffixes := newTree(), newTree()
	for w, word := range codewords {
		n := len(word)
		half := (groups + 1) / 2
		for i := range half {
			t.prefixOf[w] = prefixes.child(t.prefixOf[w], word[(start+i)%n])
		}
		for i := groups - 1; i >= half; i-- {
			t.suffixOf[w] = suffixes.child(t.suffixOf[w], word[(start+i)%n])
		}
	}
	t.prefixes, t.suffixes = prefixes.nodes, suffixes.nodes
	return t
}

// tree is a tree of digits while it is built.
type tree struct {
	nodes    []node
	children [][10]int // by node and digit; 0, the root, if there is none
}

func newTree() *tree { return &tree{nodes: []node{{}}, children: make([][10]int, 1)} }

// child returns the node of a digit under a parent, and makes it if there is none.
func (t *tree) child(parent, digit int) int {
	at := t.children[parent][digit]
	if at == 0 {
		at = len(t.nodes)
		t.children[parent][digit] = at
		t.nodes = append(t.nodes, node{parent, digit, t.nodes[parent].depth + 1})
		t.children = append(t.children, [10]int{})
	}
	return at
}

// scratch is memory that is reused by passes over turns.
type scratch struct {
	forward, backward []float64
	stopped           []float64 // by prefix: the probability of having stopped within it
	joint, one        []float64 // see Read
	part              []float64 // by codeword of one length
}

func grown(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	s = s[:n]
	clear(s)
	return s
}

// likelihoods adds to into, by codeword, share times the likelihood of a look under one
// observer's matrices. stop[i] is the chance that nothing is written from group i on.
// Nothing follows the last group.
func (t *turn) likelihoods(l *look, digits *[10]matrix, stop []float64, share float64, s *scratch, into []float64) {
	n := l.states
	last := l.last()

	s.forward = grown(s.forward, n*len(t.prefixes))
	s.stopped = grown(s.stopped, len(t.prefixes))
	s.forward[0] = 1
	for i, p := range t.prefixes {
		if i == 0 {
			continue
		}
		from, to := s.forward[p.parent*n:(p.parent+1)*n], s.forward[i*n:(i+1)*n]
		goOn := 1.0
		if p.parent != 0 {
			cut := stop[p.depth-1]
			goOn = 1 - cut
			s.stopped[i] = s.stopped[p.parent] + cut*from[last]
		}
		m := &digits[p.digit]
		for a, x := range from {
			if x *= goOn; x == 0 {
				continue
			}
			end := m.end[a]
			cells := m.cells[a*n+a : a*n+end]
			out := to[a:][:len(cells)]
			for b, c := range cells {
				out[b] += x * c
			}
		}
	}

	s.backward = grown(s.backward, n*len(t.suffixes))
	s.backward[last] = 1
	for i, p := range t.suffixes {
		if i == 0 {
			continue
		}
		from, to := s.backward[p.parent*n:(p.parent+1)*n], s.backward[i*n:(i+1)*n]
		m := &digits[p.digit]
		cut := stop[len(stop)-p.depth]
		for a := range to {
			to[a] = (1 - cut) * dot(m.cells[a*n+a:a*n+m.end[a]], from[a:])
		}
		to[last] += cut
	}

	for w, prefix := range t.prefixOf {
		f, b := s.forward[prefix*n:(prefix+1)*n], s.backward[t.suffixOf[w]*n:]
		into[w] += share * (s.stopped[prefix] + dot(f, b))
	}
}

// dot returns the sum of a's elements times b's; b has at least as many. Two sums in
// parallel keep the processor from waiting for each addition: this is the innermost
// loop.
func dot(a, b []float64) float64 {
	b = b[:len(a)]
	even, odd := 0.0, 0.0
	i := 0
	for ; i+1 < len(a); i += 2 {
		even += a[i] * b[i]
		odd += a[i+1] * b[i+1]
	}
	if i < len(a) {
		even += a[i] * b[i]
	}
	return even + odd
}

// codewordsOf returns all pilots of a code with their digits.
func codewordsOf(code *blink.Code) (pilots []channelplan.Pilot, words [][]int) {
	for p := range code.Pilots {
		digits, err := code.Digits(p)
		if err != nil {
			continue // a pilot that the code lists but can't spell does not have a codeword
		}
		pilots, words = append(pilots, p), append(words, digits)
	}
	return pilots, words
}
