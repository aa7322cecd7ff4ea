// Package cutover plans the day on which the headend changes its lineup: which amplifiers
// move to another pilot beforehand, which are parked while their channel moves and locked
// again afterwards, in which order, and how long that takes.
//
// An amplifier can move early if both lineups carry a pilot the same way that it can
// follow: then it is never without a pilot, and backing out does not require going back
// to it. The kinds of carrier that its detector can follow are taken from its record or, if
// that does not say, are the kinds of its pilot and of its spare, where analog and
// continuous wave count as one kind.
package cutover

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/season"
)

// Action is what to do at an amplifier.
type Action uint8

// The actions.
const (
	Nothing  Action = iota // its pilot stays as it is
	ByDesign               // no pilot: gain set by hand or by temperature
	Early                  // moves before the change, to a pilot that both lineups carry the same way
	Park                   // parked before the change, locked again after it
	Strand                 // parked before the change, and after it nothing is carried that it can follow
	actions                // number of actions
)

var actionWords = [actions]string{"none", "by-design", "early", "park", "strand"}

// String returns the word that JSON and CSV use: none, by-design, early, park, strand.
func (a Action) String() string {
	if a >= actions {
		return ""
	}
	return actionWords[a]
}

// MarshalText returns [Action.String].
func (a Action) MarshalText() ([]byte, error) { return []byte(a.String()), nil }

// Target is a pilot that amplifiers move to.
type Target struct {
	lineup.Report // in the new lineup
	// Now and Then are the carrier in the old lineup, if that has it, and in the new one.
	Now, Then lineup.Carrier
	Listed    bool // the old lineup has it
}

// Step is what to do at one amplifier.
type Step struct {
	*plant.Amplifier     // of the plant: a plan of a large one would not hold each twice
	Depth            int // number of amplifiers before it in its cascade
	Action           Action
	Why              string // what happens to its pilot, a sentence without its final period; "" if nothing
	// After is the amplifier before it, if that is of another node and also has to be
	// visited, which must be done first; otherwise "".
	After string
	// To is the pilot it is set to: before the change if it moves early, after the change
	// if it is parked; otherwise nil.
	To *Target
	// SlopeTo is the slope pilot that an amplifier with two pilots is set to, at the same
	// time; nil if it has one pilot, or keeps its slope pilot. If it keeps its main pilot, To
	// is that.
	SlopeTo *Target
	// OtherDetector is a pilot that a stranded amplifier could follow with a detector of
	// another kind; nil if there is none. OtherEarly reports that both lineups carry it
	// the same way.
	OtherDetector *Target
	OtherEarly    bool
	// SlopeStrands reports that it is the slope pilot for which nothing is left, and that
	// OtherDetector is about the slope pilot's detector.
	SlopeStrands bool
	// Addable reports that the place of To is empty in the old lineup: if it were carried
	// along with the old pilot for a while, the amplifier would not have to be parked.
	Addable bool
	// NewSpare is the spare for its record if the change takes its spare, as an invalid
	// carrier or because it is now the pilot; zero if it needs none or there is none.
	NewSpare channelplan.Pilot
	// Untouched is how far its output is off at its pilot if nobody goes to any
	// amplifier: see [plant.Plant.Untouched].
	Untouched lineup.LevelStep
	// ParkedDB is how far its output moves between day and night at the top of its band, if
	// it is parked and so is what the plan parks before it in its cascade: the cable since
	// the last amplifier on AGC swings by [Request.DaySwing]. ParkedKnown reports whether
	// the losses are on record; both are zero if it is not parked.
	ParkedDB    float64
	ParkedKnown bool
	// Stage is how far the work has come, and SeenAt when its lamp was last read, if
	// [Plan.Follow] was told. Surprise is what the lamp showed, if the plan does not expect it.
	Stage    Stage
	SeenAt   time.Time
	Surprise string
	// Unconfirmed is the other new pilot of an amplifier that moves both of its pilots and
	// has moved: its lamp names one of them. It is zero if there is none.
	Unconfirmed channelplan.Pilot
	up          int // the nearest step of the plan before it in its cascade; -1 if there is none
}

