package capture

import (
	"math"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/capture/drift"
	"tallywink.example/blink/reading"
)

// A splitter splits brightness into light and dark as it comes.
//
// It looks at a window of time around each sample, finds the two levels between which
// the brightness moves there, and follows them as they drift. Between levels, the
// Viterbi algorithm finds the most likely sequence of light and dark from the evidence
// of the samples themselves. A sample between the levels counts little, and one that is
// far off counts no more than a clear one.
type splitter struct {
	window  []bin // up to windowSeconds of brightness, oldest first
	done    int   // bins of the window that have been decided
	open    bin   // the bin that samples are being averaged into
	count   float64
	steps   drift.Steps
	levels  levels // the last levels found
	found   bool
	least   float64 // the smallest and the largest swing found
	most    float64
	odd     float64 // the largest share of brightness at neither level
	steep   float64 // the most that both levels moved within a window, in swings
	between float64 // seconds spent halfway between clear levels
	clarity float64 // the least clarity of the levels found
	// Brightness before the first levels were found, in one stretch.
	early   struct{ seconds, sum, n, from float64 }
	path    path
	out     []reading.Piece
	changes int // intervals in out
}

// full reports whether more stretches were found than are stored.
func (s *splitter) full() bool { return s.changes+len(s.path.done) >= drift.MaxChanges }

// bin is brightness averaged over a short time.
type bin struct {
	seconds, bright float64
	gap             bool // no samples were taken for a long time before it
}

const (
	// binSeconds is the resolution in time: many bins in the shortest mark, few in a
	// window.
	binSeconds = 0.004
	// windowSeconds is longer than a period of any rhythm at any unit except the slowest,
	// and even then holds both levels: no stretch of light or dark is longer than 7.2 s.
	windowSeconds = 18
	hopSeconds    = 4
	// smoothSeconds is no longer than the shortest mark, and a multiple of the flicker
	// periods of lights on 50 and 60 Hz power, 10 and 8.33 ms, so that their flicker
	// averages out.
	smoothSeconds = 0.1
)

func newSplitter() *splitter { return &splitter{} }

// add takes the next sample.
func (s *splitter) add(seconds, bright float64) {
	isGap := s.count > 0 && s.steps.Gap(seconds-s.open.seconds)
	if s.count > 0 && (isGap || seconds-s.open.seconds >= binSeconds) {
		s.push(bin{s.open.seconds, s.open.bright / s.count, s.open.gap})
		s.count = 0
	}
	if s.count == 0 {
		s.open = bin{seconds: seconds, gap: isGap}
	}
	s.open.bright += bright
	s.count++
}

func (s *splitter) push(b bin) {
	if b.gap {
		s.decide(len(s.window))
		s.endPiece()
	}
	s.window = append(s.window, b)
	half := b.seconds - windowSeconds/2
	if due := s.window[s.done].seconds; due < half-hopSeconds {
		s.decide(s.index(half))
	}
}

// index returns the first bin of the window at or after a time.
func (s *splitter) index(seconds float64) int {
	i, _ := slices.BinarySearchFunc(s.window, seconds, func(b bin, t float64) int {
		switch {
		case b.seconds < t:
			return -1
		case b.seconds > t:
			return 1
		}
		return 0
	})
	return i
}

// decide assigns the bins up to, not including, end to light or dark by the levels of
// the whole window, and drops what is older than half a window.
func (s *splitter) decide(end int) {
	now, ok := levelsOf(s.window)
	switch {
	case ok && !s.found:
		s.levels, s.found = now, true
		s.placeEarly()
	case ok:
		s.levels = now
	case s.found && len(s.window) > 0:
		s.levels = s.levels.at(middleOf(s.window), s.path.endsLit())
		if restless(s.window) > stillShare*s.levels.swing {
			s.odd = 1 // it does change, but not between two levels that were found
		}
	}
	if ok {
		s.odd = max(s.odd, now.odd)
		s.steep = max(s.steep, math.Abs(now.slope)*windowSeconds/now.swing)
		s.most = max(s.most, now.swing)
		if s.clarity == 0 || now.clarity < s.clarity {
			s.clarity = now.clarity
		}
		if s.least == 0 || now.swing < s.least {
			s.least = now.swing
		}
	}
	for i := s.done; i < end; i++ {
		b := s.window[i]
		if !s.found {
			s.holdBack(b)
			continue
		}
		s.path.add(b.seconds, s.levels.evidence(b))
		if h := s.levels.height(b); ok && now.deviation <= now.swing/clearSwing && h > 0.25 && h < 0.75 && i > 0 {
			s.between += min(b.seconds-s.window[i-1].seconds, drift.GapSeconds)
		}
	}
	s.done = end
	if end == 0 {
		return
	}
	keep := s.index(s.window[end-1].seconds - windowSeconds/2)
	s.window = append(s.window[:0], s.window[keep:]...)
	s.done -= keep
}

