// Package drift finds a lamp's light and dark in a trace of brightness, while ambient
// light moves: a cloud, a moving hand, leaves.
//
// A [Splitter] takes samples as they come and returns the intervals. ambient.go
// describes the model and why it was chosen.
package drift

import (
	"math"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// Splitter splits brightness into light and dark as it comes, by the model in
// ambient.go. It finds the model's settings on a window and keeps them up to date.
// Memory does not grow with the recording, except for the changes of light.
type Splitter struct {
	open    sample // samples are being averaged into it
	steps   Steps
	window  []sample // the last seconds, over gaps
	beam    *beam    // nil until a lamp is found
	average averaging
	known   setting // the last setting found
	found   bool
	settled float64 // when settings were last looked for
	begun   float64 // when the piece began
	top     level   // the greatest brightness
	bottom  level   // and the smallest
	out     []reading.Piece
	changes int // intervals in out and done
	done    []blink.Interval
	from    float64 // where the interval after done begins
	lit     bool    // and whether it is lit
	written bool    // whether that is known
	least   float64 // the smallest and the largest swing found
	most    float64
	odd     float64 // samples that the model does not predict
	seen    float64 // number of samples
	wildest float64 // the most that ambient light moved, of either kind of motion
	swings  bool    // it swung back and forth
	tried   int     // how many looks to skip before all settings are tried again
	edge    float64 // the least clarity of an edge of light, in deviations
	jumps   int     // jumps of brightness that are not changes of this lamp
	// restless reports whether brightness jumped or did not rest in a long last stretch.
	restless bool
	// The same of a stretch that may not be over, and when that began: the window forgets it.
	stirred   bool
	stirredIn float64
}

// level is an extreme of brightness: a saturated sensor gives the same value again and
// again.
type level struct {
	bright float64
	count  int
	total  int
}

// Full reports whether more stretches of light and dark were found than are stored,
// [MaxChanges].
func (s *Splitter) Full() bool { return s.changes+len(s.done) >= MaxChanges }

const (
	// binSeconds is the resolution in time: several bins in the shortest mark. Lights on
	// 60 Hz power flicker twice in it, which averages out.
	binSeconds = 1.0 / 60
	// windowSeconds is longer than three periods of any rhythm, and no stretch of light or
	// dark is longer than 7.2 s. lookEvery is how often the settings are updated.
	windowSeconds = 24
	lookEvery     = 8
	patient       = 4
	// lag is how far back decisions are final.
	lag = 12
)

// Add takes the next sample: seconds since any starting point, later than the one
// before, and brightness in any unit.
func (s *Splitter) Add(seconds, bright float64) {
	isGap := s.open.n > 0 && s.steps.Gap(seconds-s.open.seconds)
	full := s.fullness(bright)
	if s.open.n > 0 && (isGap || seconds-s.open.seconds >= binSeconds-1e-6) {
		s.push(s.averaged())
		s.open.n = 0
	}
	if s.open.n == 0 {
		s.open = sample{seconds: seconds, gap: isGap, full: full}
	}
	s.open.bright += bright
	s.open.n++
	if full != s.open.full {
		s.open.full = 0
	}
}

func (s *Splitter) averaged() sample {
	b := s.open
	b.bright /= b.n
	return b
}

// fullness returns 1 if the sensor is saturated, -1 if it sees nothing, or else 0. Both
// show as an extreme that comes again and again. A trace with hardly any brightness between
// two extremes is one without noise, such as a simulation's or a switch's.
func (s *Splitter) fullness(bright float64) int {
	top, bottom := s.top.again(bright, 1), s.bottom.again(bright, -1)
	switch {
	case s.top.bright == s.bottom.bright, s.clean():
		return 0
	case top:
		return 1
	case bottom:
		return -1
	}
	return 0
}

// clean reports whether most brightness is one of two values.
func (s *Splitter) clean() bool { return s.twoValued(0.75) }

// Saturated reports whether the sensor was often at its upper limit: what is lit beyond it does
// not show.
func (s *Splitter) Saturated() bool { return s.top.repeats() && !s.TwoValued() }

// TwoValued reports whether nearly all brightness is one of two values: then there is neither
// noise nor ambient light that moves.
func (s *Splitter) TwoValued() bool { return s.twoValued(0.9) }

// twoValued reports whether a share of all samples is at one of the two extremes.
func (s *Splitter) twoValued(share float64) bool {
	return s.top.repeats() && s.bottom.repeats() && float64(s.top.count+s.bottom.count) > share*float64(s.top.total)
}

// again reports whether a brightness is the extreme on a side, and has come again and
// again.
func (l *level) again(bright, side float64) bool {
	l.total++
	switch {
	case l.total == 1 || side*(bright-l.bright) > 0:
		l.bright, l.count = bright, 1
	case bright == l.bright:
		l.count++
		return l.repeats()
	}
	return false
}

// repeats reports whether the extreme has come again and again.
func (l *level) repeats() bool {
	const few, share = 6, 0.04
	return l.count > few && float64(l.count) > share*float64(l.total)
}

func (s *Splitter) push(b sample) {
	if n := len(s.window); b.gap && (n == 0 || b.seconds-s.window[n-1].seconds > windowSeconds) {
		s.endPiece() // nothing before it tells how bright anything is now
		b.gap = false
	}
	if len(s.window) == 0 {
		s.begun, s.settled = b.seconds, b.seconds
	}
	s.window = append(s.window, b)
	if s.beam != nil {
		s.follow(b)
	}
	if b.seconds-s.settled >= lookEvery && b.seconds-s.window[0].seconds >= windowSeconds {
		s.look()
	}
	if from := s.window[0].seconds; b.seconds-from > windowSeconds+lookEvery {
		i, _ := slices.BinarySearchFunc(s.window, b.seconds-windowSeconds, func(b sample, t float64) int {
			if b.seconds < t {
				return -1
			}
			return 1
		})
		s.window = append(s.window[:0], s.window[i:]...)
	}
}

// look finds settings for the window, and begins to follow the light when it first
// finds a lamp.
func (s *Splitter) look() {
	if len(s.window) == 0 {
		return
	}
	s.settled = s.window[len(s.window)-1].seconds
	now, ok := setting{}, false
	if s.found {
		now, ok = near(s.window, s.known)
	}
	if !ok && s.tried <= 0 {
		now, ok = settle(s.window)
		s.tried = patient // a light that does not move like a lamp is checked rarely
	}
	s.tried--
	if ok {
		s.tried = 0
		s.known, s.found = now, true
		if s.least == 0 || now.swing < s.least {
			s.least = now.swing
		}
		s.most = max(s.most, now.swing)
		s.wildest = max(s.wildest, now.wild, now.bend)
		s.swings = s.swings || now.turn > 0
		if edge := now.edge(1 / max(s.steps.Usual(), 1e-4)); s.edge == 0 || edge < s.edge {
			s.edge = edge
		}
	}
	switch {
	case s.beam == nil && s.found:
		s.beam = newBeam(s.known, survivors)
		s.begun = s.window[0].seconds
		for _, b := range s.window {
			s.follow(b)
		}
	case s.beam != nil && ok:
		s.beam.set(now)
	}
	if s.beam != nil && s.beam.started && !s.rests() {
		s.stirred, s.stirredIn = true, s.beam.best().since
	}
}

// follow feeds a sample to the search, and writes what is decided.
func (s *Splitter) follow(b sample) {
	if b.gap && s.beam.started {
		s.closePiece()
		s.begun = b.seconds
	}
	b, whole := s.average.add(b, max(s.beam.coarse, 1))
	if !whole {
		return
	}
	s.beam.add(b)
	v := s.beam.best()
	s.seen++
	h := (b.bright - v.level) / v.swing
	if h < -0.5 || h > 1.5 {
		s.odd++
	}
	if b.seconds-s.from > 2*lag {
		if c := s.beam.decided(b.seconds - lag); c != nil {
			s.write(c, v.first)
		}
	}
}

// write turns changes into intervals, up to one that remains as the beginning of what
// is still open. first reports whether the light began lit.
func (s *Splitter) write(upTo *change, first bool) {
	var times []float64
	for c := upTo; c != nil; c = c.before {
		times = append(times, c.seconds)
	}
	if !s.written {
		s.written, s.from, s.lit = true, s.begun, first
	} else if n := len(times); n > 0 && times[n-1] == s.from {
		times = times[:n-1] // where the previous call ended
	}
	for _, seconds := range slices.Backward(times) {
		s.done = append(s.done, blink.Interval{Lit: s.lit, Duration: duration(seconds - s.from)})
		s.from, s.lit = seconds, !s.lit
	}
	if upTo != nil {
		upTo.before = nil // already written: drop it
	}
}

const (
	// longStretch is how long a last stretch is, in seconds, before its brightness tells
	// anything. Where the lamp changes again it does not matter whether it rests.
	longStretch = 3.0
	// restShare is how much of the lamp's swing brightness may move, smoothed, where the lamp
	// does not change. A lamp that blinks moves it by a third or more.
	restShare = 0.25
	// shortly is for how long a step of light is followed in vain.
	shortly = 1.0
)

// rests reports whether brightness rests since the lamp's last change, if that is long ago.
func (s *Splitter) rests() bool {
	v := s.beam.best()
	if v.last == nil || s.beam.last-v.since < longStretch {
		return true
	}
	if v.jumped > 0 && v.jumped >= v.since-shortly {
		return false
	}
	// Brightness shortly after the change, and since then, smoothed.
	const most = 0.1 // seconds, the shortest mark
	var after, rest mean
	var smooth []sample
	var one mean
	for _, b := range s.window {
		switch since := b.seconds - v.since; {
		case since < edgeSeconds:
		case since < shortly:
			after.add(b.bright, b.n)
			fallthrough
		default:
			rest.add(b.bright, b.n)
			if one.n > 0 && b.seconds-one.from > most {
				smooth = append(smooth, sample{seconds: one.from, bright: one.value()})
				one = mean{}
			}
			if one.n == 0 {
				one.from = b.seconds
			}
			one.add(b.bright, b.n)
		}
	}
	// Where the sun comes out, or something covers the lamp, it is brighter or darker after
	// what is taken for a change of the lamp than the lamp was before, or goes on becoming so.
	expected := v.was
	if v.lit {
		expected += v.wasSwing
	}
	moved := func(a, b, share float64) bool { return math.Abs(a-b) > share*v.wasSwing }
	if v.times > 1 && moved(v.wasBefore, v.was, 2*restShare) {
		return false
	}
	return (after.n == 0 ||
		!moved(expected, after.value(), 2*restShare) && !moved(after.value(), rest.value(), restShare)) &&
		(len(smooth) < 8 || deviationFromLine(smooth) < restShare*v.wasSwing)
}

// mean is a mean that is being taken, of samples from a time on.
type mean struct{ sum, n, from float64 }

func (m *mean) add(bright, n float64) { m.sum, m.n = m.sum+bright*n, m.n+n }

func (m mean) value() float64 { return m.sum / m.n }

// deviationFromLine is how far samples typically are from the straight line that fits them
// best.
func deviationFromLine(all []sample) float64 {
	var n, t, y, tt, ty float64
	from := all[0].seconds
	for _, s := range all {
		x := s.seconds - from
		n, t, y, tt, ty = n+1, t+x, y+s.bright, tt+x*x, ty+x*s.bright
	}
	slope := 0.0
	if d := n*tt - t*t; d > 0 {
		slope = (n*ty - t*y) / d
	}
	sum := 0.0
	for _, s := range all {
		off := s.bright - (y+slope*(n*(s.seconds-from)-t))/n
		sum += off * off
	}
	return math.Sqrt(sum / n)
}

// Restless reports whether, where the lamp did not change any more at the end, brightness
// jumped or did not rest: something else may have covered the lamp, or outshone it.
func (s *Splitter) Restless() bool { return s.restless }

// endPiece ends a piece, and what is known of levels with it.
func (s *Splitter) endPiece() {
	if s.beam == nil {
		s.look()
	}
	if s.beam != nil {
		s.closePiece()
	}
	s.beam, s.window, s.average = nil, s.window[:0], averaging{}
}

// closePiece writes the piece that ends at a gap. The search goes on from its most likely
// end: ambient light and the swing are what they were, and the lamp may be lit or dark.
func (s *Splitter) closePiece() {
	v := s.beam.best()
	s.restless = !s.rests() || s.stirred && s.beam.best().since == s.stirredIn
	if s.beam.last > s.begun {
		s.write(v.last, v.first)
		piece := append(s.done, blink.Interval{Lit: s.lit, Duration: duration(s.beam.last - s.from)})
		s.changes += len(piece)
		s.jumps += v.jumps
		s.out = append(s.out, reading.Piece{From: duration(s.begun), Intervals: piece})
	}
	s.beam.forget()
	s.done, s.written, s.from = nil, false, 0
}

// Finish ends the trace and returns its pieces, a new one after each gap in the
// samples, or none if nothing changed like a lamp.
func (s *Splitter) Finish() []reading.Piece {
	if s.open.n > 0 {
		s.push(s.averaged())
		s.open.n = 0
	}
	s.endPiece()
	// A lamp that never changes is always lit or always dark: brightness does not show
	// which.
	if !slices.ContainsFunc(s.out, func(p reading.Piece) bool { return len(p.Intervals) > 1 }) {
		return nil
	}
	return s.out
}

func duration(seconds float64) time.Duration { return time.Duration(seconds * float64(time.Second)) }

// change is where light turned on or off.
type change struct {
	seconds float64
	before  *change
}

const (
	// unsteadyRatio is how much a lamp's swing may appear to change: enough for an
	// exposure that follows the light, but not for ambient light mistaken for a lamp.
	unsteadyRatio = 2.5
	// oddShare is how much of the brightness may be at neither level.
	oddShare = 0.2
	// leastEdge is the least clarity of an edge of light, in deviations. Below it one mark
	// in a thousand or more would be mistaken, and the reader's model of errors no longer
	// holds.
	leastEdge = 7.0
	// A lamp of which another light is part jumps where it does not change: at fewJumps or
	// more, and at over jumpShare of its changes, what was found is not one lamp's.
	fewJumps  = 5
	jumpShare = 0.3
)

// Tame reports whether a lamp was found and ambient light hardly moves, and does not
// jump. Then two levels in a window are as good.
func (s *Splitter) Tame() bool {
	const hardly = 2 // in the units of either kind of motion
	return s.found && s.wildest < hardly && !s.swings && !s.mixed()
}

// mixed reports whether brightness jumps so often where the lamp does not change that
// another light must be in it. At the limits of a sensor nothing tells where ambient light
// is, and a jump means nothing.
func (s *Splitter) mixed() bool {
	return !s.top.repeats() && !s.bottom.repeats() && s.jumps >= fewJumps &&
		float64(s.jumps) > jumpShare*float64(s.changes)
}

// Unsteady reports whether what was taken for the lamp's two levels changed too much to
// be one lamp's, or does not stand out enough from ambient light.
func (s *Splitter) Unsteady() bool {
	return s.edge < leastEdge && s.found || s.most > unsteadyRatio*s.least ||
		s.odd > oddShare*max(s.seen, 1) || s.mixed()
}
