package reading

import (
	"cmp"
	"context"
	"maps"
	"math"
	"runtime"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// TimedCandidate is a signal and the probability that the lamp shows it at the end of
// the observation.
type TimedCandidate struct {
	Signal      blink.Signal
	Probability float64
}

// Segment is a stretch of the observation in which the lamp showed one signal.
type Segment struct {
	TimedCandidate
	From, To time.Duration // since the observation began
}

// TimedResult is the outcome of timed intervals.
type TimedResult struct {
	// Candidates are the most likely signals at the end of the observation, the best
	// first. Those below a millionth are left out.
	Candidates []TimedCandidate
	// Stranger is the probability that the light does not follow the code at all: a turn
	// signal, or leaves in front of the sun. Together with the candidates' probabilities
	// it adds up to 1, less what was left out.
	Stranger float64
	// NotAFrame is a frame that was observed again and again, with a space between groups,
	// if it is not the best candidate's frame. Otherwise it is empty.
	NotAFrame string
	// Fit is how much better, in natural logarithm, the code explains the lengths than
	// lengths without meaning, see [DurationModel.Stranger].
	Fit float64
	// Unit is the length of a unit under the best candidate, averaged over its possible
	// values.
	Unit time.Duration
	// Sequence is what the lamp showed from the beginning: more than one segment if it
	// changed. The signal of the last segment is the best candidate.
	Sequence []Segment
}

// Best returns the first candidate.
func (r TimedResult) Best() TimedCandidate { return r.Candidates[0] }

// Doubtful reports whether the best candidate's probability is below [Sure].
func (r TimedResult) Doubtful() bool { return !(r.Best().Probability >= Sure) }

// TimedReader weighs timed intervals of light and dark against every signal of a code,
// at every length of a unit, beginning and ending anywhere, with frames repeated. It is
// safe for concurrent use.
//
// Its model is a hidden Markov model whose states are the stretches of all signals'
// periods. An observed interval is one stretch, or three stretches of which the middle
// one was not seen; or three intervals are one stretch, broken by a false one. At any
// end of a stretch the lamp may, rarely, change to another signal. The forward pass is
// exact; the unit and the jitter of lengths are summed over on a grid.
type TimedReader struct {
	code    *blink.Code
	model   DurationModel
	signals []timedSignal
	// Stretches of all signals, the lit ones and the dark ones that follow them: element k
	// of each is the same pair. Steady has no dark stretch and Dark no lit one: the
	// stretch they have lasts forever.
	lit, dark []stretch
	// The signals that show a frame, the others, and all of them. The others are few, so
	// the pass over them runs at every pace.
	frames, rhythms, all group
	minUnit              time.Duration
	maxUnit              time.Duration
}

// timedSignal is a signal with the range of its stretches.
type timedSignal struct {
	signal     blink.Signal
	first, end int
	prior      float64
	entry      float64 // the prior divided by the units of a period; 0 for steady and dark
}

// stretch is one stretch of a signal.
type stretch struct {
	// before is the stretch of the other kind before this one; before3 is the one before
	// the three of which this is the last.
	before, before3 int32
	units           int16 // 0: the signal has none of this kind here; endless: it never ends
	// if three stretches are seen as one: their units, and the units of the lost one
	three, lost int16
}

const endless = -1

// NewTimedReader makes a reader of a code. The prior gives the weight of each pilot, on
// any scale. With nil, or if the weights do not add up to anything, all pilots weigh
// the same. All states weigh the same.
func NewTimedReader(code *blink.Code, model DurationModel, prior func(channelplan.Pilot) float64) *TimedReader {
	r := &TimedReader{code: code, model: model, minUnit: code.Timing.MinUnit, maxUnit: code.Timing.MaxUnit}
	perState := 1 / float64(len(blink.States()))
	pilots := slices.Collect(code.Pilots)
	shares := sharesOf(pilots, prior)
	for _, s := range code.States() {
		share := perState
		if s.End != blink.NoEnd {
			share /= 2 // of both ends
		}
		framed := s.State.ShowsFrame() && len(pilots) > 0 && (s.State == blink.Locked || s.End != blink.NoEnd)
		if code.HasRhythm(s) {
			if framed {
				share /= 2
			}
			r.add(s, share)
		}
		if framed {
			for i, p := range pilots {
				s.Pilot = p
				r.add(s, share*shares[i])
			}
		}
	}
	r.frames = r.groupOf(blink.Signal.ShowsFrame)
	r.rhythms = r.groupOf(func(s blink.Signal) bool { return !s.ShowsFrame() })
	r.all = r.groupOf(func(blink.Signal) bool { return true })
	return r
}

// Sampled returns the reader for light that was sampled at even steps, see
// [DurationModel.Step]. It shares its tables with r.
func (r *TimedReader) Sampled(step time.Duration) *TimedReader {
	sampled := *r
	sampled.model.Step = max(step, 0)
	return &sampled
}

// group is a group of signals with the lengths of their stretches, both single and
// together with the sums of three in a row.
type group struct {
	signals       []int
	single, units []int
}

func (r *TimedReader) groupOf(in func(blink.Signal) bool) group {
	var g group
	single, units := map[int]bool{}, map[int]bool{}
	for h, s := range r.signals {
		if !in(s.signal) {
			continue
		}
		g.signals = append(g.signals, h)
		for _, one := range append(slices.Clone(r.lit[s.first:s.end]), r.dark[s.first:s.end]...) {
			if one.units > 0 {
				single[int(one.units)], units[int(one.units)], units[int(one.three)], units[int(one.lost)] = true,
					true, true, true
			}
		}
	}
	g.single, g.units = slices.Sorted(maps.Keys(single)), slices.Sorted(maps.Keys(units))
	return g
}

// addUnchanging adds a signal that is always lit, or never.
func (r *TimedReader) addUnchanging(s blink.Signal, lit bool, prior float64) {
	k := int32(len(r.lit))
	none := stretch{before: k, before3: k}
	forever := none
	forever.units = endless
	if lit {
		r.lit, r.dark = append(r.lit, forever), append(r.dark, none)
	} else {
		r.lit, r.dark = append(r.lit, none), append(r.dark, forever)
	}
	r.signals = append(r.signals, timedSignal{signal: s, first: int(k), end: int(k) + 1, prior: prior})
}

// add adds a signal: its period, which begins lit and alternates, or its light that never
// changes. It skips a signal that the code can't send.
func (r *TimedReader) add(s blink.Signal, prior float64) {
	code := r.code
	intervals, period, err := code.Signal(s, code.Timing.Unit)
	if err != nil {
		return
	}
	if period == 0 {
		r.addUnchanging(s, intervals[0].Lit, prior)
		return
	}
	n, first := len(intervals), len(r.lit)
	units := func(i int) int16 { return int16(intervals[(i+2*n)%n].Duration / code.Timing.Unit) }
	pair := func(i int) int32 { return int32(first + (i+2*n)%n/2) } // of interval i
	for i := range n {
		one := stretch{
			before: pair(i - 1), before3: pair(i - 3),
			units: units(i), three: units(i-2) + units(i-1) + units(i), lost: units(i - 1),
		}
		if intervals[i].Lit {
			r.lit = append(r.lit, one)
		} else {
			r.dark = append(r.dark, one)
		}
	}
	r.signals = append(r.signals, timedSignal{signal: s, first: first, end: first + n/2, prior: prior,
		entry: prior / float64(period/code.Timing.Unit)})
}

// AlwaysLit reports whether a signal is that of a lamp that never goes dark.
func (r *TimedReader) AlwaysLit(s blink.Signal) bool {
	return !s.ShowsFrame() && s.State == r.code.Unchanging(true)
}

// unchanging reports whether a signal is that of a lamp that is always lit or always dark.
func (r *TimedReader) unchanging(s blink.Signal) bool {
	return r.AlwaysLit(s) || !s.ShowsFrame() && s.State == r.code.Unchanging(false)
}

// Stands reports whether a result says that the lamp stays lit or dark. SeenToBlink reports
// whether the lamp surely blinked before: only then it is known which of the two it is, and
// that there is a lamp at all.
func (r *TimedReader) Stands(result TimedResult) (stands, seenToBlink bool) {
	if !r.unchanging(result.Best().Signal) {
		return false, false
	}
	return true, slices.ContainsFunc(result.Sequence, func(s Segment) bool {
		return !r.unchanging(s.Signal) && s.Probability >= Sure
	})
}

// Read weighs intervals. It takes the first and the last as cut: the observation began
// and ended within them. Neighbors of one kind are joined, and intervals without length
// are dropped. Without any interval the result is the prior.
func (r *TimedReader) Read(intervals []blink.Interval) TimedResult {
	result, _ := r.read(intervals)
	r.makeRoomForStranger(&result)
	r.weighStranger([]Piece{{Intervals: joined(intervals)}}, &result)
	return result
}

// makeRoomForStranger gives Stranger its share of the probability.
func (r *TimedReader) makeRoomForStranger(result *TimedResult) {
	odds := r.model.Stranger / (1 - r.model.Stranger) * math.Exp(-result.Fit)
	result.Stranger = 1
	if !math.IsInf(odds, 1) {
		result.Stranger = odds / (1 + odds)
	}
	for i := range result.Candidates {
		result.Candidates[i].Probability *= 1 - result.Stranger
	}
	for i := range result.Sequence {
		result.Sequence[i].Probability *= 1 - result.Stranger
	}
}

// Piece is a stretch of an observation in which nothing was missed.
type Piece struct {
	From      time.Duration // since the observation began
	Intervals []blink.Interval
}

// gapChange is the chance that the lamp changed between two pieces.
const gapChange = 0.01

// ReadPieces weighs the pieces of one observation. What the lamp did between pieces is
// not known. As long as one signal explains the pieces, their evidence adds up; a piece
// that no longer fits is a change.
//
// Pieces are weighed on all processors. If told is not nil, it is called now and then
// with the number of pieces done and the number of all. The error is the context's,
// which is checked between pieces; no piece takes long.
func (r *TimedReader) ReadPieces(ctx context.Context, pieces []Piece, told func(done, of int)) (TimedResult, error) {
	whole := pieces
	pieces = chopped(r.parted(pieces))
	if len(pieces) == 0 {
		return r.Read(nil), ctx.Err()
	}
	alpha := make([]float64, len(r.signals)) // probability of each signal at the end of a piece
	began := make([]int, len(r.signals))     // the piece with which it began
	results, posteriors := r.readAlone(ctx, pieces, told)
	if err := ctx.Err(); err != nil {
		return r.Read(nil), err
	}
	ended := make([]TimedCandidate, len(pieces)) // the best of alpha, and
	since := make([]int, len(pieces))            // the piece with which it began
	for k := range pieces {
		posterior, changed := posteriors[k], len(results[k].Sequence) > 1
		sum := 0.0
		for h, s := range r.signals {
			stay, change := (1-gapChange)*alpha[h], gapChange*s.prior
			if k == 0 || changed || change > stay {
				began[h] = k
			}
			if k == 0 || changed {
				alpha[h] = posterior[h]
			} else {
				alpha[h] = posterior[h] / s.prior * (stay + change)
			}
			sum += alpha[h]
		}
		best := 0
		for h := range alpha {
			alpha[h] /= sum
			if alpha[h] > alpha[best] {
				best = h
			}
		}
		ended[k], since[k] = TimedCandidate{r.signals[best].signal, alpha[best]}, began[best]
	}
	last := len(pieces) - 1
	result := TimedResult{Candidates: r.candidates(alpha), Unit: results[last].Unit}
	for _, piece := range results {
		result.Fit += piece.Fit
	}
	for k := last; k >= 0; {
		first := since[k]
		segment := Segment{ended[k], pieces[first].From, pieces[k].From + lengthOf(pieces[k].Intervals)}
		if inner := results[first].Sequence; len(inner) > 1 {
			segment.From += inner[len(inner)-1].From
			result.Sequence = append(result.Sequence, segment)
			for i := len(inner) - 2; i >= 0; i-- {
				before := inner[i]
				before.From += pieces[first].From
				before.To += pieces[first].From
				result.Sequence = append(result.Sequence, before)
			}
		} else {
			result.Sequence = append(result.Sequence, segment)
		}
		k = first - 1
	}
	slices.Reverse(result.Sequence)
	r.makeRoomForStranger(&result)
	r.weighStranger(whole, &result)
	r.weighEnd(pieces[last].Intervals, &result)
	return result, nil
}

const (
	// endOf is the share of a piece that [TimedReader.weighEnd] looks at, and leastEnd the
	// fewest intervals in it.
	endOf    = 2
	leastEnd = 6
)

// weighEnd reads the end of an observation by itself. If that is surely something else than
// the whole, the camera may have gone from one lamp to another with a unit of its own, and a
// beginning that fits well must not decide what the lamp shows now: the two then share the
// probability.
func (r *TimedReader) weighEnd(piece []blink.Interval, result *TimedResult) {
	seen := joined(piece)
	if result.Doubtful() || len(seen) < endOf*leastEnd {
		return
	}
	end, _ := r.readBack(seen[len(seen)-len(seen)/endOf:], 0)
	r.makeRoomForStranger(&end)
	if best := end.Best(); best.Signal == result.Best().Signal || end.Doubtful() {
		return
	}
	half := func(candidates []TimedCandidate) []TimedCandidate {
		halved := slices.Clone(candidates)
		for i := range halved {
			halved[i].Probability /= 2
		}
		return halved
	}
	mixed := half(end.Candidates)
	for _, c := range half(result.Candidates) {
		if i := slices.IndexFunc(mixed, func(m TimedCandidate) bool { return m.Signal == c.Signal }); i >= 0 {
			mixed[i].Probability += c.Probability
		} else {
			mixed = append(mixed, c)
		}
	}
	slices.SortStableFunc(mixed, func(a, b TimedCandidate) int { return cmp.Compare(b.Probability, a.Probability) })
	result.Candidates = mixed
	result.Sequence[len(result.Sequence)-1].TimedCandidate = mixed[0]
}

// readAlone reads each piece as if it were the only one, and returns its result and the
// probability of each signal at its end.
func (r *TimedReader) readAlone(ctx context.Context, pieces []Piece, told func(done, of int)) ([]TimedResult,
	[][]float64) {
	results, posteriors := make([]TimedResult, len(pieces)), make([][]float64, len(pieces))
	next, done := make(chan int), make(chan struct{})
	for range min(runtime.GOMAXPROCS(0), len(pieces)) {
		go func() {
			for k := range next {
				if ctx.Err() == nil {
					results[k], posteriors[k] = r.read(pieces[k].Intervals)
				}
				done <- struct{}{}
			}
		}()
	}
	go func() {
		defer close(next)
		for k := range pieces {
			next <- k
		}
	}()
	for n := range pieces {
		<-done
		if told != nil {
			told(n+1, len(pieces))
		}
	}
	return results, posteriors
}

// maxIntervals is how many intervals are read in one piece: three minutes and more.
// Longer pieces are split, so that time grows with their length and not with its
// square.
const maxIntervals = 400

// parted splits pieces where light or dark lasts longer than any stretch of the code: there the
// lamp was always lit or dark, and what it shows afterward is read afresh.
func (r *TimedReader) parted(pieces []Piece) []Piece {
	const clearly = 1.5 // times the longest stretch
	units := 0
	if n := len(r.all.single); n > 0 {
		units = r.all.single[n-1]
	}
	most := time.Duration(clearly * float64(units) * float64(r.maxUnit))
	var out []Piece
	for _, p := range pieces {
		at := p.From
		head := Piece{From: p.From}
		for i, iv := range p.Intervals {
			last := i == len(p.Intervals)-1
			if last && iv.Duration > most && i > 0 {
				head.Intervals = append(head.Intervals, blink.Interval{Lit: iv.Lit, Duration: glimpse})
				out = append(out, head)
				head = Piece{From: at}
			}
			head.Intervals = append(head.Intervals, iv)
			if at += iv.Duration; iv.Duration <= most || last {
				continue
			}
			// Both parts have the long interval: it ends one and begins the other.
			out = append(out, head)
			head = Piece{From: at - glimpse, Intervals: []blink.Interval{{Lit: iv.Lit, Duration: glimpse}}}
		}
		out = append(out, head)
	}
	return out
}

// glimpse is how much of a long stretch is seen at the beginning of what comes after it.
const glimpse = time.Millisecond

// chopped splits pieces so that each can be read at once.
func chopped(pieces []Piece) []Piece {
	var out []Piece
	for _, p := range pieces {
		for len(p.Intervals) > maxIntervals {
			head := p.Intervals[:maxIntervals]
			out = append(out, Piece{p.From, head})
			p = Piece{p.From + lengthOf(head), p.Intervals[maxIntervals:]}
		}
		out = append(out, p)
	}
	return out
}

func lengthOf(intervals []blink.Interval) time.Duration {
	var sum time.Duration
	for _, iv := range intervals {
		sum += max(iv.Duration, 0)
	}
	return sum
}

// candidates returns the signals by weight, which need not add up to 1.
func (r *TimedReader) candidates(weights []float64) []TimedCandidate {
	var order []int
	sum := 0.0
	for h, w := range weights {
		order = append(order, h)
		sum += w
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(weights[b], weights[a]) })
	var candidates []TimedCandidate
	for _, h := range order {
		p := weights[h] / sum
		if p < least && len(candidates) > 0 {
			break
		}
		candidates = append(candidates, TimedCandidate{r.signals[h].signal, p})
	}
	return candidates
}

