package field

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
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
	all.Faults = (&search{p, c, last, l}).faults()
	return all
}

func trouble(v Visit) (Trouble, string) {
	r := v.Last
	if r == nil {
		return NeverSeen, ""
	}
	state, err := blink.ParseState(r.State)
	if err != nil {
		return Unsure, "its state can't be read"
	}
	meant := map[lineup.Mode]blink.State{lineup.HandSet: blink.Manual, lineup.OpenLoop: blink.Thermal}
	pilot, told := r.Lamp()
	switch {
	case r.Doubtful:
		return Unsure, "the reading is doubtful"
	case v.Mode != lineup.AGC && state == meant[v.Mode]:
		return NoTrouble, ""
	case v.Mode != lineup.AGC:
		return NotAsMeant, fmt.Sprintf("%s, and %v by design", stateWords(*r), v.Mode)
	case !state.ShowsFrame():
		return NotLocked, stateWords(*r)
	case told && pilot == v.Spare:
		return WrongPilot, fmt.Sprintf("locked on %v, its spare, and recorded with %v", pilot, v.Pilot)
	case told && pilot != v.Pilot:
		return WrongPilot, fmt.Sprintf("locked on %v, and recorded with %v", pilot, v.Pilot)
	case state == blink.Edge:
		return AtEdge, stateWords(*r)
	}
	return NoTrouble, ""
}

func stateWords(r Reading) string {
	if r.EdgeEnd != "" {
		return r.State + ", " + r.EdgeEnd + " end"
	}
	return r.State
}

// Fault is where something is wrong, as far as readings tell.
type Fault struct {
	Pilot lineup.Pilot // which the amplifiers follow that lost it
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
}

// lost and locked tell what the last reading at an amplifier says of its
// pilot. An amplifier that holds or seeks has lost it.
func (s *search) lost(i int) bool { return s.in(i, blink.Holding, blink.Seeking) }

func (s *search) locked(i int) bool {
	if !s.in(i, blink.Locked, blink.Edge) {
		return false
	}
	told, ok := s.last[i].Lamp()
	return !ok || told == s.p.Amplifiers[i].Pilot // on another pilot it says nothing of this
}

func (s *search) in(i int, states ...blink.State) bool {
	r := s.last[i]
	if r == nil || r.Doubtful || s.p.Amplifiers[i].Mode != lineup.AGC {
		return false
	}
	state, err := blink.ParseState(r.State)
	return err == nil && slices.Contains(states, state)
}

// above returns the nearest amplifier upstream that follows the same pilot and
// whose reading tells of it; those between that were not read, and those that
// follow no pilot, so that their lamps tell nothing. above is -1 where there is
// none up to the node.
func (s *search) above(i int) (above int, between, mute []string) {
	pilot := s.p.Amplifiers[i].Pilot
	for up := s.c.Upstream[i]; up >= 0; up = s.c.Upstream[up] {
		a := s.p.Amplifiers[up]
		if a.Mode != lineup.AGC {
			mute = append(mute, a.ID)
		}
		if a.Pilot != pilot || a.Mode != lineup.AGC {
			continue
		}
		if s.lost(up) || s.locked(up) {
			return up, between, mute
		}
		if s.last[up] == nil {
			between = append(between, a.ID)
		}
	}
	return -1, between, mute
}