// Request says what to plan.
type Request struct {
	Before, After *lineup.Lineup
	Today         time.Time
	Visit         time.Duration // how long a visit takes, including the drive
	Crews         int           // how many work at the same time
	Node          string        // plan the work there only; "" is everywhere
	// DaySwing is how much warmer cable is by day than by night, in degrees.
	DaySwing season.Fahrenheit
}

// Plan is a work plan.
type Plan struct {
	Request
	Steps []Step // down each cascade, whatever nodes it runs through
	Nodes []Node // the same steps, node by node, in the order of the file
	Count [actions]int
	// Targets holds the pilots that amplifiers move to, starting with the one that most
	// move to.
	Targets []Target
	// SparesLost counts amplifiers whose spare pilot is no longer valid, and NewSpares
	// those for which there is a new one: also those that move onto their spare.
	SparesLost, NewSpares int
	// Undetected counts amplifiers with AGC whose record does not say what their detector
	// can follow: the kinds of their pilot and spare are assumed.
	Undetected int
	// Addable counts parked amplifiers that would not have to be parked if their new
	// pilot were carried along with the old one for a while.
	Addable int
}

// Node is the work at one node, down each cascade.
type Node struct {
	Name  string
	Steps []*Step // of the plan
}

// settings are what decides where an amplifier moves to.
type settings struct {
	pilot, spare channelplan.Pilot
	role         lineup.Role
	passband     lineup.Band
	detector     lineup.Detector
	slope        lineup.SlopePilot
}

func settingsOf(a lineup.Amplifier) settings {
	return settings{a.Pilot, a.Spare, a.Role, a.Passband, a.Detector, a.Slope}
}

type choice struct {
	action              Action
	to, slopeTo, other  *Target
	slopeStrands        bool
	addable, otherEarly bool
	spareLost           bool
	spare               channelplan.Pilot // a new one
	why                 string
}

// New plans a change.
func New(p *plant.Plant, c *plant.Cascades, q Request) *Plan {
	plan := &Plan{Request: q, Steps: make([]Step, 0, len(c.Order))}
	nodes := map[string]int{} // by the name in lower case
	for _, a := range p.Amplifiers {
		if _, known := nodes[strings.ToLower(a.Node)]; !known && (q.Node == "" || strings.EqualFold(q.Node, a.Node)) {
			nodes[strings.ToLower(a.Node)] = len(plan.Nodes)
			plan.Nodes = append(plan.Nodes, Node{Name: a.Node})
		}
	}
	choices := map[settings]choice{}
	choose := func(a lineup.Amplifier) choice {
		key := settingsOf(a)
		ch, known := choices[key]
		if !known {
			ch = q.chooseAll(a)
			main := a.Pilot
			if ch.to != nil {
				main = ch.to.Pilot
			}
			if !a.Spare.IsZero() && ch.action != Strand && (ch.spareLost || main == a.Spare) {
				ch.spare = q.newSpare(a, main)
			}
			choices[key] = ch
		}
		return ch
	}
	visited := func(i int) bool {
		return p.Amplifiers[i].Mode == lineup.AGC && choose(p.Amplifiers[i].Amplifier).action >= Early
	}
	above := nearestAbove(c, visited)
	untouched := p.Untouched(c, q.Before, q.After)
	parked := q.parked(p, c, func(i int) bool { return choose(p.Amplifiers[i].Amplifier).action >= Park })
	nearest := make([]int, len(p.Amplifiers)) // the step at or above each amplifier, -1 if there is none
	moved := map[channelplan.Pilot]int{}
	targets := map[channelplan.Pilot]Target{}
	for _, i := range c.Order {
		a := &p.Amplifiers[i]
		nearest[i] = -1
		if up := c.Upstream[i]; up >= 0 {
			nearest[i] = nearest[up]
		}
		if q.Node != "" && !strings.EqualFold(q.Node, a.Node) {
			continue
		}
		s := Step{Amplifier: a, Depth: c.Depth[i], Action: ByDesign, up: nearest[i], Untouched: untouched[i]}
		nearest[i] = len(plan.Steps)
		if a.Mode == lineup.AGC {
			ch := choose(a.Amplifier)
			if !a.Detector.Known() || !a.Slope.Pilot.IsZero() && !a.Slope.Detector.Known() {
				plan.Undetected++
			}
			if ch.spareLost {
				plan.SparesLost++
			}
			s.Action, s.To, s.SlopeTo, s.Why, s.NewSpare = ch.action, ch.to, ch.slopeTo, ch.why, ch.spare
			s.OtherDetector, s.OtherEarly, s.Addable = ch.other, ch.otherEarly, ch.addable
			s.SlopeStrands = ch.slopeStrands
			if s.Action >= Park {
				s.ParkedDB, s.ParkedKnown = parked[i].db, parked[i].known
			}
		}
		for _, to := range []*Target{s.To, s.SlopeTo} {
			if to != nil && !s.stays(to) {
				moved[to.Pilot]++
				targets[to.Pilot] = *to
			}
		}
		if s.Addable {
			plan.Addable++
		}
		if !s.NewSpare.IsZero() {
			plan.NewSpares++
		}
		plan.Count[s.Action]++
		if s.Action >= Early {
			if up := above(i); up >= 0 && !strings.EqualFold(p.Amplifiers[up].Node, a.Node) {
				s.After = fmt.Sprintf("%s of node %s", p.Amplifiers[up].ID, p.Amplifiers[up].Node)
			}
		}
		plan.Steps = append(plan.Steps, s)
		node := &plan.Nodes[nodes[strings.ToLower(a.Node)]]
		node.Steps = append(node.Steps, &plan.Steps[len(plan.Steps)-1])
	}
	for _, t := range targets {
		plan.Targets = append(plan.Targets, t)
	}
	slices.SortFunc(plan.Targets, func(a, b Target) int {
		return cmp.Or(moved[b.Pilot]-moved[a.Pilot], cmp.Compare(a.Pilot.Channel, b.Pilot.Channel),
			cmp.Compare(a.Pilot.Kind, b.Pilot.Kind))
	})
	return plan
}

