package reading

import (
	"math"
	"slices"
	"time"

	"tallywink.example/blink"
)

// DurationModel describes how long a stretch of light or dark is observed if it was
// sent with a length of some number of units.
//
// The logarithm of the observed length is normal around that of the length sent (a
// log-normal length): lengths are positive, the errors of people, cameras and cheap
// oscillators grow with the length, and the code depends on proportion. A second, wider
// normal covers the few lengths that are far off, so that no single interval outweighs
// all others. There is also an error that does not depend on the length: each end is
// found to within a sample or a video frame.
type DurationModel struct {
	// Jitters are the possible relative standard deviations of most lengths, all equally
	// likely: from a steady camera's to a shaky thumb's.
	Jitters   []float64
	Wide      float64       // of the other lengths
	WideShare float64       // the share of those others
	Edge      time.Duration // standard deviation of where an end is found
	// Step is the time from one sample or picture to the next, 0 where light is
	// observed without steps. An end lies anywhere between two samples, and a
	// stretch may pass between two.
	Step time.Duration
	// Lost is the chance that a stretch of one unit, and with it both its ends, is not
	// observed. For longer stretches it is proportionally less. To that
	// comes the chance that it passes between two samples.
	Lost float64
	// False is the chance that a stretch is broken by one that was not sent, and
	// FalseLength is how long a false stretch is on average.
	False       float64
	FalseLength time.Duration
	// Change is the chance, at each end of a stretch, that the lamp changes to another
	// state or pilot.
	Change float64
	// Muddled is the density, per second, of the length of a stretch in which the lamp
	// changes: anything up to some seconds.
	Muddled float64
	// Stranger is the chance that the light does not follow the code. Its lengths can then
	// be anything, with all magnitudes equally likely.
	Stranger float64
}

// AssumedDurations is the model that the program uses. Its figures are assumptions, not
// measurements: wide enough for a thumb on a key and for a camera at 12 frames a
// second.
var AssumedDurations = DurationModel{
	Jitters: []float64{0.04, 0.09, 0.17}, Wide: 0.35, WideShare: 0.04, Edge: 12 * time.Millisecond,
	Lost: 0.01, False: 0.01, FalseLength: 60 * time.Millisecond,
	Change: 1e-4, Muddled: 0.2,
	Stranger: 0.01,
}

// variances returns the variances of the logarithm of an observed length around
// seconds, for most lengths and for the others.
func (m DurationModel) variances(seconds, jitter float64) (most, wide float64) {
	end := m.Edge.Seconds()*m.Edge.Seconds() + m.Step.Seconds()*m.Step.Seconds()/12 // the second is uniform
	edge := 2 * end / (seconds * seconds)
	return jitter*jitter + edge, m.Wide*m.Wide + edge
}

// density is the probability density, per second, of observing a length of seconds if
// the length sent was sent.
func (m DurationModel) density(seconds, sent, jitter float64) float64 {
	most, wide := m.variances(sent, jitter)
	x := math.Log(seconds / sent)
	p := (1-m.WideShare)*normal(x, most) + m.WideShare*normal(x, wide)
	return p / seconds
}

// normal is the density of a normal distribution around zero.
func normal(x, variance float64) float64 {
	return math.Exp(-x*x/(2*variance)) / math.Sqrt(2*math.Pi*variance)
}

// longer is the probability that a stretch sent with length sent is observed for at
// least seconds.
func (m DurationModel) longer(seconds, sent, jitter float64) float64 {
	most, wide := m.variances(sent, jitter)
	x := math.Log(seconds / sent)
	tail := func(variance float64) float64 { return math.Erfc(x/math.Sqrt(2*variance)) / 2 }
	return (1-m.WideShare)*tail(most) + m.WideShare*tail(wide)
}

// excess is by how many seconds, on average, a stretch sent with length sent is
// observed longer than seconds, counting 0 if it is shorter.
func (m DurationModel) excess(seconds, sent, jitter float64) float64 {
	most, wide := m.variances(sent, jitter)
	of := func(variance float64) float64 {
		s := math.Sqrt(variance)
		x := math.Log(sent/seconds) / s
		above := func(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }
		return sent*math.Exp(variance/2)*above(x+s) - seconds*above(x)
	}
	return (1-m.WideShare)*of(most) + m.WideShare*of(wide)
}

// lost is the chance that a stretch of so many units, of so many seconds each, is
// not observed.
func (m DurationModel) lost(units int, unit float64) float64 {
	between := 0.0
	if step := m.Step.Seconds(); step > 0 {
		between = max(1-float64(units)*unit/step, 0)
	}
	return max(between, m.Lost/float64(units))
}

