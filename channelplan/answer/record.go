package answer

import (
	"time"

	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/plant/field"
)

// Reading returns the answer as a field book has it, read by somebody at a time: for
// a lamp at a known amplifier.
func (a *Answer) Reading(who string, at time.Time) field.Reading {
	r := field.Reading{Record: book.Record{Type: field.Type, Time: at.UTC().Truncate(time.Second)}, Amp: a.Amplifier.ID,
		State: a.State, EdgeEnd: a.End, Doubtful: a.Doubtful, Marks: a.Marks(), Who: who}
	if p, ok := a.Pilot(); ok {
		r.Pilot = &p
	}
	if a.Lineup != nil && a.Report != nil {
		r.Verdict = a.Report.Verdict.String()
	}
	return r
}
