package reading

import (
	"math"
	"strings"
	"time"

	"tallywink.example/blink"
)

// This file guards against a light that repeats a frame which is none of the
// code's: a wrong check digit every time, a group too few. The model of
// [TimedReader] takes errors in different frames for independent of each
// other, and so would explain each of these frames as the same codeword with
// an error; that one and the same error comes again and again is far less
// likely than that the lamp does not speak this code.

// sameError is how likely a whole frame is observed with one certain error.
const sameError = 0.02

// frameAs is a frame as it was observed, by lengths alone.
type frameAs struct {
	at    time.Duration // when it ended
	marks string        // groups apart by spaces
}

// framesIn takes intervals for frames, each length for the nearest that the
// code has. Only frames that were observed from a long dark to the next, or
// to a bar, are returned.
func (r *TimedReader) framesIn(piece Piece, unit time.Duration) (frames []frameAs) {
	t := r.code.Timing
	// Lengths are told apart half way, in logarithm.
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

// shortestBar is the shortest bar in the rest of a frame, in units; where the
// code has none, a stretch longer than any of a frame.
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

// repeated returns the frame that was observed most often since a time, and
// how often it and a certain frame were.
func (r *TimedReader) repeated(pieces []Piece, since, unit time.Duration, certain string) (most string, n, own int) {
	counts := map[string]int{}
	for _, p := range pieces {
		for _, f := range r.framesIn(p, unit) {
			if f.at <= since {
				continue
			}
			// The dark before a bar is taken for one between groups.
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

// weighForeign gives a repeated frame that is not the best candidate's its
// share of the probability.
func (r *TimedReader) weighForeign(pieces []Piece, result *TimedResult) {
	best := result.Best().Signal
	if !best.State.ShowsFrame() || result.Unit <= 0 {
		return
	}
	frame, err := r.code.Encode(best.Pilot)
	if err != nil {
		return
	}
	since := result.Sequence[len(result.Sequence)-1].From
	marks, n, own := r.repeated(pieces, since, result.Unit, frame.String())
	if n < 2 || n <= own || marks == frame.String() {
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
