package lineup

import (
	"fmt"
	"math"
	"slices"

	"tallywink.example/channelplan"
)

// This file works out what happens to a pilot when one lineup replaces another: whether
// it is lost, moved or becomes another kind of carrier, what happens to its neighbors,
// and the level step that an AGC will wrongly follow.

// ChangeKind is a kind of change that concerns a pilot.
type ChangeKind uint8

// The kinds of change, the most serious first.
const (
	PilotLost       ChangeKind = iota // usable before, unusable after
	PilotAbsent                       // unusable before and after
	CarrierChanged                    // another kind of carrier takes its place
	LevelChanged                      // by more than an AGC ignores
	CarrierMoved                      // to another frequency within its channel
	NeighborOver                      // another carrier or block covers its channel
	NeighborNew                       // a neighbor where there was none
	NeighborGone                      // a neighbor is no longer there
	NeighborChanged                   // a neighbor becomes another kind of carrier
	PilotBack                         // unusable before, usable after
	SpareLost                         // the amplifier's spare pilot was usable before and is not after
	changeKindCount
)

var changeWords = [changeKindCount]string{"pilot-lost", "pilot-absent", "carrier-changed", "level-changed",
	"carrier-moved",
	"neighbor-over", "neighbor-new", "neighbor-gone", "neighbor-changed", "pilot-back", "spare-lost"}

// String returns the word that JSON and CSV use: pilot-lost, level-changed and so on.
func (w ChangeKind) String() string {
	if w >= changeKindCount {
		return ""
	}
	return changeWords[w]
}

// Change is one change that concerns a pilot.
type Change struct {
	What ChangeKind
	Text string // a sentence without its final period
}

// Comparison is a pilot before and after a change of lineups.
type Comparison struct {
	Before, After Report   // by the rules about the pilot itself
	Changes       []Change // the most serious first; none if the pilot stays as it was
	Step          LevelStep
}

// Has reports whether the changes include w.
func (c Comparison) Has(w ChangeKind) bool {
	return slices.ContainsFunc(c.Changes, func(other Change) bool { return other.What == w })
}

// The differences that an AGC ignores (common practice, no source).
const (
	alikeHz = 5_000
	alikeDB = 0.5
)

// differenceDB returns how far apart two levels are, in whole tenths of a dB, as lineups write
// them, so that floating point rounding does not matter.
func differenceDB(a, b Carrier) float64 { return tenthsOf(a.LevelDBmV - b.LevelDBmV) }

func tenthsOf(db float64) float64 { return math.Round(10*math.Abs(db)) / 10 }

// Alike reports whether two lineups carry a pilot the same way: the same kind of carrier,
// at the same frequency and level, and with the same part-time, scrambling and narrowcast
// settings.
func Alike(l, before *Lineup, p channelplan.Pilot) bool {
	a, ok := l.InChannel(p.Channel, p.Kind)
	b, ok2 := before.InChannel(p.Channel, p.Kind)
	if !ok || !ok2 || a.Kind != b.Kind || a.HasLevel != b.HasLevel || a.PartTime != b.PartTime ||
		a.SyncSuppressed != b.SyncSuppressed || a.Narrowcast != b.Narrowcast {
		return false
	}
	return !farther(a.FrequencyHz, b.FrequencyHz, alikeHz) && differenceDB(a, b) <= alikeDB
}

func farther(a, b, most int64) bool { return max(a-b, b-a) > most }

// LevelStep is how much an amplifier's output changes when its AGC mistakes a changed
// pilot for a changed cable, positive up. It depends on the detector: one that follows
// sync peaks reads a QAM carrier above its average power. Amplifiers in cascade on one
// pilot do not add their steps: the first uses up its range, the rest see a correct
// pilot, and every output has the error.
type LevelStep struct {
	Known bool
	// DB is the step at the pilot, limited to the AGC's range from its middle if that is
	// known. TopDB is the step at the top of the band, by the square root law, if gain
	// control has the slope of cable.
	DB, TopDB float64
	Held      bool // the AGC's range ends before it makes up for the pilot's change
}

// stepOf returns the step of an amplifier whose AGC keeps following whatever is in the
// pilot's place.
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

// Step returns the step at the pilot that a lineup change causes in an AGC of unlimited
// range that keeps following whatever is in the pilot's place; zero if the level changes
// by no more than an AGC ignores.
func Step(before, after *Lineup, p channelplan.Pilot) LevelStep {
	s := stepOf(before, after, p, Amplifier{})
	if tenthsOf(s.DB) <= alikeDB {
		s.DB, s.TopDB = 0, 0
	}
	return s
}

