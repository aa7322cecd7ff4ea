package blink

import (
	"errors"
	"fmt"
	"strings"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// State is the lock state of an amplifier's automatic gain control (AGC), as its lamp
// shows it. The zero State is not a valid state.
type State uint8

// The states, in the words of the trade.
const (
	NoState State = iota
	Locked        // AGC follows the pilot; the lamp shows the frame
	Edge          // locked, at an end of the correction range; the frame, with bars in its rest
	Manual        // gain set by hand, AGC off
	Thermal       // open-loop temperature compensation
	Seeking       // looking for the pilot
	Holding       // pilot lost, last gain held
	Fault         // self-test failed
	Steady        // always lit: starting, or stuck; fixed
	Dark          // never lit: no power, or no AGC module
	stateCount
)

// EdgeEnd is the end of the correction range that an AGC in state Edge has reached.
type EdgeEnd uint8

// The ends.
const (
	NoEnd   EdgeEnd = iota
	EndLow          // the input is too low, gain can't rise further
	EndHigh         // the input is too high, gain can't fall further
	endCount
)

var endWords = [...]string{NoEnd: "", EndLow: "low", EndHigh: "high"}

func (e EdgeEnd) valid() EdgeEnd {
	if e >= endCount {
		return NoEnd
	}
	return e
}

// String returns low or high, or an empty string.
func (e EdgeEnd) String() string { return endWords[e.valid()] }

// MarshalText returns [EdgeEnd.String].
func (e EdgeEnd) MarshalText() ([]byte, error) { return []byte(e.String()), nil }

// UnmarshalText is [ParseEdgeEnd].
func (e *EdgeEnd) UnmarshalText(word []byte) (err error) {
	*e, err = ParseEdgeEnd(string(word))
	return err
}

// stateFacts holds the word and the meaning of each state. What the lamp does depends
// on the code: see [Code.Look].
var stateFacts = [stateCount]struct{ word, meaning string }{
	NoState: {"none", ""},
	Locked:  {"locked", "the AGC follows the pilot"},
	Edge:    {"edge", "locked, but at the end of the AGC's range"},
	Manual:  {"manual", "the gain is set by hand and the AGC is off"},
	Thermal: {"thermal", "the gain follows the temperature, not a pilot"},
	Seeking: {"seeking", "the AGC is looking for its pilot"},
	Holding: {"holding", "the pilot is lost and the last gain is held"},
	Fault:   {"fault", "the self-test failed"},
	Steady:  {"steady", "always lit: starting, or stuck"},
	Dark:    {"dark", "never lit: no power, or no AGC module"},
}

// States returns all states, in the order of the code's description.
func States() []State {
	return []State{Locked, Edge, Manual, Thermal, Seeking, Holding, Fault, Steady, Dark}
}

func (s State) valid() State {
	if s >= stateCount {
		return NoState
	}
	return s
}

// String returns the state's word: locked, edge, manual, thermal, seeking,
// holding, fault, steady, dark, or none.
func (s State) String() string { return stateFacts[s.valid()].word }

// MarshalText returns [State.String].
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText is [ParseState].
func (s *State) UnmarshalText(word []byte) (err error) {
	*s, err = ParseState(string(word))
	return err
}

// NameAt returns [State.String] with the end of the range, if there is one: 'edge (low
// end)'.
func (s State) NameAt(end EdgeEnd) string {
	if end.valid() == NoEnd {
		return s.String()
	}
	return fmt.Sprintf("%v (%v end)", s, end)
}

// Meaning says what the state means, as half a sentence.
func (s State) Meaning() string { return stateFacts[s.valid()].meaning }

// ShowsFrame reports whether the lamp shows the pilot's frame in this state.
func (s State) ShowsFrame() bool { return s == Locked || s == Edge }

// MeaningAt returns [State.Meaning], with the end of the range if the state is Edge and
// the end is known.
func (s State) MeaningAt(end EdgeEnd) string {
	if s == Edge {
		switch end {
		case EndLow:
			return "locked, but the input is too low and the gain can't go any higher"
		case EndHigh:
			return "locked, but the input is too high and the gain can't go any lower"
		}
	}
	return s.Meaning()
}

// ErrState is the error that [ParseState] wraps.
var ErrState = errors.New("unknown state")

// ParseState reads the word of a state, in any case. The error wraps
// [ErrState] and suggests the nearest word.
func ParseState(word string) (State, error) {
	var words []string
	for _, s := range States() {
		if strings.EqualFold(strings.TrimSpace(word), s.String()) {
			return s, nil
		}
		words = append(words, s.String())
	}
	hint := "a state is one of " + strings.Join(words, ", ")
	if near := wording.Nearest(word, words); near != "" {
		hint += fmt.Sprintf(" (did you mean %s?)", near)
	}
	return NoState, &fault.Error{Text: fmt.Sprintf("%v %q", ErrState, word), Hint: hint, Err: ErrState}
}

// ParseStateAt reads a state and the end of the range that goes with it. Either word
// may be empty. The error is that of [ParseState] or [ParseEdgeEnd].
func ParseStateAt(state, end string) (s State, e EdgeEnd, err error) {
	if state != "" {
		if s, err = ParseState(state); err != nil {
			return s, e, err
		}
	}
	e, err = ParseEdgeEnd(end)
	return s, e, err
}

// ErrEdgeEnd is the error that [ParseEdgeEnd] wraps.
var ErrEdgeEnd = errors.New("unknown end of the range")

// ParseEdgeEnd reads low or high, in any case, or an empty word. The error wraps
// [ErrEdgeEnd].
func ParseEdgeEnd(word string) (EdgeEnd, error) {
	for e, w := range endWords {
		if strings.EqualFold(strings.TrimSpace(word), w) {
			return EdgeEnd(e), nil
		}
	}
	return NoEnd, fmt.Errorf("%w: %q; it is low (the gain can't go any higher) or high (the gain can't go any lower)",
		ErrEdgeEnd, word)
}
