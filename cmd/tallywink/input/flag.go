package input

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
	"tallywink.example/channelplan/wording"
)

// Misuse returns an error for a command line that can't be used.
func Misuse(hint, format string, args ...any) error {
	return &fault.Error{Text: fmt.Sprintf(format, args...), Hint: hint}
}

// number is a flag's number, which may have a decimal comma.
type number float64

// NumberVar declares a flag for a number.
func NumberVar(flags *pflag.FlagSet, into *float64, name string, usual float64, usage string) {
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

// ParseMHz reads a frequency as people type it: 747, 747.25, 747,25, 747 MHz.
func ParseMHz(text string) (int64, error) {
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

// DurationVar declares a flag for a duration, and the unit of a plain number.
func DurationVar(flags *pflag.FlagSet, into *time.Duration, name string, usual, unit time.Duration, usage string) {
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

// ParseOnce parses flags and refuses one that is given twice, unless it may be: otherwise
// the first value would silently have no effect.
func ParseOnce(flags *pflag.FlagSet, args []string) error {
	var twice error
	err := flags.ParseAll(args, func(f *pflag.Flag, value string) error {
		if f.Changed && f.Value.Type() != "stringArray" && f.Value.Type() != "bool" && twice == nil {
			twice = Misuse("leave one of them out", "you gave --%s twice, %s and %s", f.Name, f.Value, value)
		}
		return flags.Set(f.Name, value)
	})
	if err != nil {
		return err
	}
	return twice
}

// RefuseEmpty refuses a flag with an empty value, for example from an unset variable in a
// script: otherwise the flag would silently have no effect.
func RefuseEmpty(flags *pflag.FlagSet) (err error) {
	flags.Visit(func(f *pflag.Flag) {
		if f.Value.Type() == "string" && f.Value.String() == "" {
			err = Misuse("give it a value, or leave the flag out", "--%s is empty", f.Name)
		}
	})
	return err
}

// FlagError makes a sentence out of the error for a misspelled or misused flag.
func FlagError(flags *pflag.FlagSet, err error) error {
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) {
		var names []string
		flags.VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
		name := unknown.GetSpecifiedName()
		dashes := "--"
		if unknown.GetSpecifiedShortnames() != "" {
			dashes, name = "-", unknown.GetSpecifiedShortnames()
		}
		hint := "see --help for the list"
		near := wording.Nearest(name, names)
		if i := slices.IndexFunc(names, func(n string) bool { return strings.Contains(n, name) }); near == "" &&
			len(name) > 2 && i >= 0 {
			near = names[i] // part of its name: --end for --edge-end
		}
		if near != "" {
			hint = fmt.Sprintf("did you mean --%s?", near)
		}
		return Misuse(hint, "there is no flag %s%s", dashes, name)
	}
	var missing *pflag.ValueRequiredError
	if errors.As(err, &missing) {
		return Misuse("see --help for what it takes", "flag --%s needs a value", missing.GetSpecifiedName())
	}
	var invalid *pflag.InvalidValueError
	if errors.As(err, &invalid) {
		hint := "see --help for what it takes"
		if invalid.GetFlag().Value.Type() == "duration" {
			hint = "write it with its unit, such as 200ms or 30m"
		}
		return Misuse(hint, "flag --%s can't be %q", invalid.GetFlag().Name, invalid.GetValue())
	}
	if own := (*fault.Error)(nil); errors.As(err, &own) {
		return own
	}
	return Misuse("see --help", "%v", err)
}

// LossAt reads a loss at a frequency: 22@750.
func LossAt(flag, whole, text string) (db float64, hz int64, err error) {
	left, right, ok := strings.Cut(text, "@")
	db, errDB := table.ParseTyped(left)
	hz, errHz := ParseMHz(right)
	if !ok || errDB != nil || errHz != nil {
		return 0, 0, Misuse("write it like 22@750: dB at MHz", "%s can't be %q", flag, whole)
	}
	if !(db > 0) {
		return 0, 0, Misuse("give the loss of a span as a positive number", "%s is %g dB", flag, db)
	}
	return db, hz, nil
}
