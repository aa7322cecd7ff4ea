package picture

import (
	"fmt"
	"io"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/drawing"
)

// Dimensions of the timeline, in pixels.
const (
	unitWidth   = 12
	margin      = 24
	pulseTop    = 44
	pulseHeight = 28
	labelBelow  = 20 // from the foot of the pulses to the names of the groups
	footBelow   = 46 // from there to the last line
	fullHeight  = 140
	narrowest   = 300 // so that the title fits
	labelWidth  = 7   // of a letter in a group's name, at most on average
)

// WriteSVG writes a still timeline of one period of a signal: a black bar for each
// stretch of light, as wide as it is long, and below a frame its groups with their
// digits. Steady and dark are ten seconds long. The unit scales the drawing. The errors
// are those of [blink.Code.Signal] and of the writer.
func WriteSVG(w io.Writer, code *blink.Code, s blink.Signal, unit time.Duration) error {
	intervals, period, err := code.Signal(s, unit)
	if err != nil {
		return err
	}
	at := func(d time.Duration) float64 { return margin + float64(d)/float64(unit)*unitWidth }
	var total time.Duration
	for _, iv := range intervals {
		total += iv.Duration
	}
	name := title(s)
	d := drawing.New(name, max(at(total)+margin, narrowest), fullHeight, drawing.Pixels)
	d.Write(drawing.Words{X: margin, Y: 24, Size: 14, Bold: true, Text: name})
	const foot = pulseTop + pulseHeight
	d.Line(drawing.Black, 1, 0, margin, foot, at(total), foot)
	var now time.Duration
	for _, iv := range intervals {
		if iv.Lit {
			d.Rect(at(now), pulseTop, at(now+iv.Duration)-at(now), pulseHeight, drawing.Black, "lit")
		}
		now += iv.Duration
	}
	if s.ShowsFrame() {
		labelGroups(d, code, s, func(units int) float64 { return at(time.Duration(units) * unit) }, foot+labelBelow)
	}
	last := fmt.Sprintf("%.1f s, again and again; a unit is %v", period.Seconds(), unit)
	if period == 0 {
		last = "continuous"
	}
	d.Write(drawing.Words{X: margin, Y: foot + footBelow, Size: 12, Text: last})
	_, err = d.WriteTo(w)
	return err
}

// title returns the title of a signal: '116 digital, locked', 'holding'.
func title(s blink.Signal) string {
	name := s.State.NameAt(s.End)
	if s.ShowsFrame() {
		name = fmt.Sprintf("%v, %s", s.Pilot, name)
	}
	return name
}

// labelGroups writes each group's name and digit below the middle of its marks.
func labelGroups(d *drawing.Sheet, code *blink.Code, s blink.Signal, at func(units int) float64, y float64) {
	frame, err := code.Encode(s.Pilot)
	digits, ok := code.DigitsOf(frame)
	if err != nil || !ok {
		return // Signal has already rejected it
	}
	starts, lengths := code.Layout(frame)
	first := slices.IndexFunc(frame, func(g blink.Group) bool { return g != blink.EmptyGroup })
	for g, rule := range code.Rules(s.Pilot) {
		from := starts[g] - starts[first]
		middle := (at(from) + at(from+lengths[g])) / 2
		// A long name under a short group begins at the margin.
		middle = max(middle, margin/2+float64(len(rule.Name)+2)*labelWidth/2)
		d.Write(drawing.Words{X: middle, Y: y, Size: 12, Anchor: drawing.Middle, Text: rule.Name + " ",
			Tail: fmt.Sprint(digits[g])})
	}
}
