// Package trainer is Tallywink's screens: what a person does in a terminal
// with a lamp, live.
//
// [Watch] is for a lamp in the field: the technician taps along with its
// pulses, and the screen tells what it can be.
//
// A screen is handed in, so that the same program runs in a terminal and in a
// test. What is to be seen is computed from the state and the time by pure
// functions; drawing copies it. Times come with the events.
package trainer

import (
	"time"
	"unicode/utf8"

	"github.com/gdamore/tcell/v2"
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
		s.PutStrStyled(0, y, cut(r.text, width), r.style)
	}
	s.Show()
}

// cut shortens a text to so many columns, with a sign that it was. All text is
// plain ASCII.
func cut(text string, width int) string {
	if utf8.RuneCountInString(text) <= width {
		return text
	}
	if width < 1 {
		return ""
	}
	return string([]rune(text)[:width-1]) + ">"
}

// stamped is an event with the time at which it came.
type stamped struct {
	event tcell.Event
	at    time.Time
}

// events receives a screen's events, each stamped at once, until the screen
// is closed.
func events(s tcell.Screen, now func() time.Time) <-chan stamped {
	c := make(chan stamped, 64)
	go func() {
		defer close(c)
		for {
			e := s.PollEvent()
			if e == nil {
				return
			}
			c <- stamped{e, now()}
		}
	}()
	return c
}
