// Package rank puts the carriers of a lineup that are fit to be pilots in
// order, the best first, and says why.
//
// A carrier begins with a hundred points. Each reason against it takes some,
// and each is told with what it took: the findings of the lineup's rules, how
// much of the cable's swing shows where it stands, how near the ends of the
// band and OFDM blocks are, its neighbors, its kind. How many points a reason
// takes is common practice, with no source: the order is advice, the verdicts
// are the rules'.
package rank

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/lineup/change"
)

// Candidate is a carrier that is fit to be a pilot.
type Candidate struct {
	lineup.Report
	Score float64 // 100 less what the terms take, never below 0
	Terms []Term  // what took points, the most first
}

// Term is a reason that took points.
type Term struct {
	Points float64 // positive
	Why    string  // half a sentence
}

// findingPoints is what a caution takes, and by how much less a note. Rules
// that are not listed say the same of every carrier, or have a term of their
// own.
var findingPoints = map[string]float64{
	"narrowcast": 25, "test-carrier": 30, "neighbor-strong": 15, "band-edge": 15, "level-odd": 8, "off-plan": 5,
	"aeronautical-offset": 5, "distress-guard": 10, "carrier-mismatch": 20,
}

const (
	noteShare    = 0.25 // of a caution's points that a note takes
	ingress      = 6.0
	placement    = 40.0 // for a pilot that would show nothing of the swing
	blockPoints  = 10.0
	blockReachHz = 24_000_000
	edgePoints   = 5.0
	edgeReachHz  = 60_000_000
	neighborFrom = 3.0 // dB above the pilot from which a neighbor takes points, one a dB
	retired      = 5.0
)

// Carriers returns the carriers of a lineup that are usable as pilots, the
// best first. Where before is not nil, only those that both lineups carry
// alike: they hold through the change.
func Carriers(l, before *lineup.Lineup, with lineup.Context) []Candidate {
	var all []Candidate
	for _, c := range l.Carriers {
		p := channelplan.Pilot{Channel: c.Channel, Kind: c.Kind.Family()}
		if c.Channel == 0 || c.Kind == channelplan.OFDM || !slices.Contains(kinds(), p.Kind) {
			continue // a carrier without a channel can't be named by the lamp
		}
		if before != nil && !change.Alike(l, before, p) {
			continue
		}
		r := l.Check(p, with)
		if r.Verdict == lineup.Unusable {
			continue
		}
		all = append(all, score(l, r))
	}
	slices.SortStableFunc(all, func(a, b Candidate) int {
		return cmp.Or(cmp.Compare(b.Score, a.Score), cmp.Compare(a.Pilot.Channel, b.Pilot.Channel), cmp.Compare(a.Pilot.Kind, b.Pilot.Kind))
	})
	return all
}

func kinds() []channelplan.Kind {
	k := channelplan.PilotKinds()
	return k[:]
}

func score(l *lineup.Lineup, r lineup.Report) Candidate {
	c := Candidate{Report: r, Score: 100}
	take := func(points float64, format string, args ...any) {
		if points >= 0.05 {
			c.Terms = append(c.Terms, Term{points, fmt.Sprintf(format, args...)})
		}
	}
	for _, f := range r.Findings {
		points := findingPoints[f.Rule]
		if f.Severity == lineup.Note {
			points *= noteShare
		}
		take(points, "%s: %s", f.Rule, f.Text)
	}
	if r.Has("off-air-ingress") {
		take(ingress, "it lies in an off-air band")
	}
	top := l.Forward.HighHz
	share := math.Sqrt(float64(r.Located.FrequencyHz) / float64(top))
	take(placement*(1-min(share, 1)), "placement: %.0f%% of the swing at %s MHz shows there", 100*share, channelplan.FormatMHz(top))
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
	slices.SortStableFunc(c.Terms, func(a, b Term) int { return cmp.Compare(b.Points, a.Points) })
	for _, t := range c.Terms {
		c.Score -= t.Points
	}
	c.Score = max(c.Score, 0)
	return c
}

// closeness is 1 at a distance of nothing and 0 from reach on.
func closeness(hz, reach int64) float64 {
	return min(max(1-float64(hz)/float64(reach), 0), 1)
}

// neighbors takes points for a neighbor that is stronger, short of what the
// rules caution about.
func (c *Candidate) neighbors(l *lineup.Lineup, take func(points float64, format string, args ...any)) {
	if !c.Carrier.HasLevel || c.Has("neighbor-strong") {
		return
	}
	most, which := 0.0, lineup.Carrier{}
	for _, o := range l.Carriers {
		away := o.FrequencyHz - c.Located.FrequencyHz
		if o.Line == c.Carrier.Line || !o.HasLevel || max(away, -away) > 3*channelplan.ChannelWidthHz/2 {
			continue
		}
		if db := o.LevelDBmV - c.Carrier.LevelDBmV; db > most {
			most, which = db, o
		}
	}
	take(max(most-neighborFrom, 0), "neighbor: %v stands %.1f dB above it", which, most)
}

// Pair is a main and a spare pilot.
type Pair struct{ Main, Spare Candidate }

// apartHz is how far a pair's pilots are apart at least: what takes one, a
// block that grows or a failed combiner, should not take the other.
const apartHz = 60_000_000

// Pairs returns main and spare pilots, the best first: each carrier once as a
// main, with the best spare that is far enough away. There are as many as
// there are mains with a spare, up to most.
func Pairs(all []Candidate, most int) []Pair {
	var pairs []Pair
	for _, main := range all {
		i := slices.IndexFunc(all, func(spare Candidate) bool {
			away := spare.Located.FrequencyHz - main.Located.FrequencyHz
			return max(away, -away) >= apartHz
		})
		if i >= 0 && len(pairs) < most {
			pairs = append(pairs, Pair{main, all[i]})
		}
	}
	return pairs
}
