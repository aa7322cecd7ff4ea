package main

import (
	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/lineup/nextstep"
)

// lampReader answers readings in one system.
type lampReader struct {
	system
	reader *reading.Reader
	start  reading.Start
}

func newLampReader(sys system, noStart bool) *lampReader {
	prior := func(p blink.Pilot) float64 {
		if _, ok := sys.plan.Channel(p.Channel); !ok {
			return reading.Foreign
		}
		return 1
	}
	r := &lampReader{system: sys, reader: reading.NewReader(blink.Tally, reading.Assumed, prior)}
	if noStart {
		r.start = reading.StartUnseen
	}
	return r
}

// answer is all that a reading comes to.
type answer struct {
	plan   channelplan.Plan
	looks  []blink.Frame
	state  blink.State
	end    blink.EdgeEnd
	result reading.Result // meaningless without looks
	check  reading.CheckDigit
	likely []reading.Candidate
	report *lineup.Report // on the pilot that was read
	sought *lineup.Report // on the pilot the record says, where there is none to read
	amp    *lineup.Amplifier
	lineup *lineup.Lineup
	next   []string
}

func (r *lampReader) answer(looks []blink.Frame, told blink.Signal) *answer {
	a := &answer{plan: r.plan, looks: looks, state: told.State, end: told.End, amp: r.amp, lineup: r.lineup}
	if a.state == blink.NoState {
		a.state = blink.Locked
	}
	s := nextstep.Situation{State: a.state, End: a.end, Amplifier: r.amp, Plan: r.plan}
	if len(looks) > 0 {
		a.result = r.reader.Read(looks, r.start)
		a.check = r.reader.CheckDigit(looks, a.result)
		a.likely = r.reader.Likely(a.result)
	}
	if a.doubtful() {
		s.Doubtful = true
		for _, apart := range r.reader.Apart(a.result) {
			s.Counts = append(s.Counts, apart.String())
		}
		if len(looks) > 1 {
			s.Named = r.reader.Named(looks, r.start)
		}
	}
	if p, ok := a.pilot(); ok {
		a.report = r.judge(p)
	}
	lost := a.state == blink.Seeking || a.state == blink.Holding
	if lost && r.amp != nil && !r.amp.Pilot.IsZero() {
		a.sought = r.judge(r.amp.Pilot)
	}
	s.Report, s.Sought, s.LineupKnown = a.report, a.sought, a.lineup != nil
	a.next = nextstep.Steps(s)
	return a
}

// judge judges a pilot by the lineup, or by the amplifier's record where
// there is no lineup; with neither there is nothing to judge by.
func (s system) judge(p lineup.Pilot) *lineup.Report {
	var report lineup.Report
	switch {
	case s.lineup != nil:
		report = s.lineup.Check(p, s.context())
	case s.amp != nil:
		report = lineup.CheckRecord(p, s.plan, s.context())
	default:
		return nil
	}
	return &report
}

// doubtful tells whether marks were read and name no pilot surely.
func (a *answer) doubtful() bool { return len(a.looks) > 0 && a.result.Doubtful() }

// pilot returns the pilot that the lamp surely told.
func (a *answer) pilot() (lineup.Pilot, bool) {
	if len(a.looks) == 0 || a.result.Doubtful() {
		return lineup.Pilot{}, false
	}
	return pilotOf(a.result.Best().Pilot), true
}

func (a *answer) status(strict bool) int {
	bad := a.doubtful() || a.report != nil && a.report.Verdict == lineup.Unusable
	switch a.state {
	case blink.Seeking, blink.Holding, blink.Fault, blink.Dark:
		bad = true
	case blink.Edge, blink.Steady:
		bad = bad || strict
	}
	bad = bad || strict && a.report != nil && a.report.Verdict == lineup.WithCare
	if bad {
		return exitBadNews
	}
	return exitWell
}

type decodeDoc struct {
	Schema     int            `json:"schema"`
	Line       int            `json:"line,omitempty"` // with --each
	State      string         `json:"state"`
	EdgeEnd    *string        `json:"edge_end"`
	Pilot      *pilotDoc      `json:"pilot"` // null where there is none, or none is sure
	Notation   string         `json:"notation"`
	CheckDigit string         `json:"check_digit"`
	Doubtful   bool           `json:"doubtful"`
	Confidence float64        `json:"confidence"` // of the best candidate
	Candidates []candidateDoc `json:"candidates"`
	Lineup     *verdictDoc    `json:"lineup,omitempty"` // with --lineup
	Record     *verdictDoc    `json:"record,omitempty"` // with --amps and no lineup
	Sought     *soughtDoc     `json:"sought,omitempty"`
	Amp        string         `json:"amp,omitempty"`
	Next       []string       `json:"next"`
}

// A document holds so many candidates at most, each at least so probable.
const (
	maxCandidates  = 10
	leastCandidate = 0.001
)

// soughtDoc is the recorded pilot of an amplifier that is without one.
type soughtDoc struct {
	Pilot *pilotDoc `json:"pilot"`
	verdictDoc
}

func (a *answer) document() decodeDoc {
	d := decodeDoc{Schema: schema, State: a.state.String(), Notation: blink.FormatFrames(a.looks), CheckDigit: a.check.String(),
		Doubtful: a.doubtful(), Next: a.next}
	if a.lineup != nil {
		d.Lineup = newVerdictDoc(a.report)
	} else {
		d.Record = newVerdictDoc(a.report)
	}
	if a.end != blink.NoEnd {
		end := a.end.String()
		d.EdgeEnd = &end
	}
	if p, ok := a.pilot(); ok {
		d.Pilot = newPilotDoc(p, a.plan)
	}
	if len(a.looks) == 0 {
		d.Confidence = 1 // the rhythm was told, not measured
		d.Candidates = []candidateDoc{{State: d.State, Probability: 1}}
	} else {
		d.Confidence = rounded(a.result.Best().Probability)
		for i, c := range a.result.Candidates {
			if i > 0 && (i >= maxCandidates || c.Probability < leastCandidate) {
				break
			}
			d.Candidates = append(d.Candidates, newCandidateDoc(a.state, c.Pilot, c.Probability))
		}
	}
	if a.sought != nil {
		d.Sought = &soughtDoc{newPilotDoc(a.sought.Pilot, a.plan), *newVerdictDoc(a.sought)}
	}
	if a.amp != nil {
		d.Amp = a.amp.ID
	}
	return d
}
