package input

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"unicode"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// This file handles marks as people type them on a command line, unquoted: '-..' and '--'
// may be marks or flags, a lone '-' a mark or standard input, and the shell may have
// replaced a '?' by a file name.

// ArrangeMarks sorts the arguments of decode: flags with their values first, then
// everything else after '--', where it is no longer taken for flags.
//
// An argument made only of marks is marks, whatever it begins with. '--' before any mark
// ends the flags, as usual, because no frame begins with a zero. After the first mark it
// means two longs; with --no-start, where marks may begin at any group, it always does.
func ArrangeMarks(flags *pflag.FlagSet, args []string) []string {
	var before, rest []string
	ended := false
	anyGroup := slices.Contains(args, "--no-start")
	for i := 0; i < len(args); i++ {
		a := args[i]
		switch {
		case ended:
			rest = append(rest, a)
		case a == "--" && len(rest) == 0 && !anyGroup:
			ended = true
		case blink.IsNotation(a) || !strings.HasPrefix(a, "-"):
			rest = append(rest, a)
		default:
			before = append(before, a)
			if takesValue(flags, a) {
				if i++; i == len(args) {
					return before // the value is missing: leave the error to the flags
				}
				before = append(before, args[i])
			}
		}
	}
	if len(rest) == 0 {
		return before // add no '--', which a flag without its value could take as its value
	}
	return append(append(before, "--"), rest...)
}

// takesValue reports whether a flag's value is the next argument.
func takesValue(flags *pflag.FlagSet, arg string) bool {
	name, isLong := strings.CutPrefix(arg, "--")
	if !isLong || strings.Contains(name, "=") {
		return false
	}
	f := flags.Lookup(name)
	return f != nil && f.NoOptDefVal == ""
}

// MaxStdinBytes is the size of the largest single reading: far more than the looks that
// are accepted need.
const MaxStdinBytes = 64 << 10

// ReadMarks returns the looks that the arguments contain; '-' alone means standard input.
func ReadMarks(out *console.Console, args []string) ([]blink.Frame, error) {
	if len(args) == 1 && args[0] == "-" {
		text, err := ReadAll(out.In)
		if err != nil {
			return nil, err
		}
		return StdinMarks(text)
	}
	looks, err := blink.ParseNotation(strings.Join(args, " "))
	if err == nil {
		return looks, nil
	}
	for _, a := range args {
		if _, statErr := os.Stat(a); statErr == nil && !blink.IsNotation(a) {
			return nil,
				Misuse("quote the marks, or write x for a mark that was not sure; --each FILE reads a file of readings",
					"%q is not a mark, but a file here has that name: the shell may have replaced a ? or * with it", a)
		}
	}
	if hint := meantAs(args); hint != "" {
		return nil, Misuse(hint, "%q is not what a lamp shows", strings.Join(args, " "))
	}
	return nil, fault.In("marks", err, "")
}

// meantAs says how to ask for what was probably meant by arguments that are not marks; ""
// if that is anybody's guess.
func meantAs(args []string) string {
	typed := strings.Join(args, " ")
	if p, err := PilotArgs(slices.Clone(args), "", ""); err == nil {
		return fmt.Sprintf("it is a pilot: 'tallywink check %v' judges it, 'tallywink encode %v' shows its lamp", p, p)
	}
	var states []string
	for _, s := range blink.States() {
		states = append(states, s.String())
	}
	for _, a := range args {
		if near := wording.Nearest(a, states); near != "" {
			return "did you mean " + near + "?"
		}
	}
	switch low := strings.ToLower(typed); {
	case strings.Contains(low, "bar"):
		return "for one bar in the long dark type 'edge low' behind the frame, for two bars 'edge high'"
	case strings.Contains(low, "edgelow"), strings.Contains(low, "edgehigh"):
		return "leave a space: edge low, edge high"
	case strings.Contains(low, "start"), strings.Contains(low, "stuck"), strings.Contains(low, "lit"):
		return "always lit is the state steady: tallywink decode steady"
	case strings.Contains(low, "off"), strings.Contains(low, "no light"):
		return "never lit is the state dark: tallywink decode dark"
	}
	letters := strings.ContainsFunc(typed, unicode.IsLetter)
	digits := strings.ContainsAny(typed, "0123456789")
	switch {
	case letters && digits && len(args) == 1:
		return fmt.Sprintf("if it is the amplifier, write --amp %s and add what its lamp shows; 'tallywink amp %s' tells what is known of it",
			typed, typed)
	case digits:
		return "write the digits of a frame, such as 7167, with x for one that you are not sure of: 71x7"
	}
	return ""
}

// StdinMarks reads the looks in what was piped in.
func StdinMarks(text string) ([]blink.Frame, error) {
	looks, err := blink.ParseNotation(text)
	return looks, fault.In("stdin", err, "")
}

// ReadAll reads standard input, up to [MaxStdinBytes].
func ReadAll(r io.Reader) (string, error) {
	text, err := io.ReadAll(io.LimitReader(r, MaxStdinBytes+1))
	if err != nil {
		return "", fmt.Errorf("standard input can't be read: %w", err)
	}
	if len(text) > MaxStdinBytes {
		return "", Misuse("for many lamps, one per line, use --each -",
			"standard input is longer than one reading can be (%d kB)", MaxStdinBytes>>10)
	}
	return string(text), nil
}