// read is [TimedReader.Read], with the probability of every signal.
func (r *TimedReader) read(intervals []blink.Interval) (TimedResult, []float64) {
	return r.readBack(intervals, maxChanges)
}

// clearly is the probability below which a reading is so unclear that what was before is not
// looked into, beyond the last change.
const clearly = 0.5

// maxChanges is the most changes of a piece that are reported, the last ones.
const maxChanges = 6

// readBack is read, with depth as the most changes reported.
func (r *TimedReader) readBack(intervals []blink.Interval, depth int) (TimedResult, []float64) {
	seen := joined(intervals)
	passes, top := r.passes(seen)
	weights := make([]float64, len(r.signals))
	starts := make([]int, len(r.signals))
	best := make([]float64, len(r.signals))    // of one pace, to find the most likely one
	logUnit := make([]float64, len(r.signals)) // the logarithm of the unit, weighed
	sum := 0.0
	for _, p := range passes {
		scale := math.Exp(p.final.log - top)
		for h, w := range p.final.bySignal {
			w *= scale
			weights[h] += w
			logUnit[h] += w * p.pace.logUnit
			sum += w
			if w > best[h] {
				best[h], starts[h] = w, p.final.began[h]
			}
		}
	}
	first := 0
	for h := range weights {
		weights[h] /= sum
		logUnit[h] /= sum
		if weights[h] > weights[first] {
			first = h
		}
	}
	result := TimedResult{Candidates: r.candidates(weights),
		Fit: top + math.Log(sum) - r.logPaces() - r.model.strangers(seen)}
	if w := weights[first]; w > 0 {
		result.Unit = duration(math.Exp(logUnit[first] / w)).Round(time.Millisecond)
	}
	if result.Fit < 0 {
		depth = 0 // it is not the code's light, so nobody needs to know what it was before
	}
	if result.Best().Probability < clearly {
		depth = min(depth, 1) // each step back costs as much as the reading itself
	}
	result.Sequence = r.sequence(seen, result, starts[first], depth)
	return result, weights
}

