package input

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/fault"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/trainer/progress"
)

// The books in the user's own folder: readings in the field, and attempts in training.
const (
	FieldBook    = "readings.jsonl"
	AttemptsBook = "attempts.jsonl"
)

// OpenBook returns the book at a path or, without a path, the one of that name in the
// user's own folder.
func OpenBook(path, name string) (book.Book, error) {
	if path == "-" {
		return book.Book{}, Misuse("name a file", "a book must be a file, but - is standard input")
	}
	if path == "" {
		var err error
		if path, err = ownPath(name); err != nil {
			return book.Book{}, err
		}
	}
	return book.Book{Path: path}, nil
}

// ownPath returns where a book of that name is kept, by the XDG Base Directory
// Specification: in $XDG_DATA_HOME/tallywink, else ~/.local/share/tallywink; on macOS and
// Windows, in the system's folder for application data.
func ownPath(name string) (string, error) {
	if home := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(home) {
		return filepath.Join(home, "tallywink", name), nil
	}
	if runtime.GOOS == "windows" || runtime.GOOS == "darwin" {
		home, err := os.UserConfigDir()
		if err != nil {
			return "", noFolder(name, err)
		}
		return filepath.Join(home, "tallywink", name), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", noFolder(name, err)
	}
	return filepath.Join(home, ".local", "share", "tallywink", name), nil
}

func noFolder(name string, err error) error {
	return &fault.Error{File: name, Text: "there is no folder for it: " + err.Error(), Hint: "name a book",
		Act: fault.NameBook}
}

// ReadBooks reads books one after the other; without any, the user's own.
func ReadBooks(paths []string) (progress.Attempts, error) {
	if len(paths) == 0 {
		paths = []string{""}
	}
	var all progress.Attempts
	for i, path := range paths {
		if slices.ContainsFunc(paths[:i], func(before string) bool {
			return before == path ||
				console.SameFile(before, path)
		}) {
			continue // count each book once
		}
		b, err := OpenBook(path, AttemptsBook)
		if err != nil {
			return all, err
		}
		if _, err := os.Stat(path); path != "" && errors.Is(err, os.ErrNotExist) {
			return all, &fault.Error{File: path, Text: "there is no such file", Hint: "check the path"}
		}
		if err := addAttempts(&all, b); err != nil {
			return all, err
		}
	}
	// Report practice in the order of time, whichever book it is in.
	slices.SortStableFunc(all.All, func(a, b progress.Attempt) int { return a.Time.Compare(b.Time) })
	return all, nil
}

// ReadAttempts reads a book's attempts.
func ReadAttempts(b book.Book) (progress.Attempts, error) {
	var a progress.Attempts
	err := addAttempts(&a, b)
	return a, err
}

// addAttempts adds the attempts of one more book.
func addAttempts(a *progress.Attempts, b book.Book) error {
	in, err := b.Open()
	if err != nil {
		return err
	}
	defer in.Close()
	return a.Add(in, b.Path, time.Now())
}

// NamesIn lists the trainees who made the attempts.
func NamesIn(attempts progress.Attempts) string {
	names := attempts.Trainees()
	if len(names) == 0 {
		return "none at all"
	}
	return strings.Join(names, ", ")
}

// RemarkBooks reports lines of books that can't be read, and times that can't be right:
// they stay as they are.
func RemarkBooks(out *console.Console, damaged []book.Place, clocks ...book.Clock) {
	for _, at := range damaged[:min(len(damaged), 5)] {
		out.Remark("tallywink: %s:%d: this line can't be read; it stays in the file, and the other lines count",
			console.Shown(at.Book), at.Line)
	}
	if more := len(damaged) - 5; more > 0 {
		out.Remark("  and %d more", more)
	}
	for _, c := range clocks {
		if c.Count == 0 {
			continue
		}
		out.Remark("tallywink: %s:%d: the time in this line can't be right; it counts as the time of the line before",
			console.Shown(c.Book), c.First)
		if more := c.Count - 1; more > 0 {
			out.Remark("  and %d more like it; check the clock they came from", more)
		} else {
			out.Remark("  check the clock it came from")
		}
	}
}

// KeptBook is a book that is written to for a while. It notices when someone deletes or
// replaces the file in between.
type KeptBook struct {
	book.Book
	was     os.FileInfo // when it was last written to; nil before
	Changed bool        // someone deleted or replaced the file
}

// Append writes an attempt. The error says that it is not in the book.
func (k *KeptBook) Append(a progress.Attempt) error {
	if now, err := os.Stat(k.Path); k.was != nil && (err != nil || !os.SameFile(now, k.was)) {
		k.Changed = true
	}
	if err := k.Book.Append(a); err != nil {
		return err
	}
	k.was, _ = os.Stat(k.Path)
	return nil
}