// falseOf is the density of a false stretch that lasts seconds.
func (m DurationModel) falseOf(seconds float64) float64 {
	mean := m.FalseLength.Seconds()
	return m.False * math.Exp(-seconds/mean) / mean
}

// broken is the density of three observed lengths if one stretch was sent and the
// middle length is false. It does not include the density of their sum.
func (m DurationModel) broken(first, false_, last float64) float64 {
	return m.falseOf(false_) / (first + last)
}

// The lengths of a light that does not follow the code: from a blink of a leaf to a
// minute, with all magnitudes equally likely, so that the logarithm is uniform.
// leastStranger is the chance of a longer length.
const (
	shortestStranger = 0.03 // seconds
	longestStranger  = 60.0
	leastStranger    = 1e-3
)

// strangerPeriods are the numbers of intervals after which a light that does not follow
// the code may repeat itself: two for a turn signal, more for a beacon that flashes two
// or three times. 0 is a light that never repeats.
var strangerPeriods = []int{0, 2, 4, 6}

// strangers is the logarithm of the density of intervals from a light that does not
// follow the code. The first and the last interval are cut, as in the forward pass.
func (m DurationModel) strangers(seen []blink.Interval) float64 {
	magnitudes := math.Log(longestStranger / shortestStranger)
	mean := (longestStranger - shortestStranger) / magnitudes
	ends := 0.0
	for i, iv := range seen {
		longer := max(min(math.Log(longestStranger/iv.Duration.Seconds())/magnitudes, 1), leastStranger)
		switch i {
		case len(seen) - 1:
			ends += math.Log(longer)
		case 0:
			ends += math.Log(longer / mean)
		}
	}
	if len(seen) <= 2 {
		return ends
	}
	inner := seen[1 : len(seen)-1]
	ways := make([]float64, 0, len(strangerPeriods)*len(m.Jitters))
	for _, period := range strangerPeriods {
		for _, jitter := range m.Jitters {
			ways = append(ways, m.repeating(inner, period,
				jitter)-math.Log(magnitudes)*float64(freeLengths(inner, period)))
		}
	}
	ways = append(ways, m.memoryless(inner)-math.Log(magnitudes))
	top := slices.Max(ways)
	sum := 0.0
	for _, w := range ways {
		sum += math.Exp(w - top)
	}
	return ends + top + math.Log(sum/float64(len(ways)))
}

// memoryless is the logarithm of the density of intervals of a light that goes on and
// off at random, as noise between two levels does: their lengths are exponential or,
// where light is sampled, geometric in steps. Their mean is summed over by Laplace's
// approximation.
func (m DurationModel) memoryless(seen []blink.Interval) float64 {
	n, sum := float64(len(seen)), 0.0
	step := m.Step.Seconds()
	for _, iv := range seen {
		d := iv.Duration.Seconds()
		if step > 0 {
			d = max(math.Round(d/step), 1)
		}
		sum += d
	}
	scale := math.Log(2*math.Pi/n) / 2
	if step == 0 {
		return -n*(math.Log(sum/n)+1) + scale
	}
	logs := 0.0
	if p := n / sum; p < 1 {
		logs = n*math.Log(p) + (sum-n)*math.Log(1-p)
	}
	return logs - n*math.Log(step) + scale
}

// freeLengths is the number of independent lengths of a light that repeats itself after
// a period of intervals.
func freeLengths(seen []blink.Interval, period int) int {
	if period == 0 {
		return len(seen)
	}
	return min(period, len(seen))
}

// repeating is the logarithm of the density of intervals that repeat themselves,
// without the prior of each free length. Free lengths are summed over by Laplace's
// approximation, around the median.
func (m DurationModel) repeating(seen []blink.Interval, period int, jitter float64) float64 {
	sum := 0.0
	if period == 0 {
		for _, iv := range seen {
			sum -= math.Log(iv.Duration.Seconds())
		}
		return sum
	}
	for place := range min(period, len(seen)) {
		var lengths []float64
		for i := place; i < len(seen); i += period {
			lengths = append(lengths, seen[i].Duration.Seconds())
		}
		slices.Sort(lengths)
		sent := lengths[len(lengths)/2]
		for _, d := range lengths {
			sum += math.Log(m.density(d, sent, jitter) + math.SmallestNonzeroFloat64)
		}
		variance, _ := m.variances(sent, jitter)
		sum += math.Log(2*math.Pi*variance/float64(len(lengths))) / 2
	}
	return sum
}
