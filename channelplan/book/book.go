// Package book keeps records in a file of JSON lines that is only appended to: what a
// trainee answered, what a technician read. When [Book.Append] has returned, its record
// is on the disk; a record that was being written when the program was killed does not
// damage any other; and several programs may append to one book at the same time.
//
// A record has a type and a time, and the fields of its type. Names in it are whatever
// people gave; no part of a book leaves the machine.
package book

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"tallywink.example/channelplan/fault"
)

// Book is a book's path. The file is created with the first record.
type Book struct{ Path string }

// Record holds the fields that every record has: it is embedded in the types of records.
type Record struct {
	Type string    `json:"type"`
	Time time.Time `json:"time"`
}

func (b Book) failed(what string, err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	hint, act := "check the path and the free space", fault.NoAct
	if errors.Is(err, fs.ErrPermission) {
		hint, act = "name a book where you can write", fault.NameBook
	}
	return &fault.Error{File: b.Path, Text: fmt.Sprintf("%s: %v", what, err), Hint: hint, Act: act}
}

// Check reports whether records can be kept in the book. The error is an
// [*fault.Error].
func (b Book) Check() error {
	if err := b.isBook(); err != nil {
		return err
	}
	f, err := b.open()
	if err != nil {
		return b.failed("the book can't be written", err)
	}
	return f.Close()
}

// open opens the book for appending. It creates missing folders, and syncs so that their
// names survive a crash.
func (b Book) open() (*os.File, error) {
	made, err := makeFolder(filepath.Dir(b.Path))
	if err != nil {
		return nil, err
	}
	for _, folder := range made {
		if err := syncFolder(folder); err != nil {
			return nil, err
		}
	}
	// Others need not be able to read who practiced what.
	return os.OpenFile(b.Path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o600)
}

// plain refuses a path that exists and is not a regular file: a pipe would wait forever,
// a device has no end.
func (b Book) plain() error {
	info, err := os.Stat(b.Path)
	if err == nil && !info.Mode().IsRegular() {
		return &fault.Error{File: b.Path, Text: "this is not a regular file, and a book must be one",
			Hint: "name another", Act: fault.NameBook}
	}
	return nil
}

// isBook refuses to write to a file that does not begin like a book, so that naming the
// wrong file does not damage it.
func (b Book) isBook() error {
	if err := b.plain(); err != nil {
		return err
	}
	f, err := os.Open(b.Path)
	if err != nil {
		return nil // there is no file, or writing it will report what is wrong
	}
	defer f.Close()
	head := make([]byte, maxLine)
	n, _ := io.ReadFull(f, head)
	line, _, _ := bytes.Cut(bytes.TrimSpace(head[:n]), []byte("\n"))
	if !beginsBook(line) {
		return &fault.Error{File: b.Path, Text: "this file does not start like a book, so nothing was written to it",
			Hint: "name another", Act: fault.NameBook}
	}
	return nil
}

// beginsBook reports whether a line can be the first of a book: a record, or one that was
// cut short.
func beginsBook(line []byte) bool {
	var record Record
	if json.Unmarshal(line, &record) == nil {
		return record.Type != ""
	}
	const begin = `{"type":`
	return len(line) == 0 || bytes.HasPrefix(line, []byte(begin)) || bytes.HasPrefix([]byte(begin), line) &&
		len(line) > 1
}

// Append writes a record, which must marshal to a JSON object, as a line of its own, and
// returns when it is on the disk. The error is a [*fault.Error].
func (b Book) Append(record any) error {
	line, err := json.Marshal(record)
	if err != nil {
		return b.failed("the record can't be written", err)
	}
	if len(line) >= maxLine {
		return &fault.Error{File: b.Path,
			Text: fmt.Sprintf("the record is longer than %d kB and could not be read back", maxLine>>10),
			Hint: "shorten what is in it"}
	}
	if err := b.isBook(); err != nil {
		return err
	}
	if err := b.append(append(line, '\n')); err != nil {
		return b.failed("the book can't be written", err)
	}
	return nil
}

// append writes a line in one piece at the end of the file, wherever that is by then:
// O_APPEND guarantees that, also for several programs at once.
func (b Book) append(line []byte) (err error) {
	f, err := b.open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	// If a kill or a full disk cut the last line short, end it here.
	if cut, err := endsInLine(f); err != nil {
		return err
	} else if cut {
		line = append([]byte{'\n'}, line...)
	}
	if _, err := f.Write(line); err != nil {
		return err
	}
	if err := f.Sync(); err != nil {
		return err
	}
	// A file that was empty may be new, whoever created it.
	if info, err := f.Stat(); err != nil || info.Size() == int64(len(line)) {
		return syncFolder(filepath.Dir(b.Path))
	}
	return nil
}

