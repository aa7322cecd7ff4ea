// Package input is what a command line gives: flags, the files that they name, marks, pilots
// and states as people type them. Its errors say what to type instead.
package input

import (
	"io"
	"os"
	"slices"

	"github.com/spf13/pflag"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
)

// Open opens a file for reading, or standard input for '-'. If the path is a folder,
// the error has the hint.
func Open(out *console.Console, path, hint string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(out.In), nil
	}
	return table.Open(path, fault.GiveInput, hint)
}

// NameOf returns the name of an input for messages.
func NameOf(path string) string {
	if path == "-" {
		return "stdin"
	}
	return path
}

// Named is a file with the flag that names it.
type Named struct{ Flag, Path string }

// At returns the file that a flag names.
func At(flag, path string) Named { return Named{flag, path} }

// DistinctFiles refuses outputs that are the same file as each other or as an input, so that
// nothing is overwritten that is still to be read or has just been written.
func DistinctFiles(outputs []Named, inputs ...Named) error {
	inputs = slices.DeleteFunc(inputs, func(in Named) bool {
		return slices.Contains(append(demo.Lineups(), sheet.TallyName, sheet.CurlewName), in.Path)
	})
	for i, o := range outputs {
		if info, err := os.Stat(o.Path); o.Path == "" || o.Path == "-" || err == nil && !info.Mode().IsRegular() {
			continue // a device accepts any number of outputs
		}
		for _, other := range append(outputs[:i:i], inputs...) {
			if other.Path != "" && other.Path != "-" && console.SameFile(o.Path, other.Path) {
				return Misuse("give each a file of its own", "%s and %s both name %s", other.Flag, o.Flag, o.Path)
			}
		}
	}
	return nil
}

// HTMLVar declares the flag for a page.
func HTMLVar(flags *pflag.FlagSet, into *string) {
	flags.StringVar(into, "html", "",
		"write a page to print and hand out to `FILE`, with drawings, instead of the text")
}

// MisfitsPage refuses what does not go with a page.
func MisfitsPage(html string, json, csv bool, inputs ...Named) error {
	if html == "" {
		return nil
	}
	if json || csv {
		return Misuse("leave one of them out", "--html goes with neither --json nor --csv")
	}
	return DistinctFiles([]Named{{"--html", html}}, inputs...)
}
