package field

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// Trouble is what is wrong with what was seen at an amplifier.
type Trouble uint8

// The troubles.
const (
	NoTrouble   Trouble = iota
	NeverSeen           // nobody has read its lamp
	Unsure              // the last reading is doubtful
	WrongPilot          // locked on another pilot than its own
	NotLocked           // it has AGC, and is not locked
	AtEdge              // locked, at the end of its range
	NotAsMeant          // by hand or temperature by design, and the lamp says otherwise
	troubleMany         // how many there are
)

var troubleWords = [troubleMany]string{"none", "never-seen", "doubtful", "wrong-pilot", "not-locked", "edge", "not-as-designed"}

// String returns the word that JSON uses: never-seen, wrong-pilot and so on.
func (t Trouble) String() string {
	if t >= troubleMany {
		return ""
	}
	return troubleWords[t]
}

// Visit is an amplifier and what was last read there.
type Visit struct {
	plant.Amplifier
	Last    *Reading // nil where there is none
	Count   int      // how many readings there are
	Trouble Trouble
	Text    string // what is wrong, half a sentence; "" where nothing
}

// Compared is a field book beside an inventory.
type Compared struct {
	Visits []Visit // cascade by cascade
	// Strangers are readings at amplifiers that the inventory does not list.
	Strangers []Reading
	Faults    []Fault
}

// Compare sets readings against an inventory. Of several at one amplifier the
// last counts; of two at one time the later in the book. Where a lineup is given,
// nobody is sent to look for a pilot that is not valid in it.
func Compare(p *plant.Plant, c *plant.Cascades, readings []Reading, l *lineup.Lineup) Compared {
	last, count := make([]*Reading, len(p.Amplifiers)), make([]int, len(p.Amplifiers))
	var all Compared
	for i := range readings {
		r := &readings[i]
		place, ok := p.Find(r.Amp)
		if !ok {
			all.Strangers = append(all.Strangers, *r)
			continue
		}
		count[place]++
		if last[place] == nil || !r.Time.Before(last[place].Time) {
			last[place] = r
		}
	}
	for _, i := range c.Order {
		v := Visit{Amplifier: p.Amplifiers[i], Last: last[i], Count: count[i]}
		v.Trouble, v.Text = trouble(v)
		all.Visits = append(all.Visits, v)
	}
	all.Faults = (&search{p: p, c: c, last: last, l: l, unable: map[int]bool{}}).faults()
	return all
}

func trouble(v Visit) (Trouble, string) {
	r := v.Last
	if r == nil {
		return NeverSeen, ""
	}
	meant := map[lineup.Mode]blink.State{lineup.HandSet: blink.Manual, lineup.OpenLoop: blink.Thermal}
	pilot, told := r.Lamp()
	switch {
	case r.Doubtful:
		return Unsure, "the reading is doubtful"
	case v.Mode != lineup.AGC && r.State == meant[v.Mode]:
		return NoTrouble, ""
	case v.Mode != lineup.AGC:
		return NotAsMeant, fmt.Sprintf("%s, and %v by design", stateWords(*r), v.Mode)
	case !r.State.ShowsFrame():
		return NotLocked, stateWords(*r)
	case told && pilot == v.Spare:
		return WrongPilot, fmt.Sprintf("locked on %v, its spare, and recorded with %v", pilot, v.Pilot)
	case told && pilot != v.Pilot:
		return WrongPilot, fmt.Sprintf("locked on %v, and recorded with %v", pilot, v.Pilot)
	case r.State == blink.Edge:
		return AtEdge, stateWords(*r)
	}
	return NoTrouble, ""
}

func stateWords(r Reading) string {
	if r.EdgeEnd != blink.NoEnd {
		return fmt.Sprintf("%v, %v end", r.State, r.EdgeEnd)
	}
	return r.State.String()
}

// Fault is where something is wrong, as far as readings tell.
type Fault struct {
	Pilot channelplan.Pilot // which the amplifiers follow that lost it
	// Above is the last amplifier that is locked, "" where it is the node or
	// the headend; Below the first that is not, "" where all are.
	Above, Below string
	Nodes        []string // that are concerned
	Lost         int      // amplifiers that lost their pilot
	Text         string   // where to look, a sentence without its full stop
	// Apart is how long lies between the readings that say so: what was locked
	// then need not be now.
	Apart time.Duration
}

// remarkApart says that readings are not of one time.
func (f *Fault) remarkApart() {
	if f.Apart > staleApart {
		f.Text += fmt.Sprintf("; the readings are %d days apart: read them again", int(f.Apart.Hours()/24))
	}
}

// staleApart is from when on two readings are not of one state of the plant.
const staleApart = 24 * time.Hour