// holdBack adds a bin to the stretch before the first levels were found.
func (s *splitter) holdBack(b bin) {
	if s.early.n == 0 {
		s.early.from = b.seconds
	}
	s.early.seconds = b.seconds
	s.early.sum += b.bright
	s.early.n++
}

// placeEarly decides on the stretch before the first levels were found: all of it
// belongs to the nearer one.
func (s *splitter) placeEarly() {
	if s.early.n == 0 {
		return
	}
	evidence := s.levels.evidence(bin{seconds: s.early.seconds, bright: s.early.sum / s.early.n})
	s.path.add(s.early.from, evidence)
	s.path.add(s.early.seconds, evidence)
	s.early.n, s.early.sum = 0, 0
}

func (s *splitter) endPiece() {
	if piece := s.path.finish(); len(piece) > 0 {
		s.changes += len(piece)
		s.out = append(s.out, reading.Piece{From: duration(s.path.start), Intervals: piece})
	}
	s.path = path{}
	s.window, s.done = s.window[:0], 0
	s.early.n, s.early.sum = 0, 0
}

func (s *splitter) finish() []reading.Piece {
	if s.count > 0 {
		s.push(bin{s.open.seconds, s.open.bright / s.count, s.open.gap})
	}
	s.decide(len(s.window))
	s.endPiece()
	return s.out
}

// levels are the two levels between which brightness moves: two parallel lines, since
// ambient light wanders.
type levels struct {
	dark      float64 // at time 0
	slope     float64 // a second, of both
	swing     float64 // from dark to lit
	deviation float64 // of a bin from its level
	odd       float64 // share of smoothed bins that are at neither level
	clarity   float64 // swing in deviations of a bin, at most mostClarity
}

// mostClarity is the clarity above which levels are as clear as can be.
const mostClarity = 100

// at returns the levels when nothing has changed for a whole window: the brightness
// there belongs to the state the lamp was last in, and both levels move with ambient
// light.
func (l levels) at(bright float64, lit bool) levels {
	l.dark, l.slope = bright, 0
	if lit {
		l.dark -= l.swing
	}
	return l
}

// stillShare is how much of the lamp's swing brightness may deviate if the lamp is
// taken to be still. A lamp that blinks deviates by a third or more.
const stillShare = 0.3

// restless is the typical deviation of smoothed brightness from a straight line, which
// is how ambient light drifts.
func restless(window []bin) float64 {
	smooth := smoothed(window)
	slope := slopeOf(smooth)
	flat := make([]float64, len(smooth))
	for i, b := range smooth {
		flat[i] = b.bright - slope*b.seconds
	}
	slices.Sort(flat)
	middle := flat[len(flat)/2]
	for i := range flat {
		flat[i] = math.Abs(flat[i] - middle)
	}
	slices.Sort(flat)
	return 1.4826 * flat[len(flat)/2]
}

// middleOf returns the median brightness of a window.
func middleOf(window []bin) float64 {
	var bright []float64
	for i := 0; i < len(window); i += stride(len(window)) {
		bright = append(bright, window[i].bright)
	}
	slices.Sort(bright)
	return bright[len(bright)/2]
}

// height is the position of a brightness between the levels: 0 dark, 1 lit.
func (l levels) height(b bin) float64 { return (b.bright - l.dark - l.slope*b.seconds) / l.swing }

// evidence is how strongly, in natural logarithm, a brightness is evidence for lit
// against dark. It is bounded: glare counts no more than a clear sample.
func (l levels) evidence(b bin) float64 {
	const most = 6
	x := (l.height(b) - 0.5) * l.swing * l.swing / (l.deviation * l.deviation)
	return min(max(x, -most), most)
}

// leastDeviations is how many deviations of smoothed brightness must be between two levels. One
// level with normal noise, cut in two at its middle, has 2 sqrt(2/pi) / sqrt(1-2/pi) =
// 2.65 deviations between its halves.
const leastDeviations = 3.6

// levelsOf finds the levels in a window of brightness. It starts with the two means
// after a straight line is removed. Then it alternates between the more likely level of
// each smoothed bin and the best two lines through the bins (Lloyd 1957, with a slope)
// until they no longer change. The result is false if there are not two levels.
func levelsOf(window []bin) (levels, bool) {
	smooth := smoothed(window)
	if len(smooth) < 8 {
		return levels{}, false
	}
	var best levels
	found := false
	// Begin with and without a slope: a lamp that is lit in only one half of the window
	// looks like a slope.
	for _, slope := range []float64{0, slopeOf(smooth)} {
		l, ok := parallel(smooth, twoMeans(smooth, slope))
		if ok && (!found || l.swing/l.deviation > best.swing/best.deviation) {
			best, found = l, true
		}
	}
	if !found || !(best.swing > leastDeviations*best.deviation) {
		return levels{}, false
	}
	var raw []bin
	for i := 0; i < len(window); i += stride(len(window)) {
		raw = append(raw, window[i])
	}
	odd := 0
	for _, b := range smooth {
		if h := best.height(b); h > 0.3 && h < 0.7 || h < -0.4 || h > 1.4 {
			odd++
		}
	}
	best.odd = float64(odd) / float64(len(smooth))
	deviation := typical(raw, best)
	best.clarity = best.swing / max(deviation, best.swing/mostClarity)
	// Never so sure that a single bin decides.
	best.deviation = max(deviation, best.swing/8)
	return best, true
}

