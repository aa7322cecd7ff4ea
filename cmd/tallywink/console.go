package main

// The rules of all that is printed for a person:
//   - plain ASCII of our own, so that it reads the same over any line;
//   - lines of at most 80 columns, a label of nine columns before the text; on
//     a narrower terminal text is broken anew, below its label;
//   - color only marks what the words already say, and only on a terminal;
//   - text from files passes through shown, so that it can't steer the
//     terminal;
//   - answers go to standard output, remarks to standard error.

import (
	"bufio"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode/utf8"

	"github.com/fatih/color"
	"golang.org/x/term"

	"tallywink.example/channelplan/harmless"
)

const (
	lineWidth  = 80
	labelWidth = 9
	minWidth   = 30
)

// console is what a command prints to.
type console struct {
	in     io.Reader
	out    *bufio.Writer
	err    io.Writer
	good   *color.Color
	warn   *color.Color
	bad    *color.Color
	strong *color.Color
	// terminal tells that standard output is one, and not a dumb one.
	terminal bool
	width    int // columns: lineWidth, or fewer on a narrow terminal
	// plain tells that nobody wants color, whatever the output is.
	plain bool
}

func newConsole(s streams, noColor bool) *console {
	c := &console{
		in: s.in, out: bufio.NewWriter(s.out), err: s.err,
		good: color.New(color.FgGreen), warn: color.New(color.FgYellow), bad: color.New(color.FgRed, color.Bold),
		strong: color.New(color.Bold), width: lineWidth, plain: noColor || os.Getenv("NO_COLOR") != "",
	}
	if f, ok := s.out.(*os.File); ok {
		c.terminal = isTerminal(f)
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			c.width = min(max(width, minWidth), lineWidth)
		}
	}
	// The library knows of NO_COLOR, dumb terminals and pipes.
	if noColor || color.NoColor {
		for _, paint := range []*color.Color{c.good, c.warn, c.bad, c.strong} {
			paint.DisableColor()
		}
	}
	return c
}

// isTerminal tells whether a file is a terminal that can be drawn on; /dev/null,
// a device too, is none.
func isTerminal(f *os.File) bool {
	return term.IsTerminal(int(f.Fd())) && os.Getenv("TERM") != "dumb"
}

func (c *console) flush() error {
	if err := c.out.Flush(); err != nil {
		return fmt.Errorf("the output can't be written: %w", err)
	}
	return nil
}

// line prints a line as it is.
func (c *console) line(format string, args ...any) { fmt.Fprintf(c.out, format+"\n", args...) }

// remark prints a line to standard error.
func (c *console) remark(format string, args ...any) { fmt.Fprintf(c.err, format+"\n", args...) }

// json prints a document.
func (c *console) json(document any) error {
	e := json.NewEncoder(c.out)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(document)
}

// jsonLine prints a document on one line.
func (c *console) jsonLine(document any) error {
	e := json.NewEncoder(c.out)
	e.SetEscapeHTML(false)
	return e.Encode(document)
}

// block is a label with the lines beside it.
type block struct {
	label string
	lines []string
}

// section lays out a labelled text in lines.
func section(label, text string) block { return block{label, wrap(text, lineWidth-labelWidth)} }

// print prints blocks, first words painted where paint is given by label.
func (c *console) print(blocks []block, paint map[string]*color.Color) {
	if c.width < lineWidth {
		c.printNarrow(blocks, paint)
		return
	}
	for _, b := range blocks {
		for i, text := range b.lines {
			label := ""
			if i == 0 {
				label = b.label
			}
			if i == 0 {
				text = painted(text, paint[b.label])
			}
			lead := fmt.Sprintf("%-*s", labelWidth, label)
			if label != "" {
				lead = c.strong.Sprint(lead)
			}
			fmt.Fprintln(c.out, strings.TrimRight(lead+text, " "))
		}
	}
}

// painted paints a text up to its first colon.
func painted(text string, paint *color.Color) string {
	first, rest, _ := strings.Cut(text, ":")
	if paint == nil || rest == "" {
		return text
	}
	return paint.Sprint(first) + ":" + rest
}

// printNarrow is print for a terminal of less than lineWidth columns: labels
// on lines of their own, and text broken anew.
func (c *console) printNarrow(blocks []block, paint map[string]*color.Color) {
	const indent = "  "
	for _, b := range blocks {
		if b.label != "" {
			fmt.Fprintln(c.out, c.strong.Sprint(b.label))
		}
		for i, paragraph := range unwrapped(b.lines, lineWidth-labelWidth) {
			hang := ""
			if lead, _, ok := strings.Cut(paragraph, ". "); ok && strings.Trim(lead, "0123456789") == "" {
				hang = "   " // a numbered step
			}
			if blank := len(paragraph) - len(strings.TrimLeft(paragraph, " ")); blank > 0 {
				hang = paragraph[:min(blank, 4)] // a line of a table
			}
			lines := []string{paragraph}
			if utf8.RuneCountInString(paragraph) > c.width-len(indent) {
				lines = wrap(paragraph, c.width-len(indent)-len(hang))
				if strings.HasPrefix(paragraph, " ") {
					lines[0] = hang + lines[0]
				}
			}
			for j, line := range lines {
				switch {
				case j > 0:
					line = hang + line
				case i == 0:
					line = painted(line, paint[b.label])
				}
				fmt.Fprintln(c.out, indent+line)
			}
		}
	}
}

// unwrapped joins lines that wrap has broken at a width: exactly those whose
// next word did not fit.
func unwrapped(lines []string, width int) []string {
	var paragraphs []string
	before := 0 // width of the line before
	for i, line := range lines {
		first, _, _ := strings.Cut(strings.TrimSpace(line), " ")
		if i > 0 && first != "" && before+1+utf8.RuneCountInString(first) > width {
			paragraphs[len(paragraphs)-1] += " " + strings.TrimSpace(line)
		} else {
			paragraphs = append(paragraphs, line)
		}
		before = utf8.RuneCountInString(line)
	}
	return paragraphs
}

// wrap breaks text into lines of at most width columns between words; a word
// longer than that keeps a line of its own.
func wrap(text string, width int) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		switch {
		case line == "":
			line = word
		case utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width:
			lines = append(lines, line)
			line = word
		default:
			line += " " + word
		}
	}
	return append(lines, line)
}

// numbered lays out steps, each with its number and its lines set in.
func numbered(label string, steps []string) block {
	b := block{label: label}
	for i, step := range steps {
		for j, line := range wrap(shown(step), lineWidth-labelWidth-3) {
			lead := "   "
			if j == 0 {
				lead = fmt.Sprintf("%d. ", i+1)
			}
			b.lines = append(b.lines, lead+line)
		}
	}
	return b
}

// sentence ends a text with a full stop, unless it has an end of its own.
func sentence(text string) string {
	if strings.HasSuffix(text, "?") || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// shown makes text from outside harmless to a terminal: see [harmless.Text].
func shown(text string) string { return harmless.Text(text) }

// counted is how many there are of something, in words: '1 row', '7 rows'.
func counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