// search looks for faults.
type search struct {
	p    *plant.Plant
	c    *plant.Cascades
	last []*Reading
	l    *lineup.Lineup // nil where none is known
	// unable are amplifiers that can't follow their pilot, by the lineup.
	unable map[int]bool
	// below is, for each amplifier, one below it that is locked on the pilot belowOf,
	// or -1.
	below   []int
	belowOf channelplan.Pilot
}

// lost tells that the last reading at an amplifier says that it has lost its pilot:
// it holds or seeks.
func (s *search) lost(i int) bool { return s.in(i, blink.Holding, blink.Seeking) }

// on tells that the last reading at an amplifier says that it is locked on a pilot,
// its own or its spare.
func (s *search) on(i int, pilot channelplan.Pilot) bool {
	if !s.in(i, blink.Locked, blink.Edge) {
		return false
	}
	told, ok := s.last[i].Lamp()
	if !ok {
		told = s.p.Amplifiers[i].Pilot
	}
	return told == pilot
}

func (s *search) in(i int, states ...blink.State) bool {
	r := s.last[i]
	if r == nil || r.Doubtful || s.p.Amplifiers[i].Mode != lineup.AGC {
		return false
	}
	return slices.Contains(states, r.State)
}

// there returns an amplifier whose reading shows that a pilot is there at another:
// itself, or one below it that is locked on it; -1 where none does.
func (s *search) there(i int, pilot channelplan.Pilot) int {
	if s.on(i, pilot) {
		return i
	}
	return s.lockedBelow(i, pilot)
}

// upstreamOf is what stands above an amplifier that lost its pilot.
type upstreamOf struct {
	// above is the nearest amplifier on the same pilot whose reading tells of it; -1
	// where there is none up to the node.
	above int
	// between are those before it that nobody has read, the nearest first; unclear
	// those whose last reading tells nothing of the pilot, and mute those that follow
	// none that is valid for them, or another, so that their lamps can't.
	between, unclear, mute []int
}

func (s *search) above(i int) upstreamOf {
	pilot, w := s.p.Amplifiers[i].Pilot, upstreamOf{above: -1}
	for up := s.c.Upstream[i]; up >= 0; up = s.c.Upstream[up] {
		a := s.p.Amplifiers[up]
		follows := a.Pilot == pilot && a.Mode == lineup.AGC && !s.unable[up]
		switch {
		case s.there(up, pilot) >= 0, follows && s.lost(up):
			w.above = up
			return w
		case a.Mode != lineup.AGC || s.unable[up] || a.Pilot != pilot:
			w.mute = append(w.mute, up)
		case s.last[up] == nil:
			w.between = append(w.between, up)
		default:
			w.unclear = append(w.unclear, up)
		}
	}
	return w
}

// faults returns what bounds a fault, pilot by pilot in the order of cascades.
func (s *search) faults() []Fault {
	var pilots []channelplan.Pilot
	lost := map[channelplan.Pilot][]int{}
	for _, i := range s.c.Order {
		if s.lost(i) {
			p := s.p.Amplifiers[i].Pilot
			if lost[p] == nil {
				pilots = append(pilots, p)
			}
			lost[p] = append(lost[p], i)
		}
	}
	var faults []Fault
	for _, p := range pilots {
		f, whole := s.invalid(p, lost[p])
		if whole {
			faults = append(faults, f)
			continue
		}
		rest, unfit := s.unfit(p, lost[p])
		if faults = append(faults, unfit...); len(rest) == 0 {
			continue
		}
		if f, whole = s.whole(p, rest); whole {
			faults = append(faults, f)
			continue
		}
		faults = append(faults, s.bounded(p, rest)...)
	}
	return faults
}

// unfit parts off the amplifiers that can't follow a pilot which is valid for
// others, by their own passband for instance: a fault for each rule that says so.
func (s *search) unfit(pilot channelplan.Pilot, lost []int) (rest []int, faults []Fault) {
	if s.l == nil {
		return lost, nil
	}
	var rules []string
	by := map[string][]int{}
	why := map[lineup.Band]string{} // the rule, by the passband: what the pilot is, is the same for all
	for i, a := range s.p.Amplifiers {
		if a.Pilot != pilot || a.Mode != lineup.AGC {
			continue
		}
		rule, known := why[a.Passband]
		if !known {
			if r := s.l.CheckOne(pilot, lineup.Context{Amplifier: &s.p.Amplifiers[i].Amplifier}); r.Verdict == lineup.Unusable {
				rule = string(r.Findings[0].Rule)
			}
			why[a.Passband] = rule
		}
		s.unable[i] = rule != ""
	}
	for _, i := range lost {
		rule := why[s.p.Amplifiers[i].Passband]
		if rule == "" {
			rest = append(rest, i)
			continue
		}
		if by[rule] == nil {
			rules = append(rules, rule)
		}
		by[rule] = append(by[rule], i)
	}
	for _, rule := range rules {
		ids := make([]string, len(by[rule]))
		for k, i := range by[rule] {
			ids[k] = s.p.Amplifiers[i].ID
		}
		faults = append(faults, Fault{Pilot: pilot, Nodes: s.nodes(by[rule]), Lost: len(ids), Apart: s.apart(by[rule]),
			Text: fmt.Sprintf("%v is no valid pilot for %s (%s): another pilot is needed there and not a repair", pilot, strings.Join(ids, ", "), rule)})
	}
	return rest, faults
}

