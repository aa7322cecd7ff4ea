package answer

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/wording"
)

// Recording is the result of observing a lamp over time. It is made by [OfTrace],
// [OfClip] or [OfTaps].
type Recording struct {
	reading.TimedResult
	Samples  int           // or pictures, or taps
	Length   time.Duration // from the first to the last
	Unsteady bool          // the light changed more than a lamp's does
	Still    bool          // nothing changed at all
	// Tapped reports that a person tapped each change of the light.
	Tapped bool
	// For video: everything that was found, the lamp that the answer is about, and
	// whether other lamps show something else and none was chosen.
	Clip    *capture.Clip
	Lamp    *capture.Lamp
	several bool
	// noLamp reports that nothing in view is clearly a lamp: the lamp is then whatever
	// blinks most clearly.
	noLamp bool
	// exact reports that each change has its own time, however few there are.
	exact    bool
	codeName string // the code that the lamp is assumed to use
	offColor string // the color that was seen, if the code shows nothing like this in it
}

// unchanging returns the candidates if nothing changes: brightness alone can't
// distinguish a lamp that is always lit from one that is always dark.
func unchanging(code *blink.Code) []reading.TimedCandidate {
	return []reading.TimedCandidate{{Signal: blink.Signal{State: code.Unchanging(true)}, Probability: 0.5},
		{Signal: blink.Signal{State: blink.Dark}, Probability: 0.5}}
}

// inColor leaves out what is not shown in the color that was seen. If hardly anything is left
// it leaves all as it is, and sets offColor.
func (r *Recording) inColor(s System) {
	if s.Color == "" || len(r.Candidates) == 0 {
		return
	}
	sum := 0.0
	var fit []reading.TimedCandidate
	for _, c := range r.Candidates {
		if s.fits(c.Signal.State) {
			fit, sum = append(fit, c), sum+c.Probability
		}
	}
	const hardly = 1e-3
	if sum < hardly {
		r.offColor = s.Color
		return
	}
	for i := range fit {
		fit[i].Probability /= sum + r.Stranger
	}
	r.Stranger /= sum + r.Stranger
	r.Candidates = fit
	if n := len(r.Sequence); n > 0 {
		r.Sequence[n-1].TimedCandidate = fit[0]
	}
}

// likelyStates returns the states of the most likely signals, as long as they are about as
// likely as the first.
func (r *Recording) likelyStates() []blink.State {
	var likely []blink.State
	for _, c := range r.Candidates {
		if c.Probability < r.Candidates[0].Probability/3 {
			break
		}
		if !slices.Contains(likely, c.Signal.State) {
			likely = append(likely, c.Signal.State)
		}
	}
	return likely
}

// OfTrace reads the light of a brightness trace. It calls told, if not nil, with how many
// of the parts have been weighed. The error is the context's.
func OfTrace(ctx context.Context, trace *capture.Trace, reader *reading.TimedReader,
	told func(done, of int)) (*Recording, error) {
	r := &Recording{Samples: trace.Samples, Length: trace.Length, Unsteady: trace.Unsteady, Still: trace.Unchanging}
	if trace.Unchanging {
		return r, nil
	}
	var err error
	r.TimedResult, r.Unsteady, err = trace.Read(ctx, reader, told)
	return r, err
}

// OfTaps reads changes of the light that a person tapped.
func OfTaps(light []blink.Interval, taps int, length time.Duration, reader *reading.TimedReader) *Recording {
	return &Recording{TimedResult: reader.ReadTapped(light), Samples: taps, Length: length, Tapped: true}
}

// Place is a place in a picture, in pixels from its upper left corner.
type Place struct{ X, Y float64 }

// OfClip collects what a clip's lamps show. If there are several lamps, the answer is
// about the one nearest to at, if given, else about the most certain one.
func OfClip(clip *capture.Clip, at *Place) *Recording {
	r := &Recording{Samples: clip.Pictures, Length: clip.Length, Clip: clip, exact: !clip.Even}
	lamps := clip.Lamps
	switch {
	case len(lamps) == 0 && clip.Unread != nil:
		r.Lamp, r.noLamp = clip.Unread, true
		r.TimedResult, r.Unsteady = r.Lamp.TimedResult, r.Lamp.Unsteady
	case len(lamps) == 0:
		r.Still = true
	default:
		r.Lamp = &lamps[0]
		for i := range lamps {
			if at != nil && distance(lamps[i], *at) < distance(*r.Lamp, *at) {
				r.Lamp = &lamps[i]
			}
		}
		r.TimedResult, r.Unsteady = r.Lamp.TimedResult, r.Lamp.Unsteady
		for i := range lamps {
			r.several = r.several || at == nil && lamps[i].Best().Signal != r.Lamp.Best().Signal
		}
	}
	return r
}

