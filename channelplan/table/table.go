// Package table reads tables written by a spreadsheet, line by line: remarks, a header
// line, rows. It reports what is wrong with a table in consistent words, with line and
// column.
//
// [New] checks that a file is text at all. [Table.ReadLine] returns its lines in order,
// and [Table.ReadHeader] makes one of them the header; from then on, the table's [Layout]
// splits rows. One row is one line, so an open quote spoils only its own row. Commas,
// semicolons and tabs are accepted as separators, whichever the header uses.
package table

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"unicode"
	"unicode/utf8"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// MaxLineBytes is the length of the longest line that can be read.
const MaxLineBytes = 64 << 10

// Layout is how a table is laid out. It does not change once the header has been read,
// and may then be used by several goroutines.
type Layout struct {
	File   string   // its path or name, for messages
	Comma  rune     // the separator between values
	BOM    bool     // the file begins with a byte order mark, as spreadsheets write it
	Header []Field  // the columns' names in normal form; nil before the header is read
	Titles []string // the columns' names as written in the file
	at     map[string]int
}

// Table is a table that is being read.
type Table struct {
	Layout
	Line int // the number of the line read last, from 1
	in   *bufio.Reader
	// What ReadBlock keeps from one block to the next: the start of a line that did not
	// fit, and why there is no more to read.
	rest   []byte
	failed error
}

// Field is one value of a row, with the column at which it begins, in characters, from 1.
type Field struct {
	Text   string
	Column int
}

// Open opens a file for reading. The error is a [*fault.Error]: if the file does not
// exist, orElse is what else can be done; if the path is a directory, folder is the hint.
func Open(path string, orElse fault.Act, folder string) (*os.File, error) {
	f, err := os.Open(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, &fault.Error{File: path, Text: "there is no such file", Hint: "check the path", Act: orElse}
	case errors.Is(err, os.ErrPermission):
		return nil, &fault.Error{File: path, Text: "you do not have permission to read the file",
			Hint: "ask for permission, or copy it to a folder you can read"}
	case err != nil:
		return nil, &fault.Error{File: path, Text: "the file can't be opened: " + err.Error(), Hint: "check the path"}
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, &fault.Error{File: path, Text: "this is a folder", Hint: folder}
	}
	return f, nil
}

// Steady is a file that must not be written to while it is read: at the end, reading
// fails with a [*fault.Error] if the file is no longer what it was when reading began.
// What was read is then partly old and partly new, and a row may be cut short and still
// look whole.
type Steady struct {
	*os.File
	was os.FileInfo
}

// OpenSteady is [Open] for a table; a device or a pipe is not checked for changes.
func OpenSteady(path string) (*Steady, error) {
	f, err := Open(path, fault.BuiltIn, "name a CSV file in it")
	if err != nil {
		return nil, err
	}
	was, err := f.Stat()
	if err != nil {
		f.Close()
		return nil, &fault.Error{File: path, Text: "the file can't be opened: " + err.Error(), Hint: "check the path"}
	}
	return &Steady{f, was}, nil
}

// Read implements [io.Reader].
func (s *Steady) Read(p []byte) (int, error) {
	n, err := s.File.Read(p)
	if err != io.EOF || !s.was.Mode().IsRegular() {
		return n, err
	}
	if now, failed := s.Stat(); failed != nil || now.Size() != s.was.Size() || !now.ModTime().Equal(s.was.ModTime()) {
		return n, &fault.Error{File: s.Name(), Text: "the file changed while it was being read",
			Hint: "run this again when nothing is writing to it"}
	}
	return n, err
}

// WriteTo implements [io.WriterTo] by way of Read: the file's own WriteTo would not check
// for changes.
func (s *Steady) WriteTo(w io.Writer) (int64, error) { return io.Copy(w, struct{ io.Reader }{s}) }

// saveAs is what to do about a file that is not CSV in UTF-8.
const saveAs = "save it from the spreadsheet as 'CSV UTF-8'"

