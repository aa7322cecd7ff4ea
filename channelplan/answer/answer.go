// Package answer turns what was read from a lamp into what a technician is told: the
// pilot, or that it is doubtful and what to count again; the lock state; the verdict on
// the pilot; and what to do next.
//
// A [System] is what is known apart from the lamp. A [Reader] answers marks that were
// counted, [OfRecording] answers what was observed over time. An [Answer] can be given as
// sentences ([Answer.Told], [Answer.Verdict], [Answer.Next]), as a JSON document
// ([Answer.Document]), or as a record for a field book ([Answer.Reading]). The layout,
// and how a step is carried out, are up to the face: see [Step].
package answer

import (
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// System is what is known about the system and the place; any of it may be missing.
type System struct {
	Code      *blink.Code // the code that lamps use; nil is the Tally code, see [System.Lamp]
	Plan      channelplan.Plan
	Lineup    *lineup.Lineup
	Amplifier *lineup.Amplifier // its record in the inventory
	Today     time.Time         // the day to judge as of
	Color     string            // of the light, one of the code's; "" if nobody said
}

// fits reports whether a state can have the color that was seen.
func (s System) fits(state blink.State) bool {
	color := s.Lamp().ColorOf(state)
	return s.Color == "" || color == "" || color == s.Color
}

// Lamp returns the code that the system's lamps use.
func (s System) Lamp() *blink.Code {
	if s.Code == nil {
		return sheet.Tally()
	}
	return s.Code
}

// speaking returns the system with Code filled in.
func (s System) speaking() System {
	s.Code = s.Lamp()
	return s
}

// Context returns what a pilot is judged by besides the lineup.
func (s System) Context() lineup.Context {
	return lineup.Context{Amplifier: s.Amplifier, Today: s.Today}
}

// Judge judges a pilot by the lineup, or by the plan and the record if there is no
// lineup.
func (s System) Judge(p channelplan.Pilot) lineup.Report {
	if s.Lineup != nil {
		return s.Lineup.Check(p, s.Context())
	}
	return lineup.CheckRecord(p, s.Plan, s.Context())
}

// Prior gives equal weight to all pilots that the system's plan has, and almost none to
// others. A lineup does not change the weights: a pilot that is not in it is exactly what
// the user must hear about.
func (s System) Prior() func(channelplan.Pilot) float64 {
	return func(p channelplan.Pilot) float64 {
		if _, ok := s.Plan.Channel(p.Channel); !ok {
			return reading.OffPlan
		}
		return 1
	}
}

// TimedReader makes a reader for what was observed over time.
func (s System) TimedReader() *reading.TimedReader {
	return reading.NewTimedReader(s.Lamp(), reading.AssumedDurations, s.Prior())
}

// Observer is a person who counted marks, and how that person misreads them.
type Observer struct {
	Name string
	reading.Habits
}

// Reader answers readings in one system.
type Reader struct {
	system   System
	reader   *reading.Reader
	start    reading.Start
	observer *Observer
}

// NewReader makes a reader. The observer is the person who counted the marks, nil if that
// is not known.
func NewReader(s System, start reading.Start, observer *Observer) *Reader {
	model := reading.Assumed
	if observer != nil {
		model = observer.Tuned(model)
	}
	return &Reader{system: s, reader: reading.NewReader(s.Lamp(), model, s.Prior()), start: start, observer: observer}
}

// Answer is everything that follows from a reading.
type Answer struct {
	Situation
	Observer *Observer // who counted the looks; nil if not known
	// What was seen: looks or a recording, or neither if only the rhythm was given.
	Looks     []blink.Frame
	Recording *Recording
	Result    reading.Result // meaningless if there are no looks
	Check     reading.CheckDigit
	Next      []Step
	assumed   bool                 // nobody said that the state is locked
	checks    []reading.CheckDigit // of each look by itself, if there are several
}

// Of answers looks at a lamp, with what its rhythm showed, or the rhythm alone.
func (r *Reader) Of(looks []blink.Frame, told blink.Signal) *Answer {
	if _, most := r.system.Lamp().FrameLengths(); most == 1 && len(rhythmOf(r.system.Lamp(), looks)) == 0 {
		looks = singly(looks)
	}
	return r.of(looks, told, func() reading.Result { return r.reader.Read(looks, r.start) })
}

// singly returns every group as a look of its own, for a code whose frame is one group:
// people write such frames in a row.
func singly(looks []blink.Frame) []blink.Frame {
	var single []blink.Frame
	for _, look := range looks {
		for _, g := range look {
			single = append(single, blink.Frame{g})
		}
	}
	return single[:min(len(single), blink.MaxLooks)]
}

// OfTapped answers marks that were tapped along with a lamp. Their pauses allow several
// ways to group them, the most likely first.
func (r *Reader) OfTapped(ways []reading.Grouping, told blink.Signal) *Answer {
	if len(ways) == 0 {
		return r.Of(nil, told)
	}
	return r.of(ways[0].Looks, told, func() reading.Result { return r.reader.ReadGroupings(ways, r.start) })
}

func (r *Reader) of(looks []blink.Frame, told blink.Signal, read func() reading.Result) *Answer {
	a := &Answer{Situation: Situation{System: r.system.speaking(), State: told.State, End: told.End,
		StartUnseen: r.start == reading.StartUnseen}, Observer: r.observer, Looks: looks}
	if a.State == blink.NoState {
		a.State, a.assumed = blink.Locked, true
	}
	if len(looks) > 0 {
		a.Result = read()
		a.Check = r.reader.CheckDigit(looks, r.start, a.Result)
		a.Unconfirmed = a.Check != reading.Agrees
		a.Assumed = a.assumed
		a.Doubtful = a.Result.Best().Probability < a.needed()
		a.Same = len(looks) > 1 && a.Check == reading.Differs &&
			!slices.ContainsFunc(looks, func(f blink.Frame) bool { return !slices.Equal(f, looks[0]) })
		if told.State == blink.NoState && r.start == reading.StartSeen {
			a.Bars, a.Framed = barsBehind(a.Lamp(), looks[0])
			a.Doubtful = a.Doubtful || a.Bars > 0
		}
		if told.State == blink.NoState && told.End == blink.NoEnd {
			a.Rhythm = slices.DeleteFunc(rhythmOf(a.Lamp(), looks), func(s blink.State) bool { return !a.fits(s) })
			a.OffColor = len(a.Rhythm) == 0 && !a.fits(blink.Locked)
			a.Doubtful = a.Doubtful || len(a.Rhythm) > 0 || a.OffColor
			a.ByColor = a.apartByColor(a.Rhythm)
		}
	}
	if len(looks) > 1 && a.Lamp().Checks() {
		for _, look := range looks {
			a.checks = append(a.checks, r.reader.CheckDigit([]blink.Frame{look}, r.start, a.Result))
		}
	}
	if len(looks) > 1 {
		if named := r.reader.Named(looks, r.start); len(named) > 1 {
			a.Named = named
		}
	}
	if a.Doubtful && told.State == blink.NoState && (len(a.Rhythm) > 0 || !a.worthTelling()) {
		a.State = blink.NoState // only a frame shows a state
	}
	if a.Doubtful && len(a.Rhythm) == 0 {
		if a.worthTelling() {
			for _, d := range r.reader.Differences(looks, a.Result) {
				a.Counts = append(a.Counts, d.String())
			}
		}
		_, most := a.Lamp().FrameLengths()
		for _, look := range looks {
			a.RunsOn = a.RunsOn || len(look) > most
		}
	}
	a.judge()
	return a
}

// sureUnread is the probability from which a pilot is believed although the check digit of
// no look could be read.
const sureUnread = 0.99

// needed is the probability from which the pilot is believed.
func (a *Answer) needed() float64 {
	code := a.Lamp()
	least, most := code.FrameLengths()
	for _, look := range a.Looks {
		if _, ok := code.DigitOf(look[len(look)-1]); ok && len(look) >= least && len(look) <= most {
			return reading.Sure
		}
	}
	if !code.Checks() {
		return reading.Sure
	}
	return sureUnread
}

// barsBehind returns how many groups behind a frame were probably not groups: single long
// marks behind a whole frame are what the bars of state edge look like to a person who
// counts on. It also returns the frame's pilot.
func barsBehind(code *blink.Code, look blink.Frame) (bars int, framed channelplan.Pilot) {
	most := code.Bars(blink.EndHigh)
	for n := 1; n <= most && n < len(look); n++ {
		if look[len(look)-n] != blink.Group(blink.LongMark) {
			break
		}
		digits, ok := code.DigitsOf(look[:len(look)-n])
		if p, err := code.Pilot(digits); ok && err == nil {
			return n, p
		}
	}
	return 0, framed
}

// OfRecording answers what was observed over time.
func OfRecording(s System, r *Recording) *Answer {
	r.codeName = s.Lamp().Name
	if r.Still {
		r.Candidates = unchanging(s.Lamp())
	}
	r.inColor(s)
	best := r.Best().Signal
	a := &Answer{Situation: Situation{System: s.speaking(), State: best.State, End: best.End, FromTime: true,
		Tapped: r.Tapped, Places: r.places()}, Recording: r}
	a.Doubtful = r.Doubtful() || r.Unsteady || r.objection() != ""
	a.OffColor = r.offColor != ""
	a.ByColor = a.apartByColor(r.likelyStates())
	if _, ok := a.Pilot(); ok && s.Lamp().Checks() {
		a.Check = reading.Agrees // every codeword has its check digit
	}
	a.judge()
	return a
}

// apartByColor returns the likely states if only the color of the light, which nobody gave,
// tells the first two apart.
func (s System) apartByColor(likely []blink.State) []blink.State {
	if s.Color != "" || len(likely) < 2 {
		return nil
	}
	if a, b := s.Lamp().ColorOf(likely[0]), s.Lamp().ColorOf(likely[1]); a == "" || b == "" || a == b {
		return nil
	}
	return likely[:2]
}

// judge judges the pilot that was read and those on the amplifier's record, and works out
// what to do.
func (a *Answer) judge() {
	read, _ := a.Pilot()
	a.Report = a.judged(read)
	if amp := a.Amplifier; amp != nil && !read.IsZero() && read == amp.Slope.Pilot && read != amp.Pilot {
		// The lamp names the slope pilot: this is what its record and the steps are about.
		if at, ok := amp.AtSlope(); ok {
			a.Amplifier = &at
		}
	}
	if amp := a.Amplifier; amp != nil {
		a.Recorded, a.Spare, a.Slope = a.judged(amp.Pilot), a.judged(amp.Spare), a.judged(amp.Slope.Pilot)
	}
	a.Next = Steps(a.Situation)
}

// judged judges a pilot; it returns nil for the zero pilot.
func (a *Answer) judged(p channelplan.Pilot) *lineup.Report {
	if p.IsZero() {
		return nil
	}
	report := a.Judge(p)
	return &report
}

// worthTelling reports whether the likely candidates together have more than an even
// chance. Below that, what to count again is anybody's guess.
func (a *Answer) worthTelling() bool {
	sum := 0.0
	for _, c := range a.Result.Likely() {
		sum += c.Probability
	}
	return sum > 0.5
}

// Pilot returns the pilot if the lamp named one with certainty.
func (a *Answer) Pilot() (channelplan.Pilot, bool) {
	switch {
	case a.Doubtful:
		return channelplan.Pilot{}, false
	case a.Recording != nil:
		best := a.Recording.Best().Signal
		return best.Pilot, best.ShowsFrame()
	case len(a.Looks) == 0:
		return channelplan.Pilot{}, false
	}
	return a.Result.Best().Pilot, true
}

// NoteOnly reports whether the answer asks for nothing but to note the reading: the
// amplifier is locked on a usable pilot.
func (a *Answer) NoteOnly() bool {
	return !a.Doubtful && a.State == blink.Locked && a.Report != nil && a.Report.Verdict == lineup.Usable
}

// Shown returns the report to show: the one on the pilot that was read or, without one,
// the one on the recorded pilot, in which case asRecorded is true. It is nil if there is
// nothing to judge, or nothing to judge it by.
func (a *Answer) Shown() (r *lineup.Report, asRecorded bool) {
	if a.Report != nil {
		if a.Lineup == nil && a.Amplifier == nil && len(a.Report.Findings) == 0 {
			return nil, false
		}
		return a.Report, false
	}
	if a.Recorded != nil && !a.Doubtful {
		return a.weaker(), true
	}
	return nil, false
}

// BadPilot reports whether what was found about a pilot is bad news: it or, at an amplifier
// with two, the other one is not valid; or, if strict, it is usable with a caution only. It is
// not if nothing was found out, with a nil report.
func BadPilot(r *lineup.Report, strict bool) bool {
	return r != nil && (r.Verdict == lineup.Unusable || strict && r.Verdict == lineup.WithCare || otherInvalid(r))
}

// BadNews reports whether the answer is bad news: doubtful, an unusable pilot, be it the
// other one of an amplifier with two, or one of the states seeking, holding, fault and
// dark; if strict is set, also a caution and the states edge and steady.
func (a *Answer) BadNews(strict bool) bool {
	shown, _ := a.Shown()
	bad := a.Doubtful || BadPilot(shown, strict)
	switch a.State {
	case blink.Seeking, blink.Holding, blink.Fault, blink.Dark:
		return true
	case blink.Edge, blink.Steady:
		return bad || strict
	}
	return bad
}
