package table_test

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/table"
	"tallywink.example/channelplan/wording"
)

// byLine reads a table line by line.
func byLine(data []byte) (lines []string, err error) {
	t, err := table.New(bytes.NewReader(data), "f")
	for err == nil {
		var line string
		if line, err = t.ReadLine(); err == nil {
			lines = append(lines, line)
		}
	}
	return lines, err
}

// byBlock reads a table in blocks, through a reader that returns little at a time.
func byBlock(data []byte, size int) (lines []string, err error) {
	t, err := table.New(iotest.HalfReader(bytes.NewReader(data)), "f")
	buffer := make([]byte, size)
	for err == nil {
		var b table.Block
		if b, err = t.ReadBlock(buffer); err == nil {
			for line, number := range b.Lines {
				lines = append(lines, string(line))
				if number != len(lines) {
					return lines, fmt.Errorf("line %d has the number %d", len(lines), number)
				}
			}
		}
	}
	return lines, err
}

const twoLines = 2 * table.MaxLineBytes

func TestBlocksAreTheLines(t *testing.T) {
	long := strings.Repeat("x", table.MaxLineBytes-1)
	for name, data := range map[string]string{
		"lines":                        "a\nb\r\n\n\nc\n",
		"no end":                       "a\nb",
		"a return at the end":          "a\nb\r",
		"several returns":              "a\r\r\nb\n",
		"more than a block":            strings.Repeat("a,b,c\r\n", 70_000),
		"as long as a line may be":     "a\n" + long + "\n" + long + "\n" + long,
		"a line too long":              "a\nb\n" + long + "xx\nc\n",
		"a line too long, without end": "a\nb\n" + long + long + long,
		"byte order mark":              "\ufeffa\nb\n",
	} {
		want, wantErr := byLine([]byte(data))
		for _, size := range []int{0, 1, 5, 1 << 10, twoLines} {
			got, err := byBlock([]byte(data), size)
			require.Equal(t, wantErr, err, name)
			require.Equal(t, len(want), len(got), name)
			require.Equal(t, want, got, name)
		}
	}
}

func TestBlockTellsWhereReadingFailed(t *testing.T) {
	wide := strings.Repeat("b", 600) + "\n" // so that the first check of the file passes
	in, err := table.New(io.MultiReader(strings.NewReader("a\n"+wide),
		iotest.ErrReader(errors.New("the stick is out"))), "f")
	require.NoError(t, err)
	_, err = in.ReadLine()
	require.NoError(t, err)
	b, err := in.ReadBlock(make([]byte, twoLines))
	require.NoError(t, err)
	assert.Equal(t, table.Block{[]byte(wide), 2}, b)
	_, err = in.ReadBlock(make([]byte, twoLines))
	require.EqualError(t, err, "f:3:1: the rest of the file can't be read: the stick is out; copy it again")
}

// Cut and Split are compared with encoding/csv, which reads RFC 4180; trimming spaces
// around values, and taking off what was escaped for a spreadsheet, are our own additions.
func FuzzCut(f *testing.F) {
	for _, seed := range []string{"a,b,c", " a ,, b", `"a,""b",c`, "\u00a0a\u2003,b", "a\tb", "\xff,a", "'+, '=A1",
		` "a", "b,c"`, ""} {
		f.Add(seed, byte(','))
		f.Add(seed, byte('\t'))
	}
	f.Fuzz(func(t *testing.T, line string, comma byte) {
		if !strings.ContainsRune(",;\t", rune(comma)) || strings.ContainsAny(line, "\r\n") || line == "" {
			return
		}
		l := table.Layout{File: "f", Comma: rune(comma)}
		fields, problem := l.Split(line, 7)
		cut, ok := l.Cut([]byte(line), nil)
		r := csv.NewReader(strings.NewReader(line))
		r.Comma, r.FieldsPerRecord = rune(comma), -1
		r.TrimLeadingSpace = comma != '\t' // blanks before a quote are no part of the value
		record, err := r.Read()
		if problem != nil {
			require.Equal(t, 7, problem.Line)
			require.LessOrEqual(t, problem.Column, len(line)+1)
			require.False(t, ok, "what Split refuses is not cut either")
			return
		}
		require.NoError(t, err)
		require.Len(t, fields, len(record))
		for i, value := range record {
			require.Equal(t, wording.Unescaped(strings.TrimSpace(value)), fields[i].Text)
			_, at := r.FieldPos(i)
			require.Equal(t, utf8.RuneCountInString(line[:at-1])+1, fields[i].Column)
		}
		if !ok {
			return
		}
		require.Len(t, cut, len(fields))
		for i, value := range cut {
			require.Equal(t, fields[i].Text, string(value))
		}
	})
}

// A file that grows or is rewritten while it is read is not accepted as whole: its end is
// an error.
func TestWrittenToWhileRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "amps.csv")
	for name, write := range map[string]func() error{
		"longer": func() error {
			f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
			if err != nil {
				return err
			}
			defer f.Close()
			_, err = f.WriteString("A3,N1\n")
			return err
		},
		"the same length": func() error { return os.Chtimes(path, time.Time{}, time.Now().Add(time.Hour)) },
		"cut off":         func() error { return os.Truncate(path, 10) },
	} {
		t.Run(name, func(t *testing.T) {
			require.NoError(t, os.WriteFile(path, []byte("amp,node\nA1,N1\nA2,N2\n"), 0o600))
			f, err := table.OpenSteady(path)
			require.NoError(t, err)
			defer f.Close()
			first := make([]byte, 9)
			_, err = io.ReadFull(f, first)
			require.NoError(t, err)
			require.NoError(t, write())
			rows, err := table.New(f, path)
			for err == nil {
				_, err = rows.ReadLine()
			}
			assert.EqualError(t, err,
				path+": the file changed while it was being read; run this again when nothing is writing to it")

			blocks, err := table.New(io.MultiReader(strings.NewReader("amp,node\n"), f), path)
			for err == nil {
				_, err = blocks.ReadBlock(make([]byte, 1<<10))
			}
			assert.ErrorContains(t, err, "the file changed while it was being read")
			_, err = io.Copy(io.Discard, f)
			assert.ErrorContains(t, err, "the file changed while it was being read")
		})
	}
	require.NoError(t, os.WriteFile(path, []byte("amp\nA1\n"), 0o600))
	f, err := table.OpenSteady(path)
	require.NoError(t, err)
	defer f.Close()
	all, err := io.ReadAll(f)
	require.NoError(t, err)
	assert.Equal(t, "amp\nA1\n", string(all))
}
