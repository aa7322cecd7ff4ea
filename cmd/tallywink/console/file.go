package console

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"syscall"
	"time"

	"tallywink.example/channelplan/fault"
)

// File is a file to write.
type File struct {
	Path string
	Data []byte // the whole content
}

// Render draws a file's content into memory, before anything is written.
func Render(path string, draw func(io.Writer) error) (File, error) {
	var b bytes.Buffer
	err := draw(&b)
	return File{path, b.Bytes()}, err
}

// Write writes a file whole or not at all: into a new file in the same folder, which then
// takes its name. If that fails, an old file stays as it was. The error is a
// [*fault.Error].
func (file File) Write() error {
	err := file.replace()
	if err == nil {
		return nil
	}
	hint := "check the path and the free space"
	if errors.Is(err, fs.ErrPermission) {
		hint = "choose a file or a folder where you can write"
	}
	var cause *fs.PathError
	if errors.As(err, &cause) {
		err = cause.Err
	}
	return &fault.Error{File: file.Path, Text: "the file can't be written: " + err.Error(), Hint: hint}
}

// SameFile reports whether two paths name the same file, which need not exist yet.
func SameFile(a, b string) bool {
	x, errX := os.Stat(a)
	y, errY := os.Stat(b)
	if errX == nil && errY == nil {
		return os.SameFile(x, y)
	}
	place := func(path string) string {
		if target, err := followed(path); err == nil {
			path = target
		}
		folder, err := filepath.EvalSymlinks(filepath.Dir(path))
		if err != nil {
			return filepath.Clean(path)
		}
		if whole, err := filepath.Abs(folder); err == nil {
			folder = whole
		}
		return filepath.Join(folder, filepath.Base(path))
	}
	return (errX == nil) == (errY == nil) && place(a) == place(b)
}

// followed returns where the links of a path finally lead, whether or not there is a
// file.
func followed(path string) (string, error) {
	if target, err := filepath.EvalSymlinks(path); err == nil {
		return target, nil
	}
	const most = 40
	for range most {
		target, err := os.Readlink(path)
		if err != nil {
			return path, nil // not a link
		}
		if !filepath.IsAbs(target) {
			// Folders can be links, too: '..' is relative to where they lead.
			folder, err := filepath.EvalSymlinks(filepath.Dir(path))
			if err != nil {
				return "", err
			}
			target = folder + string(filepath.Separator) + target
		}
		path = target
	}
	return "", errors.New("its links go in a circle")
}

func (file File) replace() error {
	path, err := followed(file.Path) // a link stays a link
	if err != nil {
		return err
	}
	mode := fs.FileMode(0o666) // minus the umask
	if info, err := os.Stat(path); err == nil {
		if !info.Mode().IsRegular() {
			// A device or a pipe can be written to directly; a folder gives an error.
			return os.WriteFile(path, file.Data, mode)
		}
		// A user without permission to write the old file may not replace it either.
		f, err := os.OpenFile(path, os.O_WRONLY, 0)
		if err != nil {
			return err
		}
		f.Close()
		mode = info.Mode().Perm()
	}
	const begin = ".tallywink-"
	sweep(filepath.Dir(path), begin)
	name := filepath.Join(filepath.Dir(path), fmt.Sprintf("%s%d", begin, os.Getpid()))
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode)
	if err != nil {
		return err
	}
	defer os.Remove(name) // already renamed, unless something failed
	_, err = f.Write(file.Data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(name, path)
}

// sweep removes what a write left in a folder that was killed in the middle: files whose
// names begin that way and end in the number of a process that is gone.
func sweep(folder, begin string) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return // the write itself will report what is wrong
	}
	for _, e := range entries {
		number, ours := strings.CutPrefix(e.Name(), begin)
		pid, err := strconv.Atoi(number)
		if !ours || err != nil || pid <= 0 {
			continue
		}
		info, err := e.Info()
		if err != nil || !info.Mode().IsRegular() {
			continue
		}
		if pid != os.Getpid() && (running(pid) || time.Since(info.ModTime()) < settled) {
			continue // on a shared folder, the process may be another machine's
		}
		os.Remove(filepath.Join(folder, e.Name()))
	}
}

// settled is how long a write may take.
const settled = time.Minute

// running reports whether there may be a process with a number.
func running(pid int) bool {
	p, err := os.FindProcess(pid) // on Windows, this fails if there is none
	if err != nil {
		return false
	}
	defer p.Release()
	if runtime.GOOS == "windows" {
		return true
	}
	err = p.Signal(syscall.Signal(0))
	return err == nil || errors.Is(err, os.ErrPermission)
}
