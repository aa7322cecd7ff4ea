// Package drawing makes still drawings, as SVG, from rectangles, lines and text, in black,
// white and gray, so that they print well and copy well. A drawing has no script and names
// nothing outside itself, and every text in it is escaped.
package drawing

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"tallywink.example/channelplan/wording"
)

// Unit is what a drawing's lengths are in.
type Unit string

// The units of length.
const (
	Pixels      Unit = ""
	Points      Unit = "pt" // 1/72 of an inch
	Millimeters Unit = "mm"
)

// Shade is a gray, as SVG writes it.
type Shade string

// The shades.
const (
	Black Shade = "#000"
	Gray  Shade = "#777"
	Pale  Shade = "#ddd"
	White Shade = "#fff"
)

// Anchor is which point of a text stands at its position.
type Anchor string

// The anchors.
const (
	Start  Anchor = ""
	Middle Anchor = "middle"
	End    Anchor = "end"
)

// Sheet is a drawing being made. All positions and sizes are in its unit, from the upper
// left corner, and are written to a hundredth.
type Sheet struct {
	begin string
	body  strings.Builder
}

// New returns a white sheet. The title is for readers that can't see it.
func New(title string, width, height float64, unit Unit) *Sheet {
	s := &Sheet{begin: fmt.Sprintf(`<svg xmlns="http://www.w3.org/2000/svg" width="%[1]s%[3]s" height="%[2]s%[3]s" viewBox="0 0 %[1]s %[2]s" font-family="sans-serif" fill="%[4]s">`+
		"\n<title>%[5]s</title>\n",
		number(width), number(height), unit, Black, wording.XML(title))}
	s.Rect(0, 0, width, height, White, "")
	return s
}

// Rect draws a filled rectangle. The class, if it is not empty, says what the rectangle
// stands for, for programs that read the drawing.
func (s *Sheet) Rect(x, y, width, height float64, fill Shade, class string) {
	if class != "" {
		class = ` class="` + wording.XML(class) + `"`
	}
	shade := ""
	if fill != Black {
		shade = fmt.Sprintf(" fill=%q", string(fill))
	}
	fmt.Fprintf(&s.body, "<rect%s x=\"%s\" y=\"%s\" width=\"%s\" height=\"%s\"%s/>\n", class, number(x), number(y),
		number(width), number(height), shade)
}

// Line draws straight lines from point to point: x and y of the first, x and y of the
// second, and so on. Dash, if it is not 0, is how long its dashes and gaps are.
func (s *Sheet) Line(stroke Shade, width, dash float64, points ...float64) {
	var path strings.Builder
	for i := 0; i+1 < len(points); i += 2 {
		path.WriteByte("ML"[min(i, 1)])
		path.WriteString(number(points[i]) + " " + number(points[i+1]))
	}
	dashed := ""
	if dash != 0 {
		dashed = fmt.Sprintf(" stroke-dasharray=\"%[1]s %[1]s\"", number(dash))
	}
	fmt.Fprintf(&s.body, "<path d=\"%s\" fill=\"none\" stroke=\"%s\" stroke-width=\"%s\"%s/>\n", path.String(),
		stroke, number(width), dashed)
}

// Words is a text and how it is set.
type Words struct {
	X, Y   float64 // where the anchor stands, on the base line
	Size   float64 // of the letters
	Anchor Anchor
	Bold   bool
	Fill   Shade // "" is black
	Text   string
	Tail   string // more text on the same line, always bold
}

// Write sets a text.
func (s *Sheet) Write(w Words) {
	var set string
	if w.Anchor != Start {
		set += fmt.Sprintf(" text-anchor=%q", string(w.Anchor))
	}
	if w.Bold {
		set += ` font-weight="bold"`
	}
	if w.Fill != "" {
		set += fmt.Sprintf(" fill=%q", string(w.Fill))
	}
	tail := ""
	if w.Tail != "" {
		tail = `<tspan font-weight="bold">` + wording.XML(w.Tail) + "</tspan>"
	}
	fmt.Fprintf(&s.body, "<text x=\"%s\" y=\"%s\" font-size=\"%s\"%s>%s%s</text>\n", number(w.X), number(w.Y),
		number(w.Size), set, wording.XML(w.Text), tail)
}

// String returns the drawing as SVG, which may stand in an HTML page as it is.
func (s *Sheet) String() string { return s.begin + s.body.String() + "</svg>\n" }

// WriteTo implements [io.WriterTo]. The error is the writer's.
func (s *Sheet) WriteTo(w io.Writer) (int64, error) {
	n, err := io.WriteString(w, s.String())
	return int64(n), err
}

// number writes a length in hundredths at most, without zeros that say nothing.
func number(x float64) string {
	text := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 2, 64), "0"), ".")
	if text == "-0" {
		return "0"
	}
	return text
}
