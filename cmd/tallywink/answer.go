package main

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/lineup/nextstep"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/trainer/progress"
)

// lampReader answers readings in one system.
type lampReader struct {
	system
	reader   *reading.Reader
	start    reading.Start
	observer *observer // who counted; nil where that is not known
}

// observer is a trainee, and how they misread marks.
type observer struct {
	name string
	progress.Habits
}

// text says whose rates of errors were used.
func (o *observer) text() string {
	return fmt.Sprintf("Weighed as %s counts: %s in training, %d missed, %d doubled, %d mistaken.", console.Shown(o.name),
		console.Counted(o.Marks, "mark", "marks"), o.Missed, o.Doubled, o.Mistaken)
}

func newLampReader(sys system, noStart bool, who *observer) *lampReader {
	model := reading.Assumed
	if who != nil {
		model = who.Tuned(model)
	}
	r := &lampReader{system: sys, reader: reading.NewReader(sys.lamp(), model, planPrior(sys.plan)), observer: who}
	if noStart {
		r.start = reading.StartUnseen
	}
	return r
}

// planPrior weighs the pilots that a plan has alike, and others hardly.
func planPrior(plan channelplan.Plan) func(channelplan.Pilot) float64 {
	return func(p channelplan.Pilot) float64 {
		if _, ok := plan.Channel(p.Channel); !ok {
			return reading.Foreign
		}
		return 1
	}
}

// timedReader makes a reader of what was observed in time.
func (s system) timedReader() *reading.TimedReader {
	return reading.NewTimedReader(s.lamp(), reading.AssumedDurations, planPrior(s.plan))
}

// answer is all that a reading comes to.
type answer struct {
	system
	observer *observer // who counted the looks
	// What was seen: looks, or a recording, or neither where the rhythm alone
	// was told.
	looks     []blink.Frame
	recording *recording
	start     reading.Start
	state     blink.State
	end       blink.EdgeEnd
	result    reading.Result // meaningless without looks
	check     reading.CheckDigit
	named     []channelplan.Pilot // by single looks, where there are several
	report    *lineup.Report      // on the pilot that was read
	recorded  *lineup.Report      // on the pilot of the amplifier's record
	spare     *lineup.Report      // on its spare pilot
	next      []string
}

func (r *lampReader) answer(looks []blink.Frame, told blink.Signal) *answer {
	a := &answer{system: r.system, observer: r.observer, looks: looks, start: r.start, state: told.State, end: told.End}
	if a.state == blink.NoState {
		a.state = blink.Locked
	}
	if len(looks) > 0 {
		a.result = r.reader.Read(looks, r.start)
		a.check = r.reader.CheckDigit(looks, r.start, a.result)
	}
	if len(looks) > 1 {
		a.named = r.reader.Named(looks, r.start)
	}
	s := a.judgeAll()
	s.StartUnseen = r.start == reading.StartUnseen
	if s.Doubtful {
		if a.worthTelling() {
			for _, apart := range r.reader.Apart(looks, a.result) {
				s.Counts = append(s.Counts, apart.String())
			}
		}
		_, most := a.lamp().FrameLengths()
		for _, look := range looks {
			s.RunsOn = s.RunsOn || len(look) > most
		}
	}
	if len(a.named) > 1 {
		s.Named = a.named
	}
	a.next = nextstep.Steps(s)
	return a
}

// judgeAll judges the pilot that was read and those of the amplifier's record,
// and returns the situation as far as looks and recordings share it.
func (a *answer) judgeAll() nextstep.Situation {
	read, _ := a.pilot()
	var main, spare channelplan.Pilot
	if a.amp != nil {
		main, spare = a.amp.Pilot, a.amp.Spare
	}
	for _, p := range []struct {
		pilot channelplan.Pilot
		into  **lineup.Report
	}{{read, &a.report}, {main, &a.recorded}, {spare, &a.spare}} {
		if !p.pilot.IsZero() {
			report := a.judge(p.pilot)
			*p.into = &report
		}
	}
	return nextstep.Situation{Code: a.lamp(), State: a.state, End: a.end, Doubtful: a.doubtful(), Amplifier: a.amp, LineupKnown: a.lineup != nil,
		Report: a.report, Recorded: a.recorded, Spare: a.spare}
}

// judge judges a pilot by the lineup, or by plan and record where there is
// none.
func (s system) judge(p channelplan.Pilot) lineup.Report {
	if s.lineup != nil {
		return s.lineup.Check(p, s.context())
	}
	return lineup.CheckRecord(p, s.plan, s.context())
}

// worthTelling tells whether the likely candidates together are likelier than
// not: below that, what to count again is anybody's guess.
func (a *answer) worthTelling() bool {
	sum := 0.0
	for _, c := range a.result.Likely() {
		sum += c.Probability
	}
	return sum > 0.5
}

// doubtful tells whether marks were read and name no pilot surely.
func (a *answer) doubtful() bool {
	if a.recording != nil {
		return a.recording.Doubtful() || a.recording.unsteady || a.recording.objection() != ""
	}
	return len(a.looks) > 0 && a.result.Doubtful()
}

// pilot returns the pilot that the lamp surely told.
func (a *answer) pilot() (channelplan.Pilot, bool) {
	if a.recording != nil {
		best := a.recording.Best().Signal
		if a.doubtful() || !best.State.ShowsFrame() {
			return channelplan.Pilot{}, false
		}
		return best.Pilot, true
	}
	if len(a.looks) == 0 || a.result.Doubtful() {
		return channelplan.Pilot{}, false
	}
	return a.result.Best().Pilot, true
}

