package reading

import (
	"cmp"
	"slices"

	"tallywink.example/blink"
)

// Sure is the probability from which the best candidate is an answer and the
// reading is not doubtful.
const Sure = 0.95

// Foreign is the prior weight of a pilot that the code can name but the plan
// does not have, against 1 for one that it has: unlikely, but to be heard of
// when it is what the lamp clearly says.
const Foreign = 0.01

// Start says what is known of where a look began.
type Start uint8

// The starts.
const (
	StartSeen   Start = iota // after the long dark, at the head
	StartUnseen              // anywhere: every rotation is weighed
)

// Candidate is a pilot and the probability that the lamp told it.
type Candidate struct {
	Pilot       blink.Pilot
	Probability float64
}

// Result is what looks at one lamp come to.
type Result struct {
	// Candidates are the likeliest pilots, the best first; pilots of equal
	// probability stand in order of kind and channel. Those below a
	// millionth are left out, but there is always one.
	Candidates []Candidate
	// Stranger is the probability that it was no frame of the code. With the
	// candidates', the probabilities add up to 1, less what was left out.
	Stranger float64
}

// Best returns the first candidate.
func (r Result) Best() Candidate { return r.Candidates[0] }

// Doubtful tells whether the best candidate is not far enough ahead: its
// probability is below [Sure].
func (r Result) Doubtful() bool { return r.Best().Probability < Sure }

// Reader weighs what was seen against every codeword of a code. It is safe
// for use by one goroutine at a time.
type Reader struct {
	code   *blink.Code
	model  Model
	pilots []blink.Pilot
	prior  []float64
	turns  []turn
	rates  []rates // by skill
	scratch
}

// NewReader makes a reader of a code under a model. The prior gives the
// weight of each pilot of the code, in any scale; with nil all weigh alike.
func NewReader(code *blink.Code, model Model, prior func(blink.Pilot) float64) *Reader {
	r := &Reader{code: code, model: model}
	var words [][]int
	r.pilots, words = codewordsOf(code)
	sum := 0.0
	for _, p := range r.pilots {
		weight := 1.0
		if prior != nil {
			weight = prior(p)
		}
		r.prior = append(r.prior, weight)
		sum += weight
	}
	for i := range r.prior {
		r.prior[i] *= (1 - model.Stranger) / sum
	}
	for start := range code.Groups {
		r.turns = append(r.turns, newTurn(words, start))
	}
	for _, s := range model.Skills {
		r.rates = append(r.rates, model.rates(s.Factor))
	}
	return r
}

// Read weighs looks at one lamp, of which there is at least one and each has
// at least one mark, as [blink.ParseNotation] gives them. They are taken as
// independent looks by one observer.
func (r *Reader) Read(looks []blink.Frame, start Start) Result {
	words := len(r.pilots)
	// By skill and codeword, the likelihood of all looks up to now; and that
	// of a stranger. They are scaled together after each look, lest many
	// looks underflow.
	r.joint, r.one = grown(r.joint, len(r.rates)*words), grown(r.one, words)
	joint, one := r.joint, r.one
	for i := range joint {
		joint[i] = 1
	}
	stranger := 1.0
	for _, f := range looks {
		l := newLook(f)
		largest := 0.0
		for s, rates := range r.rates {
			var digits [10]matrix
			for d, pattern := range r.code.Patterns {
				digits[d] = l.matrixOf(pattern, rates)
			}
			clear(one)
			best := 0.0
			for g := range r.turns {
				best = r.turns[g].likelihoods(l, &digits, r.model.CutShort, r.startShare(start, g), best, &r.scratch, one)
			}
			for w, p := range one {
				joint[s*words+w] *= p
				largest = max(largest, joint[s*words+w])
			}
		}
		stranger *= strangerLikelihood(f)
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
	result := Result{Stranger: stranger / sum}
	for w, p := range weights {
		if p >= min(best, sum*least) {
			result.Candidates = append(result.Candidates, Candidate{r.pilots[w], p / sum})
		}
	}
	slices.SortStableFunc(result.Candidates, func(a, b Candidate) int { return cmp.Compare(b.Probability, a.Probability) })
	return result
}

// least is the probability below which a candidate is left out.
const least = 1e-6

// startShare is the prior of a look beginning at group g.
func (r *Reader) startShare(start Start, g int) float64 {
	groups := float64(len(r.turns))
	switch {
	case start == StartUnseen:
		return 1 / groups
	case len(r.turns) == 1:
		return 1
	case g == 0:
		return 1 - r.model.WrongStart
	}
	return r.model.WrongStart / (groups - 1)
}
