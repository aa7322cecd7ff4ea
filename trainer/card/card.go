// Package card draws a printable sheet for the truck: a lineup's pilots with their
// pulses, the digits, and the lock states with what each means and what to do. It is an
// SVG at true size, black on white.
//
// [New] lays a card out for a size of paper; [Card.WriteSVG] and
// [Card.WriteHTML] write it.
package card

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/rivo/uniseg"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
)

// Format is a size of paper.
type Format struct {
	Name string
	// Width and Height are in millimeters.
	Width, Height float64
	// across and down are how many panels are next to and below each other: 1 and 1 if it
	// is not folded.
	across, down int
	text         float64 // size of the text, in millimeters
	unit         float64 // width of a unit of light, in millimeters
}

// The formats: ANSI letter, ISO 216 A4, and a sheet that folds to the size of a wallet
// card, ISO/IEC 7810 ID-1, six of them in all. Its text is 2.5 mm high, to be read at
// arm's length.
var (
	Letter = Format{Name: "letter", Width: 215.9, Height: 279.4, across: 1, down: 1, text: 3.4, unit: 1.5}
	A4     = Format{Name: "a4", Width: 210, Height: 297, across: 1, down: 1, text: 3.4, unit: 1.5}
	Wallet = Format{Name: "wallet", Width: 3 * 85.6, Height: 2 * 53.98, across: 3, down: 2, text: 2.5, unit: 0.8}
)

// Formats returns all formats.
func Formats() []Format { return []Format{Letter, A4, Wallet} }

// Content is what goes on a card.
type Content struct {
	Code   *blink.Code
	Lineup *lineup.Lineup
	Pilots []channelplan.Pilot // in the order on the card; as many as there is room for
	Day    time.Time           // the day it was made
}

// Card is a card that has been laid out.
type Card struct {
	format Format
	title  string
	rects  []rect
	words  []words
	lines  []line
	// LeftOut is how many pilots there was no room for.
	LeftOut int
}

// rect is a bar of ink, words is a line of text, line is a stroke. All are in
// millimeters from the upper left.
type rect struct{ x, y, width, height float64 }

type words struct {
	x, y, size float64
	bold       bool
	text       string
}

type line struct {
	x1, y1, x2, y2 float64
	dashed         bool
}

// ErrRoom is the error that [New] wraps if a code does not fit on a format.
var ErrRoom = errors.New("no room")

// New lays out a card. The error wraps [ErrRoom], or is the code's if it can't send a
// pilot.
func New(c Content, f Format) (*Card, error) {
	d := &draft{Card: &Card{format: f, title: title(c.Lineup)}, content: c}
	d.begin()
	if err := d.heading(); err != nil {
		return nil, err
	}
	d.digits()
	d.panelEnd()
	if err := d.states(); err != nil {
		return nil, err
	}
	d.panelEnd()
	if err := d.pilots(); err != nil {
		return nil, err
	}
	d.foot()
	return d.Card, nil
}

func title(l *lineup.Lineup) string {
	const most = 60 // letters in a heading
	name := []rune(wording.Harmless(cmp.Or(l.Name, l.File)))
	if len(name) > most {
		return string(name[:most]) + "..."
	}
	return string(name)
}

// draft is a card while it is laid out: a pen that moves down the panels.
type draft struct {
	*Card
	content Content
	panel   int     // from 0
	y       float64 // of the pen, from the top of the panel
}

const margin = 4.0 // inside a panel of a folded sheet; twice as much on a page

func (d *draft) folded() bool { return d.format.across*d.format.down > 1 }

func (d *draft) inset() float64 {
	if d.folded() {
		return margin
	}
	return 3 * margin
}

func (d *draft) panelWidth() float64  { return d.format.Width / float64(d.format.across) }
func (d *draft) panelHeight() float64 { return d.format.Height / float64(d.format.down) }

// width returns the width of the text.
func (d *draft) width() float64 { return d.panelWidth() - 2*d.inset() }

// at converts a place in the panel to a place on the sheet.
func (d *draft) at(x, y float64) (float64, float64) {
	return d.inset() + x + float64(d.panel%d.format.across)*d.panelWidth(),
		d.inset() + y + float64(d.panel/d.format.across)*d.panelHeight()
}

// room returns how much farther the pen can move down.
func (d *draft) room() float64 { return d.panelHeight() - 2*d.inset() - d.y }

// begin draws the fold lines of the sheet.
func (d *draft) begin() {
	f := d.format
	for i := 1; i < f.across; i++ {
		x := float64(i) * d.panelWidth()
		d.lines = append(d.lines, line{x, 0, x, f.Height, true})
	}
	for i := 1; i < f.down; i++ {
		y := float64(i) * d.panelHeight()
		d.lines = append(d.lines, line{0, y, f.Width, y, true})
	}
}

