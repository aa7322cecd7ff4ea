// Package reading goes from what a person saw of a lamp to what the lamp
// said: from written marks, mistakes included, to pilots with probabilities.
//
// A [Reader] weighs every codeword of a code. How people err is an explicit
// [Model]: marks missed, counted twice, mistaken in length; groups run
// together or split; a start at the wrong group; a look cut short. For each
// codeword the likelihood of all that was written is summed over every way in
// which it can have come about, by a forward pass over marks and gaps, and
// weighed over observers of different skill, since nobody says how good the
// observer is. Several looks at one lamp add up.
//
//	reader := reading.NewReader(blink.Tally, reading.Assumed, nil)
//	looks, err := blink.ParseNotation("_.. . _. _..")
//	result := reader.Read(looks, reading.StartSeen)
//	if !result.Doubtful() { use(result.Candidates[0].Pilot) }
package reading

import "tallywink.example/blink"

// Model is how people err when they read a lamp. All are probabilities; those
// of a mark or a gap are for an observer of skill factor 1.
type Model struct {
	Missed   float64 // a mark is not counted
	Doubled  float64 // a mark is counted twice
	Mistaken float64 // a short mark is taken for a long one, or the reverse
	Together float64 // the gap between two groups is not seen
	Split    float64 // the gap between two marks is taken for one between groups
	// GrowsPast is the run of equal marks up to which Missed and Doubled
	// hold; in a run of n more than that they are n/GrowsPast times as high.
	GrowsPast int
	// Skills are the observers there are, better and worse.
	Skills []Skill
	// WrongStart is the chance that marks begin at a group other than the
	// first although the start was said to be seen.
	WrongStart float64
	// CutShort is the chance, at each gap between groups, that the rest of
	// the frame was not written.
	CutShort float64
	// RunsOn is the chance that marks go on into the next frame with nothing
	// to tell that the long dark was passed.
	RunsOn float64
	// OtherLamp is the chance, for each of several looks, that it was of
	// another lamp, or of this one with another pilot.
	OtherLamp float64
	// Same is the chance, where a look that is no codeword is the same as an
	// earlier one, that it is so whatever the lamp said: the same habit
	// miscounted the same frame, or the lamp shows what is no frame.
	Same float64
	// Stranger is the prior chance that what was written is no frame of the
	// code: another lamp, or a reading beyond repair.
	Stranger float64
}

// Skill is a kind of observer.
type Skill struct {
	Factor float64 // by which the rates of marks and gaps are multiplied
	Share  float64 // of all observers; shares add up to 1
}

// Assumed is the model that the program uses. Its rates are assumptions, no
// measurements: 0.4 % of marks missed, 0.4 % doubled, 0.3 % mistaken in
// length by a good observer, and one observer in five who is eight times
// worse. That
// miscounts grow past four equal marks is from studies of counting at a
// glance: Kaufman et al. 1949, Trick and Pylyshyn 1994, and in sequence
// Anobile et al. 2019.
var Assumed = Model{
	Missed: 0.004, Doubled: 0.004, Mistaken: 0.003,
	Together: 0.001, Split: 0.001,
	GrowsPast: 4,
	// Two points stand for the range of observers, as in a quadrature: what
	// counts is how much likelier two errors are than the good observer's
	// rates say. More points cost time and change no answer that was tried.
	Skills: []Skill{
		{Factor: 1, Share: 0.80},
		{Factor: 8, Share: 0.20},
	},
	WrongStart: 0.01,
	CutShort:   0.002,
	RunsOn:     0.01,
	OtherLamp:  0.005,
	Same:       0.1,
	Stranger:   1e-4,
}

// rates are a model's rates for one observer.
type rates struct {
	missed, doubled, mistaken, together, split float64
	growsPast                                  int
}

// mostRate is the highest rate of any error: beyond it a worse observer would
// begin to be right by being wrong.
const mostRate = 0.25

func (m Model) rates(factor float64) rates {
	scale := func(p float64) float64 { return min(p*factor, mostRate) }
	return rates{scale(m.Missed), scale(m.Doubled), scale(m.Mistaken), scale(m.Together), scale(m.Split), m.GrowsPast}
}

// miscount returns how many times as high the rates of missing and doubling
// are for a mark in a run of equal ones.
func (r rates) miscount(run int) float64 {
	if r.growsPast <= 0 || run <= r.growsPast {
		return 1
	}
	return float64(run) / float64(r.growsPast)
}

// strangerLikelihood is the likelihood of a look if it is no frame of the
// code at all: each mark short or long alike, each group of one to a few
// marks, each frame of a few groups.
func strangerLikelihood(f blink.Frame) float64 {
	const (
		another  = 0.55 // another mark follows in the group
		newGroup = 0.35 // a group follows
		end      = 0.10
	)
	p := end
	for i, g := range f {
		if i > 0 {
			p *= newGroup
		}
		for j, m := range g {
			if j > 0 {
				p *= another
			}
			if m == blink.ShortMark || m == blink.LongMark {
				p *= 0.5
			}
		}
	}
	return p
}
