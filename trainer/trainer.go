// Package trainer has everything that a person does live with a lamp: learn to read
// one, tap along with one in the field, or have one played.
//
// Each is a [Session]: it takes keys as runes with the times at which they were
// pressed, and returns rows of text and the lamp's light for a size of screen.
// [Training] is for learning, [Watching] is for a lamp in the field, and [Showing]
// plays a signal. A front end reads keys, copies a [View] to its screen, and lets time
// pass. A session has no clock and does not know the screen.
package trainer

import (
	"strings"
	"time"

	"github.com/rivo/uniseg"

	"tallywink.example/channelplan/wording"
	"tallywink.example/trainer/lesson"
)

// Keys that are not letters, as the runes that sessions take.
const (
	KeyEnter     = '\n'
	KeyEscape    = '\x1b'
	KeyBackspace = '\b'
	KeyBreak     = '\x03' // leave at once, Ctrl-C
	KeyLeft      = '\u2190'
	KeyRight     = '\u2192'
)

// Session is a session with a lamp.
type Session interface {
	// Key takes a key that was pressed at a time.
	Key(key rune, at time.Time)
	// View returns what to show on a screen of the given columns and rows.
	View(now time.Time, width, height int) View
	// Drawn is called when the latest view is on the screen.
	Drawn(at time.Time)
	// Work returns something to compute in a goroutine of its own, or nil. Call the
	// function that it returns on the goroutine that calls Key and View.
	Work(now time.Time) func() (done func())
	// Over reports whether the session has ended.
	Over() bool
}

// View is what to show.
type View struct {
	Rows []Row
	Lamp *Lamp     // nil if no lamp is shown
	Wake time.Time // when to ask again, if no key comes first
}

// Row is a line of text, at a row and a column counted from 0. Its text is unfiltered:
// [Fit] makes it safe to show.
type Row struct {
	Y, X  int
	Text  string
	Style Style
}

// Style is how a row is highlighted.
type Style uint8

// The styles.
const (
	Plain  Style = iota
	Strong       // bold
	Marked       // stands out without color
)

// Lamp is the lamp's light and where it is drawn: its middle column, its first row and
// its number of rows.
type Lamp struct {
	X         int
	Y, Height int
	Look      lesson.Look
	Lit       bool
}

// row is a line whose place has not been decided.
type row struct {
	text  string
	style Style
}

// Fit returns a row's text as it may be shown in the given columns. Characters that are
// invisible or would control a terminal become '?', and text that was cut off ends in
// '>'.
func Fit(text string, columns int) string { return cut(wording.Harmless(text), columns) }

// cut shortens a text to a width in columns, and marks that it did.
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

// textWidth returns how many columns a text takes: wide characters take two, combining
// ones none.
func textWidth(text string) int { return uniseg.StringWidth(text) }

// shownName returns a name as it is shown: harmless, and no longer than the room for
// it.
func shownName(name string) string {
	const columns = 24
	name = strings.TrimSpace(wording.Harmless(name))
	for textWidth(name) > columns {
		runes := []rune(name)
		name = string(runes[:len(runes)-1])
	}
	return name
}

// wrapped breaks text between words into lines of at most width columns.
func wrapped(text string, width int) []string { return wording.WrapBy(text, width, textWidth) }

// idle is how often a screen is redrawn if nothing is going to change.
const idle = time.Second

// soonest returns the earliest of last, which is not zero, and those times that are not
// zero.
func soonest(last time.Time, times ...time.Time) time.Time {
	for _, at := range times {
		if !at.IsZero() && at.Before(last) {
			last = at
		}
	}
	return last
}
