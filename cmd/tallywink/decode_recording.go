package main

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup/nextstep"
	"tallywink.example/cmd/tallywink/console"
)

// recording is what a lamp's recording came to.
type recording struct {
	reading.TimedResult
	codeName string // what the lamp is taken to speak
	samples  int
	length   time.Duration
	unsteady bool // the light moved more than the lamp
	still    bool // nothing moved at all
	// tapped tells that a person tapped each change of the light.
	tapped bool
	// Of moving pictures: all that was found, the lamp that the answer is of,
	// and whether there are others that tell something else and none was
	// named.
	clip    *capture.Clip
	lamp    *capture.Lamp
	several bool
	// noLamp tells that nothing in view is clearly a lamp: the lamp is then
	// what blinks most clearly.
	noLamp bool
	// exact tells that each change has its own time, however few there are.
	exact bool
}

// unchanging are the candidates where nothing changes: brightness alone does
// not tell a lamp that is always lit from one that is always dark.
func unchanging() []reading.TimedCandidate {
	return []reading.TimedCandidate{{Signal: blink.Signal{State: blink.Steady}, Probability: 0.5}, {Signal: blink.Signal{State: blink.Dark}, Probability: 0.5}}
}

// fromTrace answers a brightness trace.
func (d *decoding) fromTrace(out *console.Console, sys system) (int, error) {
	in, err := openInput(out, d.trace, "name a CSV file of seconds,brightness")
	if err != nil {
		return 0, err
	}
	defer in.Close()
	trace, err := capture.ReadTrace(in)
	if err != nil {
		return 0, fault.In(nameOfInput(d.trace), err, "copy the file afresh")
	}
	r := &recording{samples: trace.Samples, length: trace.Length, unsteady: trace.Unsteady, still: trace.Unchanging}
	if trace.Unchanging {
		r.Candidates = unchanging()
	} else {
		bar := console.NewBar(out, "weighing the light", nil)
		r.TimedResult = sys.timedReader().ReadPieces(trace.Pieces, func(done, of int) { bar.Show(fmt.Sprintf("%d parts of %d", done, of)) })
		bar.Clear()
	}
	return d.tellAndNote(out, timedAnswer(sys, r), d.amps, d.json)
}

// timedAnswer puts an answer together from a recording.
func timedAnswer(sys system, r *recording) *answer {
	r.codeName = sys.lamp().Name
	best := r.Best().Signal
	a := &answer{system: sys, recording: r, state: best.State, end: best.End}
	if _, ok := a.pilot(); ok && sys.lamp().Checks() {
		a.check = reading.Agrees // every codeword has its check digit
	}
	s := a.judgeAll()
	s.FromTime, s.InView = true, r.inView()
	a.next = nextstep.Steps(s)
	return a
}

// fewSamples a second are asked for, to see a short mark; a frame that was read
// from fewer than sparse is not believed.
const (
	fewSamples = 10
	sparse     = 8
)

// sparse tells that pulses were sampled too seldom to be counted. A slow rhythm that
// is surely one was not.
func (r *recording) sparse() bool {
	rate := float64(r.samples) / r.length.Seconds()
	switch {
	case r.tapped || r.exact || len(r.Candidates) == 0:
		return false
	case r.Doubtful():
		return rate < fewSamples
	}
	return rate < sparse && r.Best().Signal.State.ShowsFrame()
}

// readBlock says what was recorded, and what the lamp told before the answer.
func (r *recording) readBlock() console.Block {
	if r.clip != nil {
		return r.before(console.Section("Read", r.clipText()+"."))
	}
	what := console.Counted(r.samples, "sample", "samples")
	if r.tapped {
		what = console.Counted(r.samples, "tap", "taps")
	}
	text := fmt.Sprintf("%.1f s in %s", r.length.Seconds(), what)
	switch {
	case r.still && float64(r.samples) < fewSamples*r.length.Seconds():
		text += fmt.Sprintf("; that is too few, %d a second are needed", fewSamples)
	case r.still:
		text += "; no two levels as of a lamp: always lit, always dark, or the light around it moves more than the lamp"
	case r.unsteady:
		text += "; the light around the lamp moved more than the lamp, so this can't be trusted"
	case r.Unit > 0:
		text += fmt.Sprintf("; a unit is %d ms", r.Unit.Milliseconds())
	}
	return r.before(console.Section("Read", text+"."))
}

// before adds what the lamp told before the answer.
func (r *recording) before(b console.Block) console.Block {
	if n := len(r.Sequence); n > 1 {
		var told []string
		for _, s := range r.Sequence[max(0, n-3) : n-1] { // the last two before
			what := signalText(s.Signal)
			if s.Probability < reading.Sure {
				what = "unclear"
			}
			told = append(told, fmt.Sprintf("%s until %.0f s", what, s.To.Seconds()))
		}
		b.Lines = append(b.Lines, console.Wrap("Before: "+strings.Join(told, ", ")+".", console.TextWidth)...)
	}
	return b
}

