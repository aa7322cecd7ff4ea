// Package fault describes what is wrong with something a user gave: a file, marks, an
// argument. One type, [Error], says where, what, and what to do about it.
//
// A library does not know whether its user works on a command line or on a page. What a
// hint asks for may be done differently there: the error then has an [Act], and the face
// puts it in its own words.
package fault

import (
	"errors"
	"fmt"
	"strings"
)

// Error is a fault in something that a user gave.
type Error struct {
	File   string // its path or name; "" if there is none, or the caller knows it
	Line   int    // from 1; 0 if it concerns the whole file
	Column int    // in characters, from 1; one past the end if something is missing
	Text   string // what is wrong, without a final period
	Hint   string // what to do, likewise without a period; "" if there is nothing to say
	Act    Act    // what the face can add to the hint
	Err    error  // the wrapped error, for [errors.Is]; nil if no caller checks for one
}

// Act is something to do that every face does in its own way.
type Act uint8

// The acts.
const (
	NoAct        Act = iota
	NameBook         // name another book of records
	BuiltIn          // use the built-in system
	BuiltInSheet     // use a built-in code sheet
	GiveInput        // give the input on standard input, if there is one
	ManyLamps        // read many lamps, one after another
	ReadTrace        // read a recording of brightness
	ShowProblems     // see every problem of a lineup
	AuditRows        // judge an inventory of any length, row by row
	NameDay          // name the day from which records count
	ShowSheet        // see a code sheet to begin from
	ListChannels     // see the channels of a plan
	PartLooks        // mark where one look at a lamp ends and the next begins
	BeginAtHead      // give a look that begins after the long dark
	PickLamp         // say which of several lamps is meant
	TellState        // give the state that a rhythm means
	GiveLineup       // give the system's lineup
	GiveColor        // give the color of the light
	ShowSetting      // see how to set an amplifier to a pilot, step by step
	end
)

// Acts returns all acts but [NoAct].
func Acts() (acts []Act) {
	for a := NoAct + 1; a < end; a++ {
		acts = append(acts, a)
	}
	return acts
}

// Fault returns where the fault is and what is wrong: file:line:column: text.
func (e *Error) Fault() string {
	where := e.File
	if e.Line > 0 {
		if where != "" {
			where += ":"
		}
		where += fmt.Sprintf("%d:%d", e.Line, e.Column)
	}
	if where != "" {
		where += ": "
	}
	return where + e.Text
}

// Error returns where the fault is, what is wrong and what to do, in one line.
func (e *Error) Error() string { return e.withHint(e.Fault()) }

// Said returns what is wrong and what to do, for where the place is shown by itself.
func (e *Error) Said() string { return e.withHint(e.Text) }

// HintAnd returns the hint and what else can be done, such as how a face does its act.
// That ends the hint's sentence, or is one of its own if it begins with a letter or a quote.
func (e *Error) HintAnd(more string) string {
	if e.Hint != "" && more != "" && !strings.ContainsRune(" ,;:", rune(more[0])) {
		return e.Hint + "; " + more
	}
	return e.Hint + more
}

func (e *Error) withHint(text string) string {
	if e.Hint == "" {
		return text
	}
	return text + "; " + e.Hint
}

// Unwrap returns what the fault wraps.
func (e *Error) Unwrap() error { return e.Err }

// Of returns an error as a fault: one of its own, or one with the error's text.
func Of(err error) *Error {
	var e *Error
	if errors.As(err, &e) {
		own := *e
		return &own
	}
	return &Error{Text: err.Error(), Err: err}
}

// In adds the name of a file to a fault that has none. Any other error becomes a fault of
// the file as a whole, with the hint. A nil error stays nil.
func In(file string, err error, hint string) error {
	var e *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &e) && e.File != "":
		return err
	case e != nil:
		named := *e
		named.File = file
		return &named
	}
	return &Error{File: file, Text: err.Error(), Hint: hint, Err: err}
}
