package console

import (
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"github.com/fatih/color"
	"golang.org/x/term"

	"tallywink.example/channelplan/wording"
)

// Block is a label with the text next to it. Text is broken into lines when it is
// printed, for the width that there is.
type Block struct {
	Label string
	Text  []Paragraph
}

// Paragraph is a text, a line of a table, or a drawing.
type Paragraph struct {
	Lead string // before the first line of Text; the others are indented to match
	Text string
	// Row reports that Text is a line of a table: it stays as it is if it fits.
	Row bool
	// Draw, if not nil, draws lines of at most a width in columns, instead of Text. It
	// returns lines that are true at any width.
	Draw func(width int) []string
}

// Text returns a plain paragraph.
func Text(text string) Paragraph { return Paragraph{Text: text} }

// Hung returns a paragraph with a lead, such as a number.
func Hung(lead, text string) Paragraph { return Paragraph{Lead: lead, Text: text} }

// Row returns a line of a table.
func Row(format string, args ...any) Paragraph {
	return Paragraph{Text: fmt.Sprintf(format, args...), Row: true}
}

// Drawn returns a drawing.
func Drawn(draw func(width int) []string) Paragraph { return Paragraph{Draw: draw} }

// The marks around what [Typed] distinguishes. Text from outside has no such characters:
// [Shown] takes them out.
const (
	typedStart = "\x02"
	paperStart = "\x03"
	typedEnd   = "\x04"
)

// Typed is a part of a text that says what to type: on the screen it is shown as it is, on
// paper, where nobody can type, other stands instead, which may be empty.
func Typed(text, other string) string { return typedStart + text + paperStart + other + typedEnd }

// onScreen returns a text as the screen shows it, see [Typed].
func onScreen(text string) string { return chosen(text, true) }

// OnPaper returns a text as paper shows it, see [Typed].
func OnPaper(text string) string { return chosen(text, false) }

func chosen(text string, screen bool) string {
	if !strings.Contains(text, typedStart) {
		return text
	}
	var b strings.Builder
	for {
		before, rest, found := strings.Cut(text, typedStart)
		b.WriteString(before)
		if !found {
			return b.String()
		}
		typed, rest, _ := strings.Cut(rest, paperStart)
		paper, rest, _ := strings.Cut(rest, typedEnd)
		b.WriteString(wording.Either(screen, typed, paper))
		text = rest
	}
}

// lines breaks a paragraph into lines of a width.
func (p Paragraph) lines(width int) []string {
	const most = 8 // columns of a lead on a narrow screen
	lead, text := p.Lead, onScreen(p.Text)
	switch {
	case p.Draw != nil:
		return p.Draw(width)
	case p.Row && utf8.RuneCountInString(text) <= width:
		return []string{text}
	case p.Row:
		blank := len(text) - len(strings.TrimLeft(text, " "))
		lead, text = text[:min(blank, 2)], text[blank:]
		lines := wording.Wrap(text, width-len(lead)-2)
		for i, line := range lines {
			lines[i] = lead + wording.Either(i > 0, "  ", "") + line
		}
		return lines
	case len(lead) > most && width < TextWidth:
		lead, text = "", strings.TrimSpace(lead)+" "+text
	}
	lines := wording.Wrap(text, width-utf8.RuneCountInString(lead))
	for i := range lines {
		lines[i] = lead + lines[i]
		if i == 0 {
			lead = strings.Repeat(" ", utf8.RuneCountInString(lead))
		}
	}
	return lines
}

// Section is a block of one paragraph.
func Section(label, text string) Block { return Block{label, []Paragraph{Text(text)}} }

// Numbered lays out steps, each with its number and with its lines indented.
func Numbered(label string, steps []string) Block {
	b := Block{Label: label}
	for i, step := range steps {
		b.Text = append(b.Text, Hung(fmt.Sprintf("%d. ", i+1), Shown(step)))
	}
	return b
}

// Height returns how many lines a block has at the usual width.
func (b Block) Height() int { return len(b.lines(TextWidth)) }

func (b Block) lines(width int) []string {
	var lines []string
	for _, p := range b.Text {
		lines = append(lines, p.lines(width)...)
	}
	return lines
}

// Print prints blocks. paint gives, by label, the color for a text up to its first colon.
// On a terminal narrower than LineWidth columns, labels are on their own lines.
func (c *Console) Print(blocks []Block, paint map[string]*color.Color) {
	const indent = "  "
	narrow, width := c.Width < LineWidth, TextWidth
	if narrow {
		width = c.Width - len(indent)
	}
	for _, b := range blocks {
		if narrow && b.Label != "" {
			fmt.Fprintln(c.Out, c.Strong.Sprint(b.Label))
		}
		for i, text := range b.lines(width) {
			lead := indent
			if !narrow {
				lead = fmt.Sprintf("%-*s", LabelWidth, wording.Either(i == 0, b.Label, ""))
				if i == 0 && b.Label != "" {
					lead = c.Strong.Sprint(lead)
				}
			}
			if i == 0 {
				text = painted(text, paint[b.Label])
			}
			fmt.Fprintln(c.Out, strings.TrimRight(lead+text, " "))
		}
	}
}

// painted colors a text up to its first colon.
func painted(text string, paint *color.Color) string {
	first, rest, _ := strings.Cut(text, ":")
	if paint == nil || rest == "" {
		return text
	}
	return paint.Sprint(first) + ":" + rest
}

// Prose breaks text for a terminal that is narrower than it was written for: lines that
// are not indented are joined and broken anew, indented ones are broken by themselves,
// and lines that are indented as far as a list's second column go with the line before.
func Prose(text string, width int) string {
	if width >= LineWidth {
		return text
	}
	const column = 8 // where a list's second column may begin
	var b strings.Builder
	var lead string
	var words []string
	flush := func() {
		if len(words) > 0 {
			for _, line := range (Paragraph{Lead: lead, Text: strings.Join(words, " ")}).lines(width) {
				b.WriteString(line + "\n")
			}
		}
		lead, words = "", nil
	}
	for line := range strings.SplitSeq(strings.TrimSuffix(text, "\n"), "\n") {
		bare := strings.TrimLeft(line, " ")
		blank := len(line) - len(bare)
		switch {
		case bare == "":
			flush()
			b.WriteString("\n")
			continue
		case strings.HasPrefix(bare, "|"): // a row of a table
			flush()
			words = strings.Fields(bare)
			flush()
			continue
		case blank >= column && len(words) > 0:
		case blank > 0 || lead != "":
			flush()
			lead = line[:min(blank, 4)]
		}
		words = append(words, strings.Fields(bare)...)
	}
	flush()
	return b.String()
}

// WidthOf returns how many columns a terminal has, LineWidth at most, and LineWidth for
// anything that is no terminal.
func WidthOf(w io.Writer) int {
	if f, ok := w.(*os.File); ok {
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			return min(max(width, minWidth), LineWidth)
		}
	}
	return LineWidth
}

// Shown makes text from outside safe to print on a terminal: see [wording.Harmless].
func Shown(text string) string { return wording.Harmless(text) }
