package plant

import (
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// Untouched returns how far the output of each amplifier is off, at its pilot, positive
// up, after a lineup has replaced another and nobody has gone to any amplifier. An AGC
// mistakes a changed pilot for a changed cable. The first in a cascade uses up its range
// on that; if its range ends, the next sees what is left, and follows it too. An
// amplifier whose pilot did not change removes what those before it added. An amplifier
// without AGC, or whose detector loses its pilot, passes on what comes in. Each
// AGC is assumed to be in the middle of its range before the change.
func (p *Plant) Untouched(c *Cascades, before, after *lineup.Lineup) []lineup.LevelStep {
	// What a pilot's carrier does at the source, worked out once per pilot.
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
		if lineup.Loses(before, after, a.Pilot, a.Detector) { // it holds its gain
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