// slopeOf returns the slope of the least-squares line through bins.
func slopeOf(bins []bin) float64 {
	n := float64(len(bins))
	var t, y, tt, ty float64
	for _, b := range bins {
		t += b.seconds
		y += b.bright
	}
	t, y = t/n, y/n
	for _, b := range bins {
		tt += (b.seconds - t) * (b.seconds - t)
		ty += (b.seconds - t) * (b.bright - y)
	}
	if tt == 0 {
		return 0
	}
	return ty / tt
}

// twoMeans begins with two lines of the given slope through a low and a high bin.
func twoMeans(bins []bin, slope float64) levels {
	flat := make([]float64, len(bins))
	for i, b := range bins {
		flat[i] = b.bright - slope*b.seconds
	}
	slices.Sort(flat)
	at := func(share float64) float64 { return flat[int(share*float64(len(flat)-1))] }
	return levels{dark: at(0.05), slope: slope, swing: at(0.95) - at(0.05)}
}

// parallel moves the levels to the best two parallel lines through bins.
func parallel(bins []bin, l levels) (levels, bool) {
	for range 12 {
		if !(l.swing > 0) {
			return levels{}, false
		}
		// Least squares of brightness on time and on lit or dark: within each level for the
		// slope, then the means.
		var n, t, y [2]float64
		side := func(b bin) int {
			if l.height(b) > 0.5 {
				return 1
			}
			return 0
		}
		for _, b := range bins {
			i := side(b)
			n[i]++
			t[i] += b.seconds
			y[i] += b.bright
		}
		if n[0] == 0 || n[1] == 0 {
			return levels{}, false
		}
		var tt, ty float64
		for _, b := range bins {
			i := side(b)
			dt := b.seconds - t[i]/n[i]
			tt += dt * dt
			ty += dt * (b.bright - y[i]/n[i])
		}
		var next levels
		if tt > 0 {
			next.slope = ty / tt
		}
		next.dark = y[0]/n[0] - next.slope*t[0]/n[0]
		next.swing = y[1]/n[1] - next.slope*t[1]/n[1] - next.dark
		if next == l {
			break
		}
		l = next
	}
	if !(l.swing > 0) {
		return levels{}, false
	}
	l.deviation = typical(bins, l)
	return l, true
}

// typical is the deviation from the nearer level: 1.4826 times the median distance,
// which is the standard deviation if the distribution is normal.
func typical(bins []bin, l levels) float64 {
	away := make([]float64, len(bins))
	for i, b := range bins {
		h := l.height(b)
		away[i] = l.swing * min(math.Abs(h), math.Abs(h-1))
	}
	slices.Sort(away)
	return 1.4826 * away[len(away)/2]
}

// stride is the step between the bins used to find levels: a few hundred are as good as
// thousands, and faster.
func stride(bins int) int { return max(bins/250, 1) }

// smoothed averages over smoothSeconds around every stride-th bin.
func smoothed(window []bin) []bin {
	var out []bin
	from, to := 0, 0
	sum := 0.0
	for i := 0; i < len(window); i += stride(len(window)) {
		b := window[i]
		for to < len(window) && window[to].seconds <= b.seconds+smoothSeconds/2 {
			sum += window[to].bright
			to++
		}
		for window[from].seconds < b.seconds-smoothSeconds/2 {
			sum -= window[from].bright
			from++
		}
		out = append(out, bin{seconds: b.seconds, bright: sum / float64(to-from)})
	}
	return out
}

// path finds the most likely sequence of light and dark by the Viterbi algorithm over
// two states.
type path struct {
	score [2]float64 // of the best path that ends dark, and of the best that ends lit
	way   [2]survivor
	begun bool
	start float64
	last  float64
	done  []blink.Interval // final
	from  float64          // where the interval after done begins
	lit   bool             // and whether it is lit
	since int
}

// survivor is the changes of light on the best path to a state. The last one is kept
// separate: on the path to the state that the lamp is not in, it is replaced with every
// sample.
type survivor struct {
	first  bool // whether it began lit
	change change
	has    bool    // whether there is a change
	shared *change // the same change, once another path continues from it
}

