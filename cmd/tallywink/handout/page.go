// Package handout makes pages to hand out: one HTML file each, with everything in it, no
// script, that prints well in black and white. A page holds what the command prints, in
// the same words, and drawings of what people would rather look at: cascades with their
// lamps, the band with its pilots, the swing of every station through the year.
package handout

import (
	"fmt"
	"io"
	"strings"

	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// Page is a page being made.
type Page struct {
	title string
	body  strings.Builder
}

// New begins a page. Below its title stands a line that says what it was made from, and
// when.
func New(title, from string) *Page {
	p := &Page{title: title}
	fmt.Fprintf(&p.body, "<h1>%s</h1>\n<p class=from>%s</p>\n", wording.XML(title), wording.XML(from))
	return p
}

// Draw adds a drawing with a heading above it and a note below, which may be empty.
func (p *Page) Draw(heading string, d *drawing.Sheet, note string) {
	fmt.Fprintf(&p.body, "<section><h2>%s</h2>\n<div class=drawing>%s</div>\n", wording.XML(heading), d)
	if note != "" {
		fmt.Fprintf(&p.body, "<p class=note>%s</p>\n", wording.XML(note))
	}
	p.body.WriteString("</section>\n")
}

// Write adds what a command prints: each block's label is a heading, and what to type is
// left out.
func (p *Page) Write(blocks []console.Block) {
	const width = 72 // columns of what stays as it is typed
	for _, b := range blocks {
		p.body.WriteString("<section>")
		if b.Label != "" {
			fmt.Fprintf(&p.body, "<h2>%s</h2>\n", wording.XML(b.Label))
		}
		for _, t := range b.Text {
			switch {
			case t.Draw != nil:
				fmt.Fprintf(&p.body, "<pre>%s</pre>\n", wording.XML(strings.Join(t.Draw(width), "\n")))
			case t.Row:
				fmt.Fprintf(&p.body, "<pre>%s</pre>\n", wording.XML(console.OnPaper(t.Text)))
			case t.Lead != "":
				fmt.Fprintf(&p.body, "<p class=step><b>%s</b> <span>%s</span></p>\n",
					wording.XML(strings.TrimSpace(t.Lead)), wording.XML(console.OnPaper(t.Text)))
			default:
				fmt.Fprintf(&p.body, "<p>%s</p>\n", wording.XML(console.OnPaper(t.Text)))
			}
		}
		p.body.WriteString("</section>\n")
	}
}

// WriteTo implements [io.WriterTo]. The error is the writer's.
func (p *Page) WriteTo(w io.Writer) (int64, error) {
	n, err := fmt.Fprintf(w, `<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>%s</title>
<style>
body { font: 11pt/1.35 sans-serif; color: #000; background: #fff; max-width: 7.5in; margin: 1em auto; padding: 0 .6em }
h1 { font-size: 17pt; margin: 0 0 .2em }
h2 { font-size: 12pt; margin: 1.1em 0 .2em; break-after: avoid }
p { margin: .3em 0; overflow-wrap: anywhere }
pre { margin: 0; font: 9.5pt/1.3 monospace; white-space: pre-wrap }
.from, .note { font-size: 9.5pt }
.step { display: flex; gap: .5em; break-inside: avoid }
.step b { flex: none; min-width: 1.6em; text-align: right }
.drawing { overflow-x: auto; break-inside: avoid }
svg { display: block }
@media print { body { margin: 0; max-width: none; padding: 0 } .drawing { overflow: visible } svg { max-width: 100%%; height: auto } }
@page { margin: .6in }
</style>
%s</html>
`, wording.XML(p.title), p.body.String())
	return int64(n), err
}
