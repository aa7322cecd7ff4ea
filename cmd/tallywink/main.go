// Command tallywink reads the pilot and the lock state that a coax amplifier's lamp
// shows, and judges the pilot against a system's lineup.
//
// Each command is a file of this package, or several whose names begin with the
// command's: its flags, its printing and its exit status. Other packages compute what it
// prints.
package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/manual"
	"tallywink.example/cmd/tallywink/report"
)

// Exit statuses, the same for every command.
const (
	exitWell    = 0 // all is well; a caution also counts as well
	exitBadNews = 1 // the answer is bad news
	exitUnfit   = 2 // the command or its input can't be used
)

// command is one of the program's commands.
type command struct {
	name    string
	summary string // what it does, in one line
	help    string // examples first, then what a list of flags can't say
	// setup declares the command's flags and returns the function that runs it: arguments
	// are what is left after the flags.
	setup func(flags *pflag.FlagSet) func(out *console.Console, args []string) (int, error)
	// arrange, if not nil, sorts arguments before the flags are parsed, because marks can
	// look like flags.
	arrange func(flags *pflag.FlagSet, args []string) []string
}

// commands holds all commands, in the order of the help.
var commands = []command{demoCommand, decodeCommand, watchCommand, ampCommand, checkCommand, lineupCommand,
	rankCommand, auditCommand, cutoverCommand, encodeCommand, sheetCommand, cardCommand, planCommand, seasonCommand,
	trainCommand, progressCommand, pageCommand, settingsCommand, versionCommand}

func main() {
	os.Exit(run(os.Args[1:], console.Streams{In: os.Stdin, Out: os.Stdout, Err: os.Stderr}))
}

// run runs the program and returns its exit status.
func run(args []string, s console.Streams) int {
	if len(args) == 0 {
		fmt.Fprint(s.Err, overview())
		return exitUnfit
	}
	name := args[0]
	switch name {
	case "help", "--help", "-h":
		return help(args[1:], s)
	case "man":
		return showExactly(s, manualPage())
	case "--version", "-v":
		return versionCommand.run(args[1:], s)
	case "completion":
		return completion(args[1:], s)
	case "complete": // called by the shells' completion scripts
		return complete(args[1:], s)
	}
	i := slices.IndexFunc(commands, func(c command) bool { return c.name == name })
	if i < 0 {
		return unknownWord("no command", name, s)
	}
	return commands[i].run(args[1:], s)
}

// unknownWord refuses a word that is none of what was expected: 'no command'.
func unknownWord(what, name string, s console.Streams) int {
	hint := "'tallywink help' lists the commands"
	near := wording.Nearest(name, append(commandNames(), programWords...))
	topic := wording.Nearest(name, manual.Names())
	_, noState := blink.ParseState(name)
	switch {
	case blink.IsNotation(name) || noState == nil || len(name) > 3 && strings.Trim(name, "0123456789") == "":
		hint = "to read a lamp: 'tallywink decode " + name + " ...'"
	case strings.Trim(name, "0123456789") == "":
		hint = "to see a channel: 'tallywink plan " + name + "'; to judge a pilot: 'tallywink check " +
			name + " digital'"
	case near != "":
		hint = "did you mean 'tallywink " + near + "'?"
	case topic != "":
		hint = "did you mean 'tallywink help " + topic + "'?"
	}
	text := fmt.Sprintf("tallywink: there is %s %s\n  %s\n", what, console.Shown(fmt.Sprintf("%q", name)),
		console.Shown(hint))
	io.WriteString(s.Err, console.Prose(text, console.WidthOf(s.Err)))
	return exitUnfit
}

func commandNames() []string {
	var names []string
	for _, c := range commands {
		names = append(names, c.name)
	}
	return names
}

// misuse returns an error for a command line that can't be used.
func misuse(hint, format string, args ...any) error {
	return &fault.Error{Text: fmt.Sprintf(format, args...), Hint: hint}
}