// New starts reading a table; file is the name for messages. The error is a
// [*fault.Error] if the file is empty or not text in UTF-8.
func New(r io.Reader, file string) (*Table, error) {
	t := &Table{Layout: Layout{File: file}, in: bufio.NewReaderSize(r, 64<<10)}
	head, err := t.in.Peek(512)
	var failed *fault.Error
	if errors.As(err, &failed) {
		return nil, failed
	}
	if err != nil && err != io.EOF {
		return nil, &fault.Error{File: file, Text: "the file can't be read: " + err.Error(), Hint: "check the path"}
	}
	switch {
	case len(head) == 0:
		return nil, &fault.Error{File: file, Line: 1, Column: 1, Text: "the file is empty",
			Hint: "it needs a header line and one line for each row"}
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return nil, &fault.Error{File: file, Line: 1, Column: 1, Text: "the file is in UTF-16", Hint: saveAs}
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, &fault.Error{File: file, Line: 1, Column: 1,
			Text: "the file is a spreadsheet or an archive, not CSV", Hint: saveAs}
	case bytes.IndexByte(head, 0) >= 0:
		return nil, &fault.Error{File: file, Line: 1, Column: 1, Text: "the file is not text", Hint: saveAs}
	}
	if bytes.HasPrefix(head, []byte("\ufeff")) {
		t.BOM = true
		if _, err := t.in.Discard(3); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// ReadLine returns the next line without its line end, or io.EOF. Any other error is a
// [*fault.Error].
func (t *Table) ReadLine() (string, error) {
	var line []byte
	for {
		part, err := t.in.ReadSlice('\n')
		line = append(line, part...)
		if len(line) > MaxLineBytes {
			return "", t.tooLong()
		}
		switch {
		case err == bufio.ErrBufferFull:
			continue
		case err == io.EOF && len(line) == 0:
			return "", io.EOF
		case err != nil && err != io.EOF:
			return "", t.unreadable(err)
		}
		t.Line++
		text := strings.TrimRight(string(line), "\r\n")
		if at := strings.IndexByte(text, '\r'); at >= 0 {
			return "", t.oldReturn(1 + utf8.RuneCountInString(text[:at]))
		}
		return text, nil
	}
}

// ReadHeader makes the line that was read last the header line. Column names may be in
// any case, and whatever separates their words counts as an underscore. The error is a
// [*fault.Error].
func (t *Table) ReadHeader(line string) error {
	t.Comma = ','
	for _, c := range ";\t" {
		if strings.Count(line, string(c)) > strings.Count(line, string(t.Comma)) {
			t.Comma = c
		}
	}
	fields, problem := t.Split(line, t.Line)
	if problem != nil {
		return fault.In(t.File, problem, "")
	}
	t.at = map[string]int{}
	for i, f := range fields {
		t.Titles = append(t.Titles, f.Text)
		name := strings.Join(strings.FieldsFunc(strings.ToLower(f.Text), func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsDigit(r)
		}), "_")
		fields[i].Text = name
		if name == "" {
			continue
		}
		if _, twice := t.at[name]; twice {
			return &fault.Error{File: t.File, Line: t.Line, Column: f.Column,
				Text: fmt.Sprintf("column %q is named twice", name), Hint: "keep one of the two"}
		}
		t.at[name] = i
	}
	t.Header = fields
	return nil
}

// Split splits a line into values, with spaces around them trimmed; number is the line's
// number, for messages. The problem is that the row is not valid CSV.
func (t *Layout) Split(line string, number int) ([]Field, *fault.Error) {
	column := func(bytes int) int { return 1 + utf8.RuneCountInString(line[:min(max(bytes, 0), len(line))]) }
	if !utf8.ValidString(line) {
		bad := 0
		for i, r := range line {
			if r == utf8.RuneError {
				bad = i
				break
			}
		}
		return nil, &fault.Error{Line: number, Column: column(bad), Text: "the line is not in UTF-8", Hint: saveAs}
	}
	if line != "" && strings.IndexByte(line, '"') < 0 {
		return t.plain(line), nil
	}
	r := csv.NewReader(strings.NewReader(line))
	r.Comma = t.Comma
	r.FieldsPerRecord = -1
	r.TrimLeadingSpace = t.Comma != '\t' // a blank before a quote; between tabs it is no value
	values, err := r.Read()
	var parse *csv.ParseError
	switch {
	case errors.As(err, &parse) && errors.Is(err, csv.ErrQuote):
		at := parse.Column - 1
		if open := openQuote(line, t.Comma); open >= 0 {
			at = open
		}
		return nil, &fault.Error{Line: number, Column: column(at),
			Text: `a quote (") is left open or is in the wrong place`,
			Hint: "put one on each side of the value, double any quote inside it, and keep each row on one line"}
	case errors.As(err, &parse) && errors.Is(err, csv.ErrBareQuote):
		return nil, &fault.Error{Line: number, Column: column(parse.Column - 1),
			Text: `there is a quote (") inside a value`,
			Hint: "put quotes around the whole value, and double the one inside it"}
	case err != nil:
		return nil, &fault.Error{Line: number, Column: 1, Text: "the line is not CSV: " + err.Error(),
			Hint: "correct it"}
	}
	fields := make([]Field, len(values))
	for i, v := range values {
		_, at := r.FieldPos(i)
		fields[i] = Field{wording.Unescaped(strings.TrimSpace(v)), column(at - 1)}
	}
	return fields, nil
}

// plain splits a line without quotes: no reader is made for it, which for nearly all lines of
// a large file is most of the time and of the garbage.
func (t *Layout) plain(line string) []Field {
	fields := make([]Field, 0, strings.Count(line, string(t.Comma))+1)
	column := 1
	for value := range strings.SplitSeq(line, string(t.Comma)) {
		blank := 0
		if t.Comma != '\t' {
			blank = utf8.RuneCountInString(value) - utf8.RuneCountInString(strings.TrimLeftFunc(value, unicode.IsSpace))
		}
		fields = append(fields, Field{wording.Unescaped(strings.TrimSpace(value)), column + blank})
		column += utf8.RuneCountInString(value) + 1
	}
	return fields
}

// Place returns the index of a named column in a row, from 0.
func (t *Layout) Place(name string) (int, bool) {
	i, ok := t.at[name]
	return i, ok
}

// Value returns a row's value in a named column, empty if there is no such column.
func (t *Layout) Value(fields []Field, name string) Field {
	if i, ok := t.at[name]; ok && i < len(fields) {
		return fields[i]
	}
	return Field{Column: 1}
}

// Needs checks that columns exist. The error is a [*fault.Error].
func (t *Table) Needs(names ...string) error {
	var have []string
	for _, f := range t.Header {
		have = append(have, f.Text)
	}
	for _, name := range names {
		if _, ok := t.at[name]; ok {
			continue
		}
		hint := "add it"
		if near := wording.Nearest(name, have); near != "" {
			hint = fmt.Sprintf("rename the one named %q", near)
		}
		return &fault.Error{File: t.File, Line: t.Line, Column: 1,
			Text: fmt.Sprintf("there is no column '%s'", name), Hint: hint}
	}
	return nil
}

// Misspelt rejects a header with a column that looks like a misspelled one of known: its
// values would otherwise be ignored. The error is a [*fault.Error].
func (t *Table) Misspelt(known []string) error {
	for _, f := range t.Header {
		near := wording.Nearest(f.Text, known)
		if _, taken := t.at[near]; near != "" && near != f.Text && !taken {
			return &fault.Error{File: t.File, Line: t.Line, Column: f.Column,
				Text: fmt.Sprintf("column %q is not known", f.Text),
				Hint: fmt.Sprintf("rename it to %s, or, if it is your own column, to something less similar", near)}
		}
	}
	return nil
}

// openQuote returns the byte position of a quote that is opened and never closed, or -1.
func openQuote(line string, comma rune) int {
	open, atStart, escaped := -1, true, false
	for i, r := range line {
		switch {
		case escaped: // the second of two quotes in a row
			escaped = false
		case r != '"':
			atStart = r == comma || atStart && r == ' '
		case open >= 0 && strings.HasPrefix(line[i+1:], `"`):
			escaped = true
		case open >= 0:
			open, atStart = -1, false
		case atStart:
			open = i
		}
	}
	return open
}

// Number makes a number with a decimal comma readable; spreadsheets write a decimal comma
// if the separator is not a comma.
func (t *Layout) Number(text string) string {
	if t.Comma != ',' && strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		return strings.Replace(text, ",", ".", 1)
	}
	return text
}

// ErrTooLarge is the error that a reader's error wraps if a file is longer than allowed,
// see [Limit].
var ErrTooLarge = errors.New("the file is too large")

// Limit returns a reader that fails with [ErrTooLarge] instead of ending if a file is
// longer than most bytes; what names the file in the message.
func Limit(r io.Reader, most int64, what string) io.Reader {
	return &limited{r, most, fmt.Errorf("%w for %s: over %d MB", ErrTooLarge, what, most>>20)}
}

type limited struct {
	r    io.Reader
	left int64
	err  error
}

func (l *limited) Read(p []byte) (int, error) {
	if l.left <= 0 {
		return 0, l.err
	}
	if int64(len(p)) > l.left {
		p = p[:l.left]
	}
	n, err := l.r.Read(p)
	l.left -= int64(n)
	return n, err
}
