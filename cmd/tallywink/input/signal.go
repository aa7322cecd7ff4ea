package input

import (
	"fmt"
	"slices"
	"strings"

	"tallywink.example/blink"
)

// SignalArgs works out what the lamp should show.
func SignalArgs(code *blink.Code, args []string, state, end string) (blink.Signal, error) {
	var s blink.Signal
	var err error
	// 'encode holding' and 'encode 116 digital edge low' are as clear as with flags.
	args = slices.DeleteFunc(slices.Clone(args), func(word string) bool {
		at, err := blink.ParseState(word)
		if err == nil && at != blink.NoState && (state == blink.Locked.String() || state == word) {
			state = word
			return true
		}
		if e, err := blink.ParseEdgeEnd(word); err == nil && e != blink.NoEnd && end == "" {
			end = word
			return true
		}
		return false
	})
	if s.State, err = blink.ParseState(state); err != nil {
		return s, err
	}
	if s.End, err = blink.ParseEdgeEnd(end); err != nil {
		return s, err
	}
	switch {
	case s.State == blink.Edge && s.End == blink.NoEnd && !code.HasRhythm(s):
		return s,
			Misuse("add --edge-end low (too little input: one bar) or --edge-end high (too much input: two bars)",
				"state edge needs an end of the range")
	case s.State != blink.Edge && s.End != blink.NoEnd:
		return s, Misuse("leave it out, or say --state edge",
			"--edge-end goes with the state edge, not with %v", s.State)
	case (!s.State.ShowsFrame() || len(code.Groups) == 0) && len(args) > 0:
		return s, Misuse("leave the pilot out", "state %v shows no pilot", s.State)
	case !s.State.ShowsFrame() || len(args) == 0 && code.HasRhythm(s):
		return s, nil
	case len(args) == 0:
		return s, Misuse("for instance: tallywink encode 116 digital", "give a channel and a carrier")
	}
	p, err := PilotArgs(args, "", "for instance: tallywink encode 116 digital")
	s.Pilot = p
	return s, err
}

// CheckState refuses a state for which the lamp's code does not have a signal.
func CheckState(code *blink.Code, told blink.Signal) error {
	switch s := told.State; {
	case s == blink.NoState:
	case s == blink.Steady && code.Unchanging(true) != s:
		means := code.Unchanging(true)
		return Misuse(fmt.Sprintf("enter %v", means), "a lamp of the code %s that is always lit means %v",
			code.Name, means)
	case code.Look(s, told.End) == "":
		return Misuse(fmt.Sprintf("look again, or see 'tallywink sheet': is %s the code of this lamp?", code.Name),
			"the code %s has no signal for the state %v", code.Name, s)
	}
	return nil
}

// CheckColor checks the color of the light against the code, and against the state if that is
// given.
func CheckColor(code *blink.Code, text string, state blink.State) (string, error) {
	color := strings.ToLower(strings.TrimSpace(text))
	all := code.AllColors()
	switch own := code.ColorOf(state); {
	case color == "":
	case len(all) == 0:
		return "", Misuse("leave --color out, or name the code sheet with --sheet",
			"the code %s does not name colors", code.Name)
	case !slices.Contains(all, color):
		return "", Misuse("it has "+strings.Join(all, ", "), "the code %s has no %s", code.Name, color)
	case own != "" && own != color:
		return "", Misuse("look again: is it that state, and the lamp that you mean?",
			"%v is %s in the code %s, not %s", state, own, code.Name, color)
	}
	return color, nil
}

// StateList lists the lock states as people type them, for help.
func StateList() string {
	var words []string
	for _, s := range blink.States() {
		words = append(words, s.String())
	}
	return strings.Join(words, ", ")
}
