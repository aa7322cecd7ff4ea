// Package trainer is Tallywink's screens: what a person does in a terminal
// with a lamp, live.
//
// [Watch] is for a lamp in the field: the technician taps along with its
// pulses, and the screen tells what it can be. [Train] is for learning to read
// it: a lamp that flashes in true time, questions, and what was misread.
//
// A screen is handed in, so that the same program runs in a terminal and in a
// test. What is to be seen is computed from the state and the time by pure
// functions; drawing copies it. Times come with the events.
package trainer

import (
	"context"
	"strings"
	"time"

	"github.com/gdamore/tcell/v2"
	"github.com/rivo/uniseg"

	"tallywink.example/channelplan/wording"
)

// row is a line of the screen.
type row struct {
	text  string
	style tcell.Style
}

var (
	plain  = tcell.StyleDefault
	strong = tcell.StyleDefault.Bold(true)
	// marked stands out without color.
	marked = tcell.StyleDefault.Reverse(true)
)

// draw puts rows on the screen; those that do not fit are left out. Only what
// changed goes over the line: the library sees to that.
func draw(s tcell.Screen, rows []row) {
	s.Clear()
	width, height := s.Size()
	for y, r := range rows[:min(len(rows), height)] {
		put(s, 0, y, width, r.text, r.style)
	}
	s.Show()
}

// put puts a text on the screen, no further than a column. All text goes
// through here: what is not seen, or would steer a terminal, is shown as '?'.
func put(s tcell.Screen, x, y, end int, text string, style tcell.Style) {
	s.PutStrStyled(x, y, cut(wording.Harmless(text), end-x), style)
}

// cut shortens a text to so many columns, with a sign that it was.
func cut(text string, width int) string {
	if textWidth(text) <= width {
		return text
	}
	if width < 1 {
		return ""
	}
	runes := []rune(text)
	for len(runes) > 0 && textWidth(string(runes)) > width-1 {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + ">"
}

// stamped is an event with the time at which it came.
type stamped struct {
	event tcell.Event
	at    time.Time
}

// events receives a screen's events, each stamped at once, until the screen
// is closed or the context ends.
func events(ctx context.Context, s tcell.Screen, now func() time.Time) <-chan stamped {
	c := make(chan stamped, 64)
	go func() {
		defer close(c)
		for {
			e := s.PollEvent()
			if e == nil {
				return
			}
			select {
			case c <- stamped{e, now()}:
			case <-ctx.Done():
				return
			}
		}
	}()
	return c
}

// textWidth is how many columns a text takes: wide characters two, combining
// ones none.
func textWidth(text string) int { return uniseg.StringWidth(text) }

// shownName is a name as it is shown: harmless, and no longer than there is
// room for.
func shownName(name string) string {
	const columns = 24
	name = strings.TrimSpace(wording.Harmless(name))
	for textWidth(name) > columns {
		runes := []rune(name)
		name = string(runes[:len(runes)-1])
	}
	return name
}

// wrapped breaks text into lines of at most width columns between words.
func wrapped(text string, width int) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		if line != "" && textWidth(line)+1+textWidth(word) > width {
			lines, line = append(lines, line), ""
		}
		if line != "" {
			line += " "
		}
		line += word
	}
	return append(lines, line)
}
