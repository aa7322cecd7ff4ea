package main

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"tallywink.example/channelplan/lineup"
)

// writeFile writes a file whole or not at all: into a new file beside it,
// which then takes its name. What fails before leaves an old file as it was.
func writeFile(path string, write func(io.Writer) error) error {
	var b bytes.Buffer
	if err := write(&b); err != nil {
		return err
	}
	if err := replace(path, b.Bytes()); err != nil {
		hint := "check the path and the space left"
		if errors.Is(err, fs.ErrPermission) {
			hint = "choose a folder where you may write"
		}
		var cause *fs.PathError
		if errors.As(err, &cause) {
			err = cause.Err
		}
		return &lineup.FileError{File: path, Text: "the file can't be written: " + err.Error(), Hint: hint}
	}
	return nil
}

func replace(path string, data []byte) error {
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		// A device or a pipe is written to; a folder says that it can't be.
		return os.WriteFile(path, data, 0o644)
	}
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+"-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // gone by then, unless something failed
	_, err = f.Write(data)
	if err == nil {
		err = f.Chmod(0o644)
	}
	err = errors.Join(err, f.Close())
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}
