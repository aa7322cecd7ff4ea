package progress

import (
	"math"
	"time"
)

// Schedule is when an item comes back, by the SM-2 rule (P. A. Wozniak, Optimization of
// repetition spacing in the practice of learning, 1990, chapter 3.2; the rule from
// memory). The first interval is a day, the second six, and each later one is the
// previous one times an easiness factor. That factor begins at 2.5, changes by 0.1 -
// (5-q)(0.08 + (5-q) 0.02) with a grade q from 0 to 5, and is never below 1.3. A grade
// below 3 starts the repetitions over and leaves the easiness unchanged.
//
// All answers for an item on one day are one repetition.
type Schedule struct {
	Easiness     float64 // 0 before the first repetition: counts as 2.5
	Repetitions  int     // in a row with a grade of 3 or more
	IntervalDays int     // until the next repetition
}

const (
	firstEasiness = 2.5
	leastEasiness = 1.3
	passingGrade  = 3
)

// After returns the schedule after a repetition with a grade, 0 to 5.
func (s Schedule) After(grade int) Schedule {
	if s.Easiness == 0 {
		s.Easiness = firstEasiness
	}
	if grade < passingGrade {
		s.Repetitions, s.IntervalDays = 0, 1
		return s
	}
	s.Repetitions++
	switch s.Repetitions {
	case 1:
		s.IntervalDays = 1
	case 2:
		s.IntervalDays = 6
	default:
		s.IntervalDays = int(min(math.Ceil(float64(s.IntervalDays)*s.Easiness), math.MaxInt32))
	}
	d := float64(5 - grade)
	s.Easiness = max(s.Easiness+0.1-d*(0.08+d*0.02), leastEasiness)
	return s
}

// gradeOf grades a day's answers. In SM-2 a person grades their own answers; here the
// grade is from the share that was right.
func gradeOf(right, seen int) int {
	share := float64(right) / float64(seen)
	switch {
	case right == seen:
		return 5
	case share >= 0.9:
		return 4
	case share >= 0.75:
		return 3
	case share >= 0.5:
		return 2
	case share >= 0.25:
		return 1
	}
	return 0
}

// dayOf returns the day of a time in its own zone, counted from any starting point.
func dayOf(t time.Time) int {
	year, month, day := t.Date()
	return int(time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix() / 86_400)
}

// Retention is how much of what was learned is kept after a time, from 0 to 1: the
// forgetting curve of Ebbinghaus, Über das Gedächtnis, 1885, section 29, 100 k / ((log
// t)^c + k) percent, with k = 1.84, c = 1.25 and t in minutes (formula and constants
// from memory). It is 1 up to a minute.
func Retention(minutes float64) float64 {
	if minutes <= 1 {
		return 1
	}
	return ebbinghausK / (math.Pow(math.Log10(minutes), ebbinghausC) + ebbinghausK)
}

const ebbinghausK, ebbinghausC = 1.84, 1.25
