package trainer

import (
	"fmt"
	"io"

	"tallywink.example/blink"
	"tallywink.example/channelplan/drawing"
)

// WriteReport writes the result of a qualification run as a one-page SVG, for a
// supervisor to print and file. The error is the writer's.
func WriteReport(w io.Writer, code *blink.Code, trainee string, e *ExamResult) error {
	const width, height, margin, line = 612, 792, 54, 18 // letter, in points
	d := drawing.New("Qualification run", width, height, drawing.Points)
	put := func(x, y, size float64, bold bool, text string) {
		d.Write(drawing.Words{X: x, Y: y, Size: size, Bold: bold, Text: text})
	}
	y := margin + 10.0
	put(margin, y, 20, true, "Reading the lamp: qualification run")
	y += 28
	const columns = 72 // of 12 points, between the margins
	for _, paragraph := range e.head(trainee) {
		for _, l := range wrapped(paragraph, columns) {
			put(margin, y, 12, false, l)
			y += line
		}
	}
	y += 6
	put(margin, y, 11, true, "no.")
	put(margin+36, y, 11, true, "shown")
	put(margin+170, y, 11, true, "read")
	put(margin+390, y, 11, true, "seconds")
	d.Line(drawing.Black, 1, 0, margin, y+5, width-margin, y+5)
	for i, a := range e.Answers {
		y += line
		put(margin, y, 11, false, fmt.Sprint(i+1))
		put(margin+36, y, 11, false, a.Shown)
		put(margin+170, y, 11, false, a.Read)
		if !a.Right {
			put(margin+304, y, 11, true, "not right")
		}
		put(margin+390, y, 11, false, fmt.Sprintf("%.1f", float64(a.TookMS)/1000))
	}
	y += 3 * line
	d.Line(drawing.Black, 1, 0, margin, y, margin+200, y)
	d.Line(drawing.Black, 1, 0, margin+260, y, margin+460, y)
	put(margin, y+14, 10, false, "trainee")
	put(margin+260, y+14, 10, false, "supervisor")
	put(margin, height-margin+14, 9, false,
		fmt.Sprintf("%s code at %d ms a unit. Made by Tallywink; the book of attempts has every answer.", code.Name,
			examUnit(code, code.ShownFrom()).Milliseconds()))
	_, err := d.WriteTo(w)
	return err
}