// drift is how far an output moves between day and night.
type drift struct {
	db    float64
	known bool
}

// parked returns how far the output of each amplifier moves between day and night while
// those for which such returns true are parked: the cable since the last amplifier on AGC
// swings, by the formula of package season. An amplifier in thermal is counted as if it did
// not compensate at all: that is the most that it can be.
func (q Request) parked(p *plant.Plant, c *plant.Cascades, such func(i int) bool) []drift {
	drifts := make([]drift, len(p.Amplifiers))
	for _, i := range c.Order {
		a := p.Amplifiers[i]
		if a.Mode == lineup.AGC && !such(i) {
			drifts[i].known = true
			continue
		}
		comes := drift{known: a.Upstream == ""}
		if up := c.Upstream[i]; up >= 0 {
			comes = drifts[up]
		}
		top := a.Passband.HighHz
		if top == 0 {
			top = q.After.Forward.HighHz
		}
		span := season.Span{LossDB: a.SpanDB, AtHz: a.SpanHz}
		if comes.known && a.SpanDB > 0 {
			drifts[i] = drift{comes.db + span.LossAt(top, season.Reference+q.DaySwing) -
				span.LossAt(top, season.Reference), true}
		}
	}
	return drifts
}

// nearestAbove returns a function that finds the nearest amplifier before another in its
// cascade for which such returns true, -1 if there is none. It remembers the part of the
// cascade that it has walked.
func nearestAbove(c *plant.Cascades, such func(i int) bool) func(i int) int {
	known := map[int]int{}
	return func(i int) int {
		var walked []int
		found := -1
		for at := i; ; at = c.Upstream[at] {
			if before, ok := known[at]; ok {
				found = before
				break
			}
			walked = append(walked, at)
			if up := c.Upstream[at]; up < 0 {
				break
			} else if such(up) {
				found = up
				break
			}
		}
		for _, at := range walked {
			known[at] = found
		}
		return found
	}
}

// Touched returns how many amplifiers someone has to go to.
func (p *Plan) Touched() int { return p.Count[Early] + p.Count[Park] + p.Count[Strand] }

// stays reports whether a target is the pilot that the amplifier is on and stays on all the
// time, while its other one is moved.
func (s *Step) stays(to *Target) bool { return s.Action == Early && to.Pilot == s.Pilot }