// tell tells the answer, for a person or a program, and returns the exit
// status.
func (a *answer) tell(out *console.Console, asJSON bool) (int, error) {
	if asJSON {
		return a.status(a.strict), out.JSON(a.document())
	}
	a.print(out, true)
	return a.status(a.strict), nil
}

func (a *answer) status(strict bool) int {
	judged, _ := a.judged()
	bad := a.doubtful() || judged != nil && judged.Verdict == lineup.Unusable
	switch a.state {
	case blink.Seeking, blink.Holding, blink.Fault, blink.Dark:
		bad = true
	case blink.Edge, blink.Steady:
		bad = bad || strict
	}
	bad = bad || strict && judged != nil && judged.Verdict == lineup.WithCare
	if bad {
		return exitBadNews
	}
	return exitWell
}

type decodeDoc struct {
	Schema     int             `json:"schema"`
	Line       int             `json:"line,omitempty"` // with --each
	State      string          `json:"state"`
	EdgeEnd    *string         `json:"edge_end"`
	Pilot      *pilotDoc       `json:"pilot"` // null where there is none, or none is sure
	Notation   string          `json:"notation"`
	CheckDigit string          `json:"check_digit"`
	Doubtful   bool            `json:"doubtful"`
	Confidence float64         `json:"confidence"` // of the best candidate
	Candidates []candidateDoc  `json:"candidates"`
	Lineup     *verdictDoc     `json:"lineup"`             // null without a lineup, or a pilot to judge
	Record     *verdictDoc     `json:"record,omitempty"`   // by plan and record, where there is no lineup
	Recorded   *recordedDoc    `json:"recorded,omitempty"` // with an amplifier that has a pilot on record
	Amp        string          `json:"amp,omitempty"`
	Observer   *observerDoc    `json:"observer,omitempty"` // with --trainee: who counted
	Named      []codedPilotDoc `json:"named,omitempty"`    // by single looks, where they disagree
	Next       []string        `json:"next"`
	Sequence   []segmentDoc    `json:"sequence,omitempty"`  // where it was observed in time
	Lamps      []lampDoc       `json:"lamps,omitempty"`     // in moving pictures: all in view
	UnitMS     int64           `json:"unit_ms,omitempty"`   // where observed in time: the length of a unit
	Recording  *recordingDoc   `json:"recording,omitempty"` // likewise
}

// recordedDoc is the pilot of an amplifier's record, judged.
type recordedDoc struct {
	Pilot *pilotDoc `json:"pilot"`
	verdictDoc
}

// observerDoc is who counted the marks, and what of theirs was weighed.
type observerDoc struct {
	Trainee  string `json:"trainee"`
	Marks    int    `json:"marks"`
	Missed   int    `json:"missed"`
	Doubled  int    `json:"doubled"`
	Mistaken int    `json:"mistaken"`
}

func (a *answer) document() decodeDoc {
	d := decodeDoc{Schema: schema, State: a.state.String(), Notation: blink.FormatFrames(a.looks), CheckDigit: a.check.String(),
		Doubtful: a.doubtful(), Next: a.next}
	if !a.lamp().Checks() {
		d.CheckDigit = reading.Unread.String() // there is none
	}
	d.EdgeEnd = edgeEndDoc(a.end)
	if o := a.observer; o != nil && len(a.looks) > 0 {
		d.Observer = &observerDoc{o.name, o.Marks, o.Missed, o.Doubled, o.Mistaken}
	}
	if a.report != nil {
		d.Pilot = newPilotDoc(a.report, a.plan)
		if a.lineup != nil {
			d.Lineup = newVerdictDoc(a.report)
		} else if told, _ := a.judged(); told != nil {
			d.Record = newVerdictDoc(told)
		}
	}
	if a.recording != nil {
		d.Confidence = rounded(a.recording.Best().Probability)
		d.UnitMS = a.recording.Unit.Milliseconds()
		d.Recording = &recordingDoc{a.recording.samples, a.recording.length.Milliseconds(), a.recording.unsteady, a.recording.still, rounded(a.recording.Stranger), a.recording.Foreign}
		for i, c := range a.recording.Candidates {
			if !worthListing(i, c.Probability) {
				break
			}
			d.Candidates = append(d.Candidates, timedCandidateDoc(c))
		}
		d.Sequence = segmentDocs(a.recording.Sequence)
		d.Lamps = a.recording.lampDocs()
		if p, ok := a.pilot(); ok {
			if frame, err := a.lamp().Encode(p); err == nil {
				d.Notation = frame.String()
			}
		}
	} else if len(a.looks) == 0 {
		d.Confidence = 1 // the rhythm was told, not measured
		d.Candidates = []candidateDoc{{State: d.State, Probability: 1}}
	} else {
		d.Confidence = rounded(a.result.Best().Probability)
		for i, c := range a.result.Candidates {
			if !worthListing(i, c.Probability) {
				break
			}
			d.Candidates = append(d.Candidates, newCandidateDoc(a.state, c.Pilot, c.Probability))
		}
	}
	if a.recorded != nil {
		d.Recorded = &recordedDoc{newPilotDoc(a.recorded, a.plan), *newVerdictDoc(a.recorded)}
	}
	if a.amp != nil {
		d.Amp = a.amp.ID
	}
	if len(a.named) > 1 {
		for _, p := range a.named {
			d.Named = append(d.Named, codedPilotDoc{p.Channel, p.Kind.String()})
		}
	}
	return d
}
