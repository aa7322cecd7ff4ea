package lineup

import (
	"fmt"
	"math"
	"slices"

	"tallywink.example/channelplan"
)

// This file tells what becomes of a pilot when one lineup takes another's
// place: whether it is lost, moved or made another kind of carrier, what
// becomes of its neighbors, and the level step that an AGC will wrongly
// follow.

// ChangeKind is what becomes of a pilot.
type ChangeKind uint8

// What may become of a pilot, the gravest first.
const (
	PilotLost       ChangeKind = iota // usable before, unusable then
	PilotAbsent                       // unusable before and then
	CarrierChanged                    // another kind of carrier stands in its place
	LevelChanged                      // by more than an AGC does not notice
	CarrierMoved                      // to another frequency within its channel
	NeighborOver                      // another carrier or block now covers its channel
	NeighborNew                       // there was none at its side
	NeighborGone                      // there is none any more
	NeighborChanged                   // it becomes another kind of carrier
	PilotBack                         // unusable before, usable then
	SpareLost                         // the amplifier's spare pilot, usable before, is not then
	changeKindCount
)

var changeWords = [changeKindCount]string{"pilot-lost", "pilot-absent", "carrier-changed", "level-changed", "carrier-moved",
	"neighbor-over", "neighbor-new", "neighbor-gone", "neighbor-changed", "pilot-back", "spare-lost"}

// String returns the word that JSON and CSV use: pilot-lost, level-changed and
// so on.
func (w ChangeKind) String() string {
	if w >= changeKindCount {
		return ""
	}
	return changeWords[w]
}

// Change is one thing that becomes of a pilot.
type Change struct {
	What ChangeKind
	Text string // a sentence without its full stop
}

// Comparison is a pilot before and after a change of lineups.
type Comparison struct {
	Before, After Report   // by the rules that speak of the pilot itself
	Changes       []Change // the gravest first; none where the pilot stays as it was
	Step          LevelStep
}

// Has reports whether something becomes of the pilot.
func (c Comparison) Has(w ChangeKind) bool {
	return slices.ContainsFunc(c.Changes, func(other Change) bool { return other.What == w })
}

// The differences that an AGC does not notice (common practice, no source).
const (
	alikeHz = 5_000
	alikeDB = 0.5
)

// apartDB is how far two levels are apart, in whole tenths of a dB: as lineups write
// them, and not as floating point has their difference.
func apartDB(a, b Carrier) float64 { return tenthsOf(a.LevelDBmV - b.LevelDBmV) }

func tenthsOf(db float64) float64 { return math.Round(10*math.Abs(db)) / 10 }

// Alike reports whether two lineups carry a pilot alike: the same kind of
// carrier, at the same frequency and level, all the time and at every node in both or in
// neither.
func Alike(l, before *Lineup, p channelplan.Pilot) bool {
	a, ok := l.InChannel(p.Channel, p.Kind)
	b, ok2 := before.InChannel(p.Channel, p.Kind)
	if !ok || !ok2 || a.Kind != b.Kind || a.HasLevel != b.HasLevel || a.PartTime != b.PartTime || a.SyncSuppressed != b.SyncSuppressed || a.Narrowcast != b.Narrowcast {
		return false
	}
	return !apart(a.FrequencyHz, b.FrequencyHz, alikeHz) && apartDB(a, b) <= alikeDB
}

func apart(a, b, most int64) bool { return max(a-b, b-a) > most }

// LevelStep is the change of an amplifier's output that its AGC makes when it takes
// a changed pilot for a changed cable, positive up. It depends on the
// detector: one that follows sync peaks reads a QAM carrier above its average
// power. Amplifiers in cascade on one pilot do not add their steps: the first
// spends its range, the rest see a correct pilot, and every output carries
// the error.
type LevelStep struct {
	Known bool
	// DB is the step at the pilot, held within the AGC's range from its
	// middle, where that is known; TopDB the step at the top of the band, by
	// the square root law, where gain control is shaped like cable.
	DB, TopDB float64
	Held      bool // the AGC's range ends before the pilot's level is made up
}

// stepOf returns the step of an amplifier whose AGC keeps following whatever
// stands at a pilot's place.
func stepOf(before, after *Lineup, p channelplan.Pilot, a Amplifier) LevelStep {
	from, ok := before.Standing(p)
	to, ok2 := after.Standing(p)
	if !ok || !ok2 || !from.HasLevel || !to.HasLevel {
		return LevelStep{}
	}
	s := LevelStep{Known: true, DB: from.LevelDBmV - to.LevelDBmV}
	if r := a.Range; !r.IsZero() {
		held := min(max(s.DB, -r.DownDB), r.UpDB)
		s.Held = held != s.DB
		s.DB = held
	}
	top := after.Forward.HighHz
	if !a.Passband.IsZero() {
		top = a.Passband.HighHz
	}
	at := from.FrequencyHz
	if located, ok := Locate(p, before.Plan); ok {
		at = located.FrequencyHz
	}
	s.TopDB = s.DB * math.Sqrt(float64(top)/float64(at))
	return s
}

// Step returns the step that a pilot's change asks of an AGC which keeps following
// whatever stands at its place, at the pilot, whatever its range; none where neither
// changes by more than an AGC does not notice.
func Step(before, after *Lineup, p channelplan.Pilot) LevelStep {
	s := stepOf(before, after, p, Amplifier{})
	if tenthsOf(s.DB) <= alikeDB {
		s.DB, s.TopDB = 0, 0
	}
	return s
}

