package blink

import (
	"errors"
	"fmt"
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
	Pilot channelplan.Pilot // in the states that show a frame
}

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
	var beats []Beat
	switch {
	case s.State == Steady || s.State == Dark:
		return []Interval{{s.State == Steady, UnchangingFor}}, 0, nil
	case s.State == Edge && s.End.valid() == NoEnd:
		return nil, 0, fmt.Errorf("%w: state edge needs an end, low or high", ErrSignal)
	case s.State.ShowsFrame():
		frame, err := c.Encode(s.Pilot)
		if err != nil {
			return nil, 0, err
		}
		rest := []Beat{{false, c.Timing.Rest}}
		if s.State == Edge {
			if rest = c.EdgeRests[s.End.valid()]; len(rest) == 0 {
				return nil, 0, fmt.Errorf("%w: the code has no signal for edge at the %v end", ErrSignal, s.End)
			}
		}
		beats = append(c.beats(frame), rest...)
	default:
		beats = c.Rhythms[s.State.valid()]
	}
	if len(beats) == 0 {
		return nil, 0, fmt.Errorf("%w: the code has no rhythm for state %v", ErrSignal, s.State)
	}
	intervals := timed(beats, unit)
	var period time.Duration
	for _, iv := range intervals {
		period += iv.Duration
	}
	return intervals, period, nil
}

// Light returns the light of a frame, or of some of its groups, at a unit: from the
// first mark to the last, without the rest.
func (c *Code) Light(f Frame, unit time.Duration) []Interval { return timed(c.beats(f), unit) }

func timed(beats []Beat, unit time.Duration) []Interval {
	intervals := make([]Interval, len(beats))
	for i, b := range beats {
		intervals[i] = Interval{b.Lit, time.Duration(b.Units) * unit}
	}
	return intervals
}

// beats returns a frame's marks and gaps, without the rest.
func (c *Code) beats(f Frame) []Beat {
	var beats []Beat
	for i, g := range f {
		if i > 0 {
			beats = append(beats, Beat{false, c.Timing.GroupGap})
		}
		for j, m := range g {
			if j > 0 {
				beats = append(beats, Beat{false, c.Timing.MarkGap})
			}
			units := c.Timing.Short
			if m == LongMark {
				units = c.Timing.Long
			}
			beats = append(beats, Beat{true, units})
		}
	}
	return beats
}
