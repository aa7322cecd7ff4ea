package picture

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/wording"
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
	var b bytes.Buffer
	name := title(s)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" width="%.0f" height="%d" font-family="sans-serif" font-size="14">`+"\n",
		max(at(total)+margin, narrowest), fullHeight)
	fmt.Fprintf(&b, "<title>%s</title>\n", name)
	fmt.Fprintf(&b, `<rect width="100%%" height="100%%" fill="white"/>`+"\n")
	fmt.Fprintf(&b, `<text x="%d" y="24" font-weight="bold">%s</text>`+"\n", margin, name)
	foot := pulseTop + pulseHeight
	fmt.Fprintf(&b, `<path d="M%d %d H%.1f" stroke="black"/>`+"\n", margin, foot, at(total))
	var now time.Duration
	for _, iv := range intervals {
		if iv.Lit {
			fmt.Fprintf(&b, `<rect class="lit" x="%.1f" y="%d" width="%.1f" height="%d"/>`+"\n", at(now), pulseTop, at(now+iv.Duration)-at(now), pulseHeight)
		}
		now += iv.Duration
	}
	if s.State.ShowsFrame() {
		labelGroups(&b, code, s, intervals, at, foot+labelBelow)
	}
	last := fmt.Sprintf("%.1f s, again and again; a unit is %v", period.Seconds(), unit)
	if period == 0 {
		last = "continuous"
	}
	fmt.Fprintf(&b, `<text x="%d" y="%d" font-size="12">%s</text>`+"\n</svg>\n", margin, foot+footBelow, last)
	_, err = w.Write(b.Bytes())
	return err
}

// title returns the title of a signal: '116 digital, locked', 'holding'.
func title(s blink.Signal) string {
	name := s.State.NameAt(s.End)
	if s.State.ShowsFrame() {
		name = fmt.Sprintf("%v, %s", s.Pilot, name)
	}
	return name
}

// labelGroups writes each group's name and digit below the middle of its marks.
func labelGroups(b *bytes.Buffer, code *blink.Code, s blink.Signal, intervals []blink.Interval, at func(time.Duration) float64, y int) {
	frame, err := code.Encode(s.Pilot)
	digits, ok := code.DigitsOf(frame)
	if err != nil || !ok {
		return // Signal has already rejected it
	}
	var now time.Duration
	i := 0
	for g, group := range frame {
		begin := now
		end := now
		for range 2*len(group) - 1 {
			end += intervals[i].Duration
			i++
		}
		middle := (at(begin) + at(end)) / 2
		// A long name under a short group begins at the margin.
		middle = max(middle, margin/2+float64(len(code.Rules(s.Pilot)[g].Name)+2)*labelWidth/2)
		fmt.Fprintf(b, `<text x="%.1f" y="%d" text-anchor="middle" font-size="12">%s <tspan font-weight="bold">%d</tspan></text>`+"\n",
			middle, y, wording.XML(code.Rules(s.Pilot)[g].Name), digits[g])
		now = end + intervals[i].Duration
		i++
	}
}
