package reading

import (
	"cmp"
	"math"
	"slices"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// Sure is the probability at which the best candidate counts as an answer and the
// reading is not doubtful.
const Sure = 0.95

// OffPlan is the prior weight of a pilot that the code can name but the plan does not
// have; a pilot in the plan has 1. It is unlikely, but must show up when it is clearly
// what the lamp shows.
const OffPlan = 0.01

// Start is what is known about where a look began.
type Start uint8

// The starts.
const (
	StartSeen   Start = iota // after the long dark, at the head
	StartUnseen              // anywhere: every rotation is considered
)

// Candidate is a pilot and the probability that the lamp showed it.
type Candidate struct {
	Pilot       channelplan.Pilot
	Probability float64 // 0 to 1
}

// Result is the outcome of looks at one lamp.
type Result struct {
	// Candidates are the most likely pilots, the best first. Pilots of equal probability
	// are in order of kind and channel. Those below a millionth are left out, but there is
	// always one if the code has a codeword.
	Candidates []Candidate
	// Stranger is the probability that the looks were not a frame of the code. Together
	// with the candidates' probabilities it adds up to 1, less what was left out.
	Stranger float64
}

// Best returns the first candidate. If the code has no codewords it returns a zero
// candidate.
func (r Result) Best() Candidate {
	if len(r.Candidates) == 0 {
		return Candidate{}
	}
	return r.Candidates[0]
}

// Doubtful reports whether the best candidate is not far enough ahead: its probability
// is below [Sure].
func (r Result) Doubtful() bool { return !(r.Best().Probability >= Sure) }

// Reader weighs what was seen against every codeword of a code. It is safe
// for use by one goroutine at a time.
type Reader struct {
	code   *blink.Code
	model  Model
	pilots []channelplan.Pilot
	// alphabet holds all groups that occur in the code's frames.
	alphabet []blink.Group
	prior    []float64
	books    []codebook
	rates    []rates // by skill
	scratch
}

// codebook is the codewords of one length.
type codebook struct {
	frame  int          // number of groups in each
	words  [][]int      // places in the alphabet
	pilots []int        // by codeword, which pilot it names
	walks  map[int]walk // by number of groups
}

// walk is how codewords are followed for a number of groups, beginning at each of their
// groups.
type walk struct {
	turns []turn
	stop  []float64 // by group: the chance that nothing is written from there on
}

// NewReader makes a reader of a code under a model. The prior gives the weight of each
// pilot of the code, on any scale. With nil, or if the weights do not add up to
// anything, all pilots weigh the same.
func NewReader(code *blink.Code, model Model, prior func(channelplan.Pilot) float64) *Reader {
	r := &Reader{code: code, model: model}
	var words [][]int
	r.pilots, words, r.alphabet = codewordsOf(code)
	for w, word := range words {
		i := slices.IndexFunc(r.books, func(b codebook) bool { return b.frame == len(word) })
		if i < 0 {
			i = len(r.books)
			r.books = append(r.books, codebook{frame: len(word), walks: map[int]walk{}})
		}
		r.books[i].words, r.books[i].pilots = append(r.books[i].words, word), append(r.books[i].pilots, w)
	}
	r.prior = sharesOf(r.pilots, prior)
	for i := range r.prior {
		r.prior[i] *= 1 - model.Stranger
	}
	for _, s := range model.Skills {
		r.rates = append(r.rates, model.rates(s.Factor))
	}
	return r
}

// sharesOf returns each pilot's share of a prior, which may be on any scale. With nil,
// or if the weights do not add up to anything, all shares are the same.
func sharesOf(pilots []channelplan.Pilot, prior func(channelplan.Pilot) float64) []float64 {
	shares := make([]float64, len(pilots))
	sum := 0.0
	for i, p := range pilots {
		shares[i] = 1
		if prior != nil {
			shares[i] = prior(p)
		}
		sum += shares[i]
	}
	usable := sum > 0 && !math.IsInf(sum, 0)
	for i := range shares {
		if !usable {
			shares[i], sum = 1, float64(len(shares))
		}
		shares[i] /= sum
	}
	return shares
}

// Read weighs looks at one lamp. There must be at least one look, with at least one
// mark in each, as [blink.ParseNotation] returns them. They count as looks by one
// observer, independent except for looks with the same error.
func (r *Reader) Read(looks []blink.Frame, start Start) Result {
	words := len(r.pilots)
	if words == 0 {
		return Result{Stranger: 1}
	}
	other := 0.0
	if len(looks) > 1 { // a single look can only be of this lamp
		other = r.model.OtherLamp
	}
	// The likelihood of all looks up to now, by skill and codeword, and that of a
	// stranger. They are scaled together after each look, so that many looks do not
	// underflow.
	r.joint, r.one = grown(r.joint, len(r.rates)*words), grown(r.one, words)
	joint, one := r.joint, r.one
	for i := range joint {
		joint[i] = 1
	}
	stranger := 1.0
	r.symbols = slices.Grow(r.symbols[:0], len(r.alphabet))[:len(r.alphabet)]
	for n, f := range looks {
		same := 0.0
		if !r.spells(f) && slices.ContainsFunc(looks[:n],
			func(earlier blink.Frame) bool { return slices.Equal(earlier, f) }) {
			same = r.model.Same
		}
		l := newLook(f)
		largest := 0.0
		for s, rates := range r.rates {
			for i, g := range r.alphabet {
				r.symbols[i] = l.matrixOf(g, rates)
			}
			for b := range r.books {
				r.books[b].likelihoods(r, l, len(f), start, one)
			}
			any := 0.0 // the likelihood if it was another lamp
			for w, p := range one {
				any += r.prior[w] * p
			}
			for w, p := range one {
				joint[s*words+w] *= same + (1-same)*((1-other)*p+other*any)
				largest = max(largest, joint[s*words+w])
			}
		}
		stranger *= same + (1-same)*strangerLikelihood(f)
		if scale := max(largest, stranger); scale > 0 {
			for i := range joint {
				joint[i] /= scale
			}
			stranger /= scale
		}
	}

	weights := make([]float64, words)
	stranger *= r.model.Stranger
	sum := stranger
	best := 0.0
	for w := range weights {
		for s, skill := range r.model.Skills {
			weights[w] += r.prior[w] * skill.Share * joint[s*words+w]
		}
		sum += weights[w]
		best = max(best, weights[w])
	}
	if sum == 0 { // nothing explains the looks under this model, not even a stranger
		return Result{Candidates: []Candidate{{Pilot: r.pilots[0]}}, Stranger: 1}
	}
	result := Result{Stranger: stranger / sum}
	for w, p := range weights {
		if p >= min(best, sum*least) {
			result.Candidates = append(result.Candidates, Candidate{r.pilots[w], p / sum})
		}
	}
	slices.SortStableFunc(result.Candidates, func(a,
		b Candidate) int {
		return cmp.Compare(b.Probability, a.Probability)
	})
	return result
}

// spells reports whether a look, read strictly, is a codeword.
func (r *Reader) spells(look blink.Frame) bool {
	digits, ok := r.code.DigitsOf(look)
	if !ok {
		return false
	}
	_, err := r.code.Pilot(digits)
	return err == nil
}

// least is the probability below which a candidate is left out.
const least = 1e-6

// maxFrames is how many frames marks may continue for. Beyond that the look is
// explained by miscounting alone, and so hardly at all.
const maxFrames = 3

// likelihoods sets, by pilot, the likelihood of a look with seen groups under the
// reader's matrices, for the pilots whose codewords are in the book.
func (b *codebook) likelihoods(r *Reader, l *look, seen int, start Start, into []float64) {
	walk := b.walk(seen, len(r.alphabet), r.model)
	r.part = grown(r.part, len(b.words))
	for g := range walk.turns {
		walk.turns[g].likelihoods(l, r.symbols, walk.stop, r.startShare(start, g, b.frame), &r.scratch, r.part)
	}
	for w, p := range r.part {
		into[b.pilots[w]] = p
	}
}

// walk returns how codewords are followed to explain a look with some number of groups:
// for one frame, or further if there are more groups than that.
func (b *codebook) walk(seen, alphabet int, model Model) walk {
	groups := b.frame
	if seen > b.frame {
		groups = min(seen+1, maxFrames*b.frame)
	}
	w, ok := b.walks[groups]
	if ok {
		return w
	}
	for start := range b.frame {
		w.turns = append(w.turns, newTurn(b.words, alphabet, start, groups))
	}
	for g := range groups {
		stop := model.CutShort
		switch {
		case g == b.frame:
			stop = 1 - model.RunsOn
		case g > b.frame:
			stop = 1 / float64(b.frame) // the person may notice anywhere
		}
		w.stop = append(w.stop, stop)
	}
	b.walks[groups] = w
	return w
}

// startShare is the prior that a look at a frame with some number of groups begins at
// group g.
func (r *Reader) startShare(start Start, g, groups int) float64 {
	switch {
	case start == StartUnseen:
		return 1 / float64(groups)
	case groups == 1:
		return 1
	case g == 0:
		return 1 - r.model.WrongStart
	}
	return r.model.WrongStart / float64(groups-1)
}
