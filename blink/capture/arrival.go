package capture

import (
	"math"
	"slices"
)

// This file repairs what phones and loggers do to the times of samples, before anything
// else looks at them. Single samples a little out of order are sorted. Samples that
// come in batches, with the time at which the batch arrived, are spread out by the
// sensor's usual step. If a sample is written only when its value changes, the value is
// repeated in between.

// arrived is a sample as it was written.
type arrived struct{ seconds, bright float64 }

// arrivals takes samples as they are written and passes them on in order.
type arrivals struct {
	emit     func(seconds, bright float64)
	waiting  []arrived // in order of time, not passed on yet
	newest   float64
	count    int
	together int       // samples since time last went forward
	early    int       // samples that came after one with a later time
	first    []arrived // the first samples, until it is known how samples come
	known    bool
	step     float64 // the mean step
	batched  bool
	onChange bool
	group    []arrived // of the batch that is arriving
	before   float64   // when the batch before had arrived
	last     arrived   // passed on
	has      bool
}

const (
	// disorder is how far a sample may be before the newest one, and mostEarly is the
	// share of samples that may be early, once a few were. More is not an exception.
	disorder  = 0.25 // seconds
	mostEarly = 0.05
	few       = 8.0 // early samples are no rule yet
	// mostTogether is how many samples may have the same time: more can't be a batch.
	mostTogether = 200
	// patience is how many samples wait to be sorted, and fewArrived is how many it takes
	// to find out how samples come.
	patience   = 12
	fewArrived = 64
	// longestStay is the longest time that a value can have stayed.
	longestStay = 20.0 // seconds
)

// add takes the next sample, and reports whether its time is acceptable: not far before
// other samples, and not early too often.
func (a *arrivals) add(seconds, bright float64) bool {
	a.count++
	if a.count > 1 && seconds < a.newest {
		a.early++
		if a.newest-seconds > disorder || float64(a.early) > few+mostEarly*float64(a.count) {
			return false
		}
	}
	if seconds > a.newest {
		a.together = 0
	}
	if a.together++; a.together > mostTogether {
		return false
	}
	a.newest = max(a.newest, seconds)
	if a.count == 1 {
		a.newest = seconds
	}
	i, _ := slices.BinarySearchFunc(a.waiting, seconds, func(s arrived, t float64) int {
		if s.seconds <= t {
			return -1
		}
		return 1
	})
	a.waiting = slices.Insert(a.waiting, i, arrived{seconds: seconds, bright: bright})
	if len(a.waiting) > patience {
		a.arrive(a.waiting[0])
		a.waiting = append(a.waiting[:0], a.waiting[1:]...)
	}
	return true
}

// finish passes on the samples that are still waiting.
func (a *arrivals) finish() {
	for _, s := range a.waiting {
		a.arrive(s)
	}
	a.waiting = nil
	if !a.known {
		a.learn()
	}
	a.endBatch()
}

func (a *arrivals) arrive(s arrived) {
	if !a.known {
		if a.first = append(a.first, s); len(a.first) == fewArrived {
			a.learn()
		}
		return
	}
	a.pass(s)
}

// learn finds out from the first samples how samples come.
func (a *arrivals) learn() {
	a.known = true
	n := len(a.first)
	if n > 8 {
		a.step = (a.first[n-1].seconds - a.first[0].seconds) / float64(n-1)
		tight, same := 0, 0
		spread := 0.0
		values := map[float64]bool{}
		for i, s := range a.first {
			values[s.bright] = true
			if i == 0 {
				continue
			}
			step := s.seconds - a.first[i-1].seconds
			spread += (step - a.step) * (step - a.step)
			if step < a.step/6 {
				tight++
			}
			if s.bright == a.first[i-1].bright {
				same++
			}
		}
		a.batched = 2*tight > n && a.step > 0.005
		a.onChange = !a.batched && same == 0 && 2*len(values) < n && math.Sqrt(spread/float64(n-1)) > a.step/2
	}
	for _, s := range a.first {
		a.pass(s)
	}
	a.first = nil
}

func (a *arrivals) pass(s arrived) {
	switch {
	case a.batched:
		if n := len(a.group); n > 0 && s.seconds-a.group[n-1].seconds > a.step/3 {
			a.endBatch()
		}
		a.group = append(a.group, s)
	case a.onChange:
		a.stay(s)
		a.hand(s)
	default:
		a.hand(s)
	}
}

// endBatch spreads out the samples of a batch: they were taken since the previous
// batch, or, after a gap, one usual step apart.
func (a *arrivals) endBatch() {
	n := len(a.group)
	if n == 0 {
		return
	}
	at := a.group[n-1].seconds
	step := a.step
	if since := (at - a.before) / float64(n); a.has && since < 3*a.step {
		step = since
	}
	for i, s := range a.group {
		s.seconds = at - float64(n-1-i)*step
		a.hand(s)
	}
	a.before, a.group = at, a.group[:0]
}

// stay fills the time before a sample with the previous value.
func (a *arrivals) stay(s arrived) {
	const often = 1.0 / 50 // seconds from one to the next
	if !a.has || s.seconds-a.last.seconds > longestStay {
		return
	}
	value := a.last.bright
	for t := a.last.seconds + often; t < s.seconds-often/2; t += often {
		a.hand(arrived{seconds: t, bright: value})
	}
}

// hand passes a sample on, with a time after the previous one.
func (a *arrivals) hand(s arrived) {
	if a.has && s.seconds <= a.last.seconds {
		s.seconds = a.last.seconds + 1e-6
	}
	a.last, a.has = s, true
	a.emit(s.seconds, s.bright)
}
