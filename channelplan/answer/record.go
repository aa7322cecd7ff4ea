package answer

import (
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/plant/field"
)

// Reading returns the answer as a field book records it: read by a person, at a time,
// from the lamp of a known amplifier.
func (a *Answer) Reading(who string, at time.Time) field.Reading {
	r := field.Reading{Record: book.Record{Type: field.Type, Time: at.UTC().Truncate(time.Second)}, Amp: a.Amplifier.ID,
		State: a.State, EdgeEnd: a.End, Doubtful: a.Doubtful || a.Unconfirmed, Marks: a.Marks(), Who: who}
	if r.State == blink.NoState { // a book always has a state; Doubtful is recorded separately
		r.State = blink.Locked
		if len(a.Rhythm) > 0 {
			r.State = a.Rhythm[0]
		}
	}
	if p, ok := a.Pilot(); ok {
		r.Pilot = &p
	}
	if a.Lineup != nil && a.Report != nil {
		r.Verdict = a.Report.Verdict.String()
	}
	return r
}
