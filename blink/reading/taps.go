package reading

import (
	"math"
	"slices"
	"time"

	"tallywink.example/blink"
)

// Tap is a mark that a person tapped while watching a lamp.
type Tap struct {
	Mark byte          // blink.ShortMark, blink.LongMark or blink.UnsureMark
	At   time.Duration // since any beginning
}

// pauseKind is what a pause between two taps stands for.
type pauseKind int

const (
	withinGroup pauseKind = iota
	betweenGroups
	betweenFrames
	pauseKinds
)

// TapGroups parts taps into looks and groups by their pauses, which differ
// from lamp to lamp and from person to person.
//
// A pause is as long as the dark and the light between two taps. How long a
// unit is, where in a long mark a person taps (when it begins, in its
// middle, or when it is over), and whether they wait longer between groups
// than the lamp does, as who taps from memory, is not known: all are summed
// over on a grid, under a normal error of each pause, and each pause is then
// given its likeliest kind. It needs no pause but those that were seen.
type TapGroups struct {
	code *blink.Code
	ways []tapWay
	// hopeless is the density of a pause that fits no kind: the person was
	// disturbed.
	hopeless float64
}

// tapWay is a length of a unit, how many units before a long mark's end a
// person taps it, and by what factor the gaps between groups and frames are
// longer than the lamp's.
type tapWay struct{ unit, early, wait, prior float64 }

// waits are the factors that are weighed, with their priors: most people keep
// the lamp's time.
var waits = []struct{ factor, prior float64 }{{1, 0.85}, {1.5, 0.05}, {2.2, 0.05}, {3.2, 0.05}}

// The error of a pause: two reactions, and what grows with its length.
const (
	tapError      = 0.11 // seconds
	tapErrorShare = 0.12
)

// Shares of the kinds among pauses, by a frame's two or three marks a group
// and four groups.
var pauseShares = [pauseKinds]float64{withinGroup: 0.5, betweenGroups: 0.35, betweenFrames: 0.15}

// NewTapGroups makes what parts taps of a code.
func NewTapGroups(code *blink.Code) *TapGroups {
	g := &TapGroups{code: code, hopeless: 1e-3}
	low, high := code.Timing.MinUnit.Seconds(), code.Timing.MaxUnit.Seconds()
	const step = 1.04
	for unit := low; unit <= high*step; unit *= step {
		for early := 0.0; early <= float64(code.Timing.Long-1); early++ {
			for _, w := range waits {
				g.ways = append(g.ways, tapWay{unit, early, w.factor, w.prior})
			}
		}
	}
	return g
}

// pause returns how long a pause is between two marks, in seconds.
func (g *TapGroups) pause(w tapWay, kind pauseKind, before, after byte) float64 {
	t := g.code.Timing
	gap := [pauseKinds]int{t.MarkGap, t.GroupGap, t.Rest}[kind]
	lit := func(mark byte) float64 {
		switch mark {
		case blink.LongMark:
			return float64(t.Long)
		case blink.ShortMark:
			return float64(t.Short)
		}
		return float64(t.Long+t.Short) / 2
	}
	units := float64(gap) + lit(after)
	if kind != withinGroup {
		units += (w.wait - 1) * float64(gap)
	}
	if after == blink.LongMark {
		units -= w.early
	}
	if before == blink.LongMark {
		units += w.early
	}
	return units * w.unit
}

// density is that of a pause of a kind. Between frames it may be longer than
// the rest: an edge's bars are not tapped, and a person may sit one out.
func (g *TapGroups) density(w tapWay, kind pauseKind, before, after byte, seconds float64) float64 {
	sent := g.pause(w, kind, before, after)
	deviation := math.Hypot(tapError, tapErrorShare*sent)
	x := (seconds - sent) / deviation
	if kind == betweenFrames && x > 0 {
		x = 0
	}
	return math.Exp(-x*x/2) / (deviation * math.Sqrt(2*math.Pi))
}

