package field

import (
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// This file locates faults, using the last readings along the cascades.
//
// A lamp that has lost its pilot, is dark, or is at the low end of its range indicates a
// fault at its amplifier or upstream of it. A lamp that is locked, on whatever pilot,
// shows that signal passed its amplifier and all those upstream of it at the time it was
// read: a cut takes every carrier. A locked lamp downstream of a loss shows that signal
// passes there. A locked lamp upstream of a loss shows nothing about the span between. A
// few walks of the forest of cascades find everything.

// Fault is a place where something is wrong, as far as the readings show.
type Fault struct {
	// Pilot is the pilot of the first amplifier that lost it, zero if that has none by
	// design, and Pilots holds all pilots that were lost there.
	Pilot  channelplan.Pilot
	Pilots []channelplan.Pilot
	// Above is the last amplifier that signal passes, "" if that is the node or the
	// headend; Below is the first that shows the fault, "" if all do.
	Above, Below string
	Nodes        []string // the nodes concerned
	Lost         int      // number of amplifiers that show it
	// NeedPilot holds the amplifiers that need another pilot, if that is the fault.
	NeedPilot []string
	Text      string // where to look, a sentence without its final period
	ReadNext  string // the amplifier to read next, "" if none would show more
	// Apart is the time between the readings that this is based on: an amplifier that was
	// locked then may not be now.
	Apart time.Duration
}

const (
	// oneRound is how long before the first loss downstream of it a lamp may have been
	// read and still count for the same state of the plant: someone walks from one to the
	// next (an assumption).
	oneRound = time.Hour
	// staleApart is the time from which on two readings no longer count for the same
	// state of the plant.
	staleApart = 24 * time.Hour
)

// shows is what a lamp shows of a fault.
type shows uint8

const (
	nothing shows = iota
	lostIt        // holding or seeking: its pilot is or was gone
	isDark        // no power, or no input
	isLow         // at the end of its range: the input is too low
)

// search looks for faults in readings.
type search struct {
	p *plant.Plant
	c *plant.Cascades
	l *lineup.Lineup // nil if none is known
	// For each amplifier: the last reading; what it shows, and since when; and the pilot
	// it is locked on, zero if it is not locked.
	last  []*Reading
	shown []shows
	since []time.Time
	on    []channelplan.Pilot
	// unable holds the amplifiers that can't follow their pilot, by the lineup.
	unable map[int]bool
	root   []int // the first amplifier of each cascade
}

func newSearch(p *plant.Plant, c *plant.Cascades, l *lineup.Lineup) *search {
	n := len(p.Amplifiers)
	s := &search{p: p, c: c, l: l, last: make([]*Reading, n), shown: make([]shows, n), since: make([]time.Time, n),
		on: make([]channelplan.Pilot, n), unable: map[int]bool{}, root: make([]int, n)}
	for _, i := range c.Order {
		if s.root[i] = i; c.Upstream[i] >= 0 {
			s.root[i] = s.root[c.Upstream[i]]
		}
	}
	return s
}

// take takes in the readings of an amplifier, in order of time.
func (s *search) take(i int, readings []*Reading) {
	s.last[i] = readings[len(readings)-1]
	hasAGC := s.p.Amplifiers[i].Mode == lineup.AGC
	of := func(r *Reading) shows {
		switch {
		case r.Doubtful:
		case r.State == blink.Dark:
			return isDark
		case !hasAGC: // its lamp shows power, and nothing of a pilot
		case r.State == blink.Holding || r.State == blink.Seeking:
			return lostIt
		case r.State == blink.Edge && r.EdgeEnd == blink.EndLow:
			return isLow
		}
		return nothing
	}
	s.shown[i] = of(s.last[i])
	for k := len(readings) - 1; k >= 0 && s.shown[i] != nothing && of(readings[k]) != nothing; k-- {
		s.since[i] = readings[k].Time
	}
	if r := s.last[i]; hasAGC && r.State.ShowsFrame() && !r.Doubtful {
		told, ok := r.Lamp()
		if !ok {
			told = s.p.Amplifiers[i].Pilot
		}
		s.on[i] = told
	}
}

// proof says which locked lamps show, for each amplifier, that signal passes it.
type proof struct {
	by   []int // the amplifier at or below each that was read last; -1 if there is none
	last []*Reading
}

func (p proof) when(i int) time.Time { return p.last[i].Time }

// proofs finds, for each amplifier, the lamp that shows that signal passes it: a locked
// lamp at or below it for which such returns true.
func (s *search) proofs(such func(i int) bool) proof {
	p := proof{slices.Repeat([]int{-1}, len(s.on)), s.last}
	// From the ends of the cascades up: downstream amplifiers come later in Order.
	for _, i := range slices.Backward(s.c.Order) {
		if !s.on[i].IsZero() && such(i) && (p.by[i] < 0 || !p.when(i).Before(p.when(p.by[i]))) {
			p.by[i] = i
		}
		up := s.c.Upstream[i]
		if up >= 0 && p.by[i] >= 0 && (p.by[up] < 0 || p.when(p.by[i]).After(p.when(p.by[up]))) {
			p.by[up] = p.by[i]
		}
	}
	return p
}

// at returns the lamp that shows that signal passes an amplifier at a time; -1 if none
// does, or if it was read too long before.
func (p proof) at(i int, when time.Time) int {
	if by := p.by[i]; by >= 0 && !p.when(by).Before(when.Add(-oneRound)) {
		return by
	}
	return -1
}

// bounds holds, for each amplifier, the nearest one above it that signal passes, -1 if
// there is none up to the node; the lamp that shows that; and the amplifier right below
// that one on the way, or the first of the cascade.
type bounds struct{ above, seen, branch []int }

// bound is the entry of bounds for one amplifier.
type bound struct{ above, seen, branch int }

func (b bounds) of(i int) bound { return bound{b.above[i], b.seen[i], b.branch[i]} }

// bounds finds the bounds. first is the time at which a fault first shows at or below
// each amplifier, zero if there is none.
func (s *search) bounds(p proof, first []time.Time) bounds {
	b := bounds{slices.Repeat([]int{-1}, len(s.on)), slices.Repeat([]int{-1}, len(s.on)), make([]int, len(s.on))}
	for _, i := range s.c.Order {
		up := s.c.Upstream[i]
		if up < 0 {
			b.branch[i] = i
			continue
		}
		b.above[i], b.seen[i], b.branch[i] = b.above[up], b.seen[up], b.branch[up]
		if first[i].IsZero() {
			continue
		}
		if by := p.at(up, first[i]); by >= 0 {
			b.above[i], b.seen[i], b.branch[i] = up, by, i
		}
	}
	return b
}

// first finds the time at which a fault first shows at or below each amplifier.
func (s *search) first() []time.Time {
	first := make([]time.Time, len(s.on))
	earlier := func(i int, t time.Time) {
		if !t.IsZero() && (first[i].IsZero() || t.Before(first[i])) {
			first[i] = t
		}
	}
	for _, i := range slices.Backward(s.c.Order) {
		if s.shown[i] != nothing {
			earlier(i, s.since[i])
		}
		if up := s.c.Upstream[i]; up >= 0 {
			earlier(up, first[i])
		}
	}
	return first
}

// head is an amplifier that shows a fault which none above it explains; or several of
// them, in branches with a common path to an amplifier that signal passes.
type head struct {
	at     []int
	shows  shows
	pilots []channelplan.Pilot // the pilots that are lost
	low    []channelplan.Pilot // the pilots of those at the low end of their range
	lost   int                 // number of amplifiers that show the fault, including those below
	dark   int                 // how many of them are dark
	bound                      // the nearest amplifier above it that signal passes
	first  time.Time
	// own reports that its pilot passes to an amplifier below it, passing; carrier
	// reports that other carriers pass and its own was not seen there.
	own, carrier bool
	passing      int
}

func (h *head) takes(s *search, i int) {
	h.lost++
	if s.shown[i] == isDark {
		h.dark++
	}
	switch s.shown[i] {
	case isLow:
		h.low = union(h.low, s.on[i])
	case lostIt:
		h.pilots = union(h.pilots, s.p.Amplifiers[i].Pilot)
	}
	if h.first.IsZero() || s.since[i].Before(h.first) {
		h.first = s.since[i]
	}
}

// union adds those pilots that are not there yet.
func union(pilots []channelplan.Pilot, more ...channelplan.Pilot) []channelplan.Pilot {
	for _, p := range more {
		if !slices.Contains(pilots, p) {
			pilots = append(pilots, p)
		}
	}
	return pilots
}

// faults returns the faults found, in the order of cascades.
func (s *search) faults() []Fault {
	faults := s.ofTheLineup()
	heads := s.heads()
	whole, rest := s.whole(heads)
	faults = append(faults, whole...)
	for _, h := range rest {
		faults = append(faults, s.fault(h))
	}
	return faults
}

// ofTheLineup takes out losses that the lineup explains: a pilot that is not valid, or
// one that amplifiers can't follow.
func (s *search) ofTheLineup() []Fault {
	if s.l == nil {
		return nil
	}
	var faults []Fault
	lost, slopes := map[channelplan.Pilot][]int{}, map[channelplan.Pilot][]int{}
	var pilots, second []channelplan.Pilot
	for _, i := range s.c.Order {
		a := &s.p.Amplifiers[i]
		if s.shown[i] != lostIt {
			continue
		}
		if lost[a.Pilot] == nil {
			pilots = append(pilots, a.Pilot)
		}
		lost[a.Pilot] = append(lost[a.Pilot], i)
		if slope := a.Slope.Pilot; !slope.IsZero() {
			if slopes[slope] == nil {
				second = append(second, slope)
			}
			slopes[slope] = append(slopes[slope], i)
		}
	}
	blocker := s.l.Blockers()
	judge := func(p channelplan.Pilot, i int) lineup.Rule {
		rule := blocker(p, s.p.Amplifiers[i].Amplifier)
		if rule == lineup.RowUnreadable {
			return "" // nobody knows, so it explains nothing
		}
		return rule
	}
	for i, a := range s.p.Amplifiers {
		if a.Mode == lineup.AGC && lost[a.Pilot] != nil {
			rule := judge(a.Pilot, i)
			s.unable[i] = rule != "" && rule != lineup.CarrierMismatch
		}
	}
	for _, p := range pilots {
		faults = append(faults, s.invalid(p, lost[p], judge, "")...)
	}
	for _, p := range second {
		still := slices.DeleteFunc(slopes[p], func(i int) bool { return s.shown[i] == nothing })
		faults = append(faults, s.invalid(p, still, judge, "slope ")...)
	}
	return faults
}

// invalid takes out the amplifiers that lost a pilot which is of no use to them: one fault
// for each rule that says so. role is what the pilot is for, before the word pilot.
func (s *search) invalid(pilot channelplan.Pilot, lost []int, judge func(p channelplan.Pilot, i int) lineup.Rule,
	role string) (faults []Fault) {
	var rules []lineup.Rule
	by := map[lineup.Rule][]int{}
	for _, i := range lost {
		rule := judge(pilot, i)
		if rule == "" {
			continue
		}
		if rule != lineup.CarrierMismatch { // there the lineup may be wrong, and the pilot cut off
			s.shown[i] = nothing
		}
		if by[rule] == nil {
			rules = append(rules, rule)
		}
		by[rule] = append(by[rule], i)
	}
	anywhere := s.l.CheckOne(pilot, lineup.Context{}).Blocker() // by which it is of no use to any amplifier
	for _, rule := range rules {
		at := by[rule]
		f := Fault{Pilot: pilot, Pilots: []channelplan.Pilot{pilot}, Nodes: s.nodes(at), Lost: len(at), Apart: s.apart(at)}
		for _, i := range at {
			f.NeedPilot = append(f.NeedPilot, s.id(i))
		}
		switch {
		case rule == lineup.CarrierMismatch:
			f.Text = fmt.Sprintf("%v is the %spilot on record of %s, but the lineup lists another kind of carrier there (%s): the record or the lineup is wrong. Ask which, and set nothing until then",
				pilot, role, s.ids(at, ", "), rule)
			f.NeedPilot = nil
		case rule == anywhere && role == "" && len(at) == 1:
			f.Text = fmt.Sprintf("%v is not a valid pilot in the lineup (%s): %s needs another pilot, not a repair", pilot,
				rule, s.id(at[0]))
		case rule == anywhere && role == "":
			f.Text = fmt.Sprintf("%v is not a valid pilot in the lineup (%s): the %d that lost it need another pilot, not a repair",
				pilot, rule, len(at))
		default:
			f.Text = fmt.Sprintf("%v is not a valid %spilot for %s (%s): what is needed is another pilot, not a repair",
				pilot, role, s.ids(at, ", "), rule)
		}
		if role != "" {
			f.Text += "; measure the main pilot, too"
		}
		faults = append(faults, f)
	}
	return faults
}

// heads finds the amplifiers that show a fault which none above them explains.
func (s *search) heads() []*head {
	first := s.first()
	any := s.proofs(func(int) bool { return true })
	cut := s.bounds(any, first)
	// A lamp at the low end of its range shows that its pilot is there, but not at what
	// level.
	low := s.bounds(s.proofs(func(i int) bool { return s.shown[i] != isLow }), first)
	passes := map[int]int{}  // for amplifiers that show a fault: one below that its own pilot passes to
	alone := map[int]bound{} // bounds by lamps on its own pilot
	for _, pilot := range s.pilotsLost() {
		p := s.proofs(func(i int) bool { return s.on[i] == pilot })
		b := s.bounds(p, first)
		for i, a := range s.p.Amplifiers {
			if s.shown[i] == nothing || a.Pilot != pilot {
				continue
			}
			alone[i] = b.of(i)
			if by := p.at(i, s.since[i]); by >= 0 {
				passes[i] = by
			}
		}
	}
	var heads []*head
	// What a head covers below it: a head that nothing passes covers all amplifiers, one
	// that other carriers pass covers those on its own pilot, a low input covers those
	// that are low.
	covers, lows := make([]*head, len(s.on)), make([]*head, len(s.on))
	carriers := make([]map[channelplan.Pilot]*head, len(s.on))
	for _, i := range s.c.Order {
		up := s.c.Upstream[i]
		if up >= 0 {
			covers[i], lows[i], carriers[i] = covers[up], lows[up], carriers[up]
		}
		if s.shown[i] == nothing {
			continue
		}
		pilot := s.p.Amplifiers[i].Pilot
		if h := covers[i]; h != nil {
			h.takes(s, i)
			continue
		}
		if h := carriers[i][pilot]; h != nil && s.shown[i] == lostIt {
			h.takes(s, i)
			continue
		}
		if h := lows[i]; h != nil && s.shown[i] == isLow {
			h.takes(s, i)
			continue
		}
		h := &head{at: []int{i}, shows: s.shown[i], bound: cut.of(i)}
		h.takes(s, i)
		heads = append(heads, h)
		if s.shown[i] == isLow {
			h.bound, lows[i] = low.of(i), h
			continue
		}
		other := any.at(i, s.since[i])
		own, ownPasses := passes[i]
		switch {
		case other < 0:
			covers[i] = h
		case ownPasses || s.shown[i] == isDark:
			h.own, h.passing = true, other
			if ownPasses {
				h.passing = own
			}
			h.bound = alone[i]
		default:
			h.carrier, h.passing = true, other
			h.bound = alone[i]
			carriers[i] = maps.Clone(carriers[i])
			if carriers[i] == nil {
				carriers[i] = map[channelplan.Pilot]*head{}
			}
			carriers[i][pilot] = h
		}
	}
	return s.joined(heads)
}

// pilotsLost returns the pilots of amplifiers that show a fault, in the order of
// cascades.
func (s *search) pilotsLost() []channelplan.Pilot {
	var pilots []channelplan.Pilot
	met := map[channelplan.Pilot]bool{}
	for _, i := range s.c.Order {
		if p := s.p.Amplifiers[i].Pilot; s.shown[i] != nothing && !met[p] {
			met[p] = true
			pilots = append(pilots, p)
		}
	}
	return pilots
}

// joined combines heads that have a common path to an amplifier that signal passes: what
// several branches have lost was most likely lost before they split.
func (s *search) joined(heads []*head) []*head {
	type place struct {
		above, branch int
		node          string
		low           bool
		pilot         channelplan.Pilot // if other carriers pass
	}
	var all []*head
	of := map[place]*head{}
	passing := s.nodesPassed()
	for _, h := range heads {
		i := h.at[0]
		w := place{above: h.above, branch: h.branch, low: h.shows == isLow}
		if h.carrier {
			w.pilot = s.p.Amplifiers[i].Pilot
		}
		node := strings.ToLower(s.p.Amplifiers[h.branch].Node)
		fresh := passing[node]
		if h.above < 0 && node != "" && (fresh.IsZero() || fresh.Before(h.first.Add(-oneRound))) && !h.own {
			w.branch, w.node = -1, node // the node itself is what they have in common
		}
		if before := of[w]; before != nil && !h.own && (w.branch != i) {
			before.at = append(before.at, i)
			before.lost, before.dark = before.lost+h.lost, before.dark+h.dark
			before.low, before.pilots = union(before.low, h.low...), union(before.pilots, h.pilots...)
			if h.first.Before(before.first) {
				before.first = h.first
			}
			continue
		}
		if !h.own {
			of[w] = h
		}
		all = append(all, h)
	}
	return all
}

// nodesPassed returns when a lamp was last read as locked in each node.
func (s *search) nodesPassed() map[string]time.Time {
	nodes := map[string]time.Time{}
	for i, on := range s.on {
		node := strings.ToLower(s.p.Amplifiers[i].Node)
		if !on.IsZero() && s.shown[i] == nothing && s.last[i].Time.After(nodes[node]) {
			nodes[node] = s.last[i].Time
		}
	}
	return nodes
}

// whole separates pilots that have been lost by all amplifiers that were read, in several
// nodes and in cascades with no common path: then the source is at fault.
func (s *search) whole(heads []*head) (faults []Fault, rest []*head) {
	type loss struct {
		pilot channelplan.Pilot
		low   bool
	}
	latest := map[loss]time.Time{} // when a lamp was last read as locked on a pilot, and not low
	for i, on := range s.on {
		for _, low := range []bool{false, true} {
			at := loss{on, low}
			if !on.IsZero() && !(low && s.shown[i] == isLow) && s.last[i].Time.After(latest[at]) {
				latest[at] = s.last[i].Time
			}
		}
	}
	without := map[channelplan.Pilot]bool{} // pilots that amplifiers have lost
	for i, shows := range s.shown {
		if shows == lostIt || shows == isDark {
			without[s.p.Amplifiers[i].Pilot] = true
		}
	}
	var losses []loss
	of := map[loss][]*head{}
	for _, h := range heads {
		var p loss
		switch {
		case h.shows == isLow && len(h.low) == 1 && !without[h.low[0]]:
			p = loss{h.low[0], true}
		case h.own || h.shows != lostIt || h.dark > 0 || len(h.pilots) != 1:
			continue
		default:
			p.pilot = h.pilots[0]
		}
		if of[p] == nil {
			losses = append(losses, p)
		}
		of[p] = append(of[p], h)
	}
	taken := map[*head]bool{}
	for _, p := range losses {
		var at []int
		lost, first := 0, of[p][0].first
		for _, h := range of[p] {
			at, lost = append(at, h.at...), lost+h.lost
			if h.first.Before(first) {
				first = h.first
			}
		}
		if !latest[p].IsZero() && !latest[p].Before(first.Add(-oneRound)) || len(s.nodes(s.rootsOf(at))) < 2 {
			continue
		}
		f := Fault{Pilot: p.pilot, Pilots: []channelplan.Pilot{p.pilot}, Nodes: s.nodes(at), Lost: lost, Apart: s.apart(at)}
		f.Text = fmt.Sprintf("all %d amplifiers read on %v, in %d nodes, have lost it: ask the headend about this carrier first",
			lost, p.pilot, len(f.Nodes))
		if p.low {
			f.Text = fmt.Sprintf("all %d amplifiers read on %v, in %d nodes, are at the low end: ask the headend about this carrier's level first",
				lost, p.pilot, len(f.Nodes))
		}
		s.remark(&f, at)
		faults = append(faults, f)
		for _, h := range of[p] {
			taken[h] = true
		}
	}
	return faults, slices.DeleteFunc(heads, func(h *head) bool { return taken[h] })
}

// rootsOf returns the first amplifier of each one's cascade, without repeats.
func (s *search) rootsOf(places []int) []int {
	var roots []int
	met := map[int]bool{}
	for _, i := range places {
		if r := s.root[i]; !met[r] {
			met[r] = true
			roots = append(roots, r)
		}
	}
	return roots
}

// path is the path between a fault and the amplifier that signal passes.
type path struct {
	// between holds amplifiers that nobody has read, the nearest first; unclear holds
	// those whose last reading shows nothing, and mute those whose lamps can't show it.
	between, unclear, mute []int
}

// pathAbove walks up from where the branches of a head join.
func (s *search) pathAbove(h *head) path {
	var w path
	for i := s.common(h); i >= 0 && i != h.above; i = s.c.Upstream[i] {
		a := s.p.Amplifiers[i]
		switch {
		case len(h.at) == 1 && i == h.at[0]:
		case a.Mode != lineup.AGC || s.unable[i] || h.carrier && a.Pilot != h.pilots[0]:
			w.mute = append(w.mute, i)
		case s.last[i] == nil:
			w.between = append(w.between, i)
		default:
			w.unclear = append(w.unclear, i)
		}
	}
	return w
}

// common returns the last amplifier that the paths to all amplifiers of a head have in
// common; -1 if that is the node.
func (s *search) common(h *head) int {
	if len(h.at) == 1 {
		return h.at[0]
	}
	place := map[int]int{} // how far up the first one's path each amplifier is
	for i, k := h.at[0], 0; i >= 0; i, k = s.c.Upstream[i], k+1 {
		place[i] = k
		if i == h.above {
			break
		}
	}
	farthest, at := -1, h.at[0]
	met := map[int]bool{}
	for _, i := range h.at[1:] {
		for ; i >= 0; i = s.c.Upstream[i] {
			if k, on := place[i]; on {
				if k > farthest {
					farthest, at = k, i
				}
				break
			}
			if met[i] {
				break
			}
			met[i] = true
		}
		if i < 0 {
			return -1
		}
	}
	return at
}
