package reading

import (
	"slices"

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

// node adds one group: after a prefix, or before a suffix. Its symbol is the group's place
// in the reader's alphabet.
type node struct {
	parent, symbol int
	depth          int // groups from the root, this one included
}

// newTurn lays out codewords that begin at group start and continue for a number of
// groups, from frame to frame.
func newTurn(codewords [][]int, alphabet, start, groups int) turn {
	t := turn{prefixOf: make([]int, len(codewords)), suffixOf: make([]int, len(codewords))}
	prefixes, suffixes := newTree(alphabet), newTree(alphabet)
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

// tree is a tree of groups while it is built.
type tree struct {
	nodes    []node
	alphabet int
	children [][]int // by node and symbol; 0, the root, if there is none
}

func newTree(alphabet int) *tree {
	return &tree{nodes: []node{{}}, alphabet: alphabet, children: [][]int{make([]int, alphabet)}}
}

// child returns the node of a symbol under a parent, and makes it if there is none.
func (t *tree) child(parent, symbol int) int {
	at := t.children[parent][symbol]
	if at == 0 {
		at = len(t.nodes)
		t.children[parent][symbol] = at
		t.nodes = append(t.nodes, node{parent, symbol, t.nodes[parent].depth + 1})
		t.children = append(t.children, make([]int, t.alphabet))
	}
	return at
}

// scratch is memory that is reused by passes over turns.
type scratch struct {
	symbols           []matrix // by place in the alphabet, for the look and the observer at hand
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
func (t *turn) likelihoods(l *look, symbols []matrix, stop []float64, share float64, s *scratch, into []float64) {
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
		m := &symbols[p.symbol]
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
		m := &symbols[p.symbol]
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

// codewordsOf returns all pilots of a code with their frames, and all groups that occur in
// them. A frame is a list of places in that alphabet.
func codewordsOf(code *blink.Code) (pilots []channelplan.Pilot, words [][]int, alphabet []blink.Group) {
	for p := range code.Pilots {
		frame, err := code.Encode(p)
		if err != nil {
			continue // a pilot that the code lists but can't spell does not have a codeword
		}
		word := make([]int, len(frame))
		for i, g := range frame {
			if word[i] = slices.Index(alphabet, g); word[i] < 0 {
				word[i] = len(alphabet)
				alphabet = append(alphabet, g)
			}
		}
		pilots, words = append(pilots, p), append(words, word)
	}
	return pilots, words, alphabet
}