// makeFolder makes a folder and its missing parents, and returns the folders in which
// names were created: they must be synced.
func makeFolder(path string) (made []string, err error) {
	for folder := path; ; folder = filepath.Dir(folder) {
		if _, err := os.Stat(folder); !errors.Is(err, fs.ErrNotExist) || folder == filepath.Dir(folder) {
			break
		}
		made = append(made, filepath.Dir(folder))
	}
	return made, os.MkdirAll(path, 0o700)
}

// endsInLine reports whether a file ends in the middle of a line.
func endsInLine(f *os.File) (bool, error) {
	info, err := f.Stat()
	if err != nil || info.Size() == 0 || !info.Mode().IsRegular() {
		return false, err
	}
	last := make([]byte, 1)
	if _, err := f.ReadAt(last, info.Size()-1); err != nil {
		return false, err
	}
	return last[0] != '\n', nil
}

// syncFolder syncs a folder, so that a new file's name survives a crash. Windows has no
// such call and does not need one.
func syncFolder(path string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	folder, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}

// maxLine is the longest line that is read; a longer one counts as damaged.
const maxLine = 64 << 10

// maxDamaged is how many damaged lines are recorded before reading fails.
const maxDamaged = 100_000

// MaxKept is how many records of a book are kept in memory: those of fifty people for a
// year. If there are more, the error is [Full].
const MaxKept = 300_000

// ErrDamaged is what the function passed to [Scan] returns for a line that is a JSON
// object but not a valid record.
var ErrDamaged = errors.New("the record is damaged")

// Full returns the error for a file of that name that has more than [MaxKept] records.
func Full(name, hint string, act fault.Act) error {
	return &fault.Error{File: name, Text: "there are more than 300,000 records to read at once", Hint: hint, Act: act}
}

// Open opens the book for reading from its beginning. A book that does not exist is
// empty. The error is a [*fault.Error].
func (b Book) Open() (io.ReadCloser, error) {
	if err := b.plain(); err != nil {
		return nil, err
	}
	f, err := os.Open(b.Path)
	if errors.Is(err, fs.ErrNotExist) {
		return io.NopCloser(bytes.NewReader(nil)), nil
	}
	if err != nil {
		return nil, b.failed("the book can't be opened", err)
	}
	return f, nil
}

// Scan calls each for every line of a book that is a JSON object, in order, with its
// number, from 1; name is the book's, for messages. Other lines, and those for which each
// returns [ErrDamaged], are damaged: Scan returns their numbers, in order. Any other
// error of each ends the reading and is returned. The book's own error is a
// [*fault.Error], also if 100,000 lines are damaged.
func Scan(r io.Reader, name string, each func(number int, line []byte) error) (damaged []int, err error) {
	in := bufio.NewReaderSize(r, maxLine)
	for number := 1; ; number++ {
		line, err := in.ReadSlice('\n')
		tooLong := errors.Is(err, bufio.ErrBufferFull)
		for errors.Is(err, bufio.ErrBufferFull) {
			_, err = in.ReadSlice('\n')
		}
		if err != nil && err != io.EOF {
			return damaged, Book{name}.failed("the book can't be read", err)
		}
		var wrong error
		switch trimmed := bytes.TrimSpace(line); {
		case tooLong:
			wrong = ErrDamaged
		case len(trimmed) == 0:
		case trimmed[0] != '{' || !json.Valid(trimmed):
			wrong = ErrDamaged
		default:
			wrong = each(number, trimmed)
		}
		switch {
		case wrong == nil:
		case !errors.Is(wrong, ErrDamaged):
			return damaged, wrong
		default:
			if damaged = append(damaged, number); len(damaged) >= maxDamaged {
				return damaged, &fault.Error{File: name, Text: "100,000 of its lines can't be read",
					Hint: "is this a book? Name another", Act: fault.NameBook}
			}
		}
		if err == io.EOF {
			return damaged, nil
		}
	}
}

// Place is a line of a book.
type Place struct {
	Book string // its path
	Line int    // from 1
}

// Places returns the places of lines in a book of that name.
func Places(name string, lines []int) []Place {
	var places []Place
	for _, line := range lines {
		places = append(places, Place{name, line})
	}
	return places
}
