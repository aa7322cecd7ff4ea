package cutover

import (
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// This file follows a plan while it is carried out: what the lamps last showed says what is
// done, and the rest is planned again.

// Stage is how far the work at an amplifier has come.
type Stage uint8

// The stages.
const (
	Waiting Stage = iota // on its old pilot, as far as anybody knows
	Parked               // in manual or thermal
	Moved                // locked on its new pilot
)

// String returns waiting, parked or moved.
func (s Stage) String() string { return [...]string{"waiting", "parked", "moved"}[s] }

// Seen is what an amplifier's lamp last showed.
type Seen struct {
	State    blink.State
	Pilot    channelplan.Pilot // zero if the lamp named none
	Doubtful bool
	At       time.Time
	Words    string // the same in words
}

// Follow sets how far each visited amplifier has come, by what its lamp last showed. What is
// neither waiting, parked nor moved is a [Step.Surprise]: the amplifier counts as waiting.
func (p *Plan) Follow(last func(id string) (Seen, bool)) {
	for i := range p.Steps {
		s := &p.Steps[i]
		if s.Action < Early {
			continue
		}
		seen, ok := last(s.ID)
		if !ok {
			continue
		}
		s.SeenAt = seen.At
		locked := seen.State.ShowsFrame() && !seen.Doubtful && !seen.Pilot.IsZero()
		switch {
		case locked && (s.To != nil && seen.Pilot == s.To.Pilot && !s.stays(s.To) ||
			s.SlopeTo != nil && seen.Pilot == s.SlopeTo.Pilot):
			s.Stage = Moved
			if s.To != nil && s.SlopeTo != nil && s.To.Pilot != s.Pilot {
				s.Unconfirmed = s.To.Pilot
				if seen.Pilot == s.To.Pilot {
					s.Unconfirmed = s.SlopeTo.Pilot
				}
			}
		case locked && (seen.Pilot == s.Pilot || seen.Pilot == s.Slope.Pilot):
		case !seen.Doubtful && (seen.State == blink.Manual || seen.State == blink.Thermal):
			s.Stage = Parked
		default:
			s.Surprise = seen.Words
		}
	}
}

// ToMove, ToPark and ToLock select what is still to be done: early moves, amplifiers to be
// parked before the change, and parked ones to be locked again after it.
func ToMove(s *Step) bool { return s.Action == Early && s.Stage != Moved }

// ToPark selects amplifiers that are still to be parked.
func ToPark(s *Step) bool {
	return (s.Action == Park || s.Action == Strand) && s.Stage == Waiting
}

// ToLock selects parked amplifiers that are still to be locked on a new pilot.
func ToLock(s *Step) bool { return s.Action == Park && s.Stage != Moved }
