package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// Block is several lines of a table, for callers that read many of them at once.
type Block struct {
	Data  []byte // whole lines with their ends; the file's last line may not have one
	First int    // the number of the first line, from 1
}

// ReadBlock reads as many whole lines as a buffer holds, starting after the line that was
// read last, or returns io.EOF. Any other error is a [*fault.Error]; the lines before it
// have been returned by then. If not even one line fits, the block is in a larger buffer.
func (t *Table) ReadBlock(buffer []byte) (Block, error) {
	for t.failed == nil {
		if len(t.rest) >= len(buffer) {
			buffer = make([]byte, 2*MaxLineBytes)
		}
		if b := t.fill(buffer); len(b.Data) > 0 {
			return b, nil
		}
	}
	return Block{}, t.failed
}

// fill is ReadBlock with a buffer that has room for more than what is left of the last one.
// The block is empty if there are no more lines, or the buffer does not hold a whole line.
func (t *Table) fill(buffer []byte) Block {
	n := copy(buffer, t.rest)
	more, err := io.ReadFull(t.in, buffer[n:])
	n += more
	last := err == io.EOF || err == io.ErrUnexpectedEOF
	b := Block{First: t.Line + 1}
	end := 0
	for end < n && t.failed == nil {
		length := bytes.IndexByte(buffer[end:n], '\n') + 1
		if length == 0 && last {
			length = n - end // the file's last line does not end in a newline
		}
		if length > MaxLineBytes || length == 0 && n-end > MaxLineBytes {
			t.failed = t.tooLong()
			break
		}
		if length == 0 {
			break
		}
		end += length
		t.Line++
	}
	t.rest = append(t.rest[:0], buffer[end:n]...)
	b.Data = buffer[:end]
	switch {
	case t.failed != nil:
	case last:
		t.failed = io.EOF
	case err != nil:
		t.failed = t.unreadable(err)
	}
	return b
}

func (t *Table) tooLong() error {
	return &fault.Error{File: t.File, Line: t.Line + 1, Column: 1,
		Text: fmt.Sprintf("the line is longer than %d kB", MaxLineBytes>>10), Hint: "is this the right file? " + saveAs}
}

func (t *Table) oldReturn(column int) error {
	return &fault.Error{File: t.File, Line: t.Line, Column: column, Text: "lines end with only a carriage return",
		Hint: saveAs}
}

func (t *Table) unreadable(err error) error {
	var failed *fault.Error
	if errors.As(err, &failed) {
		return failed
	}
	if errors.Is(err, ErrTooLarge) {
		return &fault.Error{File: t.File, Line: t.Line + 1, Column: 1, Text: err.Error(),
			Hint: "is this the right file?"}
	}
	return &fault.Error{File: t.File, Line: t.Line + 1, Column: 1, Text: "the rest of the file can't be read: " +
		err.Error(), Hint: "copy it again"}
}

// Lines calls yield with each line of a block, without its line end, and with its number.
func (b Block) Lines(yield func(line []byte, number int) bool) {
	rest := b.Data
	for number := b.First; len(rest) > 0; number++ {
		line := rest
		if i := bytes.IndexByte(rest, '\n'); i >= 0 {
			line, rest = rest[:i], rest[i+1:]
		} else {
			rest = nil
		}
		if !yield(bytes.TrimRight(line, "\r"), number) {
			return
		}
	}
}

// Bare returns the line without the separators, quotes and spaces around it: a
// spreadsheet pads short rows with separators, and puts quotes around a remark that
// contains a separator.
func Bare(line []byte) []byte { return bytes.Trim(line, ",;\t \"") }

// Cut splits a line as [Layout.Split] does, but in place: values are slices of the line,
// appended to those given. It works if no value is quoted and all text is UTF-8, which is
// nearly always so; otherwise it returns false.
func (l *Layout) Cut(line []byte, values [][]byte) ([][]byte, bool) {
	comma := byte(l.Comma) // always ASCII, see ReadHeader
	start, ascii := 0, true
	for i := 0; ; i++ {
		for i < len(line) && line[i] != comma && line[i] != '"' && line[i] < utf8.RuneSelf {
			i++ // values are short: to search for the next separator would take longer
		}
		switch {
		case i == len(line):
			return append(values, trim(line[start:])), true
		case line[i] == comma:
			values = append(values, trim(line[start:i]))
			start = i + 1
		case line[i] == '"':
			return values, false
		case ascii:
			if ascii = false; !utf8.Valid(line) {
				return values, false
			}
		}
	}
}

// Values splits a line as [Layout.Split] does, appending its values to those given: in
// place where [Layout.Cut] can, which is nearly always.
func (l *Layout) Values(line []byte, number int, values [][]byte) ([][]byte, *fault.Error) {
	cut, ok := l.Cut(line, values)
	if ok {
		return cut, nil
	}
	fields, problem := l.Split(string(line), number)
	for _, f := range fields {
		values = append(values, []byte(f.Text))
	}
	return values, problem
}

// trim is bytes.TrimSpace, but without a call if there is no space around the value, and
// takes off what [wording.Spreadsheet] put before it.
func trim(value []byte) []byte {
	plain := func(c byte) bool { return c > ' ' && c < utf8.RuneSelf }
	if n := len(value); n == 0 || value[0] != '\'' && plain(value[0]) && plain(value[n-1]) {
		return value
	}
	value = bytes.TrimSpace(value)
	if len(value) > 0 && value[0] == '\'' && wording.Unescaped(string(value)) != string(value) {
		value = value[1:]
	}
	return value
}
