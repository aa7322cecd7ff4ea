package main

import (
	"fmt"
	"runtime/debug"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/manual"
)

// overview returns the help for the program as a whole: examples first.
func overview() string {
	var b strings.Builder
	b.WriteString(`tallywink reads the lamp of a coax amplifier's AGC: which pilot, which state,
whether that pilot is valid in your lineup, and what to do next.

  tallywink demo                               the whole job, an invented system
  tallywink decode _.. . _. _.. --lineup demo  read a lamp, judge its pilot
  tallywink check 116 digital --lineup demo    judge a pilot
  tallywink encode 116 digital                 what the lamp shows for a pilot

Commands:
`)
	for _, c := range commands {
		fmt.Fprintf(&b, "  %-9s %s\n", c.name, c.summary)
	}
	b.WriteString(`
`)
	b.WriteString(strings.Join(wording.Wrap("'tallywink help TOPIC' explains: "+strings.Join(manual.Names(), ", ")+".",
		console.LineWidth), "\n"))
	b.WriteString(`
'tallywink COMMAND --help' for more; 'tallywink man' is the manual page, and
'tallywink completion SHELL' completes commands, flags, channels and files.
Exit status: 0 all is well, 1 the answer is bad news, 2 the command or its input
can't be used.
`)
	return b.String()
}

// help answers 'tallywink help [COMMAND]' and 'tallywink help TOPIC'.
func help(args []string, s console.Streams) int {
	if len(args) == 0 {
		return showText(s, overview())
	}
	for _, c := range commands {
		if c.name == args[0] {
			return c.run([]string{"--help"}, s)
		}
	}
	if slices.Contains(programWords, args[0]) || args[0] == "--help" || args[0] == "-h" {
		return showText(s, overview())
	}
	if text, ok := manual.Topic(args[0]); ok {
		return showText(s, text)
	}
	return unknownWord("no command or topic", args[0], s)
}

// usage returns the help for one command.
func (c command) usage(flags *pflag.FlagSet) string {
	return fmt.Sprintf("tallywink %s: %s\n\n%s\nFlags:\n%s", c.name, c.summary, c.help, flagList(flags))
}

// flagList lists flags with what each is for, in lines of the usual width.
func flagList(flags *pflag.FlagSet) string {
	const column = 21
	var b strings.Builder
	flags.VisitAll(func(f *pflag.Flag) {
		value, text := pflag.UnquoteUsage(f)
		name := "  --" + f.Name
		if f.Value.Type() != "bool" {
			name += " " + value
		}
		for i, line := range wording.Wrap(text, console.LineWidth-column) {
			switch {
			case i > 0:
				name = ""
			case len(name) >= column:
				fmt.Fprintln(&b, name)
				name = ""
			}
			fmt.Fprintf(&b, "%-*s%s\n", column, name, line)
		}
	})
	return b.String()
}

// manualPage returns the manual page.
func manualPage() string {
	var parts []manual.Command
	for _, c := range commands {
		flags := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
		flags.SortFlags = false
		c.setup(flags)
		parts = append(parts, manual.Command{Name: c.name, Summary: c.summary, Help: c.help, Flags: flags})
	}
	day, err := time.Parse(time.RFC3339, newVersionDoc(debug.ReadBuildInfo()).Time)
	if err != nil { // the build does not know its day
		day = time.Time{}
	}
	return manual.Page(parts, day)
}