// faults returns what bounds a fault, pilot by pilot in the order of cascades.
func (s *search) faults() []Fault {
	var pilots []lineup.Pilot
	lost := map[lineup.Pilot][]int{}
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
func (s *search) unfit(pilot lineup.Pilot, lost []int) (rest []int, faults []Fault) {
	if s.l == nil {
		return lost, nil
	}
	var rules []string
	by := map[string][]int{}
	for _, i := range lost {
		r := s.l.CheckOne(pilot, lineup.Context{Amplifier: &s.p.Amplifiers[i].Amplifier})
		if r.Verdict != lineup.Unusable {
			rest = append(rest, i)
			continue
		}
		rule := r.Findings[0].Rule
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

// invalid tells whether the lineup has no such pilot to be lost.
func (s *search) invalid(pilot lineup.Pilot, lost []int) (Fault, bool) {
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

// whole tells whether all amplifiers on a pilot that were read, in several
// nodes, have lost it: then its source is at fault.
func (s *search) whole(pilot lineup.Pilot, lost []int) (Fault, bool) {
	nodes := s.nodes(lost)
	for i, a := range s.p.Amplifiers {
		if a.Pilot == pilot && s.locked(i) {
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

// bounded returns the places between the last amplifier that is locked and the
// first that is not, and heads of cascades that are not.
func (s *search) bounded(pilot lineup.Pilot, lost []int) []Fault {
	var faults []Fault
	top := map[int]int{} // of each that lost it, its place in faults
	for _, i := range lost {
		above, between, mute := s.above(i)
		if above >= 0 && s.lost(above) {
			top[i] = top[above] // the fault is further up: cascades are in order
			faults[top[i]].Lost++
			continue
		}
		top[i] = len(faults)
		a := s.p.Amplifiers[i]
		f := Fault{Pilot: pilot, Below: a.ID, Nodes: []string{a.Node}, Lost: 1}
		if below := s.lockedBelow(i); below >= 0 {
			f.Apart = s.apart([]int{below, i})
			f.Text = fmt.Sprintf("%s has lost %v, and %s below it is locked on it, so that it passes: look at the setting and the AGC module of %s itself, or it is in order again",
				a.ID, pilot, s.p.Amplifiers[below].ID, a.ID)
			f.remarkApart()
			faults = append(faults, f)
			continue
		}
		look := "the span before " + a.ID + ", and its own input"
		if len(mute) > 0 {
			look += fmt.Sprintf("; and %s with the spans before, which follow no pilot, so that their lamps tell nothing", strings.Join(mute[:min(len(mute), 4)], ", "))
		}
		switch len(between) {
		case 0:
		case 1:
			look = fmt.Sprintf("read %s next, which stands between", between[0])
		default:
			// Halving what is between finds it in the fewest visits.
			look = fmt.Sprintf("read %s next: it halves the %d between that nobody has read", between[len(between)/2], len(between))
		}
		if above >= 0 {
			f.Above = s.p.Amplifiers[above].ID
			f.Apart = s.apart([]int{above, i})
			f.Text = fmt.Sprintf("%v is there at %s and lost at %s: the fault is between; %s", pilot, f.Above, a.ID, look)
		} else {
			f.Text = fmt.Sprintf("%v is lost from %s on, and no amplifier above it on this pilot is locked: the fault is at the node, or above %s; %s", pilot, a.ID, a.ID, look)
			if other := s.otherwiseLocked(a.Node, pilot); other != "" {
				f.Text = fmt.Sprintf("%v is lost from %s on, while %s in the same node is locked: signal passes, so look for this carrier at the headend, and for a filter or a wrong setting", pilot, a.ID, other)
			}
		}
		f.remarkApart()
		faults = append(faults, f)
	}
	return faults
}

// lockedBelow returns an amplifier below another that is locked on the same
// pilot, -1 where there is none.
func (s *search) lockedBelow(top int) int {
	pilot := s.p.Amplifiers[top].Pilot
	stack := slices.Clone(s.c.Downstream[top])
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		if s.p.Amplifiers[i].Pilot == pilot && s.locked(i) {
			return i
		}
		stack = append(stack, s.c.Downstream[i]...)
	}
	return -1
}

// otherwiseLocked returns an amplifier of a node that is locked on another
// pilot, "" where there is none.
func (s *search) otherwiseLocked(node string, pilot lineup.Pilot) string {
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
		if node := s.p.Amplifiers[i].Node; !slices.Contains(nodes, node) {
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
