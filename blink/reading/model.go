// Package reading works out what a lamp showed from what a person saw of it: from
// written marks, mistakes included, to pilots with probabilities.
//
// A [Reader] weighs every codeword of a code. How people err is an explicit [Model]:
// marks missed, counted twice, or mistaken in length; groups run together or split; a
// start at the wrong group; a look cut short. For each codeword, a forward pass over
// marks and gaps sums the likelihood of what was written over every way in which it can
// have come about. The result is weighed over observers of different skill, since
// nobody says how good the observer is. Several looks at one lamp add up.
//
//	reader := reading.NewReader(blink.Tally, reading.Assumed, nil)
//	looks, err := blink.ParseNotation("_.. . _. _..")
//	result := reader.Read(looks, reading.StartSeen)
//	if !result.Doubtful() { use(result.Candidates[0].Pilot) }
package reading

import "tallywink.example/blink"

// Model describes how people err when they read a lamp. All values are probabilities;
// those for a mark or a gap are for an observer of skill factor 1.
type Model struct {
	Missed   float64 // a mark is not counted
	Doubled  float64 // a mark is counted twice
	Mistaken float64 // a short mark is taken for a long one, or the reverse
	Together float64 // the gap between two groups is not seen
	Split    float64 // the gap between two marks is taken for a gap between groups
	// GrowsPast is the longest run of equal marks for which Missed and Doubled hold. In a
	// longer run of n marks they are n/GrowsPast times as high.
	GrowsPast int
	// Skills are the possible observers, better and worse.
	Skills []Skill
	// WrongStart is the chance that marks begin at a group other than the first even
	// though the person says that the start was seen.
	WrongStart float64
	// CutShort is the chance, at each gap between groups, that the rest of
	// the frame was not written.
	CutShort float64
	// RunsOn is the chance that marks continue into the next frame without any sign of the
	// long dark between them.
	RunsOn float64
	// OtherLamp is the chance, for each of several looks, that the look was at another
	// lamp, or at this lamp with another pilot.
	OtherLamp float64
	// Same is the chance, if a look that is not a codeword equals an earlier look, that it
	// does so no matter what the lamp showed: the same habit miscounted the same frame, or
	// the lamp shows something that is not a frame.
	Same float64
	// Stranger is the prior chance that what was written is not a frame of the code: it is
	// another lamp, or a reading beyond repair.
	Stranger float64
}

// Skill is a kind of observer.
type Skill struct {
	Factor float64 // by which the rates of marks and gaps are multiplied
	Share  float64 // of all observers; shares add up to 1
}

// Assumed is the model that the program uses. Its rates are assumptions, not
// measurements: a good observer misses 0.4 % of marks, doubles 0.4 %, and mistakes the
// length of 0.3 %; one observer in five is eight times worse. That miscounts grow past
// four equal marks is from studies of counting at a glance: Kaufman et al. 1949, Trick
// and Pylyshyn 1994, and in sequence Anobile et al. 2019.
var Assumed = Model{
	Missed: 0.004, Doubled: 0.004, Mistaken: 0.003,
	Together: 0.001, Split: 0.001,
	GrowsPast: 4,
	// Two points represent the range of observers, as in a quadrature. What counts is how
	// much more likely two errors are than the good observer's rates say. More points cost
	// time and did not change any answer that was tried.
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

// mostRate is the highest rate of any error: beyond it a worse observer would begin to
// be right by being wrong.
const mostRate = 0.25

func (m Model) rates(factor float64) rates {
	scale := func(p float64) float64 { return min(p*factor, mostRate) }
	return rates{scale(m.Missed), scale(m.Doubled), scale(m.Mistaken), scale(m.Together), scale(m.Split), m.GrowsPast}
}

// miscount returns the factor on the rates of missing and doubling for a mark in a run
// of equal marks.
func (r rates) miscount(run int) float64 {
	if r.growsPast <= 0 || run <= r.growsPast {
		return 1
	}
	return float64(run) / float64(r.growsPast)
}

// strangerLikelihood is the likelihood of a look that is not a frame of the code at
// all: short and long marks are equally likely, each group has one to a few marks, and
// each frame has a few groups.
func strangerLikelihood(f blink.Frame) float64 {
	const (
		another  = 0.55 // another mark follows in the group
		newGroup = 0.35 // another group follows
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
