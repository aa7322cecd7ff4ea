package plant

import (
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// Untouched returns by how much the output of each amplifier is off once a lineup has taken
// another's place and nobody has gone to any amplifier, at its pilot, positive up. An AGC
// takes a changed pilot for a changed cable. The first in a cascade spends its range on
// that; where its range ends, the next sees what is left, and follows it too. One that
// follows a pilot which did not change takes out what those before it put in. What has no
// AGC passes on what comes. Each is taken to stand in the middle of its range before.
func (p *Plant) Untouched(c *Cascades, before, after *lineup.Lineup) []lineup.LevelStep {
	// What a pilot's carrier does at the source, once for each.
	source := map[channelplan.Pilot]lineup.LevelStep{}
	at := func(pilot channelplan.Pilot) lineup.LevelStep {
		s, known := source[pilot]
		if !known {
			s = lineup.Step(before, after, pilot)
			source[pilot] = s
		}
		return s
	}
	steps := make([]lineup.LevelStep, len(p.Amplifiers))
	for _, i := range c.Order {
		a := p.Amplifiers[i]
		comes := lineup.LevelStep{Known: true}
		if up := c.Upstream[i]; up >= 0 {
			comes = steps[up]
		}
		comes.Held = false
		if a.Mode != lineup.AGC {
			steps[i] = comes
			continue
		}
		s := at(a.Pilot)
		if !s.Known || !comes.Known {
			continue
		}
		asked := s.DB - comes.DB
		given := asked
		if !a.Range.IsZero() {
			given = min(max(asked, -a.Range.DownDB), a.Range.UpDB)
		}
		steps[i] = lineup.LevelStep{Known: true, DB: comes.DB + given, Held: given != asked}
	}
	return steps
}
