package drift

// MaxChanges is how many stretches of light and dark are remembered of a recording:
// nine hours of the fastest that may flash.
const MaxChanges = 100_000

const (
	// GapSeconds is how long without a sample can be a gap, in seconds, and gapSteps how
	// many usual steps it is then.
	GapSeconds = 0.3
	gapSteps   = 8
)

// Steps tells a gap in a recording from the usual steps between its samples.
type Steps struct{ median float64 }

// Gap reports whether a step from one sample to the next, in seconds, is a gap. A step
// that is none counts for what is usual.
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

// Usual returns about the median of steps, in seconds; 0 before the first.
func (s *Steps) Usual() float64 { return s.median }