// invalid reports whether the lineup has no such pilot to be lost.
func (s *search) invalid(pilot channelplan.Pilot, lost []int) (Fault, bool) {
	if s.l == nil {
		return Fault{}, false
	}
	r := s.l.CheckOne(pilot, lineup.Context{})
	if r.Verdict != lineup.Unusable {
		return Fault{}, false
	}
	return Fault{Pilot: pilot, Nodes: s.nodes(lost), Lost: len(lost), Apart: s.apart(lost),
		Text: fmt.Sprintf("%v is no valid pilot by the lineup (%s): what has lost it, %d of those read, needs another pilot and not a repair", pilot, r.Findings[0].Rule, len(lost))}, true
}

// whole reports whether all amplifiers on a pilot that were read, in several
// nodes, have lost it: then its source is at fault.
func (s *search) whole(pilot channelplan.Pilot, lost []int) (Fault, bool) {
	nodes := s.nodes(lost)
	for i := range s.p.Amplifiers {
		if s.on(i, pilot) {
			return Fault{}, false
		}
	}
	f := Fault{Pilot: pilot, Nodes: nodes, Lost: len(lost), Apart: s.apart(lost)}
	if len(nodes) < 2 {
		return f, false
	}
	f.Text = fmt.Sprintf("all %d that were read on %v, in %d nodes, have lost it: look for the pilot at the headend first", len(lost), pilot, len(nodes))
	f.remarkApart()
	return f, true
}

// head is where a fault shows: amplifiers that lost their pilot, and have none above
// them that did.
type head struct {
	upstreamOf
	at    []int // the heads of branches that have a common way
	lost  int   // with those below them
	alone bool  // it has lost what passes to those below it
}

// bounded returns the places between the last amplifier at which a pilot is and the
// first that lost it, and heads of cascades that have.
func (s *search) bounded(pilot channelplan.Pilot, lost []int) []Fault {
	var heads []*head
	of := map[int]*head{}
	for _, i := range lost {
		w := s.above(i)
		// Cascades are in order: what is above was looked at before.
		if h := of[w.above]; h != nil && s.there(w.above, pilot) < 0 {
			h.lost++
			of[i] = h
			continue
		}
		alone := s.lockedBelow(i, pilot) >= 0
		k := -1
		if shareable := len(w.between)+len(w.unclear) > 0; shareable && !alone {
			k = slices.IndexFunc(heads, func(h *head) bool {
				return !h.alone && h.above == w.above && len(common(h.between, w.between))+len(common(h.unclear, w.unclear)) > 0
			})
		}
		if k < 0 {
			heads = append(heads, &head{upstreamOf: w, at: []int{i}, lost: 1, alone: alone})
			of[i] = heads[len(heads)-1]
			continue
		}
		// What two branches have lost is likeliest lost where they are still one.
		h := heads[k]
		h.between, h.unclear, h.mute = common(h.between, w.between), common(h.unclear, w.unclear), common(h.mute, w.mute)
		h.at, h.lost = append(h.at, i), h.lost+1
		of[i] = h
	}
	var faults []Fault
	for _, h := range heads {
		faults = append(faults, s.fault(pilot, h))
	}
	return faults
}

// common are the elements of a that b has too.
func common(a, b []int) []int {
	return slices.DeleteFunc(slices.Clone(a), func(x int) bool { return !slices.Contains(b, x) })
}

func (s *search) id(i int) string { return s.p.Amplifiers[i].ID }

