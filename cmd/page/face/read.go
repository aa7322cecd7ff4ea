package face

import (
	"context"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
)

// section is a label with the text under it.
type section struct {
	Label string `json:"label"`
	Lines []line `json:"lines"`
}

type line struct {
	Text  string `json:"text"`
	Table bool   `json:"table,omitempty"` // columns line up
}

// told is an answer as the page shows it.
type told struct {
	Headline string          `json:"headline"` // the pilot and the state in a few words
	Sure     bool            `json:"sure"`
	Bad      bool            `json:"bad"` // bad news
	Sections []section       `json:"sections"`
	Verdict  string          `json:"verdict,omitempty"` // usable, caution, unusable
	Next     []string        `json:"next"`
	Care     string          `json:"care"`
	Setting  []string        `json:"setting,omitempty"` // how to set the recorded pilot, if a step asks for it
	Document answer.Document `json:"document"`          // as decode --json has it
}

// tell converts an answer for the page.
func tell(a *answer.Answer) told {
	t := told{Sure: !a.Doubtful, Bad: a.BadNews(false), Care: answer.Caution, Document: a.Document(),
		Headline: headline(a)}
	for _, s := range a.Told() {
		t.Sections = append(t.Sections, sectionOf(s))
	}
	if v := a.Verdict(); v != nil {
		s := section{Label: v.Label, Lines: []line{{Text: v.Full}}}
		for _, finding := range v.Findings {
			s.Lines = append(s.Lines, line{Text: finding})
		}
		t.Sections, t.Verdict = append(t.Sections, s), v.Report.Verdict.String()
	}
	if lines := a.Meter(); lines != nil {
		t.Sections = append(t.Sections, sectionOf(answer.Section{Label: "Meter", Lines: lines}))
	}
	if a.NoteOnly() {
		t.Care = answer.CautionInShort
	}
	for _, s := range a.Next {
		t.Next = append(t.Next, stepOf(s))
		if s.Act == fault.ShowSetting {
			t.Setting = append(answer.Setting(a.Recorded.Pilot.String()), answer.Interrupts)
		}
	}
	return t
}

// noteReading notes an answer if the amplifier is known.
func (f *Face) noteReading(a *answer.Answer, who string) {
	if a.Amplifier != nil {
		f.note(a.Reading(who, f.Now()))
	}
}

func sectionOf(s answer.Section) section {
	out := section{Label: s.Label}
	for _, l := range s.Lines {
		out.Lines = append(out.Lines, line{l.Text, l.Table})
	}
	return out
}

// headline returns the text that can be read at arm's length.
func headline(a *answer.Answer) string {
	if a.Doubtful {
		return "Not sure"
	}
	if p, ok := a.Pilot(); ok {
		return strings.ToUpper(fmt.Sprintf("%v, %s", p, a.State.NameAt(a.End)))
	}
	return strings.ToUpper(a.State.NameAt(a.End))
}

// note keeps a record until the page fetches it.
func (f *Face) note(record any) { f.records = append(f.records, encoded(record)) }

// fetch returns what was noted since the last call, each as a line of a book.
func (f *Face) fetch(nothing) ([]json.RawMessage, error) {
	records := f.records
	f.records = nil
	if records == nil {
		records = []json.RawMessage{}
	}
	return records, nil
}

// decoding is what was seen, in the form that the command line's decode takes.
type decoding struct {
	Marks   string `json:"marks"`
	Digits  string `json:"digits"`
	State   string `json:"state"`
	EdgeEnd string `json:"edge_end"`
	NoStart bool   `json:"no_start"`
	Amp     string `json:"amp"`
	Who     string `json:"who"`
}

