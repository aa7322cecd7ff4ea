package main

import (
	"errors"
	"io"
	"os"

	"tallywink.example/channelplan/table"
)

// openInput opens a file to be read, or standard input for '-'. A folder in
// its place is met with the hint.
func openInput(out *console, path, hint string) (io.ReadCloser, error) {
	if path == "-" {
		return io.NopCloser(out.in), nil
	}
	f, err := os.Open(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, &table.FileError{File: path, Text: "there is no such file", Hint: "check the path, or use - for standard input"}
	case err != nil:
		return nil, &table.FileError{File: path, Text: "the file can't be opened: " + err.Error(), Hint: "check the path"}
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, &table.FileError{File: path, Text: "this is a directory", Hint: hint}
	}
	return f, nil
}

// nameOfInput names an input in messages.
func nameOfInput(path string) string {
	if path == "-" {
		return "stdin"
	}
	return path
}