// ids names amplifiers, a few of them.
func (s *search) ids(places []int) string {
	const most = 4
	names := make([]string, 0, most)
	for _, i := range places[:min(len(places), most)] {
		names = append(names, s.id(i))
	}
	text := strings.Join(names, ", ")
	if more := len(places) - most; more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// fault says where to look.
func (s *search) fault(pilot channelplan.Pilot, h *head) Fault {
	first := h.at[0]
	f := Fault{Pilot: pilot, Below: s.id(first), Nodes: s.nodes(h.at), Lost: h.lost}
	if h.alone {
		below := s.lockedBelow(first, pilot)
		f.Apart = s.apart([]int{below, first})
		f.Text = fmt.Sprintf("%s has lost %v, and %s below it is locked on it, so that it passes: look at the setting and the AGC module of %s itself, or it is in order again",
			s.id(first), pilot, s.id(below), s.id(first))
		f.remarkApart()
		return f
	}
	at := strings.ReplaceAll(s.ids(h.at), ", ", " and ")
	look := s.look(h)
	switch other := s.otherwiseLocked(s.p.Amplifiers[first].Node, pilot); {
	case h.above >= 0:
		f.Above = s.id(h.above)
		seen := s.there(h.above, pilot)
		f.Apart = s.apart(append([]int{seen}, h.at...))
		from := f.Above
		if seen != h.above {
			from += fmt.Sprintf(" (%s below it is locked)", s.id(seen))
		}
		f.Text = fmt.Sprintf("%v is there at %s and lost at %s: the fault is between; %s", pilot, from, at, look)
	case other != "":
		f.Text = fmt.Sprintf("%v is lost from %s on, while %s in the same node is locked: signal passes, so look for this carrier at the headend, and for a filter or a wrong setting", pilot, at, other)
	default:
		f.Text = fmt.Sprintf("%v is lost from %s on, and no amplifier above it on this pilot is locked: the fault is at the node, or above %s; %s", pilot, at, at, look)
	}
	f.remarkApart()
	return f
}

// look says what to look at next between two amplifiers.
func (s *search) look(h *head) string {
	var steps []string
	if n := len(h.unclear); n > 0 {
		var seen []string
		for _, i := range h.unclear[:min(n, 4)] {
			what := stateWords(*s.last[i])
			if told, ok := s.last[i].Lamp(); s.last[i].Doubtful {
				what = "doubtful"
			} else if ok && told != s.p.Amplifiers[i].Pilot {
				what += fmt.Sprintf(" on %v", told)
			}
			seen = append(seen, fmt.Sprintf("%s (%s)", s.id(i), what))
		}
		steps = append(steps, "look first at "+strings.Join(seen, ", ")+", of which the reading does not tell whether it is there")
	}
	switch n := len(h.between); {
	case n > 0 && len(h.at) > 1:
		steps = append(steps, fmt.Sprintf("read %s next, which is above all of them", s.id(h.between[0])))
	case n == 1:
		steps = append(steps, fmt.Sprintf("read %s next, which stands between", s.id(h.between[0])))
	case n > 1:
		// Halving what is between finds it in the fewest visits.
		steps = append(steps, fmt.Sprintf("read %s next: it halves the %d between that nobody has read", s.id(h.between[n/2]), n))
	case len(h.unclear) == 0 && len(h.mute) == 0:
		steps = append(steps, "the span before "+s.id(h.at[0])+", and its own input")
	case len(h.unclear) == 0:
		steps = append(steps, fmt.Sprintf("the span before %s, and its own input; and %s with the spans before, which follow no pilot or another, so that their lamps tell nothing", s.id(h.at[0]), s.ids(h.mute)))
	}
	return strings.Join(steps, "; ")
}

// lockedBelow returns an amplifier below another that is locked on a pilot, -1 where
// there is none.
func (s *search) lockedBelow(top int, pilot channelplan.Pilot) int {
	if s.below == nil || s.belowOf != pilot {
		s.below, s.belowOf = slices.Repeat([]int{-1}, len(s.p.Amplifiers)), pilot
		// From the ends of cascades up: what is below stands behind in their order.
		for _, i := range slices.Backward(s.c.Order) {
			up := s.c.Upstream[i]
			switch {
			case up < 0:
			case s.on(i, pilot):
				s.below[up] = i
			case s.below[i] >= 0:
				s.below[up] = s.below[i]
			}
		}
	}
	return s.below[top]
}

// otherwiseLocked returns an amplifier of a node that is locked on another
// pilot, "" where there is none.
func (s *search) otherwiseLocked(node string, pilot channelplan.Pilot) string {
	for i, a := range s.p.Amplifiers {
		if !strings.EqualFold(a.Node, node) || !s.in(i, blink.Locked, blink.Edge) {
			continue
		}
		if told, ok := s.last[i].Lamp(); ok && told != pilot || !ok && a.Pilot != pilot {
			return a.ID
		}
	}
	return ""
}

func (s *search) nodes(places []int) []string {
	var nodes []string
	for _, i := range places {
		node := s.p.Amplifiers[i].Node
		if !slices.ContainsFunc(nodes, func(n string) bool { return strings.EqualFold(n, node) }) {
			nodes = append(nodes, node)
		}
	}
	return nodes
}

// apart is the longest time between readings.
func (s *search) apart(places []int) time.Duration {
	first, latest := s.last[places[0]].Time, s.last[places[0]].Time
	for _, i := range places {
		if t := s.last[i].Time; t.Before(first) {
			first = t
		} else if t.After(latest) {
			latest = t
		}
	}
	return latest.Sub(first)
}