// Words says the step as a technician would: 'its output goes 5.6 dB up'.
func (s LevelStep) Words() string {
	side := "up"
	if s.DB < 0 {
		side = "down"
	}
	text := fmt.Sprintf("its output goes %.1f dB %s", math.Abs(s.DB), side)
	if s.Held {
		text += ", to the end of its range"
	}
	return text
}

// Compare tells what becomes of an amplifier's pilot.
func Compare(before, after *Lineup, a Amplifier) Comparison {
	with := Context{Amplifier: &a}
	p := a.Pilot
	c := Comparison{Before: before.CheckOne(p, with), After: after.CheckOne(p, with)}
	add := func(w ChangeKind, format string, args ...any) {
		c.Changes = append(c.Changes, Change{w, fmt.Sprintf(format, args...)})
	}
	unfit, unfitThen := c.Before.Verdict == Unusable, c.After.Verdict == Unusable
	switch {
	case !unfit && unfitThen:
		add(PilotLost, "%v is no longer a valid pilot: %s", p, c.After.Findings[0].Text)
	case unfit && unfitThen:
		add(PilotAbsent, "%v is not a valid pilot before or after: %s", p, c.After.Findings[0].Text)
	case unfit:
		add(PilotBack, "%v becomes a valid pilot; before, it was not: %s", p, c.Before.Findings[0].Text)
	}
	c.carrier(before, after, a, add)
	c.neighbors(before, after, p, add)
	if s := a.Spare; !s.IsZero() && s != p {
		on := a.On(s)
		with := Context{Amplifier: &on}
		then := after.CheckOne(s, with)
		if before.CheckOne(s, with).Verdict != Unusable && then.Verdict == Unusable {
			add(SpareLost, "its spare, %v, is no longer a valid pilot: %s", s, then.Findings[0].Text)
		}
	}
	slices.SortStableFunc(c.Changes, func(a, b Change) int { return int(a.What) - int(b.What) })
	return c
}

type adder func(w ChangeKind, format string, args ...any)

// carrier tells what becomes of the carrier itself.
func (c *Comparison) carrier(before, after *Lineup, a Amplifier, add adder) {
	from, ok := before.Standing(a.Pilot)
	to, ok2 := after.Standing(a.Pilot)
	if !ok || !ok2 {
		return
	}
	differs := from.HasLevel && to.HasLevel && apartDB(from, to) > alikeDB
	if differs {
		c.Step = stepOf(before, after, a.Pilot, a)
	}
	follows := func(locks string) string {
		if !differs {
			return ""
		}
		return fmt.Sprintf(": %s %s (it depends on the detector)", locks, c.Step.Words())
	}
	switch {
	case from.Kind != to.Kind:
		add(CarrierChanged, "%s%s becomes %s%s%s", from.Kind.Label(), level(from), to.Kind.Label(), level(to), follows("if the AGC locks at all,"))
	case differs:
		add(LevelChanged, "its level goes from %.1f to %.1f dBmV%s", from.LevelDBmV, to.LevelDBmV, follows("the AGC follows, and"))
	}
	if from.Kind == to.Kind && from.Kind != channelplan.OFDM && apart(from.FrequencyHz, to.FrequencyHz, alikeHz) {
		add(CarrierMoved, "its carrier moves from %s to %s MHz", channelplan.FormatMHz(from.FrequencyHz), channelplan.FormatMHz(to.FrequencyHz))
	}
	over := func(r Report) bool { return r.Has(Overlapped) || r.Has(InsideOFDM) }
	if over(c.After) && !over(c.Before) {
		add(NeighborOver, "another carrier or block now covers its channel")
	}
}

func level(c Carrier) string {
	if !c.HasLevel {
		return ""
	}
	return fmt.Sprintf(" at %.1f dBmV", c.LevelDBmV)
}

// samePlaceHz is how far apart carriers of two lineups may stand and still be
// taken for one that was moved.
const samePlaceHz = 3_000_000

// neighbors tells what becomes of the carriers beside a pilot.
func (c *Comparison) neighbors(before, after *Lineup, p channelplan.Pilot, add adder) {
	if !c.Before.Listed || !c.After.Listed {
		return // what has no carrier of its own has no neighbors either
	}
	old, now := before.Neighbors(p), after.Neighbors(p)
	find := func(among []Carrier, like Carrier) (Carrier, bool) {
		i := slices.IndexFunc(among, func(other Carrier) bool {
			if below := other.FrequencyHz < c.After.Located.FrequencyHz; below != (like.FrequencyHz < c.After.Located.FrequencyHz) {
				return false // on the other side
			}
			return min(other.HighHz, like.HighHz)-max(other.LowHz, like.LowHz) > samePlaceHz || !apart(other.FrequencyHz, like.FrequencyHz, samePlaceHz)
		})
		if i < 0 {
			return Carrier{}, false
		}
		return among[i], true
	}
	for _, n := range now {
		switch was, ok := find(old, n); {
		case !ok:
			add(NeighborNew, "next to it, %v is new%s", n, level(n))
		case was.Kind != n.Kind:
			add(NeighborChanged, "next to it, %v becomes %s%s; it was %s%s", was, n.Kind.Label(), level(n), was.Kind.Label(), level(was))
		}
	}
	for _, n := range old {
		if _, ok := find(now, n); !ok {
			add(NeighborGone, "next to it, %v goes away", n)
		}
	}
}