// Split parts taps into looks: frames, of which the first and the last may be
// incomplete. closed tells that the last group is over, as far as the time
// now, since the same beginning, tells.
func (g *TapGroups) Split(taps []Tap, now time.Duration) (looks []blink.Frame, closed bool) {
	if len(taps) == 0 {
		return nil, false
	}
	weights := g.weights(taps)
	kinds := g.kinds(taps, weights)
	look, group := blink.Frame{}, []byte{taps[0].Mark}
	for i, kind := range kinds {
		if kind != withinGroup {
			look, group = append(look, blink.Group(group)), nil
		}
		if kind == betweenFrames {
			looks, look = append(looks, look), nil
		}
		group = append(group, taps[i+1].Mark)
	}
	looks = append(looks, append(look, blink.Group(group)))
	return looks, g.isOver(taps, weights, now)
}

// weights returns the probability of each way, after all pauses.
func (g *TapGroups) weights(taps []Tap) []float64 {
	logs := make([]float64, len(g.ways))
	top := math.Inf(-1)
	for i, w := range g.ways {
		logs[i] = math.Log(w.prior)
		for k := 1; k < len(taps); k++ {
			p := g.hopeless
			for kind, share := range pauseShares {
				p += share * g.density(w, pauseKind(kind), taps[k-1].Mark, taps[k].Mark, (taps[k].At-taps[k-1].At).Seconds())
			}
			logs[i] += math.Log(p)
		}
		top = max(top, logs[i])
	}
	sum := 0.0
	for i := range logs {
		logs[i] = math.Exp(logs[i] - top)
		sum += logs[i]
	}
	for i := range logs {
		logs[i] /= sum
	}
	return logs
}

// kinds returns the likeliest kind of each pause, with the weights of the ways.
func (g *TapGroups) kinds(taps []Tap, weights []float64) []pauseKind {
	kinds := make([]pauseKind, len(taps)-1)
	for k := range kinds {
		seconds := (taps[k+1].At - taps[k].At).Seconds()
		best := 0.0
		for kind, share := range pauseShares {
			p := 0.0
			for i, w := range g.ways {
				p += weights[i] * share * g.density(w, pauseKind(kind), taps[k].Mark, taps[k+1].Mark, seconds)
			}
			if p > best {
				best, kinds[k] = p, pauseKind(kind)
			}
		}
		if best == 0 { // longer than anything
			kinds[k] = betweenFrames
		}
	}
	if !slices.Contains(kinds, betweenGroups) {
		asGroups(kinds, taps)
	}
	return kinds
}

// asGroups takes the shorter pauses between frames for pauses between groups,
// where there are none of these: no frame is a single group, so that whoever
// taps evenly waits long between groups.
func asGroups(kinds []pauseKind, taps []Tap) {
	const longer = 1.8 // a pause between frames, at least
	shortest := time.Duration(math.MaxInt64)
	for k, kind := range kinds {
		if kind == betweenFrames {
			shortest = min(shortest, taps[k+1].At-taps[k].At)
		}
	}
	for k, kind := range kinds {
		if kind == betweenFrames && float64(taps[k+1].At-taps[k].At) < longer*float64(shortest) {
			kinds[k] = betweenGroups
		}
	}
}

// isOver tells whether the pause since the last tap is already longer than one
// within a group can well be.
func (g *TapGroups) isOver(taps []Tap, weights []float64, now time.Duration) bool {
	last := taps[len(taps)-1]
	elapsed := (now - last.At).Seconds()
	chance := 0.0
	for i, w := range g.ways {
		sent := g.pause(w, withinGroup, last.Mark, blink.LongMark)
		chance += weights[i] * math.Erfc((elapsed-sent)/math.Hypot(tapError, tapErrorShare*sent)/math.Sqrt2) / 2
	}
	const over = 0.02
	return chance < over
}