// panelEnd moves on to the next panel of a folded sheet. On a page it leaves some
// space.
func (d *draft) panelEnd() {
	if d.folded() {
		d.panel, d.y = d.panel+1, 0
		return
	}
	d.y += d.format.text
}

// emWidth is the width of a letter, at most on average, relative to its size. It is
// wider than in any common sans-serif, so text is broken too early rather than too
// late.
const emWidth = 0.58

// put writes a text in lines of the given width, starting x right of the left edge, and
// moves the pen below it. All of the text has one size.
func (d *draft) put(x, width, size float64, bold bool, text string) {
	for _, l := range broken(wording.Harmless(text), int(width/(emWidth*size))) {
		px, py := d.at(x, d.y+size)
		d.words = append(d.words, words{px, py, size, bold, l})
		d.y += 1.25 * size
	}
}

// headOf returns the beginning of a word that is at most so wide, in whole characters and at
// least one.
func headOf(word string, most int) string {
	end, wide := 0, 0
	for g := uniseg.NewGraphemes(word); g.Next(); {
		if wide += g.Width(); wide > most && end > 0 {
			break
		}
		_, end = g.Positions()
	}
	return word[:end]
}

// broken breaks a text into lines of at most the given number of letters. A letter that is
// twice as wide, such as those of Chinese, counts as two.
func broken(text string, letters int) []string {
	most := max(letters, 4)
	var lines []string
	line := ""
	for w := range strings.FieldsSeq(text) {
		for uniseg.StringWidth(w) > most { // longer than a line
			if line != "" {
				lines, line = append(lines, line), ""
			}
			head := headOf(w, most)
			lines, w = append(lines, head), w[len(head):]
		}
		switch {
		case line == "":
			line = w
		case uniseg.StringWidth(line)+1+uniseg.StringWidth(w) > letters:
			lines, line = append(lines, line), w
		default:
			line += " " + w
		}
	}
	return append(lines, line)
}

// draw draws intervals as bars of ink from a place on, as wide as they are lit; scale
// is the width of a unit.
func (d *draft) draw(x float64, intervals []blink.Interval, scale, height float64) {
	for _, iv := range intervals {
		width := d.units(iv) * scale
		if iv.Lit {
			px, py := d.at(x, d.y)
			d.rects = append(d.rects, rect{px, py, width, height})
		}
		x += width
	}
}

// units returns the length of an interval in units.
func (d *draft) units(iv blink.Interval) float64 {
	return float64(iv.Duration) / float64(d.content.Code.Timing.Unit)
}

func (d *draft) rule() {
	x1, y := d.at(0, d.y)
	x2, _ := d.at(d.width(), d.y)
	d.lines = append(d.lines, line{x1, y, x2, y, false})
	d.y += d.format.text / 2
}

func (d *draft) heading() error {
	l, size := d.content.Lineup, d.format.text
	d.put(0, d.width(), 1.5*size, true, "Pilot lamp: "+title(l))
	when := "the lineup does not say when it took effect"
	if !l.Effective.IsZero() {
		when = "lineup in effect from " + l.Effective.Format(time.DateOnly)
	}
	d.put(0, d.width(), size, false, fmt.Sprintf("%s; %s plan; code %s; judged as of %s.", wording.Capital(when),
		l.Plan.Name(), d.content.Code.Name, d.content.Day.Format(time.DateOnly)))
	var groups []string
	for _, g := range d.content.Code.Groups {
		name := g.Name
		if g.DropZero {
			name += " (no leading zero)"
		}
		groups = append(groups, name)
	}
	text := "This lamp shows no pilot, only states."
	if len(groups) > 0 {
		text = "Wait for the long dark, then count: " + strings.Join(groups, ", ") + "."
		t := d.content.Code.Timing
		lasts := func(units int) float64 { return (time.Duration(units) * t.Unit).Seconds() }
		text += fmt.Sprintf(" As sent, a short lasts %.1f s, ", lasts(t.Short))
		if d.content.Code.HasLong() {
			text += fmt.Sprintf("a long %.1f s, ", lasts(t.Long))
		}
		text += fmt.Sprintf("the long dark %.1f s.", lasts(t.Rest))
	}
	for _, more := range []string{d.content.Code.KindsText(), d.content.Code.PresetsText()} {
		if more != "" {
			text += " " + more
		}
	}
	d.put(0, d.width(), size, false, text)
	d.y += size / 2
	if d.room() < 0 {
		return fmt.Errorf("%w for the heading on %s", ErrRoom, d.format.Name)
	}
	return nil
}

