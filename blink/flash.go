package blink

import (
	"errors"
	"fmt"
	"slices"
	"sort"
	"time"
)

// MaxFlashes is how many flashes content may show in any one second: WCAG
// 2.x, success criterion 2.3.1, Three Flashes or Below Threshold.
const MaxFlashes = 3

// A screen is late now and then, and then the next thing it shows looks shorter. So
// light is shown only at units that stay within the limit even if it ran this share
// faster.
const (
	marginOf      = 100
	marginPercent = 7
)

// absurdFlashes is where counting stops: intervals of nanoseconds would
// otherwise take a billion steps to refuse.
const absurdFlashes = 1000

// ErrFlashes is the error that [CheckShown] wraps.
var ErrFlashes = errors.New("flashes too fast to show")

// PeakFlashes returns the most flashes in any one second if the intervals repeat
// forever. WCAG calls a pair of opposing changes a flash. Here an odd change counts as
// the start of the next flash, and both ends belong to the second, so the result is
// never too low. It stops counting at a thousand.
func PeakFlashes(intervals []Interval) int {
	var period time.Duration
	for _, iv := range intervals {
		period += max(iv.Duration, 0)
	}
	steady := !slices.ContainsFunc(intervals, func(iv Interval) bool { return iv.Lit != intervals[0].Lit })
	if steady || period == 0 {
		return 0
	}
	var (
		changes []time.Duration // the times of the changes in the second up to now
		peak    int
		now     time.Duration
	)
	// One period, and the second after it: every second begins in the first.
	lit := intervals[len(intervals)-1].Lit
	for i := 0; now <= period+time.Second && peak < 2*absurdFlashes; i = (i + 1) % len(intervals) {
		iv := intervals[i]
		if iv.Duration <= 0 {
			continue
		}
		if iv.Lit != lit {
			lit = iv.Lit
			changes = append(changes, now)
			for now-changes[0] > time.Second {
				changes = changes[1:]
			}
			peak = max(peak, len(changes))
		}
		now += iv.Duration
	}
	return (peak + 1) / 2
}

// CheckShown returns an error that wraps [ErrFlashes] if the intervals, repeated
// forever, flash more than [MaxFlashes] times in any second. Call it before showing
// light. Several lamps on one screen add up: check their changes together.
func CheckShown(intervals []Interval) error {
	if n := PeakFlashes(intervals); n > MaxFlashes {
		return fmt.Errorf("%w: up to %d flashes in a second, and the limit is %d (WCAG 2.3.1); use a longer unit",
			ErrFlashes, n, MaxFlashes)
	}
	return nil
}

// ShownFrom returns the shortest unit, in whole milliseconds and within the code's
// range, at which all its signals may be shown, or 0 if there is none. It is 180 ms for
// the Tally code.
func (c *Code) ShownFrom() time.Duration {
	ms := sort.Search(int((c.Timing.MaxUnit-c.Timing.MinUnit)/time.Millisecond)+1, func(i int) bool {
		return c.mayBeShown(c.Timing.MinUnit + time.Duration(i)*time.Millisecond)
	})
	unit := c.Timing.MinUnit + time.Duration(ms)*time.Millisecond
	if unit > c.Timing.MaxUnit {
		return 0
	}
	return unit
}

func (c *Code) mayBeShown(unit time.Duration) bool {
	for s := range c.Signals {
		intervals, _, err := c.Signal(s, unit)
		for i := range intervals {
			intervals[i].Duration = intervals[i].Duration * (marginOf - marginPercent) / marginOf
		}
		if err == nil && CheckShown(intervals) != nil {
			return false
		}
	}
	return true
}

// Shutter sits between what a lamp would show and the screen. However often plays are
// restarted, put aside or late, it lets no more than [MaxFlashes] flashes pass in a
// second, and a late redraw does not change that. The zero Shutter is dark.
type Shutter struct {
	lit   bool
	limit ChangeLimit
}

// ChangeLimit lets no more changes of light pass in a second than [MaxFlashes] flashes
// have. The zero ChangeLimit has not seen any.
type ChangeLimit struct {
	changes []time.Time // the last ones
}

// shutterWindow is a second plus room for late redraws.
const shutterWindow = time.Second + 50*time.Millisecond

// Pass counts a change and returns the zero time if it may be shown now. If not, it
// returns when to ask again.
func (l *ChangeLimit) Pass(now time.Time) (again time.Time) {
	l.changes = slices.DeleteFunc(l.changes, func(t time.Time) bool { return now.Sub(t) > shutterWindow })
	if len(l.changes) >= 2*MaxFlashes {
		return l.changes[0].Add(shutterWindow + time.Millisecond)
	}
	l.changes = append(l.changes, now)
	return time.Time{}
}

// Drawn moves the last change to the time at which it was on the screen.
func (l *ChangeLimit) Drawn(at time.Time) {
	if n := len(l.changes); n > 0 && l.changes[n-1].Before(at) && at.Sub(l.changes[n-1]) < time.Second {
		l.changes[n-1] = at
	}
}

// Show returns what may be shown now. If that is not what is wanted, it also returns
// when to ask again, else the zero time.
func (s *Shutter) Show(want bool, now time.Time) (lit bool, again time.Time) {
	if want == s.lit {
		return s.lit, time.Time{}
	}
	if again = s.limit.Pass(now); !again.IsZero() {
		return s.lit, again
	}
	s.lit = want
	return s.lit, time.Time{}
}

// Signals calls yield with every signal that a lamp with this code can show, until
// yield returns false. Use it with range. A state that the code shows both with a frame and
// with a rhythm of its own is there without a pilot first.
func (c *Code) Signals(yield func(Signal) bool) {
	for _, s := range c.States() {
		if c.HasRhythm(s) && !yield(s) {
			return
		}
		if !s.State.ShowsFrame() || s.State == Edge && s.End == NoEnd {
			continue
		}
		for p := range c.Pilots {
			if s.Pilot = p; !yield(s) {
				return
			}
		}
	}
}

// States returns the states that a lamp with this code can show, without a pilot, in their
// own order: edge once for each end of the range that the code tells.
func (c *Code) States() []Signal {
	var all []Signal
	for _, s := range States() {
		switch own := c.HasRhythm(Signal{State: s}); {
		case s == Edge && len(c.EdgeRests[EndLow]) > 0:
			all = append(all, Signal{State: s, End: EndLow}, Signal{State: s, End: EndHigh})
		case own, s == Locked && len(c.Groups) > 0:
			all = append(all, Signal{State: s})
		}
	}
	return all
}

// HasRhythm reports whether a state, given without a pilot, is shown by a rhythm of its
// own: without a frame.
func (c *Code) HasRhythm(s Signal) bool {
	switch {
	case s.State == Dark:
		return true
	case s.State == Steady:
		return c.Unchanging(true) == Steady
	case s.End != NoEnd:
		return len(c.Groups) == 0 && len(c.EdgeRests[s.End]) > 0
	}
	return len(c.Rhythms[s.State]) > 0
}
