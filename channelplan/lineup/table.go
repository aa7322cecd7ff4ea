package lineup

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
)

// FileError is why a file can't be used at all.
type FileError struct {
	File   string // its path or name
	Line   int    // from 1; 0 where it concerns the file as a whole
	Column int    // in characters, from 1
	Text   string // what is wrong
	Hint   string // what to do
}

// Error returns file:line:column, what is wrong and what to do, in one line.
func (e *FileError) Error() string {
	where := e.File
	if e.Line > 0 {
		where = fmt.Sprintf("%s:%d:%d", e.File, e.Line, e.Column)
	}
	return fmt.Sprintf("%s: %s; %s", where, e.Text, e.Hint)
}

// maxLineBytes is the longest line of a table that is read.
const maxLineBytes = 64 << 10

// table reads the lines of a CSV file one by one: lines of remarks, a header
// that names the columns, rows. One row is one line, so that an open quote
// spoils no more than its own row. Commas, semicolons and tabs separate,
// whichever the header uses.
type table struct {
	file   string
	in     *bufio.Reader
	line   int
	comma  rune
	header []field
	at     map[string]int // column name to place
}

// field is one value of a row and the column of characters it begins at.
type field struct {
	text   string
	column int
}

// openFile opens a file for reading, with the sentences of [FileError].
func openFile(path string) (*os.File, error) {
	f, err := os.Open(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil, &FileError{File: path, Text: "there is no such file", Hint: "check the path, or use 'demo' for the built-in system"}
	case errors.Is(err, os.ErrPermission):
		return nil, &FileError{File: path, Text: "the file may not be read", Hint: "ask for the permission, or copy it to where you may"}
	case err != nil:
		return nil, &FileError{File: path, Text: "the file can't be opened: " + err.Error(), Hint: "check the path"}
	}
	if info, err := f.Stat(); err == nil && info.IsDir() {
		f.Close()
		return nil, &FileError{File: path, Text: "this is a directory", Hint: "name a CSV file in it"}
	}
	return f, nil
}

// saveAs is what to do about a file that is no CSV in UTF-8.
const saveAs = "save it from the spreadsheet as 'CSV UTF-8'"

