package blink

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"tallywink.example/channelplan"
)

// Interval is a stretch of time in which the lamp is lit or dark.
type Interval struct {
	Lit      bool
	Duration time.Duration // not negative
}

// Signal is all that a lamp shows: a state, and what goes with that state.
type Signal struct {
	State State             // what the rhythm shows
	End   EdgeEnd           // in state Edge
	Pilot channelplan.Pilot // in the states that show a frame; zero if no frame is shown
}

// ShowsFrame reports whether the lamp shows a pilot's frame.
func (s Signal) ShowsFrame() bool { return s.State.ShowsFrame() && !s.Pilot.IsZero() }

// UnchangingFor is how long to watch a lamp before you call it steady or dark, and the
// length of the single interval used for either.
const UnchangingFor = 10 * time.Second

// Errors for a signal that can't be turned into intervals.
var (
	ErrUnit   = errors.New("unit out of range")
	ErrSignal = errors.New("incomplete signal")
)

// Signal returns the intervals of a signal at a unit, and their period: the lamp
// repeats them as long as it shows the same signal. Steady and dark are one interval of
// [UnchangingFor] with period 0. The unit must be within the code's range and a whole
// number of milliseconds. Neighboring intervals differ. The error wraps [ErrUnit],
// [ErrSignal] or an error of [Code.Digits].
func (c *Code) Signal(s Signal, unit time.Duration) ([]Interval, time.Duration, error) {
	if unit < c.Timing.MinUnit || unit > c.Timing.MaxUnit || unit%time.Millisecond != 0 {
		return nil, 0, fmt.Errorf("%w: %v; a unit is %v to %v in whole milliseconds, %v as sent",
			ErrUnit, unit, c.Timing.MinUnit, c.Timing.MaxUnit, c.Timing.Unit)
	}
	if s.State == Steady || s.State == Dark {
		if taken := c.Unchanging(s.State == Steady); taken != s.State {
			return nil, 0, fmt.Errorf("%w: a lamp of the code %s that is always lit means %v", ErrSignal, c.Name, taken)
		}
		return []Interval{{s.State == Steady, UnchangingFor}}, 0, nil
	}
	end := s.End.valid()
	if s.State == Edge && end == NoEnd && len(c.Rhythms[Edge]) == 0 {
		return nil, 0, fmt.Errorf("%w: state edge needs an end, low or high", ErrSignal)
	}
	var beats []Beat
	switch {
	case s.ShowsFrame() || s.State.ShowsFrame() && len(c.Groups) > 0 && !c.HasRhythm(s):
		frame, err := c.Encode(s.Pilot)
		if err != nil {
			return nil, 0, err
		}
		rest := []Beat{{false, c.Timing.Rest}}
		if s.State == Edge {
			if rest = slices.Clone(c.EdgeRests[end]); len(rest) == 0 {
				return nil, 0, fmt.Errorf("%w: the code has no signal for edge at the %v end", ErrSignal, s.End)
			}
		}
		lit, before, after := c.beats(frame)
		rest[0].Units += after
		rest[len(rest)-1].Units += before
		beats = append(lit, rest...)
	case end != NoEnd:
		beats = c.EdgeRests[end]
	default:
		beats = c.Rhythms[s.State.valid()]
	}
	switch len(beats) {
	case 0:
		return nil, 0, fmt.Errorf("%w: the code has no rhythm for state %v", ErrSignal, s.State)
	case 1:
		return []Interval{{beats[0].Lit, UnchangingFor}}, 0, nil
	}
	intervals := timed(beats, unit)
	var period time.Duration
	for _, iv := range intervals {
		period += iv.Duration
	}
	return intervals, period, nil
}

// Unchanging returns the state of a lamp that is always lit, or never lit.
func (c *Code) Unchanging(lit bool) State {
	if !lit {
		return Dark
	}
	for _, s := range States() {
		if len(c.Rhythms[s]) == 1 {
			return s
		}
	}
	return Steady
}

// Light returns the light of a frame, or of some of its groups, at a unit: from the
// first mark to the last, without the rest.
func (c *Code) Light(f Frame, unit time.Duration) []Interval {
	lit, _, _ := c.beats(f)
	return timed(lit, unit)
}

func timed(beats []Beat, unit time.Duration) []Interval {
	intervals := make([]Interval, len(beats))
	for i, b := range beats {
		intervals[i] = Interval{b.Lit, time.Duration(b.Units) * unit}
	}
	return intervals
}

// beats returns a frame's marks and gaps, from the first mark to the last, and how many
// more units it is dark before and after them because groups there show no light.
func (c *Code) beats(f Frame) (beats []Beat, before, after int) {
	dark := 0 // since the last mark
	for i, g := range f {
		if i > 0 {
			dark += c.Timing.GroupGap
		}
		if g == EmptyGroup {
			continue
		}
		for j, m := range g {
			if j > 0 {
				dark += c.Timing.MarkGap
			}
			if len(beats) > 0 {
				beats = append(beats, Beat{false, dark})
			} else {
				before = dark
			}
			dark = 0
			units := c.Timing.Short
			if m == LongMark {
				units = c.Timing.Long
			}
			beats = append(beats, Beat{true, units})
		}
	}
	return beats, before, dark
}
