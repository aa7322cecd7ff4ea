package main

import (
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/screen"
	"tallywink.example/trainer"
)

// openInput opens a file for reading, or standard input for '-'. If the path is a folder,
// the error has the hint.
func openInput(out *console.Console, path, hint string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(out.In), nil
	}
	return table.Open(path, fault.GiveInput, hint)
}

// nameOfInput returns the name of an input for messages.
func nameOfInput(path string) string {
	if path == "-" {
		return "stdin"
	}
	return path
}

// named is a file with the flag that names it.
type named struct{ flag, path string }

// apart refuses outputs that are the same file as each other or as an input, so that
// nothing is overwritten that is still to be read or has just been written.
func apart(outputs []named, inputs ...named) error {
	inputs = slices.DeleteFunc(inputs, func(in named) bool {
		return slices.Contains(append(demo.Lineups(), sheet.TallyName, sheet.CurlewName), in.path)
	})
	for i, o := range outputs {
		if info, err := os.Stat(o.path); o.path == "" || o.path == "-" || err == nil && !info.Mode().IsRegular() {
			continue // a device accepts any number of outputs
		}
		for _, other := range append(outputs[:i:i], inputs...) {
			if other.path != "" && other.path != "-" && console.SameFile(o.path, other.path) {
				return misuse("give each a file of its own", "%s and %s both name %s", other.flag, o.flag, o.path)
			}
		}
	}
	return nil
}

// onScreen runs a session on the terminal.
func onScreen(out *console.Console, s trainer.Session) error {
	if err := screen.Run(s, out.Plain); err != nil {
		return misuse("run it in a terminal", "%v", err)
	}
	return nil
}

// number is a flag's number, which may have a decimal comma.
type number float64

// numberVar declares a flag for a number.
func numberVar(flags *pflag.FlagSet, into *float64, name string, usual float64, usage string) {
	*into = usual
	flags.Var((*number)(into), name, usage)
}

// String implements [pflag.Value].
func (n *number) String() string { return strconv.FormatFloat(float64(*n), 'g', -1, 64) }

// Set implements [pflag.Value].
func (n *number) Set(text string) error {
	x, err := table.ParseTyped(text)
	if err == nil {
		*n = number(x)
	}
	return err
}

// Type implements [pflag.Value].
func (n *number) Type() string { return "float64" }

// parseMHz reads a frequency as people type it: 747, 747.25, 747,25, 747 MHz.
func parseMHz(text string) (int64, error) {
	bare := strings.TrimSpace(text)
	if n := len(bare) - len("MHz"); n > 0 && strings.EqualFold(bare[n:], "MHz") {
		bare = strings.TrimSpace(bare[:n])
	}
	return channelplan.ParseMHz(table.DecimalPoint(bare))
}

// length is a flag's duration; a plain number counts in a unit that the flag is usually
// given in.
type length struct {
	into *time.Duration
	unit time.Duration
}

// durationVar declares a flag for a duration, and the unit of a plain number.
func durationVar(flags *pflag.FlagSet, into *time.Duration, name string, usual, unit time.Duration, usage string) {
	*into = usual
	flags.Var(&length{into, unit}, name, usage)
}

// String implements [pflag.Value].
func (l *length) String() string { return l.into.String() }

// Set implements [pflag.Value].
func (l *length) Set(text string) error {
	if x, err := table.ParseTyped(text); err == nil && math.Abs(x) < 1e6 {
		*l.into = time.Duration(x * float64(l.unit))
		return nil
	}
	d, err := time.ParseDuration(text)
	if err == nil {
		*l.into = d
	}
	return err
}

// Type implements [pflag.Value].
func (l *length) Type() string { return "duration" }