func newTable(r io.Reader, file string) (*table, error) {
	t := &table{file: file, in: bufio.NewReaderSize(r, 64<<10)}
	head, err := t.in.Peek(512)
	if err != nil && err != io.EOF {
		return nil, &FileError{File: file, Text: "the file can't be read: " + err.Error(), Hint: "check the path"}
	}
	switch {
	case len(head) == 0:
		return nil, &FileError{File: file, Line: 1, Column: 1, Text: "the file is empty", Hint: "it needs a line that names the columns and one line for each row"}
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}), bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		return nil, &FileError{File: file, Line: 1, Column: 1, Text: "the file is in UTF-16", Hint: saveAs}
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, &FileError{File: file, Line: 1, Column: 1, Text: "the file is a spreadsheet or an archive, not CSV", Hint: saveAs}
	case bytes.IndexByte(head, 0) >= 0:
		return nil, &FileError{File: file, Line: 1, Column: 1, Text: "the file is not text", Hint: saveAs}
	}
	if bytes.HasPrefix(head, []byte("\ufeff")) {
		if _, err := t.in.Discard(3); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// readLine returns the next line without its end, or io.EOF.
func (t *table) readLine() (string, error) {
	var line []byte
	for {
		part, err := t.in.ReadSlice('\n')
		line = append(line, part...)
		if len(line) > maxLineBytes {
			return "", &FileError{File: t.file, Line: t.line + 1, Column: 1,
				Text: fmt.Sprintf("the line is longer than %d kB", maxLineBytes>>10), Hint: "is this the right file? " + saveAs}
		}
		switch {
		case err == bufio.ErrBufferFull:
			continue
		case err == io.EOF && len(line) == 0:
			return "", io.EOF
		case errors.Is(err, errTooLarge):
			return "", &FileError{File: t.file, Line: t.line + 1, Column: 1, Text: err.Error(), Hint: "is this the right file?"}
		case err != nil && err != io.EOF:
			return "", &FileError{File: t.file, Line: t.line + 1, Column: 1, Text: "the file can't be read on: " + err.Error(), Hint: "copy it afresh"}
		}
		t.line++
		text := strings.TrimRight(string(line), "\r\n")
		if at := strings.IndexByte(text, '\r'); at >= 0 {
			return "", &FileError{File: t.file, Line: t.line, Column: 1 + utf8.RuneCountInString(text[:at]),
				Text: "lines end with a carriage return alone", Hint: saveAs}
		}
		return text, nil
	}
}

// readHeader takes a line as the one that names the columns. Names are in any
// case, and whatever is between their words counts as an underline.
func (t *table) readHeader(line string) error {
	t.comma = ','
	for _, c := range ";\t" {
		if strings.Count(line, string(c)) > strings.Count(line, string(t.comma)) {
			t.comma = c
		}
	}
	fields, problem := t.split(line)
	if problem != nil {
		return &FileError{File: t.file, Line: problem.Line, Column: problem.Column, Text: problem.Text, Hint: "correct the line that names the columns"}
	}
	t.at = map[string]int{}
	for i, f := range fields {
		name := strings.Join(strings.FieldsFunc(strings.ToLower(f.text), func(r rune) bool {
			return !unicode.IsLetter(r) && !unicode.IsDigit(r)
		}), "_")
		fields[i].text = name
		if name == "" {
			continue
		}
		if _, twice := t.at[name]; twice {
			return &FileError{File: t.file, Line: t.line, Column: f.column, Text: fmt.Sprintf("column %q is named twice", name), Hint: "keep one of the two"}
		}
		t.at[name] = i
	}
	t.header = fields
	return nil
}

// split takes a line apart, blanks around values trimmed. The problem is a
// row that is not CSV.
func (t *table) split(line string) ([]field, *Problem) {
	column := func(bytes int) int { return 1 + utf8.RuneCountInString(line[:min(max(bytes, 0), len(line))]) }
	if !utf8.ValidString(line) {
		bad := 0
		for i, r := range line {
			if r == utf8.RuneError {
				bad = i
				break
			}
		}
		return nil, &Problem{t.line, column(bad), "the line is not in UTF-8; " + saveAs}
	}
	r := csv.NewReader(strings.NewReader(line))
	r.Comma = t.comma
	r.FieldsPerRecord = -1
	values, err := r.Read()
	var parse *csv.ParseError
	switch {
	case errors.As(err, &parse) && errors.Is(err, csv.ErrQuote):
		at := parse.Column - 1
		if open := openQuote(line, t.comma); open >= 0 {
			at = open
		}
		return nil, &Problem{t.line, column(at), `a quote (") is left open or stands in the wrong place; put one on either side of the value, and two for a quote inside it`}
	case errors.As(err, &parse) && errors.Is(err, csv.ErrBareQuote):
		return nil, &Problem{t.line, column(parse.Column - 1), `a quote (") stands inside a value; put quotes around the whole value, and two for the one inside it`}
	case err != nil:
		return nil, &Problem{t.line, 1, "the line is not CSV: " + err.Error()}
	}
	fields := make([]field, len(values))
	for i, v := range values {
		_, at := r.FieldPos(i)
		fields[i] = field{strings.TrimSpace(v), column(at - 1)}
	}
	return fields, nil
}

// openQuote returns the byte at which a quote opens that is never closed, or
// -1.
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

// number makes a decimal number readable that a spreadsheet wrote with a
// decimal comma, which it does where commas do not separate.
func (t *table) number(text string) string {
	if t.comma != ',' && strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		return strings.Replace(text, ",", ".", 1)
	}
	return text
}

var errTooLarge = errors.New("the file is too large")

// limited fails, rather than ends, where a file is longer than it may be.
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