// digits draws the code's digits in two columns.
func (d *draft) digits() {
	code, size := d.content.Code, d.format.text
	shown := code.ShownDigits()
	if len(shown) == 0 {
		return
	}
	d.put(0, d.width(), size, true, "Digits")
	top := d.y + size/4
	rows := (len(shown) + 1) / 2
	for i, digit := range shown {
		g := code.Patterns[digit]
		d.y = top + float64(i%rows)*1.5*size
		x := float64(i/rows) * d.width() / 2
		px, py := d.at(x, d.y+size)
		d.words = append(d.words, words{px, py, size, true, fmt.Sprint(digit)})
		if g == blink.EmptyGroup {
			px, _ := d.at(x+2*size, d.y)
			d.words = append(d.words, words{px, py, size, false, g.Words()})
		}
		d.draw(x+2*size, code.Light(blink.Frame{g}, code.Timing.Unit), d.format.unit, size)
	}
	d.y = top + float64(rows)*1.5*size
}

// states lists the lock states: each rhythm as a drawing, what it means and what to do.
func (d *draft) states() error {
	code, size := d.content.Code, d.format.text
	d.put(0, d.width(), size, true, "States, and what to do first")
	left := 0.3 * d.width()
	for _, s := range blink.States() {
		look := code.Look(s, blink.NoEnd)
		if look == "" {
			continue
		}
		if d.folded() && d.room() < d.stateHeight(s, left) {
			d.panelEnd()
		}
		top := d.y
		d.put(0, left, size, true, s.String())
		for _, shown := range d.samples(s) {
			light, period, err := code.Signal(shown, code.Timing.Unit)
			if err != nil || period == 0 {
				continue
			}
			// Rhythms repeat: twice, if there is room. A frame is long enough.
			times := 2.0
			if shown.ShowsFrame() {
				times = 1
			}
			scale := min(d.format.unit, left/(1.1*times*float64(period/code.Timing.Unit)))
			if !shown.ShowsFrame() {
				light = append(light, light...)
			}
			d.draw(0, light, scale, 0.7*size)
			d.y += size
		}
		below := d.y
		d.y = top
		text := d.brief(s)
		if !d.folded() && (!s.ShowsFrame() || len(code.Groups) == 0) {
			text = fmt.Sprintf("%s: %s.", wording.Capital(look), s.Meaning())
		}
		d.put(left+size, d.width()-left-size, size, false, text+" "+answer.First(s))
		d.y = max(d.y, below) + size/3
	}
	d.put(0, d.width(), size, true, answer.InDoubt)
	if d.room() < 0 {
		return fmt.Errorf("%w for the states on %s", ErrRoom, d.format.Name)
	}
	return nil
}

// stateHeight returns how much room a state takes on a folded card.
func (d *draft) stateHeight(s blink.State, left float64) float64 {
	size := d.format.text
	lines := float64(len(broken(d.brief(s)+" "+answer.First(s), int((d.width()-left-size)/(emWidth*size)))))
	return max(1.25*size*lines, 1.25*size+float64(len(d.samples(s)))*size)
}

// samples returns the signals to draw for a state: a frame of the first pilot, with the
// bars of both ends in state edge.
func (d *draft) samples(s blink.State) []blink.Signal {
	var all []blink.Signal
	for _, shown := range d.content.Code.States() {
		if shown.State != s {
			continue
		}
		if !d.content.Code.HasRhythm(shown) {
			if len(d.content.Pilots) == 0 {
				continue
			}
			shown.Pilot = d.content.Pilots[0]
		}
		all = append(all, shown)
	}
	return all
}

// brief says what a state means, for use where there is little room.
func (d *draft) brief(s blink.State) string {
	code := d.content.Code
	switch brief := code.Brief(s); {
	case len(code.Groups) == 0 && s.ShowsFrame():
		return fmt.Sprintf("%s: %s.", wording.Capital(code.Look(s, blink.NoEnd)), s.Meaning())
	case s == blink.Locked:
		return "The frame, then a long dark with no bar: the AGC follows the pilot."
	case s == blink.Edge:
		return fmt.Sprintf("Locked at an end of the range: %s in the long dark, input too low; %s, too high.",
			code.BarWords(blink.EndLow), code.BarWords(blink.EndHigh))
	case brief != "":
		return fmt.Sprintf("%s: %s.", wording.Capital(brief), s.Meaning())
	}
	return wording.Capital(s.Meaning()) + "."
}

// footRoom is the height of the foot, relative to the size of the text.
const footRoom = 4.5

// entry is a pilot to draw.
type entry struct {
	text  string
	light []blink.Interval // of the frame, without the rest
	width float64          // of the drawn light, in millimeters
}

