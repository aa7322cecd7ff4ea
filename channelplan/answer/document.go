package answer

import (
	"math"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// This file holds the answer as another program sees it, and the parts that its JSON
// documents share with others. Their names are a contract: adding to them is fine.

// Schema is the version of all JSON documents.
const Schema = 1

// PilotDocument is a pilot with its place in the plan. Frequencies are null if the plan
// does not have the channel.
type PilotDocument struct {
	Channel     *int             `json:"channel"` // null for a cw carrier without a channel
	Carrier     channelplan.Kind `json:"carrier"`
	Plan        channelplan.Plan `json:"plan"`
	FrequencyHz *int64           `json:"frequency_hz"` // visual carrier of analog, center of digital, carrier of cw
	LowHz       *int64           `json:"low_hz"`
	HighHz      *int64           `json:"high_hz"`
}

// NewPilotDocument takes the frequency from the lineup's carrier if there is one, else
// from the plan, and the edges from the plan.
func NewPilotDocument(r *lineup.Report, plan channelplan.Plan) *PilotDocument {
	d := &PilotDocument{Carrier: r.Pilot.Kind, Plan: plan}
	if r.Pilot.Channel != 0 {
		d.Channel = &r.Pilot.Channel
	}
	if at, ok := lineup.Locate(r.Pilot, plan); ok {
		d.FrequencyHz, d.LowHz, d.HighHz = &r.Located.FrequencyHz, &at.LowHz, &at.HighHz
	}
	return d
}

// FindingDocument is a finding of a rule.
type FindingDocument struct {
	Rule     lineup.Rule     `json:"rule"`
	Severity lineup.Severity `json:"severity"`
	Text     string          `json:"text"`
	Source   string          `json:"source"`
}

// FindingDocuments converts findings for a document; no findings give an empty list.
func FindingDocuments(findings []lineup.Finding) []FindingDocument {
	docs := make([]FindingDocument, len(findings))
	for i, f := range findings {
		docs[i] = FindingDocument(f)
	}
	return docs
}

// VerdictDocument is the verdict on a pilot.
type VerdictDocument struct {
	Verdict  lineup.Verdict    `json:"verdict"`
	Findings []FindingDocument `json:"findings"`
}

// NewVerdictDocument converts a report for a document; nil stays nil.
func NewVerdictDocument(r *lineup.Report) *VerdictDocument {
	if r == nil {
		return nil
	}
	return &VerdictDocument{r.Verdict, FindingDocuments(r.Findings)}
}

// CandidateDocument is a signal that the lamp may have given.
type CandidateDocument struct {
	State       blink.State       `json:"state"`
	Channel     *int              `json:"channel"`
	Carrier     *channelplan.Kind `json:"carrier"`
	EdgeEnd     blink.EdgeEnd     `json:"edge_end,omitzero"` // if it was observed over time
	Probability float64           `json:"probability"`
}

// A document has at most this many candidates, each at least this probable, and always
// the best one.
const (
	maxCandidates  = 10
	leastCandidate = 0.001
)

// listed returns the candidates that belong in a document.
func listed[C any](all []C, document func(C) CandidateDocument) []CandidateDocument {
	var docs []CandidateDocument
	for i, c := range all {
		d := document(c)
		if i > 0 && (i >= maxCandidates || d.Probability < leastCandidate) {
			break
		}
		d.Probability = Rounded(d.Probability)
		docs = append(docs, d)
	}
	return docs
}

func timedCandidate(c reading.TimedCandidate) CandidateDocument {
	d := CandidateDocument{State: c.Signal.State, EdgeEnd: c.Signal.End, Probability: c.Probability}
	if c.Signal.ShowsFrame() {
		d.Channel, d.Carrier = &c.Signal.Pilot.Channel, &c.Signal.Pilot.Kind
	}
	return d
}

// SegmentDocument is a stretch of time in which the lamp gave one signal.
type SegmentDocument struct {
	State       blink.State       `json:"state"`
	Channel     *int              `json:"channel"`
	Carrier     *channelplan.Kind `json:"carrier"`
	EdgeEnd     *blink.EdgeEnd    `json:"edge_end"`
	FromMS      int64             `json:"from_ms"`
	ToMS        int64             `json:"to_ms"`
	Probability float64           `json:"probability"` // of this signal in this segment
}

func segments(sequence []reading.Segment) []SegmentDocument {
	docs := []SegmentDocument{}
	for _, s := range sequence {
		c := timedCandidate(s.TimedCandidate)
		docs = append(docs, SegmentDocument{c.State, c.Channel, c.Carrier, EdgeEnd(c.EdgeEnd), s.From.Milliseconds(),
			s.To.Milliseconds(), Rounded(s.Probability)})
	}
	return docs
}

// EdgeEnd returns the end of the range for a document, null if there is none.
func EdgeEnd(end blink.EdgeEnd) *blink.EdgeEnd {
	if end == blink.NoEnd {
		return nil
	}
	return &end
}

// LampDocument is a lamp in view: what it shows, and where it is.
type LampDocument struct {
	SegmentDocument
	X        float64 `json:"x"` // pixels from the left of the first picture
	Y        float64 `json:"y"` // pixels from its top
	Size     float64 `json:"size"`
	Doubtful bool    `json:"doubtful"`
}

// RecordingDocument says why a recording may be doubtful even though its best candidate
// is probable.
type RecordingDocument struct {
	Samples    int   `json:"samples"`
	LengthMS   int64 `json:"length_ms"`
	Unsteady   bool  `json:"unsteady"`
	Unchanging bool  `json:"unchanging"`
	// Stranger is the probability that the light does not follow the code.
	Stranger float64 `json:"stranger"`
	// Foreign is a frame that repeats but is not a frame of the code.
	Foreign string `json:"foreign,omitempty"`
}

// RecordedDocument is the pilot on the amplifier's record, judged.
type RecordedDocument struct {
	Pilot *PilotDocument `json:"pilot"`
	VerdictDocument
}

// ObserverDocument is who counted the marks, and which of their habits were weighed.
type ObserverDocument struct {
	Trainee  string `json:"trainee"`
	Marks    int    `json:"marks"`
	Missed   int    `json:"missed"`
	Doubled  int    `json:"doubled"`
	Mistaken int    `json:"mistaken"`
}

// Document is an answer for another program.
type Document struct {
	Schema     int                 `json:"schema"`
	Line       int                 `json:"line,omitempty"` // in a file of readings
	State      blink.State         `json:"state"`
	EdgeEnd    *blink.EdgeEnd      `json:"edge_end"`
	Pilot      *PilotDocument      `json:"pilot"` // null if there is none or none is certain
	Notation   string              `json:"notation"`
	CheckDigit string              `json:"check_digit"`
	Doubtful   bool                `json:"doubtful"`
	Confidence float64             `json:"confidence"` // of the best candidate
	Candidates []CandidateDocument `json:"candidates"`
	Lineup     *VerdictDocument    `json:"lineup"`             // null without a lineup or a pilot to judge
	Record     *VerdictDocument    `json:"record,omitempty"`   // by plan and record, if there is no lineup
	Recorded   *RecordedDocument   `json:"recorded,omitempty"` // if the amplifier has a pilot on record
	Amp        string              `json:"amp,omitempty"`
	Observer   *ObserverDocument   `json:"observer,omitempty"` // who counted, if known
	Named      []channelplan.Pilot `json:"named,omitempty"`    // by single looks, if they disagree
	Next       []string            `json:"next"`
	Design     *DesignDocument     `json:"design,omitempty"`    // levels at the pilot, by the amplifier's design
	Sequence   []SegmentDocument   `json:"sequence,omitempty"`  // if it was observed over time
	Lamps      []LampDocument      `json:"lamps,omitempty"`     // for video: all lamps in view
	UnitMS     int64               `json:"unit_ms,omitempty"`   // if it was observed over time: the length of a unit
	Recording  *RecordingDocument  `json:"recording,omitempty"` // if it was observed over time
}

// DesignDocument is what an amplifier's design requires at a pilot, in dBmV on the line;
// a test point shows test_point_db less. Null means not known.
type DesignDocument struct {
	InputDBmV   *float64 `json:"input_dbmv"`
	OutputDBmV  *float64 `json:"output_dbmv"`
	TestPointDB *float64 `json:"test_point_db"`
}

func (a *Answer) design() *DesignDocument {
	if r, _ := a.Shown(); r == nil || unusable(r) {
		return nil
	}
	e := a.expected(a.metered())
	if e.IsZero() {
		return nil
	}
	d := &DesignDocument{}
	known := func(x float64, known bool) *float64 {
		if !known {
			return nil
		}
		x = Tenths(x)
		return &x
	}
	d.InputDBmV, d.OutputDBmV = known(e.Input, e.InputKnown), known(e.Output, e.OutputKnown)
	d.TestPointDB = known(e.TestPointDB, e.TestPointDB > 0)
	return d
}

// Document returns the answer for another program.
func (a *Answer) Document() Document {
	d := Document{Schema: Schema, State: a.State, EdgeEnd: EdgeEnd(a.End), Notation: a.Marks(),
		CheckDigit: a.Check.String(), Doubtful: a.Doubtful, Named: a.Named}
	d.Design = a.design()
	for _, s := range a.Next {
		d.Next = append(d.Next, s.Text)
	}
	if !a.Lamp().Checks() {
		d.CheckDigit = reading.Unread.String() // there is no check digit
	}
	if o := a.Observer; o != nil && len(a.Looks) > 0 {
		d.Observer = &ObserverDocument{o.Name, o.Marks, o.Missed, o.Doubled, o.Mistaken}
	}
	if a.Report != nil {
		d.Pilot = NewPilotDocument(a.Report, a.Plan)
		if a.Lineup != nil {
			d.Lineup = NewVerdictDocument(a.Report)
		} else if shown, _ := a.Shown(); shown != nil {
			d.Record = NewVerdictDocument(shown)
		}
	}
	switch r := a.Recording; {
	case r != nil:
		d.Confidence = Rounded(r.Best().Probability)
		d.UnitMS = r.Unit.Milliseconds()
		d.Recording = &RecordingDocument{r.Samples, r.Length.Milliseconds(), r.Unsteady, r.Still, Rounded(r.Stranger),
			r.NotAFrame}
		d.Candidates = listed(r.Candidates, timedCandidate)
		d.Sequence = segments(r.Sequence)
		d.Lamps = r.lampDocuments()
	case len(a.Looks) == 0:
		d.Confidence = 1 // the rhythm was given, not measured
		d.Candidates = []CandidateDocument{{State: d.State, Probability: 1}}
	case len(a.Rhythm) > 0:
		d.Candidates = a.rhythmCandidates()
		d.Confidence = d.Candidates[0].Probability
	default:
		d.Confidence = Rounded(a.Result.Best().Probability)
		d.Candidates = listed(a.Result.Candidates, func(c reading.Candidate) CandidateDocument {
			return CandidateDocument{State: max(a.State, blink.Locked), Channel: &c.Pilot.Channel,
				Carrier: &c.Pilot.Kind, Probability: c.Probability}
		})
	}
	if a.Recorded != nil {
		d.Recorded = &RecordedDocument{NewPilotDocument(a.Recorded, a.Plan), *NewVerdictDocument(a.Recorded)}
	}
	if a.Amplifier != nil {
		d.Amp = a.Amplifier.ID
	}
	return d
}

// Marks returns the marks that were counted or, for a recording, the frame of the pilot
// that it showed.
func (a *Answer) Marks() string {
	if a.Recording == nil {
		return blink.FormatFrames(a.Looks)
	}
	if p, ok := a.Pilot(); ok {
		if frame, err := a.Lamp().Encode(p); err == nil {
			return frame.String()
		}
	}
	return ""
}

func (r *Recording) lampDocuments() []LampDocument {
	if r.Clip == nil {
		return nil
	}
	docs := []LampDocument{}
	for _, l := range r.Clip.Lamps {
		told := segments(l.Sequence)
		docs = append(docs, LampDocument{told[len(told)-1], Tenths(l.X), Tenths(l.Y), Tenths(l.Size), l.Doubtful()})
	}
	return docs
}

// Tenths rounds to one decimal.
func Tenths(x float64) float64 { return math.Round(10*x) / 10 }

// Rounded rounds a probability to six decimals.
func Rounded(p float64) float64 { return math.Round(p*1e6) / 1e6 }
