package reading

import (
	"cmp"
	"math"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// Tap is a mark that a person tapped while watching a lamp.
type Tap struct {
	Mark byte          // blink.ShortMark, blink.LongMark or blink.UnsureMark
	At   time.Duration // since any starting point
}

// pauseKind is the meaning of a pause between two taps.
type pauseKind int

const (
	withinGroup pauseKind = iota
	betweenGroups
	betweenFrames
	pauseKinds
)

// TapGroups splits taps into looks and groups. It uses their pauses, which differ from
// lamp to lamp and from person to person, and what a frame is: groups are digits, and a
// look has as many groups as a frame.
//
// A pause is as long as the dark and the light between two taps. Some things are not
// known: how long a unit is; where in a long mark a person taps (at its beginning, in
// its middle, at its end, or evenly, like someone who taps from memory); and whether
// the person waits longer between groups than the lamp does. All are summed over on a
// grid, with a normal error for each pause. For each, the meanings of the pauses are a
// Markov chain; its states are how many marks a group and how many groups a look has so
// far. Each pause gets its most likely kind. It uses only pauses that were seen.
type TapGroups struct {
	code   *blink.Code
	models []tapModel
	// The groups that occur in frames.
	groups map[blink.Group]bool
	// The most marks in a digit, and the fewest and the most groups in a frame.
	marks, least, most int
}

// tapModel is how someone taps: the length of a unit, how many units before a long mark's end
// the person taps it, whether all marks are tapped alike, and the factor by which the
// gaps between groups and frames are longer than the lamp's.
type tapModel struct {
	unit, early float64
	even        bool
	wait, prior float64
	spread      float64 // the error of a pause, in seconds
}

// waits are the possible factors with their priors: most people keep the lamp's time.
var waits = []struct{ factor, prior float64 }{{1, 0.85}, {1.5, 0.05}, {2.2, 0.05}, {3.2, 0.05}}

// evenly is the prior of tapping all marks alike.
const evenly = 0.15

// The error of a pause: two reactions, in seconds, with a spread that differs from
// thumb to thumb and is treated as unknown (assumptions), and a part that grows with
// its length.
var tapSpreads = []struct{ seconds, prior float64 }{{0.07, 0.25}, {0.12, 0.35}, {0.2, 0.25}, {0.32, 0.15}}

const tapErrorShare = 0.12

// Shares of the kinds of pauses, for two or three marks per group and four groups per
// frame.
var pauseShares = [pauseKinds]float64{withinGroup: 0.5, betweenGroups: 0.35, betweenFrames: 0.15}

// Assumptions of the chain: the chance that a person taps a group that is not a digit
// or a look that is not a frame; the chance that the first look is seen from its
// beginning; and if it is not, the chance that its first group is whole. hopeless is
// the density of a pause that does not fit any kind: the person was disturbed.
const (
	astray    = 0.02
	fromBegin = 0.8
	wholeHead = 0.5
	hopeless  = 1e-3
)

// NewTapGroups makes a TapGroups for a code.
func NewTapGroups(code *blink.Code) *TapGroups {
	g := &TapGroups{code: code, groups: map[blink.Group]bool{}}
	g.least, g.most = code.LitGroups() // nobody taps what is not there
	for p := range code.Pilots {
		frame, err := code.Encode(p)
		if err != nil {
			continue
		}
		for _, group := range frame.Lit() {
			g.groups[group] = true
			g.marks = max(g.marks, len(group))
		}
	}
	low, high := code.Timing.MinUnit.Seconds(), code.Timing.MaxUnit.Seconds()
	const step = 1.06
	habits := float64(code.Timing.Long)
	for unit := low; unit <= high*step; unit *= step {
		for _, w := range waits {
			for early := 0.0; early <= float64(code.Timing.Long-1); early++ {
				for _, s := range tapSpreads {
					g.models = append(g.models, tapModel{unit, early, false, w.factor,
						w.prior * s.prior * (1 - evenly) / habits, s.seconds})
				}
			}
			for _, s := range tapSpreads {
				g.models = append(g.models, tapModel{unit, 0, true, w.factor, w.prior * s.prior * evenly, s.seconds})
			}
		}
	}
	return g
}

// pause returns the expected length of a pause between two marks, in seconds.
func (g *TapGroups) pause(w tapModel, kind pauseKind, before, after byte) float64 {
	t := g.code.Timing
	gap := [pauseKinds]int{t.MarkGap, t.GroupGap, t.Rest}[kind]
	lit := func(mark byte) float64 {
		switch {
		case mark == blink.ShortMark || w.even:
			return float64(t.Short)
		case mark == blink.LongMark:
			return float64(t.Long)
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

// density is the density of a pause of a kind. Between frames it may be longer than the
// rest: the bars of an edge are not tapped, and a person may sit one out.
func (g *TapGroups) density(w tapModel, kind pauseKind, before, after byte, seconds float64) float64 {
	sent := g.pause(w, kind, before, after)
	deviation := math.Hypot(w.spread, tapErrorShare*sent)
	x := (seconds - sent) / deviation
	if kind == betweenFrames && x > 0 {
		x = 0
	}
	return math.Exp(-x*x/2) / (deviation * math.Sqrt(2*math.Pi))
}

// Split splits taps into looks: frames, of which the first and the last may be
// incomplete. closed reports whether the last group is over as of now, which has the
// same starting point as the taps.
func (g *TapGroups) Split(taps []Tap, now time.Duration) (looks []blink.Frame, closed bool) {
	p := g.Part(taps)
	return p.Looks(), p.Over(now)
}

// Parted is taps with the meaning of their pauses. Finding that takes time, and it
// stays the same until there is another tap.
type Parted struct {
	groups  *TapGroups
	taps    []Tap
	chances [][pauseKinds]float64 // of each pause
	weights []float64             // of each model
}

// Part finds the meaning of the pauses between taps. The taps must not be changed
// later.
func (g *TapGroups) Part(taps []Tap) *Parted {
	p := &Parted{groups: g, taps: taps}
	if len(taps) > 0 {
		p.chances, p.weights = g.kinds(taps)
	}
	return p
}

// Looks returns the taps split in the most likely way: see [TapGroups.Split].
func (p *Parted) Looks() []blink.Frame {
	if len(p.taps) == 0 {
		return nil
	}
	return parted(p.taps, likeliest(p.chances))
}

// Over reports whether the last group is over as of now, which has the same starting
// point as the taps.
func (p *Parted) Over(now time.Duration) bool {
	return len(p.taps) > 0 && p.groups.isOver(p.taps, p.weights, now)
}

// likeliest returns the most likely kind of each pause.
func likeliest(chances [][pauseKinds]float64) []pauseKind {
	kinds := make([]pauseKind, len(chances))
	for k, c := range chances {
		for kind := range pauseKinds {
			if c[kind] > c[kinds[k]] {
				kinds[k] = kind
			}
		}
	}
	return kinds
}

// Grouping is a way to split taps into looks, and its probability.
type Grouping struct {
	Looks  []blink.Frame
	Weight float64
}

// Limits for groupings: how many pauses may be of two kinds, the least chance of the
// second kind, and how many groupings are kept, the most likely ones. The rest counts
// as doubt.
const (
	openPauses    = 8
	leastKind     = 0.004
	mostGroupings = 24
)

// Groupings returns the taps split in every way that is likely enough, the most likely
// first. Their weights add up to at most 1.
func (p *Parted) Groupings() (all []Grouping) {
	if len(p.taps) == 0 {
		return nil
	}
	chances := p.chances
	kinds := likeliest(chances)
	type open struct {
		at   int
		kind pauseKind
		p    float64
	}
	var others []open
	for k, c := range chances {
		second := open{k, 0, 0}
		for kind := range pauseKinds {
			if kind != kinds[k] && c[kind] > second.p {
				second.kind, second.p = kind, c[kind]
			}
		}
		if second.p >= leastKind {
			others = append(others, second)
		}
	}
	slices.SortFunc(others, func(a, b open) int { return cmp.Compare(b.p, a.p) })
	others = others[:min(len(others), openPauses)]
	type way struct {
		choice int
		weight float64
	}
	var ways []way
	sum := 0.0
	for choice := range 1 << len(others) {
		weight := 1.0
		for i, o := range others {
			if choice>>i&1 == 1 {
				weight *= o.p
			} else {
				weight *= chances[o.at][kinds[o.at]]
			}
		}
		ways, sum = append(ways, way{choice, weight}), sum+weight
	}
	slices.SortStableFunc(ways, func(a, b way) int { return cmp.Compare(b.weight, a.weight) })
	for _, w := range ways[:min(len(ways), mostGroupings)] {
		as := slices.Clone(kinds)
		for i, o := range others {
			if w.choice>>i&1 == 1 {
				as[o.at] = o.kind
			}
		}
		all = append(all, Grouping{parted(p.taps, as), w.weight / sum})
	}
	return all
}

// ReadGroupings weighs looks that may be split in several ways: the probability of a
// pilot is its sum over the ways. What the ways leave out does not count for any pilot.
func (r *Reader) ReadGroupings(all []Grouping, start Start) Result {
	if len(all) == 0 {
		return r.Read(nil, start)
	}
	var mixed Result
	place := map[channelplan.Pilot]int{}
	for _, g := range all {
		one := r.Read(g.Looks, start)
		mixed.Stranger += g.Weight * one.Stranger
		for _, c := range one.Candidates {
			i, known := place[c.Pilot]
			if !known {
				i = len(mixed.Candidates)
				place[c.Pilot] = i
				mixed.Candidates = append(mixed.Candidates, Candidate{Pilot: c.Pilot})
			}
			mixed.Candidates[i].Probability += g.Weight * c.Probability
		}
	}
	slices.SortStableFunc(mixed.Candidates, func(a,
		b Candidate) int {
		return cmp.Compare(b.Probability, a.Probability)
	})
	return mixed
}

// parted splits taps by the kinds of their pauses.
func parted(taps []Tap, kinds []pauseKind) (looks []blink.Frame) {
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
	return append(looks, append(look, blink.Group(group)))
}

// kinds returns the probability of each kind for each pause, and the probability of
// each model.
func (g *TapGroups) kinds(taps []Tap) (chances [][pauseKinds]float64, weights []float64) {
	chain := g.newChain(taps)
	// The rules of a frame never make pauses more likely than they are alone, so most models
	// need not be followed through.
	alone, order := make([]float64, len(g.models)), make([]int, len(g.models))
	for i, w := range g.models {
		alone[i], order[i] = math.Log(w.prior)+chain.weigh(w), i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(alone[b], alone[a]) })
	weights = make([]float64, len(g.models))
	const negligible = 1e-4
	top, least := math.Inf(-1), math.Log(negligible)
	for n, i := range order {
		if alone[i] < top+least {
			order = order[:n]
			break
		}
		chain.weigh(g.models[i])
		weights[i] = math.Log(g.models[i].prior) + chain.forward()
		top = max(top, weights[i])
	}
	sum := 0.0
	for _, i := range order {
		weights[i] = math.Exp(weights[i] - top)
		sum += weights[i]
	}
	chances = make([][pauseKinds]float64, len(taps)-1)
	for _, i := range order {
		if weights[i] /= sum; weights[i] > negligible {
			chain.weigh(g.models[i])
			chain.forward()
			chain.backward(weights[i], chances)
		}
	}
	return chances, weights
}

// tapChain is what a sequence of pauses may mean. A state is how many marks the group
// has and how many groups the look has, up to and including a tap. One more than the
// most of either stands for too many.
type tapChain struct {
	*TapGroups
	taps []Tap
	// whole is, for each tap and number of marks, how likely it is that a group with that
	// many marks ends there.
	whole   [][]float64
	kind    [][pauseKinds]float64 // for each pause, under the model being weighed
	reached [][]float64           // for each tap and state, its share
	scales  []float64
}

func (g *TapGroups) newChain(taps []Tap) *tapChain {
	c := &tapChain{TapGroups: g, taps: taps, kind: make([][pauseKinds]float64, len(taps)-1),
		scales: make([]float64, len(taps))}
	for i := range taps {
		whole := make([]float64, g.marks+1)
		for m := range whole {
			whole[m] = astray
			if m < g.marks && m <= i && g.isDigit(taps[i-m:i+1]) {
				whole[m] = 1
			} else if m == i { // the first group may have begun before
				whole[m] = (1 - fromBegin) * wholeHead
			}
		}
		c.whole = append(c.whole, whole)
		c.reached = append(c.reached, make([]float64, (g.marks+1)*(g.most+1)))
	}
	return c
}

// isDigit reports whether marks can be those of a digit.
func (g *TapGroups) isDigit(taps []Tap) bool {
	fits := func(p blink.Group) bool {
		for i, t := range taps {
			if t.Mark != blink.UnsureMark && t.Mark != p[i] {
				return false
			}
		}
		return true
	}
	for p := range g.groups {
		if len(p) == len(taps) && fits(p) {
			return true
		}
	}
	return false
}

// weigh sets the model to use, and returns the logarithm of the probability of all
// pauses, each taken alone.
func (c *tapChain) weigh(w tapModel) float64 {
	sum := 0.0
	for k := range c.kind {
		all := 0.0
		for kind, share := range pauseShares {
			seconds := (c.taps[k+1].At - c.taps[k].At).Seconds()
			c.kind[k][kind] = share * (c.density(w, pauseKind(kind), c.taps[k].Mark, c.taps[k+1].Mark,
				seconds) + hopeless)
			all += c.kind[k][kind]
		}
		sum += math.Log(all)
	}
	return sum
}

// next calls yield with each state that pause k leads to from a state, with its kind
// and its chance.
func (c *tapChain) next(k, state int, yield func(kind pauseKind, to int, chance float64)) {
	m, groups := state/(c.most+1), state%(c.most+1)
	more, again := min(m+1, c.marks), min(groups+1, c.most)
	chance := c.kind[k][withinGroup]
	if more == c.marks {
		chance *= astray
	}
	yield(withinGroup, more*(c.most+1)+groups, chance)
	chance = c.kind[k][betweenGroups] * c.whole[k][m]
	if again == c.most {
		chance *= astray
	}
	yield(betweenGroups, again, chance)
	chance = c.kind[k][betweenFrames] * c.whole[k][m]
	if n := groups + 1; n < c.least || n > c.most {
		chance *= astray
	}
	yield(betweenFrames, 0, chance)
}

// forward computes the share of each state, and returns the logarithm of the
// probability of all pauses.
func (c *tapChain) forward() float64 {
	first := c.reached[0]
	clear(first)
	for groups := range c.most {
		first[groups] = (1 - fromBegin) / float64(max(c.most-1, 1))
	}
	first[0] = fromBegin
	sum := 0.0
	for k := range c.kind {
		to := c.reached[k+1]
		clear(to)
		for state, share := range c.reached[k] {
			if share > 0 {
				c.next(k, state, func(_ pauseKind, next int, chance float64) { to[next] += share * chance })
			}
		}
		all := 0.0
		for _, share := range to {
			all += share
		}
		for i := range to {
			to[i] /= all
		}
		c.scales[k+1] = all
		sum += math.Log(all)
	}
	return sum
}

// backward adds, for each pause, how likely each kind is given all pauses, times the
// model's weight. Call it after forward.
func (c *tapChain) backward(weight float64, chances [][pauseKinds]float64) {
	after := slices.Repeat([]float64{1}, len(c.reached[0]))
	before := make([]float64, len(after))
	for k := len(c.kind) - 1; k >= 0; k-- {
		for state, share := range c.reached[k] {
			sum := 0.0
			c.next(k, state, func(kind pauseKind, to int, chance float64) {
				p := chance * after[to] / c.scales[k+1]
				chances[k][kind] += weight * share * p
				sum += p
			})
			before[state] = sum
		}
		after, before = before, after
	}
}

// isOver reports whether the pause since the last tap is already longer than a pause
// within a group can reasonably be.
func (g *TapGroups) isOver(taps []Tap, weights []float64, now time.Duration) bool {
	last := taps[len(taps)-1]
	elapsed := (now - last.At).Seconds()
	chance := 0.0
	for i, w := range g.models {
		sent := g.pause(w, withinGroup, last.Mark, blink.LongMark)
		chance += weights[i] * math.Erfc((elapsed-sent)/math.Hypot(w.spread, tapErrorShare*sent)/math.Sqrt2) / 2
	}
	const over = 0.02
	return chance < over
}