func duration(seconds float64) time.Duration { return time.Duration(seconds * float64(time.Second)) }

// logPaces is the logarithm of the weight of all paces together.
func (r *TimedReader) logPaces() float64 {
	return math.Log(max(math.Log(r.maxUnit.Seconds()/r.minUnit.Seconds()), paceStep) * float64(len(r.model.Jitters)))
}

// pass is a forward pass and its pace.
type pass struct {
	pace  pace
	final final
}

// passes runs the forward pass at all likely paces, and returns the passes and the
// logarithm of the largest common factor. It allows for changes only if they can
// explain more than they cost: that takes most of the time, and most lamps do not
// change while they are watched.
func (r *TimedReader) passes(seen []blink.Interval) (passes []pass, top float64) {
	layers := r.newLayers()
	fit := math.Inf(-1) // the logarithm of how likely one signal, at best, makes the observation
	run := func(paces []pace, of group, change float64) {
		for _, p := range paces {
			f := r.forward(seen, p, of, change, layers)
			// A pace represents a range of paces.
			for h := range f.bySignal {
				f.bySignal[h] *= p.width
			}
			passes = append(passes, pass{p, f})
			for h, w := range f.bySignal {
				if w > 0 {
					fit = max(fit, f.log+math.Log(w/p.width/r.signals[h].prior))
				}
			}
		}
	}
	var framePaces []pace
	if len(r.frames.signals) > 0 { // a code may show states alone
		framePaces = r.framePaces(seen)
	}
	run(framePaces, r.frames, 0)
	run(r.allPaces(), r.rhythms, 0)

	// If one signal explains the observation nearly as well as anything can (to within
	// this logarithm of a factor), a change can't improve it.
	const nearly = 8
	bound := r.within(seen, r.allPaces(), r.all.single, 0)
	if fit < bound[0].score-nearly {
		paces := append(bestPaces(passes), framePaces[:min(len(framePaces), 8)]...)
		passes = nil
		run(paces, r.all, r.model.Change)
	}
	top = math.Inf(-1)
	for _, p := range passes {
		top = max(top, p.final.log)
	}
	return passes, top
}

