package handout

import (
	"fmt"
	"time"

	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/wording"
)

// Night is a maintenance window with what each crew does in it.
type Night struct {
	Begin, End time.Time
	Change     time.Time // when the headend changes its lineup; zero if that is another night
	Crews      []Crew
}

// Crew is what one crew does in a night.
type Crew struct {
	Name string
	Work []Work // in order of time
}

// Work is a run of visits of one kind at one place.
type Work struct {
	Begin, End time.Time
	Place      string
	What       string // left out where there is no room
	Look       Look   // Bad is to park, Care to move early, Well to lock again
}

// Nights draws a calendar: a night after another, in each a row for every crew, the hours
// from left to right, and the time of the change as a thick line. Work is white on black
// where amplifiers are parked, thickly framed where they move early, and thinly framed where
// they are locked again: black and white can tell.
func Nights(nights []Night) *drawing.Sheet {
	const (
		width, left, right = 690.0, 62.0, 8.0
		row, head, gap     = 22.0, 34.0, 10.0
		letter             = 5.6 // of a text of size 10, about
	)
	height := 0.0
	for _, n := range nights {
		height += head + float64(len(n.Crews))*row + gap
	}
	d := drawing.New("what each crew does, night by night", width, height, drawing.Pixels)
	y := 0.0
	for _, n := range nights {
		at := func(t time.Time) float64 {
			return left + (width-left-right)*float64(t.Sub(n.Begin))/float64(max(n.End.Sub(n.Begin), time.Minute))
		}
		d.Write(drawing.Words{X: 4, Y: y + 13, Size: 11, Bold: true, Text: n.Begin.Format("Mon 2006-01-02")})
		foot := y + head + float64(len(n.Crews))*row
		// As many hours as can be written side by side.
		step := time.Hour
		for float64(step)/float64(max(n.End.Sub(n.Begin), time.Minute))*(width-left-right) < 40 {
			step *= 2
		}
		for t := n.Begin; !t.After(n.End); t = t.Add(step) {
			d.Line(drawing.Pale, 1, 0, at(t), y+head-4, at(t), foot)
			anchor := drawing.Middle
			if at(t) > width-right-20 {
				anchor = drawing.End
			}
			d.Write(drawing.Words{X: at(t), Y: y + head - 7, Size: 10, Anchor: anchor, Text: t.Format("15:04")})
		}
		for i, c := range n.Crews {
			top := y + head + float64(i)*row
			d.Write(drawing.Words{X: 4, Y: top + 14, Size: 11, Text: c.Name})
			for _, w := range c.Work {
				from, to := at(w.Begin), at(w.End)
				room := max(int((to-from-8)/letter), 1)
				text := w.Place + " " + w.What
				if len(text) > room {
					text = wording.Clipped(w.Place, room)
				}
				frame := map[Look]float64{Well: 1, Care: 3, Bad: 1}[w.Look]
				d.Rect(from, top+2, to-from-1, row-5, drawing.Black, fmt.Sprintf("work %s", w.Begin.Format("15:04")))
				fill := drawing.Words{X: from + 5, Y: top + 14, Size: 10, Text: text}
				if w.Look == Bad {
					fill.Fill = drawing.White
				} else {
					d.Rect(from+frame, top+2+frame, max(to-from-1-2*frame, 0), row-5-2*frame, drawing.White, "")
				}
				if to-from > 3*letter+8 {
					d.Write(fill)
				}
			}
		}
		if !n.Change.IsZero() {
			x := at(n.Change)
			d.Line(drawing.Black, 3, 4, x, y+head-4, x, foot+3)
			d.Write(drawing.Words{X: x, Y: y + 13, Size: 10, Bold: true, Anchor: drawing.Middle,
				Text: "change " + n.Change.Format("15:04")})
		}
		y = foot + gap
	}
	return d
}
