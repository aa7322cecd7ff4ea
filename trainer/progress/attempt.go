// Package progress finds out how a trainee stands, from the attempts in a book: what
// they misread, what is due, how fast the lamp should go for them, and what to ask
// next.
//
// The next question is chosen, not drawn at random: [Chooser] estimates how likely each
// item is to be misread now, from how often and how long ago it was read right, and
// asks for the most likely one. Over days, items come back by the SM-2 rule
// ([Schedule]).
package progress

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"io"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/fault"
)

// AttemptType is the record type of attempts in a book.
const AttemptType = "attempt"

// Attempt is one question that a trainee has answered.
type Attempt struct {
	book.Record
	Trainee  string `json:"trainee"`
	Exercise string `json:"exercise"` // digits, heads, pilots, ...
	// Item is what was practiced: the unit of scheduling, such as 'digit 7'.
	Item  string `json:"mark"`
	Shown string `json:"shown"` // the right answer
	Read  string `json:"read"`  // the answer given
	Right bool   `json:"right"`
	// UnitMS is the lamp's unit. TookMS is how long the answer took from the lamp's first
	// light, or from the question if none flashed. Plays is how often the lamp was played,
	// or 0 if there was none.
	UnitMS int64 `json:"unit_ms,omitempty"`
	TookMS int64 `json:"took_ms"`
	Plays  int   `json:"plays,omitempty"`
	// Still reports whether the pulses were drawn and nothing flashed.
	Still bool `json:"still,omitempty"`
	// Groups are the groups of a frame as shown and as read, in marks, if they are known.
	Groups []GroupRead `json:"groups,omitempty"`
	// Run names the qualification run of the attempt, by its seed. RunID is the identity
	// of that sitting, the same in each of its records. Reading is which of its readings
	// this is, from 1.
	Run     string `json:"run,omitempty"`
	RunID   string `json:"run_id,omitempty"`
	Reading int    `json:"reading,omitempty"`
	// EnoughMS is how much of the lamp must be seen before it can be read: an answer that
	// took less is a guess, or was known before.
	EnoughMS int64 `json:"enough_ms,omitempty"`
	// Helped reports that the code was shown beside the question before it was answered: a
	// right answer then does not show that it was known.
	Helped bool `json:"helped,omitempty"`
	// Code names the code that was read. It is empty for Tally, the first code there was.
	Code string `json:"code,omitempty"`
}

// GroupRead is a group as shown and as read.
type GroupRead struct {
	Shown string `json:"shown"`
	Read  string `json:"read"`
}

// Early reports whether the answer came before enough of the lamp was shown to be read: a
// guess, or known from before.
func (a *Attempt) Early() bool { return a.EnoughMS > 0 && a.TookMS < a.EnoughMS }

// Attempts are the attempts of books, in order, with the places of damaged lines and
// what there is to report about their clocks.
type Attempts struct {
	All     []Attempt
	Damaged []book.Place
	Clocks  []book.Clock // of each book
	// Again is how many records had already been read, from the same book or another one:
	// each counts only once.
	Again int
	met   map[sum]bool
}

// sum identifies a record by its line.
type sum [16]byte

func sumOf(line []byte) sum {
	whole := sha256.Sum256(bytes.TrimSpace(line))
	return sum(whole[:16])
}

// Read reads the attempts of a book with the given name. It skips records of other
// types. If an attempt has a time that can't be right as of now, it gets the time that
// the book's clock gives it. The error is a [*fault.Error].
func Read(in io.Reader, name string, now time.Time) (Attempts, error) {
	var a Attempts
	err := a.Add(in, name, now)
	return a, err
}

