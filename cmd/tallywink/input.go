package main

import (
	"io"

	"tallywink.example/channelplan/table"
)

// openInput opens a file to be read, or standard input for '-'. A folder in
// its place is met with the hint.
func openInput(out *console, path, hint string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(out.in), nil
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