// signalText names a signal in short: 'locked on 116 digital', 'seeking'.
func signalText(s blink.Signal) string {
	text := s.State.NameAt(s.End)
	if s.State.ShowsFrame() {
		text += fmt.Sprintf(" on %v", s.Pilot)
	}
	return text
}

// objection says why a recording is doubtful however probable its best
// candidate is; empty where there is no such reason.
func (r *recording) objection() string {
	switch {
	case r.several:
		return "there is more than one lamp, and they tell different things."
	case r.still && r.clip != nil:
		return "the lamp is always lit, always dark, too small or out of the picture. A clip shows only what blinks."
	case r.sparse():
		return fmt.Sprintf("%d a second are too few to count pulses by. Record ten or more a second.", int(float64(r.samples)/r.length.Seconds()))
	case r.Foreign != "" && r.Stranger > 0.05:
		return fmt.Sprintf("the lamp shows %s again and again, and that is no frame: a group is not as it should be.", r.Foreign)
	case r.noLamp || r.Stranger > 0.5:
		return fmt.Sprintf("this light does not clearly follow the %s code. Another kind of lamp, or something before it?", console.Shown(r.codeName))
	}
	return ""
}

// doubtBlock names the likeliest signals where none is sure.
func (r *recording) doubtBlock() console.Block {
	if why := r.objection(); why != "" {
		return console.Section("Told", "doubtful: "+why)
	}
	lines := []string{fmt.Sprintf("doubtful: the likeliest has %s, and %.0f%% is needed.", percent(r.Best().Probability), 100*reading.Sure)}
	if r.unsteady && !r.Doubtful() {
		lines[0] = "doubtful: the recording is not steady enough to be believed."
	}
	if r.Best().Probability < 0.05 {
		return console.Block{Label: "Told", Lines: append(lines, console.Wrap("It can still be: "+r.states()+".", console.TextWidth)...)}
	}
	for i, c := range r.Candidates {
		if i == 3 || c.Probability < 0.05 {
			break
		}
		lines = append(lines, fmt.Sprintf("%5s  %s", percent(c.Probability), signalText(c.Signal)))
	}
	return console.Block{Label: "Told", Lines: lines}
}

// states says which states a recording leaves open, whatever the pilot, the
// likeliest first.
func (r *recording) states() string {
	sums := map[blink.State]float64{}
	for _, c := range r.Candidates {
		sums[c.Signal.State] += c.Probability
	}
	states := blink.States()
	slices.SortStableFunc(states, func(a, b blink.State) int { return cmp.Compare(sums[b], sums[a]) })
	var open []string
	for _, s := range states {
		if p := sums[s]; p >= 0.01 {
			open = append(open, fmt.Sprintf("%v %s", s, percent(p)))
		}
	}
	return strings.Join(open, ", ")
}

type segmentDoc struct {
	State   string  `json:"state"`
	Channel *int    `json:"channel"`
	Carrier *string `json:"carrier"`
	EdgeEnd *string `json:"edge_end"`
	FromMS  int64   `json:"from_ms"`
	ToMS    int64   `json:"to_ms"`
	// Probability is that of this signal in its time.
	Probability float64 `json:"probability"`
}

// recordingDoc is why a recording may be doubtful though its best candidate
// is probable.
type recordingDoc struct {
	Samples    int   `json:"samples"`
	LengthMS   int64 `json:"length_ms"`
	Unsteady   bool  `json:"unsteady"`
	Unchanging bool  `json:"unchanging"`
	// Stranger is the probability that the light does not follow the code.
	Stranger float64 `json:"stranger"`
	// Foreign is the frame that is shown again and again and is none.
	Foreign string `json:"foreign,omitempty"`
}

func segmentDocs(sequence []reading.Segment) []segmentDoc {
	docs := []segmentDoc{}
	for _, s := range sequence {
		c := timedCandidateDoc(s.TimedCandidate)
		docs = append(docs, segmentDoc{c.State, c.Channel, c.Carrier, c.EdgeEnd, s.From.Milliseconds(), s.To.Milliseconds(), rounded(s.Probability)})
	}
	return docs
}

func timedCandidateDoc(c reading.TimedCandidate) candidateDoc {
	d := candidateDoc{State: c.Signal.State.String(), Probability: rounded(c.Probability)}
	if c.Signal.State.ShowsFrame() {
		d.Channel = &c.Signal.Pilot.Channel
		kind := c.Signal.Pilot.Kind.String()
		d.Carrier = &kind
	}
	d.EdgeEnd = edgeEndDoc(c.Signal.End)
	return d
}