func (c command) run(args []string, s console.Streams) int {
	flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	flags.SortFlags = false
	flags.SetOutput(io.Discard)
	flags.Usage = func() {}
	act := c.setup(flags)
	wantHelp := flags.BoolP("help", "h", false, "show this help")
	noSettings := false
	if usesSettings[c.name] != nil {
		flags.BoolVar(&noSettings, "no-settings", false, "use nothing from 'tallywink settings'")
	}
	noColor := flags.Bool("no-color", false, "no color (also if NO_COLOR is set or the output is not a terminal)")
	if c.arrange != nil {
		args = c.arrange(flags, args)
	}
	err := parseOnce(flags, args)
	if *wantHelp {
		return showText(s, c.usage(flags))
	}
	if err != nil {
		return c.fail(flagError(flags, err), s)
	}
	if err := emptyFlag(flags); err != nil {
		return c.fail(err, s)
	}
	var set []string
	if usesSettings[c.name] != nil && !noSettings {
		own, err := loadSettings()
		if err == nil {
			set, err = own.apply(c.name, flags, flags.Args())
		}
		if err != nil {
			return c.fail(err, s)
		}
	}
	out := console.New(s, *noColor)
	status, err := act(out, flags.Args())
	if err == nil {
		err = out.Flush()
	}
	if f := (*fault.Error)(nil); errors.As(err, &f) && slices.Contains(set, f.File) {
		own := *f // nobody typed that path
		own.Hint = strings.TrimPrefix(own.Hint+"; it is in 'tallywink settings', and --no-settings leaves it out", "; ")
		err = &own
	}
	if err != nil {
		return c.fail(err, s)
	}
	return status
}

// parseOnce parses flags and refuses one that is given twice, unless it may be: otherwise
// the first value would silently have no effect.
func parseOnce(flags *pflag.FlagSet, args []string) error {
	var twice error
	err := flags.ParseAll(args, func(f *pflag.Flag, value string) error {
		if f.Changed && f.Value.Type() != "stringArray" && f.Value.Type() != "bool" && twice == nil {
			twice = misuse("leave one of them out", "you gave --%s twice, %s and %s", f.Name, f.Value, value)
		}
		return flags.Set(f.Name, value)
	})
	if err != nil {
		return err
	}
	return twice
}

// emptyFlag refuses a flag with an empty value, for example from an unset variable in a
// script: otherwise the flag would silently have no effect.
func emptyFlag(flags *pflag.FlagSet) (err error) {
	flags.Visit(func(f *pflag.Flag) {
		if f.Value.Type() == "string" && f.Value.String() == "" {
			err = misuse("give it a value, or leave the flag out", "--%s is empty", f.Name)
		}
	})
	return err
}

// showText prints a text, broken anew for a narrow terminal, and returns the exit status.
func showText(s console.Streams, text string) int {
	return showExactly(s, console.Prose(text, console.WidthOf(s.Out)))
}

// showExactly prints a text as it is, for other programs, and returns the exit status.
func showExactly(s console.Streams, text string) int {
	if _, err := io.WriteString(s.Out, text); err != nil {
		fmt.Fprintf(s.Err, "tallywink: the output can't be written: %v\n", err)
		return exitUnfit
	}
	return exitWell
}

// fail prints an error: the fault on one line, what to do on the next.
func (c command) fail(err error, s console.Streams) int {
	said, hint := err.Error(), ""
	var f *fault.Error
	if errors.As(err, &f) {
		said, hint = f.Fault(), report.HintOf(f)
	}
	text := fmt.Sprintf("tallywink %s: %s\n", c.name, console.Shown(said))
	if hint != "" {
		text += "  " + console.Shown(hint) + "\n"
	}
	io.WriteString(s.Err, console.Prose(text, console.WidthOf(s.Err)))
	return exitUnfit
}

// flagError makes a sentence out of the error for a misspelled or misused flag.
func flagError(flags *pflag.FlagSet, err error) error {
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
		return misuse(hint, "there is no flag %s%s", dashes, name)
	}
	var missing *pflag.ValueRequiredError
	if errors.As(err, &missing) {
		return misuse("see --help for what it takes", "flag --%s needs a value", missing.GetSpecifiedName())
	}
	var invalid *pflag.InvalidValueError
	if errors.As(err, &invalid) {
		hint := "see --help for what it takes"
		if invalid.GetFlag().Value.Type() == "duration" {
			hint = "write it with its unit, such as 200ms or 30m"
		}
		return misuse(hint, "flag --%s can't be %q", invalid.GetFlag().Name, invalid.GetValue())
	}
	if own := (*fault.Error)(nil); errors.As(err, &own) {
		return own
	}
	return misuse("see --help", "%v", err)
}