// last returns the last change in a form that other paths may share.
func (w *survivor) last() *change {
	if w.has && w.shared == nil {
		c := w.change
		w.shared = &c
	}
	return w.shared
}

// change is where light turned on or off.
type change struct {
	seconds float64
	before  *change
}

// changeCost is how much evidence, in natural logarithm, a change of light needs: fewer
// than one in a hundred bins changes.
const changeCost = 5

func (p *path) add(seconds, evidence float64) {
	if !p.begun {
		p.begun, p.start, p.from, p.last = true, seconds, seconds, seconds
		p.way[1].first = true
		p.score = [2]float64{-evidence / 2, evidence / 2}
		return
	}
	middle := (p.last + seconds) / 2
	dark, lit := p.score[0], p.score[1]
	switch {
	case lit-changeCost > dark:
		p.way[0] = survivor{first: p.way[1].first, change: change{middle, p.way[1].last()}, has: true}
		p.score[0] = lit - changeCost
	case dark-changeCost > lit:
		p.way[1] = survivor{first: p.way[0].first, change: change{middle, p.way[0].last()}, has: true}
		p.score[1] = dark - changeCost
	}
	p.score[0] -= evidence / 2
	p.score[1] += evidence / 2
	p.last = seconds
	if p.since++; p.since > 2000 {
		p.commit()
	}
}

// commit writes the changes that both paths share: no more evidence can undo them.
func (p *path) commit() {
	p.since = 0
	// Make scores relative, so that they do not grow forever.
	base := max(p.score[0], p.score[1])
	p.score[0], p.score[1] = p.score[0]-base, p.score[1]-base
	if p.way[0].first != p.way[1].first {
		return
	}
	seen := map[*change]bool{}
	for c := p.way[0].last(); c != nil; c = c.before {
		seen[c] = true
	}
	shared := p.way[1].last()
	for shared != nil && !seen[shared] {
		shared = shared.before
	}
	if shared == nil {
		return
	}
	p.write(shared, p.way[0].first)
	// Drop what was written: the paths begin after it.
	for state := range p.way {
		behind := cutBefore(p.way[state].last(), shared)
		p.way[state] = survivor{first: p.lit, has: behind != nil, shared: behind}
	}
}

// cutBefore returns the changes of a path after the given one.
func cutBefore(way, end *change) *change {
	var behind []float64
	for c := way; c != end; c = c.before {
		behind = append(behind, c.seconds)
	}
	var cut *change
	for _, seconds := range slices.Backward(behind) {
		cut = &change{seconds, cut}
	}
	return cut
}

// write turns the changes of a path into intervals. first reports whether the path
// begins lit.
func (p *path) write(way *change, first bool) {
	var times []float64
	for c := way; c != nil; c = c.before {
		times = append(times, c.seconds)
	}
	p.lit = first
	for _, seconds := range slices.Backward(times) {
		p.done = append(p.done, blink.Interval{Lit: p.lit, Duration: duration(seconds - p.from)})
		p.from = seconds
		p.lit = !p.lit
	}
}

// endsLit reports whether the best path so far ends lit.
func (p *path) endsLit() bool { return p.score[1] > p.score[0] }

func (p *path) finish() []blink.Interval {
	if !p.begun || p.last <= p.start {
		return nil
	}
	best := &p.way[0]
	if p.endsLit() {
		best = &p.way[1]
	}
	p.write(best.last(), best.first)
	return append(p.done, blink.Interval{Lit: p.lit, Duration: duration(p.last - p.from)})
}

func duration(seconds float64) time.Duration { return time.Duration(seconds * float64(time.Second)) }

// oddShare is how much of the brightness may be at neither level. Smoothing alone puts
// a tenth there in a frame, where light turns on and off.
const oddShare = 0.2

// steepest is by how many of the lamp's swings ambient light may move within a window:
// a straight line can't follow more of a curve.
const steepest = 1.5

// unsteadyRatio is how much a lamp's swing may appear to change: enough for an exposure
// that follows the light, but not for ambient light mistaken for a lamp.
const unsteadyRatio = 2.5

// clearSwing is how many deviations a swing must have before brightness halfway means a
// slow change and not noise.
const clearSwing = 6

// soft reports whether brightness went from level to level too slowly for a lamp, which
// a camera sees switch within a picture: a shadow that passes, or a leaf that sways.
func (s *splitter) soft(changes int) bool {
	const quick = 0.08 // seconds
	return s.between > float64(changes)*(quick+0.8*s.steps.Usual())
}

// unsteady reports whether what was taken for the lamp's two levels changed too much to
// be one lamp's.
func (s *splitter) unsteady() bool {
	return s.most > unsteadyRatio*s.least || s.odd > oddShare || s.steep > steepest
}
