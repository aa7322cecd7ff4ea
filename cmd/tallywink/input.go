package main

import (
	"io"

	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
)

// openInput opens a file to be read, or standard input for '-'. A folder in
// its place is met with the hint.
func openInput(out *console.Console, path, hint string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(out.In), nil
	}
	return table.Open(path, "use - for standard input", hint)
}

// nameOfInput names an input in messages.
func nameOfInput(path string) string {
	if path == "-" {
		return "stdin"
	}
	return path
}
