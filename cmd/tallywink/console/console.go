// Package console is how the program talks to the person who runs it: where a command
// reads and prints, how text is laid out, a progress bar while a long file is read, and
// files that are written whole or not at all. It knows nothing about lamps and lineups.
//
// The rules for everything that is printed for a person:
//   - our own text is plain ASCII, so that it reads the same over any connection;
//   - lines have at most 80 columns, with a label of nine columns before the text; on
//     a narrower terminal, text is wrapped again, below its label;
//   - color only marks what the words already say, and only on a terminal;
//   - text from files passes through [Shown], so that it can't control the
//     terminal;
//   - answers go to standard output, remarks to standard error.
package console

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"os"

	"github.com/fatih/color"
	"golang.org/x/term"

	"tallywink.example/channelplan/wording"
)

// Widths in columns.
const (
	LineWidth  = 80                     // the most in a line
	LabelWidth = 9                      // the label before a text
	TextWidth  = LineWidth - LabelWidth // the text next to a label

	minWidth = 20 // on a narrower terminal, lines are left for it to break
)

// EraseLine is the ECMA-48 control sequence that erases the line.
const EraseLine = "\r\x1b[2K"

// Streams are where a command reads and writes.
type Streams struct {
	In       io.Reader
	Out, Err io.Writer
}

// Console is what a command reads from and prints to.
type Console struct {
	In  io.Reader
	Out *bufio.Writer
	Err io.Writer
	// Colors by meaning; they have no effect if there is to be no color.
	Good, Warn, Bad, Strong *color.Color
	// Terminal reports that standard output is a terminal, and not a dumb one.
	Terminal bool
	Width    int // in columns: LineWidth, or less on a narrow terminal
	// Plain reports that the user does not want color, whatever the output is.
	Plain bool
}

// New makes a console for streams, without color if noColor or NO_COLOR says so or the
// output is not a terminal.
func New(s Streams, noColor bool) *Console {
	c := &Console{
		In: s.In, Out: bufio.NewWriter(s.Out), Err: s.Err,
		Good: color.New(color.FgGreen), Warn: color.New(color.FgYellow), Bad: color.New(color.FgRed, color.Bold),
		Strong: color.New(color.Bold), Width: LineWidth, Plain: noColor || os.Getenv("NO_COLOR") != "",
	}
	if f, ok := s.Out.(*os.File); ok {
		c.Terminal = IsTerminal(f)
		c.Width = WidthOf(f)
	}
	// The library handles NO_COLOR, dumb terminals and pipes.
	if noColor || color.NoColor {
		for _, paint := range []*color.Color{c.Good, c.Warn, c.Bad, c.Strong} {
			paint.DisableColor()
		}
	}
	return c
}

// IsTerminal reports whether a file is a terminal that can be drawn on; /dev/null is a
// device, too, but not a terminal.
func IsTerminal(f *os.File) bool {
	return term.IsTerminal(int(f.Fd())) && os.Getenv("TERM") != "dumb"
}

// Flush prints buffered output. The error says that the output can't be written.
func (c *Console) Flush() error {
	if err := c.Out.Flush(); err != nil {
		return fmt.Errorf("the output can't be written: %w", err)
	}
	return nil
}

// Line prints a line as it is.
func (c *Console) Line(format string, args ...any) { fmt.Fprintf(c.Out, format+"\n", args...) }

// Remark prints a line to standard error.
func (c *Console) Remark(format string, args ...any) { fmt.Fprintf(c.Err, format+"\n", args...) }

// JSON prints a document exactly, with characters that could affect a terminal written as
// escapes.
func (c *Console) JSON(document any) error { return c.encode(document, "  ") }

// JSONLine prints a document on one line.
func (c *Console) JSONLine(document any) error { return c.encode(document, "") }

// JSONList prints documents as one JSON array, as [Console.JSON] would, but holds no more than
// one of them at a time.
func (c *Console) JSONList(documents iter.Seq[any]) error {
	between := "["
	for document := range documents {
		one, err := encoded(document, "  ", "  ")
		if err != nil {
			return err
		}
		if _, err := fmt.Fprintf(c.Out, "%s\n  %s", between, bytes.TrimRight(one, "\n")); err != nil {
			return err
		}
		between = ","
	}
	if between == "[" {
		_, err := fmt.Fprintln(c.Out, "[]")
		return err
	}
	_, err := fmt.Fprint(c.Out, "\n]\n")
	return err
}

func (c *Console) encode(document any, indent string) error {
	b, err := encoded(document, "", indent)
	if err != nil {
		return err
	}
	_, err = c.Out.Write(b)
	return err
}

// encoded writes a document as JSON that is harmless to show.
func encoded(document any, prefix, indent string) ([]byte, error) {
	to := &indented{prefix: prefix, indent: indent}
	e := json.NewEncoder(to)
	e.SetEscapeHTML(false)
	err := e.Encode(document)
	return wording.HarmlessJSON(to.Bytes()), err
}

// indented takes a document that is encoded whole, on one line, and lays it out. An encoder
// that does so itself takes several times the memory.
type indented struct {
	bytes.Buffer
	prefix, indent string
}

// Write implements [io.Writer].
func (b *indented) Write(document []byte) (int, error) {
	if b.prefix == "" && b.indent == "" {
		return b.Buffer.Write(document)
	}
	return len(document), json.Indent(&b.Buffer, document, b.prefix, b.indent)
}