func (f *Face) decode(d decoding) (told, error) {
	var signal blink.Signal
	var err error
	if signal.State, signal.End, err = blink.ParseStateAt(d.State, d.EdgeEnd); err != nil {
		return told{}, err
	}
	if signal.End != blink.NoEnd && signal.State == blink.NoState {
		signal.State = blink.Edge
	}
	var looks []blink.Frame
	switch marks := strings.TrimSpace(d.Marks); {
	case marks != "" && strings.Trim(marks, "0123456789 ") == "":
		looks, err = f.lamp().ParseDigits(marks) // typed into the wrong field, but clear anyway
	case marks != "":
		looks, err = blink.ParseNotation(marks)
	case d.Digits != "":
		looks, err = f.lamp().ParseDigits(d.Digits)
	case signal.State == blink.NoState:
		return told{}, &fault.Error{Text: "there is nothing to read",
			Hint: "type what the lamp showed, for instance _.. . _. _.., or pick its rhythm"}
	}
	if err != nil {
		return told{}, fault.In("marks", err, "")
	}
	sys, err := f.at(d.Amp)
	if err != nil {
		return told{}, err
	}
	a := f.readerOf(sys, d.NoStart).Of(looks, signal)
	f.noteReading(a, d.Who)
	return tell(a), nil
}

// readerOf returns a reader of marks. Readers are reused if no amplifier is known.
func (f *Face) readerOf(sys answer.System, noStart bool) *answer.Reader {
	start, kept := reading.StartSeen, &f.reader
	if noStart {
		start, kept = reading.StartUnseen, &f.unseen
	}
	if sys.Amplifier != nil {
		return answer.NewReader(sys, start, nil)
	}
	if *kept == nil {
		*kept = answer.NewReader(sys, start, nil)
	}
	return *kept
}

func (f *Face) timedReader() *reading.TimedReader {
	if f.timed == nil {
		f.timed = answer.System{Code: f.lamp(), Plan: f.plan}.TimedReader()
	}
	return f.timed
}

// size is the size of pictures in pixels.
type size struct {
	Width  int `json:"width"`
	Height int `json:"height"`
}

// mostPixels is the size of the largest picture: the page does not send larger ones.
const mostPixels = 4 << 20

// begin starts watching pictures.
func (f *Face) begin(s size) (nothing, error) {
	if s.Width < 1 || s.Height < 1 || s.Width > mostPixels/s.Height {
		return nothing{}, fmt.Errorf("pictures of %d x %d can't be watched", s.Width, s.Height)
	}
	f.size, f.live = s, capture.NewLive(s.Width, s.Height)
	return nothing{}, nil
}

// look analyzes the pictures so far.
func (f *Face) look(nothing) (*capture.Seen, error) {
	if f.live == nil {
		return &capture.Seen{}, nil
	}
	return f.live.Look(), nil
}

// seen is what was found in pictures, and where.
type seen struct {
	Seen *capture.Seen `json:"seen"`
	At   *answer.Place `json:"at"` // the lamp that is meant, if someone tapped it
	Amp  string        `json:"amp"`
	Who  string        `json:"who"`
	// Note requests that the answer be noted; it is not set while someone is still
	// watching.
	Note bool `json:"note"`
}

// watched is what the lamps in view show so far.
type watched struct {
	told
	Lamps  []spotted  `json:"lamps"`
	Advice string     `json:"advice"` // what is missing, if anything
	Marks  string     `json:"marks"`  // as counted so far
	Can    []possible `json:"can"`    // what it may be
}

// spotted is a lamp in view, to be marked in the picture.
type spotted struct {
	X    float64 `json:"x"`
	Y    float64 `json:"y"`
	Size float64 `json:"size"`
	Sure bool    `json:"sure"`
	This bool    `json:"this"` // the answer is about this one
	Is   bool    `json:"lamp"` // it follows the code
}

type possible struct {
	What        string  `json:"what"`
	Probability string  `json:"probability"`
	Share       float64 `json:"share"`
}

// A lamp less than fewPixels wide is hard to follow; at most mostPossible candidates are
// shown.
const (
	fewPixels    = 4
	mostPossible = 4
)