func distance(l capture.Lamp, p Place) float64 { return math.Hypot(l.X-p.X, l.Y-p.Y) }

// places returns where lamps are that show different things, if none was chosen.
func (r *Recording) places() []Place {
	if !r.several {
		return nil
	}
	var places []Place
	for _, l := range r.Clip.Lamps {
		places = append(places, Place{l.X, l.Y})
	}
	return places
}

// fewSamples a second are needed to see a short mark; a frame that was read from
// fewer than sparse, or than one a unit, is not believed.
const (
	fewSamples = 10
	sparse     = 8
)

// sparse reports whether pulses were sampled too seldom to be counted. A slow rhythm that
// was read with certainty was not.
func (r *Recording) sparse() bool {
	rate := float64(r.Samples) / r.Length.Seconds()
	switch {
	case r.Tapped || r.exact || len(r.Candidates) == 0:
		return false
	case r.Doubtful():
		return rate < fewSamples
	}
	perUnit := rate * r.Unit.Seconds()
	return (rate < sparse || r.Unit > 0 && perUnit < 1) && r.Best().Signal.ShowsFrame()
}

// objection returns why a recording is doubtful however probable its best candidate is;
// empty if there is no reason.
func (r *Recording) objection() string {
	switch {
	case r.offColor != "":
		return fmt.Sprintf("nothing that this code shows in %s looks like it.", r.offColor)
	case r.several:
		return "there is more than one lamp, and they show different things."
	case r.Still && r.Clip != nil:
		return "the lamp is always lit, always dark, too small or out of the picture. A clip shows only what blinks."
	case r.sparse():
		return fmt.Sprintf("%d a second is too few to count pulses. Record ten or more a second.",
			int(float64(r.Samples)/r.Length.Seconds()))
	case r.NotAFrame != "" && r.Stranger > 0.05:
		return fmt.Sprintf("the lamp keeps showing %s, and that is not a frame: one group is wrong.", r.NotAFrame)
	case r.noLamp || r.Stranger > 0.5:
		return fmt.Sprintf("this light does not clearly follow the %s code. Is it another kind of lamp, or is something in front of it?",
			wording.Harmless(r.codeName))
	}
	return ""
}

// read says what was recorded, and what the lamp showed before the answer.
func (r *Recording) read() Section {
	if r.Clip != nil {
		return Section{"Read", append([]Line{{Text: r.clipText() + "."}}, r.before()...)}
	}
	what := wording.Counted(r.Samples, "sample", "samples")
	if r.Tapped {
		what = wording.Counted(r.Samples, "tap", "taps")
	}
	text := fmt.Sprintf("%.1f s in %s", r.Length.Seconds(), what)
	switch {
	case r.Still && float64(r.Samples) < fewSamples*r.Length.Seconds():
		text += fmt.Sprintf("; that is too few: it takes %d a second", fewSamples)
	case r.Still:
		text += "; it does not go on and off like a lamp: always lit, always dark, or the light around it changes more than the lamp"
	case r.Unsteady:
		text += "; the light around the lamp changed more than the lamp, so do not trust this"
	case r.Unit > 0:
		text += fmt.Sprintf("; a unit is %d ms", r.Unit.Milliseconds())
	}
	return Section{"Read", append([]Line{{Text: text + "."}}, r.before()...)}
}

// before says what the lamp showed before the answer: the last two signals. What can't be
// trusted as a whole can't be trusted in parts.
func (r *Recording) before() []Line {
	n := len(r.Sequence)
	if n < 2 || r.Unsteady {
		return nil
	}
	var told []string
	for _, s := range r.Sequence[max(0, n-3) : n-1] {
		what := SignalText(s.Signal)
		if s.Probability < reading.Sure {
			what = "unclear"
		}
		told = append(told, fmt.Sprintf("%s until %.0f s", what, s.To.Seconds()))
	}
	return []Line{{Text: "Before: " + strings.Join(told, ", ") + "."}}
}

