// Package console is how the program speaks to whoever runs it: where a command
// reads and prints, how text is laid out, a bar while a long file is read, files
// that are written whole or not at all. It knows nothing of lamps and lineups.
//
// The rules of all that is printed for a person:
//   - plain ASCII of our own, so that it reads the same over any line;
//   - lines of at most 80 columns, a label of nine columns before the text; on
//     a narrower terminal text is broken anew, below its label;
//   - color only marks what the words already say, and only on a terminal;
//   - text from files passes through [Shown], so that it can't steer the
//     terminal;
//   - answers go to standard output, remarks to standard error.
package console

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"

	"github.com/fatih/color"
	"golang.org/x/term"

	"tallywink.example/channelplan/wording"
)

// Widths in columns.
const (
	LineWidth  = 80                     // of a line at most
	LabelWidth = 9                      // of the label before a text
	TextWidth  = LineWidth - LabelWidth // of the text beside a label

	minWidth = 30 // a narrower terminal breaks lines itself
)

// Control sequences, ECMA-48: hide and show the cursor, erase the line.
const (
	HideCursor = "\x1b[?25l"
	ShowCursor = "\x1b[?25h"
	EraseLine  = "\r\x1b[2K"
)

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
	// Colors by what they say; without an effect where there is to be none.
	Good, Warn, Bad, Strong *color.Color
	// Terminal tells that standard output is one, and not a dumb one.
	Terminal bool
	Width    int // columns: LineWidth, or fewer on a narrow terminal
	// Plain tells that nobody wants color, whatever the output is.
	Plain bool
}

// New makes a console of streams, without color where it is not wanted: by
// noColor, by NO_COLOR, or since the output is no terminal.
func New(s Streams, noColor bool) *Console {
	c := &Console{
		In: s.In, Out: bufio.NewWriter(s.Out), Err: s.Err,
		Good: color.New(color.FgGreen), Warn: color.New(color.FgYellow), Bad: color.New(color.FgRed, color.Bold),
		Strong: color.New(color.Bold), Width: LineWidth, Plain: noColor || os.Getenv("NO_COLOR") != "",
	}
	if f, ok := s.Out.(*os.File); ok {
		c.Terminal = IsTerminal(f)
		if width, _, err := term.GetSize(int(f.Fd())); err == nil && width > 0 {
			c.Width = min(max(width, minWidth), LineWidth)
		}
	}
	// The library knows of NO_COLOR, dumb terminals and pipes.
	if noColor || color.NoColor {
		for _, paint := range []*color.Color{c.Good, c.Warn, c.Bad, c.Strong} {
			paint.DisableColor()
		}
	}
	return c
}

// IsTerminal reports whether a file is a terminal that can be drawn on; /dev/null,
// a device too, is none.
func IsTerminal(f *os.File) bool {
	return term.IsTerminal(int(f.Fd())) && os.Getenv("TERM") != "dumb"
}

// Flush prints what is held back. The error says that the output can't be written.
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

// JSON prints a document: exactly, with what a terminal should not see as escapes.
func (c *Console) JSON(document any) error { return c.encode(document, "  ") }

// JSONLine prints a document on one line.
func (c *Console) JSONLine(document any) error { return c.encode(document, "") }

func (c *Console) encode(document any, indent string) error {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	e.SetIndent("", indent)
	if err := e.Encode(document); err != nil {
		return err
	}
	_, err := c.Out.Write(wording.HarmlessJSON(b.Bytes()))
	return err
}
