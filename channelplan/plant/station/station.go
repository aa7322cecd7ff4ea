// Package station checks every AGC station of a plant against the seasons: how far its
// pilot swings with the temperature of the cable since the previous station, and whether
// its range covers that.
package station

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/season"
)

// Conditions is what stations are checked for.
type Conditions struct {
	Plan channelplan.Plan // the plan of the pilots' channels
	// Passband and Range are for amplifiers whose record does not give them; the zero
	// Range means none.
	Passband       lineup.Band
	Range          lineup.Range
	Now, Low, High season.Fahrenheit // of the cable
	StepDB         float64           // the step in which controls can be set; 0 means no rounding
	// Lineup judges the pilots as of Today; nil means that they are not judged.
	Lineup *lineup.Lineup
	Today  time.Time
}

// Station is an amplifier that follows a pilot, with the cable since the previous
// station.
type Station struct {
	plant.Amplifier
	// Through holds the amplifiers in between, which have no AGC by design: this station
	// has to make up for what their spans swing. A thermal amplifier's compensation is
	// open-loop and can't be relied on: in Answer its span counts in full.
	Through []string
	// Unknown is why there is no answer; "" if there is one.
	Unknown  string
	Question season.Conditions
	Answer   season.Answer
	// Thermal holds those of Through that compensate for temperature, and LeastDB is the
	// swing that is left if they do so fully: the truth is between that and Answer.SwingDB.
	// LeastDB means nothing if there are none.
	Thermal []string
	LeastDB float64
	// Invalid is the rule by which its pilot, or its slope pilot, is not usable in the
	// lineup, and InvalidPilot which one; "" if both are usable, or not judged.
	Invalid      lineup.Rule
	InvalidPilot channelplan.Pilot
}

// Settable reports whether the control may be set to the season: the range suffices, with
// something to spare, that of a slope control suffices, too, and the pilots are usable.
func (s Station) Settable() bool {
	return s.Unknown == "" && s.Answer.Covered && !s.Question.Tight(s.Answer) && s.Invalid == "" &&
		!s.Question.SlopeShort(s.Answer)
}

// SpareDB is how much larger the range is than the swing; a negative value is how much is
// missing.
func (s Station) SpareDB() float64 { return s.Question.SpareDB(s.Answer) }

// Stations returns all AGC stations of a plant: first those with an answer, starting with
// the one that has the least range to spare, then those about which too little is known,
// in the order of the file.
func Stations(p *plant.Plant, c *plant.Cascades, q Conditions) []Station {
	var all []Station
	judge := func(channelplan.Pilot, lineup.Amplifier) lineup.Rule { return "" }
	if q.Lineup != nil {
		judge = q.Lineup.Blockers()
	}
	for i, a := range p.Amplifiers {
		if a.Mode == lineup.AGC {
			s := q.station(p, c, i)
			if s.Invalid = judge(a.Pilot, a.Amplifier); s.Invalid != "" {
				s.InvalidPilot = a.Pilot
			} else if at, ok := a.AtSlope(); ok {
				if s.Invalid = judge(at.Pilot, at); s.Invalid != "" {
					s.InvalidPilot = at.Pilot
				}
			}
			all = append(all, s)
		}
	}
	slices.SortStableFunc(all, func(a, b Station) int {
		if known := a.Unknown == ""; known != (b.Unknown == "") {
			return map[bool]int{true: -1, false: 1}[known]
		}
		if a.Unknown != "" {
			return 0
		}
		return cmp.Compare(a.SpareDB(), b.SpareDB())
	})
	return all
}

// mostThrough is how many amplifiers without AGC there may be before a station: a cascade
// has a few, and each station lists its own.
const mostThrough = 50

func (q Conditions) station(p *plant.Plant, c *plant.Cascades, i int) Station {
	s := Station{Amplifier: p.Amplifiers[i]}
	at, ok := lineup.Locate(s.Pilot, q.Plan)
	if !ok {
		s.Unknown = fmt.Sprintf("the %s plan has no channel %d", q.Plan.Name(), s.Pilot.Channel)
		return s
	}
	pass, held := s.Passband, s.Range
	if pass.IsZero() {
		pass = q.Passband
	}
	if at.FrequencyHz < pass.LowHz || at.FrequencyHz > pass.HighHz {
		s.Unknown = fmt.Sprintf("its pilot, at %s MHz, is outside its passband, %v",
			channelplan.FormatMHz(at.FrequencyHz), pass)
		return s
	}
	if held.IsZero() {
		held = q.Range
	}
	if held.IsZero() {
		s.Unknown = "the range of its AGC is not known"
		return s
	}
	s.Question = season.Conditions{PilotHz: at.FrequencyHz, LowHz: pass.LowHz, HighHz: pass.HighHz, Now: q.Now,
		Low: q.Low, High: q.High,
		UpDB: held.UpDB, DownDB: held.DownDB, StepDB: q.StepDB}
	if slope := s.Slope; !slope.Pilot.IsZero() {
		at, ok := lineup.Locate(slope.Pilot, q.Plan)
		if !ok || at.FrequencyHz < pass.LowHz || at.FrequencyHz > pass.HighHz {
			s.Unknown = fmt.Sprintf("its slope pilot, %v, is not in the %s plan, or outside its passband, %v", slope.Pilot,
				q.Plan.Name(), pass)
			return s
		}
		s.Question.SlopeHz, s.Question.SlopeUpDB, s.Question.SlopeDownDB = at.FrequencyHz, slope.Range.UpDB,
			slope.Range.DownDB
	}
	least := s.Question // without the spans of thermal amplifiers
	for before := i; before >= 0 && (before == i ||
		p.Amplifiers[before].Mode != lineup.AGC); before = c.Upstream[before] {
		a := p.Amplifiers[before]
		if a.SpanDB == 0 {
			s.Unknown = fmt.Sprintf("the loss of the span before %s is not known", a.ID)
			return s
		}
		if a.Upstream != "" && c.Upstream[before] < 0 {
			s.Unknown = fmt.Sprintf("what feeds %s is not known: %s is not listed, or is in a loop", a.ID, a.Upstream)
			return s
		}
		if before != i {
			if len(s.Through) == mostThrough {
				s.Unknown = fmt.Sprintf("more than %d amplifiers without AGC are before it: no plant is built that way; check the upstream and mode columns",
					mostThrough)
				s.Through, s.Question.Spans = nil, nil
				return s
			}
			s.Through = append(s.Through, a.ID)
		}
		span := season.Span{LossDB: a.SpanDB, AtHz: a.SpanHz}
		s.Question.Spans = append(s.Question.Spans, span)
		if before != i && a.Mode == lineup.OpenLoop {
			s.Thermal = append(s.Thermal, a.ID)
		} else {
			least.Spans = append(least.Spans, span)
		}
	}
	var err error
	if s.Answer, err = s.Question.Answer(); err != nil {
		s.Unknown = err.Error()
		return s
	}
	if len(s.Thermal) > 0 {
		left, err := least.Answer()
		if err != nil {
			s.Unknown = err.Error()
			return s
		}
		s.LeastDB = left.SwingDB
	}
	return s
}

// SumDB is the loss of a station's cable at 68 F, each span at its own frequency, rounded
// to hundredths.
func (s Station) SumDB() float64 { return math.Round(100*s.Question.SumDB()) / 100 }