func (f *Face) read(s seen) (watched, error) {
	w := watched{Lamps: []spotted{}, Can: []possible{}}
	sys, err := f.at(s.Amp)
	if err != nil {
		return w, err
	}
	if s.Seen == nil || s.Seen.Pictures < 2 {
		w.Advice = "Aim at the lamp."
		return w, nil
	}
	clip, err := s.Seen.Read(context.Background(), f.timedReader())
	if err != nil {
		return w, err
	}
	a := answer.OfRecording(sys, answer.OfClip(clip, s.At))
	w.told = tell(a)
	if s.Note {
		f.noteReading(a, s.Who)
	}
	r := a.Recording
	for i := range clip.Lamps {
		l := &clip.Lamps[i]
		w.Lamps = append(w.Lamps, spotted{l.X, l.Y, l.Size, !l.Doubtful(), l == r.Lamp, true})
	}
	if len(clip.Lamps) == 0 && clip.Unread != nil {
		l := clip.Unread
		w.Lamps = append(w.Lamps, spotted{l.X, l.Y, l.Size, false, true, false})
	}
	switch {
	case r.Lamp == nil:
		w.Advice = "Nothing blinks yet. Aim at the lamp, come close, and hold still."
	case a.Doubtful && r.Lamp.Size < fewPixels:
		w.Advice = "Come closer: the lamp is small in the picture."
	case r.Unsteady:
		w.Advice = "Hold still, and shade the lamp from the sun."
	case a.Doubtful && s.Seen.Length < 20*time.Second:
		w.Advice = "Hold still: counting."
	case a.Doubtful && a.Places != nil:
		w.Advice = "Two lamps: tap the one you mean."
	case a.Doubtful:
		w.Advice = "Hold still. If this goes on, count the marks yourself."
	}
	if r.Lamp != nil && r.Unit > 0 {
		for _, b := range s.Seen.Blinking {
			if b.X == r.Lamp.X && b.Y == r.Lamp.Y && len(b.Pieces) > 0 {
				w.Marks = marksOf(f.lamp(), b.Pieces[len(b.Pieces)-1].Intervals, r.Unit)
			}
		}
	}
	for i, c := range r.Candidates {
		if i == mostPossible || c.Probability < 0.02 || r.Still {
			break
		}
		w.Can = append(w.Can, possible{answer.SignalText(c.Signal), wording.Percent(c.Probability), c.Probability})
	}
	return w, nil
}

// mostMarks is how many of the counted marks are shown.
const mostMarks = 60

// marksOf writes light as it would be counted: short and long marks, groups, and // for
// the long dark.
func marksOf(code *blink.Code, light []blink.Interval, unit time.Duration) string {
	t := code.Timing
	between := func(a, b int) time.Duration { return time.Duration(a+b) * unit / 2 }
	var b strings.Builder
	for i, iv := range light {
		switch {
		case i == 0 || i == len(light)-1 && !iv.Lit:
		case iv.Lit && iv.Duration > between(t.Short, t.Long):
			b.WriteByte(blink.LongMark)
		case iv.Lit:
			b.WriteByte(blink.ShortMark)
		case iv.Duration > between(t.GroupGap, t.Rest):
			b.WriteString(" // ")
		case iv.Duration > between(t.MarkGap, t.GroupGap):
			b.WriteByte(' ')
		}
	}
	text := strings.TrimSpace(b.String())
	if len(text) > mostMarks {
		text = text[len(text)-mostMarks:]
		if _, rest, ok := strings.Cut(text, " "); ok {
			text = rest
		}
	}
	return text
}

// checking is a pilot to be judged.
type checking struct {
	Channel string `json:"channel"` // a number, or the frequency of a cw carrier in MHz
	Carrier string `json:"carrier"`
	Amp     string `json:"amp"`
}

// judged is the result of judging a pilot.
type judged struct {
	Verdict  string    `json:"verdict"`
	Headline string    `json:"headline"`
	Sections []section `json:"sections"`
}

