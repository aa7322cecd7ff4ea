package lineup

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tallywink.example/channelplan"
)

// This file ranks the carriers of a lineup that are fit to be pilots, the best first, and
// says why.
//
// A carrier starts with a hundred points. Each reason against it takes some, and is shown
// with the points it took: the findings of the lineup's rules, how much of the cable's
// swing shows at its frequency, how near the ends of the band and OFDM blocks are, its
// neighbors, its kind. How many points a reason takes is common practice, with no source:
// the order is advice, but the verdicts come from the rules.

// Ranked is a carrier that is fit to be a pilot.
type Ranked struct {
	Report
	Score      float64     // 100 less the deductions, never below 0
	Deductions []Deduction // the largest first
}

// Deduction is a reason that took points away.
type Deduction struct {
	Points float64 // positive
	Why    string  // half a sentence
}

const (
	noteShare    = 0.25 // the share of a caution's points that a note takes
	placement    = 40.0 // for a pilot that would show nothing of the swing
	blockPoints  = 10.0
	blockReachHz = 24_000_000
	edgePoints   = 5.0
	edgeReachHz  = 60_000_000
	neighborFrom = 3.0 // dB above the pilot from which a neighbor takes points, one per dB
	retired      = 5.0
)

// Rank returns the carriers of a lineup that are usable as pilots, the best first. If
// before is not nil, it returns only those that both lineups carry the same way, so that
// they hold through the change.
func Rank(l, before *Lineup, with Context) []Ranked {
	var all []Ranked
	for _, c := range l.Carriers {
		p := channelplan.Pilot{Channel: c.Channel, Kind: c.Kind.Family()}
		if c.Channel == 0 || c.Kind == channelplan.OFDM || !slices.Contains(kinds(), p.Kind) {
			continue // the lamp can't name a carrier without a channel
		}
		// Both lineups decide: a pilot that may go off the air before the change does not
		// hold through it.
		if before != nil && (!Alike(l, before, p) || before.CheckOne(p, with).Verdict == Unusable) {
			continue
		}
		r := l.Check(p, with)
		if r.Verdict == Unusable {
			continue
		}
		all = append(all, scored(l, r))
	}
	slices.SortStableFunc(all, func(a, b Ranked) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(a.Pilot.Channel, b.Pilot.Channel),
			cmp.Compare(a.Pilot.Kind, b.Pilot.Kind))
	})
	return all
}

func kinds() []channelplan.Kind {
	k := channelplan.PilotKinds()
	return k[:]
}

func scored(l *Lineup, r Report) Ranked {
	c := Ranked{Report: r, Score: 100}
	take := func(points float64, format string, args ...any) {
		if points >= 0.05 {
			c.Deductions = append(c.Deductions, Deduction{points, fmt.Sprintf(format, args...)})
		}
	}
	for _, f := range r.Findings {
		points := pointsOf(f.Rule)
		if f.Severity == Note {
			points *= noteShare
		}
		take(points, "%s: %s", f.Rule, f.Text)
	}
	top := l.Forward.HighHz
	share := math.Sqrt(float64(r.Located.FrequencyHz) / float64(top))
	take(placement*(1-min(share, 1)), "placement: it sees %.0f%% of the level change that %s MHz sees", 100*share,
		channelplan.FormatMHz(top))
	middle := (r.Located.LowHz + r.Located.HighHz) / 2
	near := min(middle-l.Forward.LowHz, top-middle)
	take(edgePoints*closeness(near, edgeReachHz), "band edge: %.0f MHz away", float64(near)/1e6)
	block := int64(math.MaxInt64)
	for _, o := range l.Carriers {
		if o.Kind == channelplan.OFDM {
			block = min(block, max(o.LowHz-r.Located.HighHz, r.Located.LowHz-o.HighHz))
		}
	}
	take(blockPoints*closeness(block, blockReachHz), "OFDM block: %.0f MHz away, and blocks grow", float64(block)/1e6)
	c.neighbors(l, take)
	if r.Carrier.Kind == channelplan.Analog {
		take(retired, "kind: analog channels are the first to be retired")
	}
	slices.SortStableFunc(c.Deductions, func(a, b Deduction) int { return cmp.Compare(b.Points, a.Points) })
	for _, t := range c.Deductions {
		c.Score -= t.Points
	}
	c.Score = max(c.Score, 0)
	return c
}

// pointsOf returns the points that a caution of a rule takes.
func pointsOf(name Rule) float64 {
	i := slices.IndexFunc(rules, func(r rule) bool { return r.name == name })
	return rules[i].points
}

// closeness is 1 at distance zero, and 0 at reach and beyond.
func closeness(hz, reach int64) float64 {
	return min(max(1-float64(hz)/float64(reach), 0), 1)
}

// neighbors takes points for a stronger neighbor, unless the rules already caution about
// it.
func (c *Ranked) neighbors(l *Lineup, take func(points float64, format string, args ...any)) {
	if !c.Carrier.HasLevel || c.Has(NeighborStrong) {
		return
	}
	most, which := 0.0, Carrier{}
	for _, o := range l.Carriers {
		away := o.FrequencyHz - c.Located.FrequencyHz
		if o.Line == c.Carrier.Line || !o.HasLevel || max(away, -away) > 3*channelplan.ChannelWidthHz/2 {
			continue
		}
		if db := o.LevelDBmV - c.Carrier.LevelDBmV; db > most {
			most, which = db, o
		}
	}
	take(max(most-neighborFrom, 0), "neighbor: %v is %.1f dB higher", which, most)
}

// PilotPair is a main and a spare pilot.
type PilotPair struct{ Main, Spare Ranked }

// apartHz is the least distance between the pilots of a pair: what takes out one of them,
// such as a growing block or a failed combiner, should not take out the other.
const apartHz = 60_000_000

// FarApart reports whether two frequencies are far enough apart for a pair of pilots.
func FarApart(aHz, bHz int64) bool { return max(aHz-bHz, bHz-aHz) >= apartHz }

// PilotPairs returns main and spare pilots, the best first: each carrier once as a main,
// with the best spare that is far enough away. It returns a pair for each main that has a
// spare, up to most.
func PilotPairs(all []Ranked, most int) []PilotPair {
	var pairs []PilotPair
	for _, main := range all {
		i := slices.IndexFunc(all, func(spare Ranked) bool {
			return FarApart(spare.Located.FrequencyHz, main.Located.FrequencyHz)
		})
		if i >= 0 && len(pairs) < most {
			pairs = append(pairs, PilotPair{main, all[i]})
		}
	}
	return pairs
}