// Loses reports whether a detector loses a pilot because another kind of carrier comes to
// its place: the record says that it follows one kind alone. The AGC then holds its gain.
func Loses(before, after *Lineup, p channelplan.Pilot, d Detector) bool {
	from, ok := before.Standing(p)
	to, ok2 := after.Standing(p)
	return d.Known() && ok && (!ok2 || from.Kind.Family() != to.Kind.Family() && !(d.Power && d.Follows(to.Kind)))
}

// Words describes the step as a technician would: 'its output goes 5.6 dB up'.
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

// Compare works out what happens to an amplifier's pilot.
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
		add(PilotLost, "%v is not a valid pilot after the change: %s", p, c.After.Findings[0].Text)
	case unfit && unfitThen:
		why := c.After.Findings[0].Text
		if was := c.Before.Findings[0]; was.Rule != c.After.Findings[0].Rule {
			why = fmt.Sprintf("before, %s; after, %s", was.Text, why)
		}
		add(PilotAbsent, "%v is not a valid pilot before or after: %s", p, why)
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
			add(SpareLost, "its spare, %v, is not a valid pilot after the change: %s", s, then.Findings[0].Text)
		}
	}
	slices.SortStableFunc(c.Changes, func(a, b Change) int { return int(a.What) - int(b.What) })
	return c
}

type adder func(w ChangeKind, format string, args ...any)

// carrier adds what happens to the carrier itself.
func (c *Comparison) carrier(before, after *Lineup, a Amplifier, add adder) {
	from, ok := before.Standing(a.Pilot)
	to, ok2 := after.Standing(a.Pilot)
	if !ok || !ok2 {
		return
	}
	differs := from.HasLevel && to.HasLevel && differenceDB(from, to) > alikeDB
	if differs {
		c.Step = stepOf(before, after, a.Pilot, a)
	}
	d := a.Detector
	follows := func(locks string) string {
		switch {
		case !differs:
			return ""
		case d.Power && d.Follows(to.Kind):
			return fmt.Sprintf(": the detector measures power, so the AGC follows, and %s", c.Step.Words())
		}
		return fmt.Sprintf(": %s %s (it depends on the detector)", locks, c.Step.Words())
	}
	switch {
	case from.Kind != to.Kind && Loses(before, after, a.Pilot, d):
		c.Step = LevelStep{}
		add(CarrierChanged, "%s%s becomes %s%s: the detector (%s) loses it", from.Kind.Label(), level(from),
			to.Kind.Label(), level(to), d)
	case from.Kind != to.Kind:
		add(CarrierChanged, "%s%s becomes %s%s%s", from.Kind.Label(), level(from), to.Kind.Label(), level(to),
			follows("if the AGC locks at all,"))
	case differs:
		add(LevelChanged, "its level goes from %.1f to %.1f dBmV%s", from.LevelDBmV, to.LevelDBmV,
			follows("the AGC follows, and"))
	}
	if from.Kind == to.Kind && from.Kind != channelplan.OFDM && farther(from.FrequencyHz, to.FrequencyHz, alikeHz) {
		add(CarrierMoved, "its carrier moves from %s to %s MHz", channelplan.FormatMHz(from.FrequencyHz),
			channelplan.FormatMHz(to.FrequencyHz))
	}
	over := func(r Report) bool { return r.Has(Overlapped) || r.Has(InsideOFDM) }
	if over(c.After) && !over(c.Before) {
		add(NeighborOver, "another carrier or block covers its channel after the change")
	}
}

func level(c Carrier) string {
	if !c.HasLevel {
		return ""
	}
	return fmt.Sprintf(" at %.1f dBmV", c.LevelDBmV)
}

// samePlaceHz is how far apart carriers of two lineups may be and still count as one
// carrier that was moved.
const samePlaceHz = 3_000_000

// neighbors adds what happens to the carriers next to a pilot.
func (c *Comparison) neighbors(before, after *Lineup, p channelplan.Pilot, add adder) {
	if !c.Before.Listed || !c.After.Listed {
		return // a pilot without a carrier of its own has no neighbors either
	}
	old, now := before.Neighbors(p), after.Neighbors(p)
	find := func(among []Carrier, like Carrier) (Carrier, bool) {
		i := slices.IndexFunc(among, func(other Carrier) bool {
			at := c.After.Located.FrequencyHz
			if below := other.FrequencyHz < at; below != (like.FrequencyHz < at) {
				return false // on the other side
			}
			return min(other.HighHz, like.HighHz)-max(other.LowHz, like.LowHz) > samePlaceHz ||
				!farther(other.FrequencyHz, like.FrequencyHz, samePlaceHz)
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
			add(NeighborChanged, "next to it, %v becomes %s%s; it was %s%s", was, n.Kind.Label(), level(n),
				was.Kind.Label(), level(was))
		}
	}
	for _, n := range old {
		if _, ok := find(now, n); !ok {
			add(NeighborGone, "next to it, %v goes away", n)
		}
	}
}
