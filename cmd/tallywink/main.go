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
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/manual"
	"tallywink.example/cmd/tallywink/screen"
	"tallywink.example/cmd/tallywink/settings"
	"tallywink.example/trainer"
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
		return completionScript(args[1:], s)
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
func misuse(hint, format string, args ...any) error { return input.Misuse(hint, format, args...) }

func (c command) run(args []string, s console.Streams) int {
	flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	flags.SortFlags = false
	flags.SetOutput(io.Discard)
	flags.Usage = func() {}
	act := c.setup(flags)
	wantHelp := flags.BoolP("help", "h", false, "show this help")
	noSettings := false
	if settings.Used(c.name) {
		flags.BoolVar(&noSettings, "no-settings", false, "use nothing from 'tallywink settings'")
	}
	noColor := flags.Bool("no-color", false, "no color (also if NO_COLOR is set or the output is not a terminal)")
	if c.arrange != nil {
		args = c.arrange(flags, args)
	}
	err := input.ParseOnce(flags, args)
	if *wantHelp {
		return showText(s, c.usage(flags))
	}
	if err != nil {
		return c.fail(input.FlagError(flags, err), s)
	}
	if err := input.RefuseEmpty(flags); err != nil {
		return c.fail(err, s)
	}
	var set []string
	if settings.Used(c.name) && !noSettings {
		own, err := settings.Load()
		if err == nil {
			set, err = own.Apply(c.name, flags, flags.Args())
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
		said, hint = f.Fault(), input.HintOf(f)
	}
	text := fmt.Sprintf("tallywink %s: %s\n", c.name, console.Shown(said))
	if hint != "" {
		text += "  " + console.Shown(hint) + "\n"
	}
	io.WriteString(s.Err, console.Prose(text, console.WidthOf(s.Err)))
	return exitUnfit
}

// onScreen runs a session on the terminal.
func onScreen(out *console.Console, s trainer.Session) error {
	if err := screen.Run(s, out.Plain); err != nil {
		return misuse("run it in a terminal", "%v", err)
	}
	return nil
}