// SignalText returns a short name for a signal: 'locked on 116 digital', 'seeking'.
func SignalText(s blink.Signal) string {
	text := s.State.NameAt(s.End)
	if s.ShowsFrame() {
		text += fmt.Sprintf(" on %v", s.Pilot)
	}
	return text
}

// doubt lists the most likely signals if none is certain.
func (r *Recording) doubt() Section {
	if why := r.objection(); why != "" {
		return Section{"Reading", []Line{{Text: "doubtful: " + why}}}
	}
	if r.Unsteady && !r.Doubtful() { // how likely it would be counts for nothing then
		return Section{"Reading", []Line{{Text: fmt.Sprintf(
			"doubtful: the recording is not steady enough to trust. It looks like '%s', and so can light that changes around a lamp.",
			SignalText(r.Best().Signal))}}}
	}
	lines := []Line{{Text: likeliest(r.Best().Probability, reading.Sure), Table: true}}
	if r.Best().Probability < 0.05 {
		return Section{"Reading", append(lines, Line{Text: "It could still be: " + r.states() + "."})}
	}
	for i, c := range r.Candidates {
		if i == 3 || c.Probability < 0.05 {
			break
		}
		lines = append(lines, Line{fmt.Sprintf("%5s  %s", wording.Percent(c.Probability), SignalText(c.Signal)), true})
	}
	return Section{"Reading", lines}
}

// states lists the states that a recording leaves open, whatever the pilot, the most
// likely first.
func (r *Recording) states() string {
	sums := map[blink.State]float64{}
	for _, c := range r.Candidates {
		sums[c.Signal.State] += c.Probability
	}
	states := blink.States()
	slices.SortStableFunc(states, func(a, b blink.State) int { return cmp.Compare(sums[b], sums[a]) })
	var open []string
	for _, s := range states {
		if p := sums[s]; p >= 0.01 {
			open = append(open, fmt.Sprintf("%v %s", s, wording.Percent(p)))
		}
	}
	return strings.Join(open, ", ")
}

// whereText says where in the picture a lamp is: '212,96 (upper right)'.
func whereText(clip *capture.Clip, l *capture.Lamp) string {
	third := func(at float64, size int, low, high string) string {
		switch {
		case at < float64(size)/3:
			return low
		case at > float64(size)*2/3:
			return high
		}
		return ""
	}
	words := strings.TrimSpace(third(l.Y, clip.Height, "upper", "lower") + " " +
		third(l.X, clip.Width, "left", "right"))
	if words == "" {
		words = "middle"
	}
	return fmt.Sprintf("%.0f,%.0f (%s)", l.X, l.Y, words)
}

// clipText says what was filmed, and where the lamp was found.
func (r *Recording) clipText() string {
	text := fmt.Sprintf("%.1f s in %s of %d x %d", r.Length.Seconds(),
		wording.Counted(r.Samples, "picture", "pictures"), r.Clip.Width, r.Clip.Height)
	switch {
	case r.Still:
		return text + "; nothing in them blinks like a lamp"
	case len(r.Clip.Lamps) == 0:
		return text + "; the clearest blinking is at " + whereText(r.Clip, r.Lamp)
	case r.Unit > 0:
		text += fmt.Sprintf("; a unit is %d ms", r.Unit.Milliseconds())
	}
	size := max(int(math.Round(r.Lamp.Size)), 1)
	return text + fmt.Sprintf(". Lamp at %s, %s wide", whereText(r.Clip, r.Lamp),
		wording.Counted(size, "pixel", "pixels"))
}

// lamps describes each lamp in view.
func (r *Recording) lamps() Section {
	s := Section{Label: "Lamps"}
	for i := range r.Clip.Lamps {
		l := &r.Clip.Lamps[i]
		told := SignalText(l.Best().Signal)
		if l.Doubtful() {
			told = "doubtful, most likely " + told
		}
		mark := ""
		if l == r.Lamp && !r.several {
			mark = " - this answer"
		}
		s.Lines = append(s.Lines, Line{fmt.Sprintf("%s: %s%s", whereText(r.Clip, l), told, mark), true})
	}
	return s
}
