package handout

import (
	"fmt"
	"time"

	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/wording"
)

// Curve is how a trainee's answers got better.
type Curve struct {
	Name, Note string
	Days       []Share // in order of time
}

// Share is the share of answers that were right on one day, from 0 to 1.
type Share struct {
	Day   time.Time
	Right float64
}

// Curves draws trainees one below the other over the same days: a point for each day, from
// none right at the lower line of its row to all right at the upper one.
func Curves(trainees []Curve) *drawing.Sheet {
	const (
		width, left, right = 690.0, 150.0, 130.0
		row, plot, top     = 46.0, 30.0, 10.0
	)
	var first, last time.Time
	for _, t := range trainees {
		for _, s := range t.Days {
			if first.IsZero() || s.Day.Before(first) {
				first = s.Day
			}
			if s.Day.After(last) {
				last = s.Day
			}
		}
	}
	span := max(last.Sub(first), 24*time.Hour)
	at := func(day time.Time) float64 {
		return left + (width-left-right)*float64(day.Sub(first))/float64(span)
	}
	foot := top + float64(len(trainees))*row
	d := drawing.New("answers that were right, day by day", width, foot+22, drawing.Pixels)
	for i, t := range trainees {
		y := top + float64(i)*row
		d.Write(drawing.Words{X: 4, Y: y + plot/2 + 4, Size: 12, Text: wording.Clipped(t.Name, 20)})
		d.Line(drawing.Pale, 1, 0, left, y, width-right, y)
		d.Line(drawing.Gray, 1, 0, left, y+plot, width-right, y+plot)
		var line []float64
		for _, s := range t.Days {
			x, up := at(s.Day), y+plot*(1-s.Right)
			line = append(line, x, up)
			d.Rect(x-2, up-2, 4, 4, drawing.Black, "day")
		}
		d.Line(drawing.Black, 1.5, 0, line...)
		d.Write(drawing.Words{X: width - right + 10, Y: y + plot/2 + 4, Size: 11, Text: t.Note})
	}
	if !first.IsZero() {
		d.Write(drawing.Words{X: left, Y: foot + 12, Size: 10, Text: first.Format(time.DateOnly)})
		if last.After(first) {
			d.Write(drawing.Words{X: width - right, Y: foot + 12, Size: 10, Anchor: drawing.End,
				Text: last.Format(time.DateOnly)})
		}
	}
	d.Write(drawing.Words{X: width - right + 10, Y: foot + 12, Size: 10,
		Text: fmt.Sprintf("%d trainees", len(trainees))})
	return d
}