// chooseAll decides what to do at an amplifier, at both of its pilots if it has two: there
// is one visit for both, so the one that needs more decides when that is.
func (q Request) chooseAll(a lineup.Amplifier) choice {
	ch := q.choose(a, func(p lineup.Ranked) bool { return p.Pilot != a.Slope.Pilot })
	at, ok := a.AtSlope()
	if !ok {
		return ch
	}
	main := a.Pilot
	if ch.to != nil {
		main = ch.to.Pilot
	}
	top, located := lineup.Locate(main, q.After.Plan)
	low := q.choose(at, func(p lineup.Ranked) bool {
		return p.Pilot != main && (!located || p.Located.FrequencyHz < top.FrequencyHz &&
			lineup.FarApart(p.Located.FrequencyHz, top.FrequencyHz))
	})
	if low.action == Nothing {
		return ch
	}
	both := choice{action: max(ch.action, low.action), to: ch.to, slopeTo: low.to, other: ch.other,
		otherEarly: ch.otherEarly, spareLost: ch.spareLost, why: "slope pilot: " + low.why}
	if ch.action != Strand && low.action == Strand {
		both.slopeStrands, both.other, both.otherEarly = true, low.other, low.otherEarly
	}
	both.addable = (ch.action != Park || ch.addable) && (low.action != Park || low.addable) && both.action == Park
	switch {
	case ch.action != Nothing:
		both.why = ch.why + "; slope pilot: " + low.why
	case both.action != Strand:
		own := q.target(a, a.Pilot)
		both.to = &own
	}
	if both.action == Strand {
		both.to, both.slopeTo = nil, nil
	}
	return both
}

// choose decides what to do at an amplifier with one pilot, or at one of two. Only pilots
// for which may returns true are chosen.
func (q Request) choose(a lineup.Amplifier, may func(lineup.Ranked) bool) choice {
	a.Range = lineup.Range{} // the limits of AGC ranges are taken into account for the whole cascade
	compared := lineup.Compare(q.Before, q.After, a)
	var why []lineup.Change
	for _, c := range compared.Changes {
		switch c.What {
		case lineup.PilotLost, lineup.PilotAbsent, lineup.PilotBack, lineup.LevelChanged, lineup.CarrierMoved:
			why = append(why, c)
		case lineup.CarrierChanged:
			if compared.After.Verdict != lineup.Unusable {
				why = append(why, c)
			}
		}
	}
	ch := choice{action: Nothing, spareLost: compared.Has(lineup.SpareLost)}
	if len(why) == 0 {
		return ch
	}
	ch.why = why[0].Text
	if i := slices.IndexFunc(compared.Changes,
		func(c lineup.Change) bool { return c.What == lineup.PilotBack }); i >= 0 {
		// It is set for the pilot that is to come: it stays without AGC until then, and is
		// not sent away from it.
		ch.action = Park
		own := q.target(a, a.Pilot)
		ch.to, ch.addable = &own, q.addable(own)
		ch.why = compared.Changes[i].Text +
			"; it is on record for the pilot to come, so keep it parked and lock it after the change"
		return ch
	}
	if ch.to = q.best(a, true, true, may); ch.to != nil {
		ch.action = Early
		return ch
	}
	ch.action = Park
	if compared.After.Verdict != lineup.Unusable {
		own := q.target(a, a.Pilot)
		ch.to = &own
		return ch
	}
	if ch.to = q.best(a, false, true, may); ch.to != nil {
		ch.addable = q.addable(*ch.to)
		return ch
	}
	ch.action = Strand
	if ch.other = q.best(a, true, false, may); ch.other != nil {
		ch.otherEarly = true
	} else {
		ch.other = q.best(a, false, false, may)
	}
	return ch
}