// bestPaces returns the paces of a handful of passes that weigh most.
func bestPaces(passes []pass) []pace {
	const handful = 6
	weight := func(p pass) float64 {
		sum := 0.0
		for _, w := range p.final.bySignal {
			sum += w
		}
		return p.final.log + math.Log(sum)
	}
	sorted := slices.Clone(passes)
	slices.SortStableFunc(sorted, func(a, b pass) int { return cmp.Compare(weight(b), weight(a)) })
	var paces []pace
	for _, p := range sorted[:min(len(sorted), handful)] {
		paces = append(paces, p.pace)
	}
	return paces
}

// sequence finds what the lamp showed before the last signal began.
func (r *TimedReader) sequence(seen []blink.Interval, result TimedResult, began, depth int) []Segment {
	last := Segment{result.Best(), lengthOf(seen[:began]), lengthOf(seen)}
	if began == 0 || len(seen) == 0 || depth == 0 {
		return []Segment{last}
	}
	before, _ := r.readBack(seen[:began], depth-1)
	earlier := before.Sequence
	if n := len(earlier); earlier[n-1].Signal == last.Signal {
		// The lamp did not change; the observation was disturbed.
		last.From = earlier[n-1].From
		return append(earlier[:n-1], last)
	}
	return append(earlier, last)
}

// longest is the longest interval that makes a difference: all intervals longer than a
// day mean the same.
const longest = 24 * time.Hour

// shortest is the shortest: all intervals shorter than a tenth of a millisecond mean the
// same. Keys that a terminal hands over together are nanoseconds apart, which no model of
// lengths explains.
const shortest = 100 * time.Microsecond

// joined joins neighboring intervals of one kind.
func joined(intervals []blink.Interval) []blink.Interval {
	var out []blink.Interval
	for _, iv := range intervals {
		iv.Duration = min(iv.Duration, longest)
		switch n := len(out); {
		case iv.Duration <= 0:
		case n > 0 && out[n-1].Lit == iv.Lit:
			out[n-1].Duration += iv.Duration
		default:
			iv.Duration = max(iv.Duration, shortest)
			out = append(out, iv)
		}
	}
	return out
}
