// Package drift finds a lamp's light and dark in a trace of brightness, while ambient
// light moves: a cloud, a moving hand, leaves.
//
// A [Splitter] is given samples as they come and returns the intervals. The model, and
// why it was chosen, stands in ambient.go.
package drift

import (
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// Splitter parts brightness into light and dark as it comes: by the model of
// ambient.go, whose settings it finds on a window and keeps up to date. Memory does not
// grow with the recording, but for the changes of light.
type Splitter struct {
	open    sample // that samples are being averaged into
	steps   Steps
	window  []sample // the last seconds of this piece
	beam    *beam    // nil until a lamp is found
	average averaging
	known   setting // the last that was found
	found   bool
	settled float64 // when settings were last looked for
	begun   float64 // when the piece began
	top     level   // the brightest there is
	bottom  level   // and the darkest
	out     []reading.Piece
	changes int // intervals in out and done
	done    []blink.Interval
	from    float64 // where the interval behind done begins
	lit     bool    // and whether it is lit
	written bool    // that is known
	least   float64 // the smallest and the largest swing that was found
	most    float64
	odd     float64 // samples that nothing predicts
	seen    float64 // of so many
	wildest float64 // the most that ambient light moves
	tried   int     // how many looks to pass over before all settings are tried again
	edge    float64 // the least that an edge of light stands out, in deviations
}

// level is an extreme of brightness: a sensor that is full says the same again and
// again.
type level struct {
	bright float64
	count  int
	total  int
}

// Full reports whether more stretches of light and dark were found than are
// remembered, [MaxChanges].
func (s *Splitter) Full() bool { return s.changes+len(s.done) >= MaxChanges }

const (
	// binSeconds is how finely time is taken: several in the shortest mark. Light on
	// mains at 60 Hz goes through two of its periods in it, and averages out.
	binSeconds = 1.0 / 60
	// windowSeconds is longer than three periods of any rhythm, and no stretch of
	// light or dark is longer than 7.2 s; lookEvery is how often settings are looked for.
	windowSeconds = 24
	lookEvery     = 8
	patient       = 4
	// lag is from when on nothing is decided anew.
	lag = 12
)

// Add takes the next sample: seconds since any beginning, later than the one before, and
// brightness in any unit.
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

// fullness tells whether the sensor is full, or sees nothing: an extreme that comes
// again and again.
func (s *Splitter) fullness(bright float64) int {
	switch {
	case s.top.again(bright, 1) && s.top.bright != s.bottom.bright:
		s.bottom.again(bright, -1)
		return 1
	case s.bottom.again(bright, -1) && s.top.bright != s.bottom.bright:
		return -1
	}
	return 0
}

// again reports whether a brightness is the extreme, to a side, that came again and
// again.
func (l *level) again(bright, side float64) bool {
	const few, share = 6, 0.04
	l.total++
	switch {
	case l.total == 1 || side*(bright-l.bright) > 0:
		l.bright, l.count = bright, 1
	case bright == l.bright:
		l.count++
		return l.count > few && float64(l.count) > share*float64(l.total)
	}
	return false
}

func (s *Splitter) push(b sample) {
	if b.gap {
		s.endPiece()
		b.gap = false
	}
	if len(s.window) == 0 {
		s.begun, s.settled = b.seconds, b.seconds
	}
	s.window = append(s.window, b)
	if s.beam != nil {
		s.follow(b)
	}
	if b.seconds-s.settled >= lookEvery && b.seconds-s.begun >= windowSeconds {
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

// look looks for settings in the window, and begins to follow the light where a lamp
// is found for the first time.
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
		s.tried = patient // a light that does not move like a lamp is looked at seldom
	}
	s.tried--
	if ok {
		s.tried = 0
		s.known, s.found = now, true
		if s.least == 0 || now.swing < s.least {
			s.least = now.swing
		}
		s.most = max(s.most, now.swing)
		s.wildest = max(s.wildest, now.wild)
		if edge := now.edge(1 / max(s.steps.Usual(), 1e-4)); s.edge == 0 || edge < s.edge {
			s.edge = edge
		}
	}
	switch {
	case s.beam == nil && s.found:
		s.beam = newBeam(s.known, survivors)
		for _, b := range s.window {
			s.follow(b)
		}
	case s.beam != nil && ok:
		s.beam.setting = now
	}
}

// follow takes a sample into the search, and writes down what is decided.
func (s *Splitter) follow(b sample) {
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

// write turns changes into intervals, up to one that stays as the beginning of what
// is still open. first tells whether the light began lit.
func (s *Splitter) write(upTo *change, first bool) {
	var times []float64
	for c := upTo; c != nil; c = c.before {
		times = append(times, c.seconds)
	}
	if !s.written {
		s.written, s.from, s.lit = true, s.begun, first
	} else if n := len(times); n > 0 && times[n-1] == s.from {
		times = times[:n-1] // where the last writing ended
	}
	for _, seconds := range slices.Backward(times) {
		s.done = append(s.done, blink.Interval{Lit: s.lit, Duration: duration(seconds - s.from)})
		s.from, s.lit = seconds, !s.lit
	}
	if upTo != nil {
		upTo.before = nil // it is written down: forget it
	}
}

func (s *Splitter) endPiece() {
	if s.beam == nil {
		s.look()
	}
	if s.beam != nil && s.beam.last > s.begun {
		v := s.beam.best()
		s.write(v.last, v.first)
		piece := append(s.done, blink.Interval{Lit: s.lit, Duration: duration(s.beam.last - s.from)})
		s.changes += len(piece)
		s.out = append(s.out, reading.Piece{From: duration(s.begun), Intervals: piece})
	}
	s.beam, s.done, s.written, s.window, s.average = nil, nil, false, s.window[:0], averaging{}
	s.from = 0
}

// Finish ends the trace and returns its pieces, a new one behind each gap in the samples;
// none where nothing changed like a lamp.
func (s *Splitter) Finish() []reading.Piece {
	if s.open.n > 0 {
		s.push(s.averaged())
		s.open.n = 0
	}
	s.endPiece()
	// What never changes is always lit or always dark: brightness does not tell which.
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
	// unsteadyRatio is how much a lamp's swing may seem to change: an exposure that
	// follows the light, not ambient light taken for a lamp.
	unsteadyRatio = 2.5
	// oddShare is how much of the brightness may be at neither level.
	oddShare = 0.2
	// leastEdge is how many deviations an edge of light stands out at least: below it
	// one in a thousand marks and more would be mistaken, and the reader's model of
	// errors no longer holds.
	leastEdge = 7.0
)

// Tame reports whether a lamp was found, and ambient light hardly moves: two levels in a
// window tell as well then.
func (s *Splitter) Tame() bool {
	const hardly = 2 // swings² a cubic second
	return s.found && s.wildest < hardly
}

// Unsteady reports whether what was taken for the lamp's two levels changed
// too much to be one lamp's, or can't be told from ambient light well enough.
func (s *Splitter) Unsteady() bool {
	return s.edge < leastEdge && s.found || s.most > unsteadyRatio*s.least || s.odd > oddShare*max(s.seen, 1)
}
