package main

import (
	"io"
	"os"
	"slices"

	"tallywink.example/blink/sheet"
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
		return slices.Contains([]string{demo.Name, demo.NextName, sheet.TallyName, sheet.CurlewName}, in.path)
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