func (f *Face) check(c checking) (judged, error) {
	sys, err := f.at(c.Amp)
	if err != nil {
		return judged{}, err
	}
	kind, err := channelplan.ParsePilotKind(c.Carrier)
	if err != nil {
		return judged{}, err
	}
	p := channelplan.Pilot{Kind: kind}
	if kind == channelplan.CW && strings.Contains(c.Channel, ".") {
		p.FrequencyHz, err = channelplan.ParseMHz(c.Channel)
	} else {
		p.Channel, err = channelplan.ParseChannel(c.Channel)
	}
	if err != nil {
		return judged{}, err
	}
	r := sys.Judge(p)
	j := judged{Verdict: r.Verdict.String(), Headline: answer.VerdictWords(&r)}
	j.Sections = append(j.Sections, section{"Pilot", []line{{Text: answer.Describe(&r, sys.Plan)}}})
	by := section{Label: "Plan",
		Lines: []line{{Text: j.Headline +
			": judged only by the channel plan. Open the lineup under Files to see more."}}}
	if sys.Lineup != nil {
		by = section{Label: "Lineup", Lines: []line{{Text: answer.VerdictText(&r, sys.Lineup, "", true)}}}
	}
	rules := section{Label: "Rules"}
	for _, finding := range r.Findings {
		rules.Lines = append(rules.Lines, line{Text: answer.FindingText(finding) + " (" + finding.Source + ")"})
	}
	if len(r.Findings) == 0 {
		rules.Lines = []line{{Text: "No problems found."}}
	}
	j.Sections = append(j.Sections, by, rules)
	return j, nil
}

// nearing asks which channel holds a frequency, or where a channel is.
type nearing struct {
	MHz string `json:"mhz"`
}

// channelAt is a channel with its frequencies, in MHz.
type channelAt struct {
	Says     string      `json:"says"`
	Channels [][2]string `json:"rows"` // name and frequency
}

func (f *Face) near(n nearing) (channelAt, error) {
	text := strings.TrimSuffix(strings.TrimSpace(strings.ToLower(n.MHz)), "mhz")
	var at channelAt
	var c channelplan.Channel
	if number, err := strconv.Atoi(strings.TrimSpace(text)); err == nil && number <= channelplan.LastExtended {
		// A number up to the last channel is a channel: nothing is carried at so few MHz.
		var ok bool
		if c, ok = f.plan.Channel(number); !ok {
			return at, &fault.Error{Text: fmt.Sprintf("the %s plan has no channel %d", f.plan.Name(), number),
				Hint: fmt.Sprintf("channels run from %d to %d", channelplan.FirstChannel, channelplan.LastExtended)}
		}
		at.Says = fmt.Sprintf("Channel %d (%s).", number, f.plan.Name())
	} else {
		hz, err := channelplan.ParseMHz(text)
		if err != nil {
			return at, err
		}
		var place channelplan.Place
		c, place = f.plan.Find(hz)
		at.Says = strings.Join(answer.NearText(c, place, hz, ""), " ")
	}
	for _, row := range []struct {
		what string
		hz   int64
	}{{"low edge", c.LowHz()}, {"visual", c.VisualHz()}, {"color", c.ChromaHz()}, {"aural", c.AuralHz()},
		{"center", c.CenterHz()}, {"high edge", c.HighHz()}} {
		at.Channels = append(at.Channels, [2]string{row.what, channelplan.FormatMHz(row.hz) + " MHz"})
	}
	return at, nil
}

// expected is what an amplifier's lamp should show.
type expected struct {
	Says  string `json:"says"`
	Marks string `json:"marks,omitempty"`
}

func (f *Face) expected(c checking) (expected, error) {
	sys, err := f.at(c.Amp)
	if err != nil || sys.Amplifier == nil {
		return expected{}, err
	}
	a := sys.Amplifier
	if a.Mode != lineup.AGC || a.Pilot.IsZero() {
		return expected{Says: fmt.Sprintf("%s is %v by design: no pilot.", a.ID, a.Mode)}, nil
	}
	own := sys.Judge(a.Pilot)
	e := expected{Says: fmt.Sprintf("%s: recorded pilot %v, %s.", a.ID, a.Pilot, answer.VerdictWords(&own))}
	if frame, err := f.lamp().Encode(a.Pilot); err == nil {
		e.Marks = frame.String()
	}
	return e, nil
}