// best returns the best pilot for an amplifier, nil if there is none: only among those
// that both lineups carry the same way if alike is set, else among all of the new one;
// only among those that it can follow by its record if followed is set; and only among
// those for which may returns true.
func (q Request) best(a lineup.Amplifier, alike, followed bool, may func(lineup.Ranked) bool) *Target {
	if !followed { // with another detector
		a.Detector = lineup.Detector{}
	}
	free := a.On(channelplan.Pilot{})
	with := lineup.Context{Amplifier: &free}
	var before *lineup.Lineup
	if alike {
		before = q.Before
	}
	// Do not send an amplifier to a carrier that may go away without notice, or that is
	// not the same at every node.
	// Nobody moves an amplifier to an unknown level if the levels of others are known.
	levels := slices.ContainsFunc(q.After.Carriers, func(c lineup.Carrier) bool { return c.HasLevel })
	fit := slices.DeleteFunc(lineup.Rank(q.After, before, with), func(c lineup.Ranked) bool {
		return !may(c) || c.Pilot == a.Pilot && alike || passing(c.Report) || levels && !c.Carrier.HasLevel ||
			followed && !Follows(a, c.Pilot.Kind) ||
			alike && passing(q.Before.CheckOne(c.Pilot, with))
	})
	if len(fit) == 0 {
		return nil
	}
	order := func(x, y lineup.Ranked) int {
		return cmp.Or(
			first(x.Pilot == a.Spare, y.Pilot == a.Spare),
			first(q.sound(x.Pilot, with), q.sound(y.Pilot, with)),
			q.placed(a, x, y),
			first(x.Pilot.Kind == a.Pilot.Kind, y.Pilot.Kind == a.Pilot.Kind),
			cmp.Compare(y.Score, x.Score))
	}
	t := q.target(a, slices.MinFunc(fit, order).Pilot)
	return &t
}

// first orders true before false.
func first(x, y bool) int {
	switch {
	case x == y:
		return 0
	case x:
		return -1
	}
	return 1
}

// sound reports whether a pilot has no cautions in the new lineup.
func (q Request) sound(p channelplan.Pilot, with lineup.Context) bool {
	return q.After.CheckOne(p, with).Verdict == lineup.Usable
}

// placed orders pilots for a low-pilot amplifier by their distance from the old one:
// slope depends on the distance between two pilots.
func (q Request) placed(a lineup.Amplifier, x, y lineup.Ranked) int {
	if a.Role != lineup.LowPilot {
		return 0
	}
	at, ok := lineup.Locate(a.Pilot, q.Before.Plan)
	if !ok {
		return 0
	}
	away := func(c lineup.Ranked) float64 { return math.Abs(float64(c.Located.FrequencyHz - at.FrequencyHz)) }
	return cmp.Compare(away(x), away(y))
}

// Follows reports whether an amplifier's detector can follow a kind of carrier, according
// to its record: what that says of the detector or, if it says nothing, the kinds of its
// pilot and spare.
func Follows(a lineup.Amplifier, kind channelplan.Kind) bool {
	if a.Detector.Known() {
		return a.Detector.Follows(kind)
	}
	line := func(k channelplan.Kind) bool { return k == channelplan.Analog || k == channelplan.CW }
	for _, p := range []channelplan.Pilot{a.Pilot, a.Spare} {
		if p.Kind == kind || line(p.Kind) && line(kind) {
			return true
		}
	}
	return false
}

func (q Request) target(a lineup.Amplifier, p channelplan.Pilot) Target {
	on := a.On(p)
	r := q.After.CheckOne(p, lineup.Context{Amplifier: &on})
	t := Target{Report: r, Then: r.Carrier}
	if now, ok := q.Before.InChannel(p.Channel, p.Kind); ok && now.Kind == r.Carrier.Kind {
		t.Now, t.Listed = now, true
	}
	return t
}

// addable reports whether a pilot's place is empty in the old lineup.
func (q Request) addable(t Target) bool {
	return !slices.ContainsFunc(q.Before.Carriers,
		func(c lineup.Carrier) bool { return lineup.Collide(c.Band, t.Then.Band) })
}

// MeterHz returns where a meter finds the target: the place of the pilot, or that of the
// carrier of another kind that a detector which measures power follows there.
func (t Target) MeterHz() int64 {
	if kind := t.Then.Kind.Family(); t.Then.FrequencyHz != 0 && kind != channelplan.OFDM && kind != t.Pilot.Kind {
		return t.Then.FrequencyHz
	}
	return t.Located.FrequencyHz
}

// LevelFor returns the lineup's level of a target at the time of an action: before the
// change, or after it. It holds at the lineup's reference point: no amplifier is to be set
// to it.
func (t Target) LevelFor(a Action) (dBmV float64, ok bool) {
	if a == Early {
		return t.Now.LevelDBmV, t.Listed && t.Now.HasLevel
	}
	return t.Then.LevelDBmV, t.Then.HasLevel
}
