package reading

import (
	"math"

	"tallywink.example/blink"
)

// This file reads light that a person tapped, by pressing a key while the lamp is lit.

// reactions are standard deviations of how much one reaction of a person is later than
// another, in seconds, all equally likely at first; how late they are on average does not
// matter, because it moves all ends alike. A trained thumb is at the lower end, cold
// fingers in the sun at the upper one (assumptions: the reaction to a light is some 200
// ms, and varies by a fifth to a half of that).
var reactions = [...]float64{0.02, 0.05, 0.1}

// ReadTapped weighs intervals as [TimedReader.Read] does, for light that a person tapped:
// each end is off by the person's reaction, whose spread is not known. It is weighed like
// the unit: by how well the intervals fit.
func (r *TimedReader) ReadTapped(intervals []blink.Interval) TimedResult {
	seen := joined(intervals)
	var results [len(reactions)]TimedResult
	var weights [len(reactions)][]float64
	var fits [len(reactions)]float64 // logarithms, for the same light that is none of the code's
	best, top := 0, math.Inf(-1)
	none := r.model.strangers(seen)
	for i, spread := range reactions {
		by := *r
		by.model.Edge, by.model.Step = duration(spread), 0
		results[i], weights[i] = by.read(seen)
		fits[i] = results[i].Fit + by.model.strangers(seen) - none
		if fits[i] > top {
			best, top = i, fits[i]
		}
	}
	result := results[best]
	mixed := make([]float64, len(r.signals))
	sum := 0.0
	for i := range reactions {
		share := math.Exp(fits[i]-top) / float64(len(reactions))
		sum += share
		for h, w := range weights[i] {
			mixed[h] += share * w
		}
	}
	result.Candidates, result.Fit = r.candidates(mixed), top+math.Log(sum)
	result.Sequence[len(result.Sequence)-1].TimedCandidate = result.Best()
	r.makeRoomForStranger(&result)
	r.weighStranger([]Piece{{Intervals: seen}}, &result)
	return result
}
