package drift

// MaxChanges is how many stretches of light and dark of a recording are stored: more
// than eight hours of the fastest Tally signal that may be shown.
const MaxChanges = 100_000

const (
	// GapSeconds is the shortest time without a sample that can be a gap, in seconds, and
	// gapSteps is how many usual steps it must also exceed.
	GapSeconds = 0.3
	gapSteps   = 8
)

// Steps distinguishes gaps in a recording from the usual steps between its samples.
type Steps struct{ median float64 }

// Gap reports whether a step from one sample to the next, in seconds, is a gap. A step
// that is not a gap updates the usual step.
func (s *Steps) Gap(step float64) bool {
	if s.median > 0 && step > GapSeconds && step > gapSteps*s.median {
		return true
	}
	switch {
	case s.median == 0:
		s.median = step
	case step > s.median:
		s.median *= 1.05
	default:
		s.median /= 1.05
	}
	return false
}

// Usual returns the approximate median of steps, in seconds, or 0 before the first
// step.
func (s *Steps) Usual() float64 { return s.median }
