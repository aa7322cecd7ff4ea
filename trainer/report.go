package trainer

import (
	"fmt"
	"io"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/channelplan/wording"
)

// WriteReport writes the result of a qualification run as a one-page SVG, for a
// supervisor to print and file. The error is the writer's.
func WriteReport(w io.Writer, code *blink.Code, trainee string, e *ExamResult) error {
	const width, height, margin, line = 612, 792, 54, 18 // letter, in points
	var b strings.Builder
	put := func(x, y, size int, weight, text string) {
		fmt.Fprintf(&b, "<text x=\"%d\" y=\"%d\" font-size=\"%d\" font-weight=\"%s\">%s</text>\n", x, y, size, weight, wording.XML(text))
	}
	fmt.Fprintf(&b, "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"%dpt\" height=\"%dpt\" viewBox=\"0 0 %d %d\" font-family=\"sans-serif\" fill=\"#000\">\n", width, height, width, height)
	fmt.Fprintf(&b, "<title>Qualification run</title>\n<rect width=\"%d\" height=\"%d\" fill=\"#fff\"/>\n", width, height)
	y := margin + 10
	put(margin, y, 20, "bold", "Reading the lamp: qualification run")
	y += 28
	const columns = 72 // of 12 points, between the margins
	for _, paragraph := range e.head(trainee) {
		for _, l := range wrapped(paragraph, columns) {
			put(margin, y, 12, "normal", l)
			y += line
		}
	}
	y += 6
	put(margin, y, 11, "bold", "no.")
	put(margin+36, y, 11, "bold", "shown")
	put(margin+170, y, 11, "bold", "read")
	put(margin+390, y, 11, "bold", "seconds")
	fmt.Fprintf(&b, "<path d=\"M%d %dH%d\" stroke=\"#000\"/>\n", margin, y+5, width-margin)
	for i, a := range e.Answers {
		y += line
		put(margin, y, 11, "normal", fmt.Sprint(i+1))
		put(margin+36, y, 11, "normal", a.Shown)
		put(margin+170, y, 11, "normal", a.Read)
		if !a.Right {
			put(margin+304, y, 11, "bold", "not right")
		}
		put(margin+390, y, 11, "normal", fmt.Sprintf("%.1f", float64(a.TookMS)/1000))
	}
	y += 3 * line
	fmt.Fprintf(&b, "<path d=\"M%d %dh200M%d %dh200\" stroke=\"#000\"/>\n", margin, y, margin+260, y)
	put(margin, y+14, 10, "normal", "trainee")
	put(margin+260, y+14, 10, "normal", "supervisor")
	put(margin, height-margin+14, 9, "normal", fmt.Sprintf("%s code at %d ms a unit. Made by Tallywink; the book of attempts has every answer.", code.Name, examUnit(code, code.ShownFrom()).Milliseconds()))
	b.WriteString("</svg>\n")
	_, err := io.WriteString(w, b.String())
	return err
}