// Add reads the attempts of one more book, without the records that were already read.
func (a *Attempts) Add(in io.Reader, name string, now time.Time) error {
	if a.met == nil {
		a.met = map[sum]bool{}
	}
	clock := book.NewClock(name, now)
	// A book has few different names and items, each in thousands of records.
	words := map[string]string{}
	once := func(texts ...*string) {
		for _, t := range texts {
			if known, ok := words[*t]; ok {
				*t = known
			} else {
				words[*t] = *t
			}
		}
	}
	damaged, err := book.Scan(in, name, func(number int, line []byte) error {
		var record book.Record
		if err := json.Unmarshal(line, &record); err == nil && record.Type != AttemptType {
			return nil
		}
		var attempt Attempt
		if err := json.Unmarshal(line, &attempt); err != nil || attempt.Item == "" || attempt.Time.IsZero() {
			return book.ErrDamaged
		}
		if len(a.All) == book.MaxKept {
			return book.Full(name, "set this book aside and start a new one", fault.NoAct)
		}
		at := clock.At(number, attempt.Time)
		if own := sumOf(line); a.met[own] {
			a.Again++
			return nil
		} else {
			a.met[own] = true
		}
		attempt.Time = at
		once(&attempt.Type, &attempt.Trainee, &attempt.Exercise, &attempt.Item, &attempt.Shown, &attempt.Read,
			&attempt.Run, &attempt.RunID, &attempt.Code)
		a.All = append(a.All, attempt)
		return nil
	})
	a.Damaged, a.Clocks = append(a.Damaged, book.Places(name, damaged)...), append(a.Clocks, clock)
	return err
}

// Of returns the attempts of a trainee, by name, ignoring case and blanks around it.
func (a Attempts) Of(trainee string) []Attempt {
	var own []Attempt
	for _, attempt := range a.All {
		if SameName(attempt.Trainee, trainee) {
			own = append(own, attempt)
		}
	}
	return own
}

// firstCode is the code of attempts that do not name one.
const firstCode = "Tally"

// CodeName returns the name of a code in attempts.
func CodeName(code *blink.Code) string {
	if code.Name == firstCode {
		return ""
	}
	return code.Name
}

// In returns the attempts at reading a code: what is known about another code's digits
// says nothing about this one's.
func (a Attempts) In(code *blink.Code) Attempts {
	name := CodeName(code)
	if !slices.ContainsFunc(a.All, func(attempt Attempt) bool { return attempt.Code != name }) {
		return a
	}
	a.All = slices.DeleteFunc(slices.Clone(a.All), func(attempt Attempt) bool { return attempt.Code != name })
	return a
}

// SameName reports whether two names mean the same trainee.
func SameName(a, b string) bool { return strings.EqualFold(strings.TrimSpace(a), strings.TrimSpace(b)) }

// Trainees returns all names, each once, as first given, in the order of their first
// attempts.
func (a Attempts) Trainees() []string {
	names, _ := a.ByTrainee()
	return names
}

// ByTrainee returns all names like [Attempts.Trainees], and the attempts of each, in
// order.
func (a Attempts) ByTrainee() (names []string, of [][]Attempt) {
	place := map[string]int{}
	for _, attempt := range a.All {
		key := strings.ToLower(strings.ToUpper(strings.TrimSpace(attempt.Trainee)))
		i, known := place[key]
		if !known {
			i = len(names)
			place[key] = i
			names, of = append(names, attempt.Trainee), append(of, nil)
		}
		of[i] = append(of[i], attempt)
	}
	return names, of
}

// Speed is how fast the lamp goes in the trainer: it begins slowly and increases up to
// the fastest speed that may be shown, even beyond the code's own.
type Speed struct{ Slowest, Fastest, Step time.Duration }

// SpeedOf returns the trainer's speed for a code. Fastest is 0 if the code may never be
// shown flashing.
func SpeedOf(code *blink.Code) Speed {
	unit := code.Timing.Unit
	s := Speed{Slowest: min(unit*3/2, code.Timing.MaxUnit).Truncate(time.Millisecond), Fastest: code.ShownFrom(),
		Step: max(unit/10, time.Millisecond).Truncate(time.Millisecond)}
	s.Slowest = max(s.Slowest, s.Fastest)
	return s
}

// Unit returns how fast the lamp should go for a trainee in an exercise: a step faster
// after each ten answers with at least nine right, and a step slower after ten with
// fewer than seven.
func (s Speed) Unit(attempts []Attempt, exercise string) time.Duration {
	unit, n, right := s.Slowest, 0, 0
	for _, a := range attempts {
		if a.Exercise != exercise {
			continue
		}
		n++
		if a.Right {
			right++
		}
		if n < 10 {
			continue
		}
		switch {
		case right >= 9:
			unit -= s.Step
		case right < 7:
			unit += s.Step
		}
		unit = min(max(unit, s.Fastest), s.Slowest)
		n, right = 0, 0
	}
	return unit
}
