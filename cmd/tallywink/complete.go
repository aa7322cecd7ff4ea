package main

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/cmd/tallywink/completion"
	"tallywink.example/cmd/tallywink/console"
)

// completionScript answers 'tallywink completion SHELL'.
func completionScript(args []string, s console.Streams) int {
	if len(args) == 1 {
		if script, ok := completion.Scripts[args[0]]; ok {
			return showExactly(s, script)
		}
	}
	fmt.Fprintln(s.Err,
		"tallywink completion: name your shell\n  bash, zsh, fish or powershell; each script starts by saying where to put it")
	return exitUnfit
}

// complete answers 'tallywink complete -- words...': one candidate on each line.
func complete(args []string, s console.Streams) int {
	if len(args) > 0 && args[0] == "--" {
		args = args[1:]
	}
	program := completion.Program{Words: append(commandNames(), programWords...), Commands: commandNames(),
		Flags: func(name string) *pflag.FlagSet {
			flags := pflag.NewFlagSet(name, pflag.ContinueOnError)
			commands[slices.Index(commandNames(), name)].setup(flags)
			return flags
		}}
	var b strings.Builder
	for _, c := range program.Candidates(args) {
		b.WriteString(c + "\n")
	}
	if _, err := io.WriteString(s.Out, b.String()); err != nil {
		return exitUnfit
	}
	return exitWell
}

// programWords are the words that the program accepts besides its commands.
var programWords = []string{"help", "man", "completion"}
