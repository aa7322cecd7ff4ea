package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"tallywink.example/channelplan/table"
)

// output is a file to be written.
type output struct {
	path string
	data []byte
}

// render makes an output of what is drawn, before anything is written.
func render(path string, draw func(io.Writer) error) (output, error) {
	var b bytes.Buffer
	err := draw(&b)
	return output{path, b.Bytes()}, err
}

// write writes a file whole or not at all: into a new file beside it, which
// then takes its name. What fails before leaves an old file as it was.
func (o output) write() error {
	err := o.replace()
	if err == nil {
		return nil
	}
	hint := "check the path and the space left"
	if errors.Is(err, fs.ErrPermission) {
		hint = "choose a file or a folder where you may write"
	}
	var cause *fs.PathError
	if errors.As(err, &cause) {
		err = cause.Err
	}
	return &table.FileError{File: o.path, Text: "the file can't be written: " + err.Error(), Hint: hint}
}

func (o output) replace() error {
	path := o.path
	if target, err := filepath.EvalSymlinks(path); err == nil {
		path = target // a link stays a link
	}
	mode := fs.FileMode(0o666) // less the umask
	if info, err := os.Stat(path); err == nil {
		if !info.Mode().IsRegular() {
			// A device or a pipe is written to; a folder says that it can't be.
			return os.WriteFile(path, o.data, mode)
		}
		// Whoever may not write the old file may not replace it either.
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		f.Close()
		mode = info.Mode().Perm()
	}
	name := filepath.Join(filepath.Dir(path), fmt.Sprintf(".tallywink-%d", os.Getpid()))
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	defer os.Remove(name) // gone by then, unless something failed
	_, err = f.Write(o.data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(name, path)
}