func (d *draft) entries() ([]entry, error) {
	code := d.content.Code
	var all []entry
	for _, p := range d.content.Pilots {
		at, ok := lineup.Locate(p, d.content.Lineup.Plan)
		if !ok {
			return nil, fmt.Errorf("the %s plan has no channel %d", d.content.Lineup.Plan.Name(), p.Channel)
		}

		digits, err := code.Digits(p)
		if err != nil {
			return nil, err
		}
		frame, err := code.Encode(p)
		if err != nil {
			return nil, err
		}
		e := entry{text: fmt.Sprintf("%v, %s:", p,
			strings.NewReplacer("[", "", "]", "", " ", "").Replace(fmt.Sprint(digits))),
			light: code.Light(frame, code.Timing.Unit)}
		r := d.content.Lineup.CheckOne(p, lineup.Context{})
		switch {
		case r.Undecided():
			e.text += " NOT KNOWN HERE, " + string(lineup.RowUnreadable)
		case r.Verdict == lineup.Unusable:
			e.text += " NOT VALID HERE, " + string(r.Findings[0].Rule)
		default:
			e.text += " " + channelplan.FormatMHz(at.FrequencyHz)
			if !d.folded() {
				e.text += " MHz"
			}
		}
		for _, iv := range e.light {
			e.width += d.units(iv) * d.format.unit
		}
		if e.width > d.width() {
			return nil, fmt.Errorf("%w on %s: the frame of %v is %.0f mm long, but only %.0f mm fit", ErrRoom,
				d.format.Name, p, e.width, d.width())
		}
		all = append(all, e)
	}
	return all, nil
}

// pilots lists the pilots with their frames drawn, next to each other if they are short
// enough.
func (d *draft) pilots() error {
	size := d.format.text
	all, err := d.entries()
	if err != nil {
		return err
	}
	if len(all) == 0 {
		return nil
	}
	columns, width := 2, d.width()/2-size/2
	for _, e := range all {
		if e.width > width {
			columns, width = 1, d.width()
		}
	}
	head := func() { d.put(0, d.width(), size, true, "Pilots: the frame, and where to measure (MHz)") }
	head()
	for i := 0; i < len(all); i += columns {
		row := all[i:min(i+columns, len(all))]
		lines := 0 // of the row's texts, at most
		for _, e := range row {
			lines = max(lines, len(broken(e.text, int(width/(emWidth*size)))))
		}
		texts := 1.25*size*float64(lines) + 0.1*size
		for d.room() < texts+1.75*size+d.footSize() {
			if !d.folded() || d.panel+1 >= d.format.across*d.format.down {
				d.LeftOut = len(all) - i
				return nil
			}
			d.panelEnd()
			head()
		}
		top := d.y
		for k, e := range row {
			x := float64(k) * d.width() / 2
			d.y = top
			d.put(x, width, size, false, e.text)
			d.y = top + texts
			d.draw(x, e.light, d.format.unit, size)
		}
		d.y = top + texts + 1.75*size
	}
	return nil
}

func (d *draft) footSize() float64 {
	if d.folded() && d.panel+1 < d.format.across*d.format.down {
		return 0
	}
	return footRoom * d.format.text
}

// foot writes the usual caution at the end of the last panel.
func (d *draft) foot() {
	size := 0.85 * d.format.text
	d.panel = d.format.across*d.format.down - 1
	d.y = d.panelHeight() - 2*d.inset() - footRoom*d.format.text
	d.rule()
	d.put(0, d.width(), size, false, answer.Caution)
	if d.LeftOut > 0 {
		d.put(0, d.width(), size, false, fmt.Sprintf("Pilots left out for lack of room: %d.", d.LeftOut))
	}
}

// WriteSVG writes the card as one SVG, at true size. The error is the writer's.
func (c *Card) WriteSVG(w io.Writer) error {
	_, err := io.WriteString(w, `<?xml version="1.0" encoding="UTF-8"?>`+"\n"+c.svg())
	return err
}

// WriteHTML writes the card as a page with the SVG inside, which prints on paper of its
// size without margins. The error is the writer's.
func (c *Card) WriteHTML(w io.Writer) error {
	_, err := fmt.Fprintf(w, `<!doctype html>
<html lang="en">
<meta charset="utf-8">
<title>%s</title>
<style>@page { size: %gmm %gmm; margin: 0 } body { margin: 0 } svg { display: block }</style>
%s</html>
`, wording.XML("Pilot lamp: "+c.title), c.format.Width, c.format.Height, c.svg())
	return err
}

func (c *Card) svg() string {
	d := drawing.New("Pilot lamp: "+c.title, c.format.Width, c.format.Height, drawing.Millimeters)
	for _, l := range c.lines {
		dash := 0.0
		if l.dashed {
			dash = 1.5
		}
		d.Line(drawing.Black, 0.15, dash, l.x1, l.y1, l.x2, l.y2)
	}
	for _, m := range c.rects {
		d.Rect(m.x, m.y, m.width, m.height, drawing.Black, "")
	}
	for _, t := range c.words {
		d.Write(drawing.Words{X: t.x, Y: t.y, Size: t.size, Bold: t.bold, Text: t.text})
	}
	return d.String()
}
