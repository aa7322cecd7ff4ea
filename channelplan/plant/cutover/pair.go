package cutover

import (
	"slices"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// This file finds pilots for several amplifiers at once, and new spares.

// Common is a pilot for all AGC amplifiers of a plant or a node.
type Common struct {
	lineup.Ranked
	// Misfits holds the IDs of the amplifiers that can't use it: it is outside their
	// passband, or their detector, by its record, does not follow that kind of carrier.
	Misfits []string
}

// CommonPilots looks at which pilots of a lineup all AGC amplifiers of a node can use, ""
// for the whole plant, by each one's passband and detector; if before is not nil, in that
// lineup too. It returns those that fit all, the best first or, if none does, all pilots,
// starting with the one that fits the most; and how many amplifiers there are. Test and
// narrowcast carriers are left out: they may go away, or differ from node to node.
func CommonPilots(p *plant.Plant, node string, l, before *lineup.Lineup) (all []Common, of int) {
	type group struct {
		like lineup.Amplifier
		ids  []string
	}
	groups := map[settings]*group{}
	var order []*group // in the order of the file
	for _, a := range p.Amplifiers {
		if a.Mode != lineup.AGC || node != "" && !strings.EqualFold(node, a.Node) {
			continue
		}
		of++
		key := settingsOf(a.Amplifier)
		g := groups[key]
		if g == nil {
			g = &group{like: a.Amplifier}
			groups[key], order = g, append(order, g)
		}
		g.ids = append(g.ids, a.ID)
	}
	for _, r := range lineup.Rank(l, before, lineup.Context{}) {
		if passing(r.Report) {
			continue
		}
		c := Common{Ranked: r}
		for _, g := range order {
			on := g.like.On(r.Pilot)
			with := lineup.Context{Amplifier: &on}
			if !Follows(g.like, r.Pilot.Kind) || l.CheckOne(r.Pilot, with).Verdict == lineup.Unusable ||
				before != nil && before.CheckOne(r.Pilot, with).Verdict == lineup.Unusable {
				c.Misfits = append(c.Misfits, g.ids...)
			}
		}
		all = append(all, c)
	}
	slices.SortStableFunc(all, func(a, b Common) int { return len(a.Misfits) - len(b.Misfits) })
	if n := slices.IndexFunc(all, func(c Common) bool { return len(c.Misfits) > 0 }); n > 0 {
		all = all[:n]
	}
	return all, of
}

// passing reports whether a carrier may go away, or differs from node to node.
func passing(r lineup.Report) bool { return r.Has(lineup.TestCarrier) || r.Has(lineup.Narrowcast) }

// newSpare returns the best spare pilot for an amplifier that follows main in the new
// lineup, far enough from it: one that both lineups carry the same way, since records may
// be changed early, else one of the new lineup; the zero Pilot if there is none.
func (q Request) newSpare(a lineup.Amplifier, main channelplan.Pilot) channelplan.Pilot {
	free := a.On(channelplan.Pilot{})
	at, located := lineup.Locate(main, q.After.Plan)
	levels := slices.ContainsFunc(q.After.Carriers, func(c lineup.Carrier) bool { return c.HasLevel })
	for _, before := range []*lineup.Lineup{q.Before, nil} {
		for _, c := range lineup.Rank(q.After, before, lineup.Context{Amplifier: &free}) {
			fit := Follows(a, c.Pilot.Kind) && !passing(c.Report) && (c.Carrier.HasLevel || !levels)
			if fit && c.Pilot != main && (!located || lineup.FarApart(c.Located.FrequencyHz, at.FrequencyHz)) {
				return c.Pilot
			}
		}
	}
	return channelplan.Pilot{}
}
