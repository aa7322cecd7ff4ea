package reading

import (
	"math"
	"strings"
	"time"

	"tallywink.example/blink"
)

// This file guards against a light that repeats a frame that is not one of the code's:
// it has a wrong check digit every time, or a group too few. The model of [TimedReader]
// takes errors in different frames as independent, and so would explain each such frame
// as the same codeword with an error. But the same error again and again is far less
// likely than a lamp that does not use this code.

// sameError is the chance that a whole frame is observed with one particular error.
const sameError = 0.02

// frameAs is a frame as it was observed, judged by lengths alone.
type frameAs struct {
	at    time.Duration // when it ended
	marks string        // a space between groups
}

// framesIn reads intervals as frames, rounding each length to the nearest one of the
// code. It returns only frames that were observed from one long dark to the next, or to
// a bar.
func (r *TimedReader) framesIn(piece Piece, unit time.Duration) (frames []frameAs) {
	t := r.code.Timing
	// The limit between two lengths is halfway in logarithm.
	between := func(a, b int) time.Duration {
		return time.Duration(math.Sqrt(float64(a)*float64(b)) * float64(unit))
	}
	long, bar := between(t.Short, t.Long), between(t.Long, r.shortestBar())
	group, rest := between(t.MarkGap, t.GroupGap), between(t.GroupGap, t.Rest)
	at, marks, whole := piece.From, "", false
	end := func() {
		if whole && marks != "" {
			frames = append(frames, frameAs{at, marks})
		}
		marks, whole = "", false
	}
	for i, iv := range piece.Intervals {
		cut := i == 0 || i == len(piece.Intervals)-1
		switch {
		case iv.Lit && cut:
			marks, whole = "", false
		case iv.Lit && iv.Duration > bar:
			end()
		case iv.Lit && iv.Duration > long:
			marks += string(blink.LongMark)
		case iv.Lit:
			marks += string(blink.ShortMark)
		case iv.Duration > rest:
			end()
			whole = true
		case cut:
		case iv.Duration > group:
			marks += " "
		}
		at += iv.Duration
	}
	return frames
}

// shortestBar is the shortest bar in the rest of a frame, in units. If the code has no
// bars it is longer than any stretch of a frame.
func (r *TimedReader) shortestBar() int {
	shortest := 100 * r.code.Timing.Long
	for _, rest := range r.code.EdgeRests {
		for _, b := range rest {
			if b.Lit {
				shortest = min(shortest, b.Units)
			}
		}
	}
	return shortest
}

// repeated returns the frame that was observed most often since a time, and how often
// that frame and a certain other frame were observed.
func (r *TimedReader) repeated(pieces []Piece, since, unit time.Duration, certain string) (most string, n, own int) {
	counts := map[string]int{}
	for _, p := range pieces {
		for _, f := range r.framesIn(p, unit) {
			if f.at <= since {
				continue
			}
			// The dark before a bar reads as a gap between groups.
			if marks := strings.TrimRight(f.marks, " "); marks != "" {
				counts[marks]++
			}
		}
	}
	for marks, count := range counts {
		if count > n || count == n && marks < most {
			most, n = marks, count
		}
	}
	return most, n, counts[certain]
}

// weighStranger gives a repeated frame its share of the probability if it is not the
// best candidate's.
func (r *TimedReader) weighStranger(pieces []Piece, result *TimedResult) {
	best := result.Best().Signal
	if !best.ShowsFrame() || result.Unit <= 0 {
		return
	}
	frame, err := r.code.Encode(best.Pilot)
	if err != nil {
		return
	}
	since := result.Sequence[len(result.Sequence)-1].From
	lit := frame.Lit().String() // a group without light does not show in lengths alone
	marks, n, own := r.repeated(pieces, since, result.Unit, lit)
	if n < 2 || n <= own || marks == lit {
		return
	}
	odds := r.model.Stranger / math.Pow(sameError, float64(n-own))
	result.NotAFrame = marks
	result.Stranger = max(result.Stranger, odds/(1+odds))
	scale := (1 - result.Stranger) / max(sumOf(result.Candidates), math.SmallestNonzeroFloat64)
	for i := range result.Candidates {
		result.Candidates[i].Probability *= min(scale, 1)
	}
	last := &result.Sequence[len(result.Sequence)-1]
	last.Probability *= 1 - result.Stranger
}

func sumOf(candidates []TimedCandidate) (sum float64) {
	for _, c := range candidates {
		sum += c.Probability
	}
	return sum
}
