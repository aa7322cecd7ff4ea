// Package trainer is what a person does live with a lamp: learning to read one,
// tapping along with one in the field, having one played.
//
// Each is a [Session]: it takes keys as runes with the times at which they were
// pressed, and gives rows of text and the lamp's light for a size of screen.
// [Training] is for learning, [Watching] for a lamp in the field, [Showing] plays
// a signal. A face reads keys, copies a [View] to its screen, and lets time pass; a
// session has no clock and knows no screen.
package trainer

import (
	"strings"
	"time"

	"github.com/rivo/uniseg"

	"tallywink.example/channelplan/wording"
	"tallywink.example/trainer/lesson"
)

// Keys that are no letters, as the runes that sessions take.
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
	// Key takes a key, pressed at a time.
	Key(key rune, at time.Time)
	// View returns what is to be seen in a size of columns and rows.
	View(now time.Time, width, height int) View
	// Drawn is told when the view asked for last was on the screen.
	Drawn(at time.Time)
	// Work returns what is to be computed meanwhile, in a goroutine of its own, or
	// nil; what that returns is then called where Key and View are.
	Work(now time.Time) func() (done func())
	// Over reports whether the session has ended.
	Over() bool
}

// View is what is to be seen.
type View struct {
	Rows []Row
	Lamp *Lamp     // nil where none is shown
	Wake time.Time // when to look again, if no key comes before
}

// Row is a line of text, at a row and a column from 0. It is as its session has it:
// [Fit] makes it fit to be shown.
type Row struct {
	Y, X  int
	Text  string
	Style Style
}

// Style is how a row stands out.
type Style uint8

// The styles.
const (
	Plain  Style = iota
	Strong       // bold
	Marked       // stands out without color
)

// Lamp is where the lamp is drawn, its middle at a column, in so many rows from a row
// on, and its light.
type Lamp struct {
	X         int
	Y, Height int
	Look      lesson.Look
	Lit       bool
}

// row is a line whose place is not decided yet.
type row struct {
	text  string
	style Style
}

// Fit is a row's text as it may be shown in so many columns: what is not seen, or
// would steer a terminal, is a '?', and what was cut off ends in '>'.
func Fit(text string, columns int) string { return cut(wording.Harmless(text), columns) }

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
func wrapped(text string, width int) []string { return wording.WrapBy(text, width, textWidth) }

// idle is how often a screen looks after itself when nothing is to change.
const idle = time.Second

// soonest returns the first of times that are not zero, or the last of them, which
// is not.
func soonest(last time.Time, times ...time.Time) time.Time {
	for _, at := range times {
		if !at.IsZero() && at.Before(last) {
			last = at
		}
	}
	return last
}
