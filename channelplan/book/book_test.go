package book

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/book/booktest"
	"tallywink.example/channelplan/fault"
)

type note struct {
	Record
	Writer string `json:"writer"`
	Number int    `json:"number"`
	Filler string `json:"filler,omitempty"`
}

// TestMain lets the test binary act as another program that writes.
func TestMain(m *testing.M) {
	if path := os.Getenv("BOOK_TEST_WRITE"); path != "" {
		most, _ := strconv.Atoi(os.Getenv("BOOK_TEST_RECORDS")) // unset means without end
		writeOn(Book{path}, os.Getenv("BOOK_TEST_WRITER"), most)
	}
	os.Exit(m.Run())
}

// writeOn appends records, without end if most is 0, reports each once it is written, and
// ends the process.
func writeOn(b Book, writer string, most int) {
	for i := 1; ; i++ {
		err := b.Append(note{Record{"note", time.Now()}, writer, i, strings.Repeat("x", i*37%900)})
		if err != nil {
			fmt.Println(err)
			os.Exit(1)
		}
		fmt.Println(i)
		if i == most {
			os.Exit(0)
		}
	}
}

func read(t *testing.T, b Book) (notes []note, damaged []int) {
	t.Helper()
	damaged, err := scan(b, func(_ int, line []byte) error {
		var n note
		require.NoError(t, json.Unmarshal(line, &n))
		notes = append(notes, n)
		return nil
	})
	require.NoError(t, err)
	return notes, damaged
}

func TestAppendAndRead(t *testing.T) {
	b := Book{filepath.Join(t.TempDir(), "new", "folder", "book.jsonl")}
	notes, damaged := read(t, b)
	assert.Empty(t, notes)
	assert.Empty(t, damaged)
	for i := range 3 {
		require.NoError(t, b.Append(note{Record{"note", time.Unix(int64(i), 0).UTC()}, "Ada\n\"Quill\" \u202e", i, ""}))
	}
	notes, damaged = read(t, b)
	assert.Empty(t, damaged)
	require.Len(t, notes, 3)
	assert.Equal(t, "Ada\n\"Quill\" \u202e", notes[2].Writer)
	info, err := os.Stat(b.Path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
}

// Damaged lines are reported by number and stay in the file; a line that was cut short
// ends where the next record begins.
func TestDamage(t *testing.T) {
	b := Book{filepath.Join(t.TempDir(), "book.jsonl")}
	before := "{\"type\":\"note\",\"number\":1}\n\nnonsense\n[1]\n" + strings.Repeat("y", maxLine+5) +
		"\n{\"type\":\"note\",\"number\":2}\n{\"type\":\"no"
	require.NoError(t, os.WriteFile(b.Path, []byte(before), 0o600))
	require.NoError(t, b.Append(note{Number: 3}))
	notes, damaged := read(t, b)
	assert.Equal(t, []int{3, 4, 5, 7}, damaged)
	require.Len(t, notes, 3)
	assert.Equal(t, []int{1, 2, 3}, []int{notes[0].Number, notes[1].Number, notes[2].Number})
	after, err := os.ReadFile(b.Path)
	require.NoError(t, err)
	assert.True(t, strings.HasPrefix(string(after), before), "nothing that was there is touched")
}

func TestBooksThatCannotBeUsed(t *testing.T) {
	folder := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(folder, "file"), nil, 0o600))
	err := Book{folder}.Append(note{})
	var e *fault.Error
	require.ErrorAs(t, err, &e)
	assert.Contains(t, err.Error(), "this is not a regular file, and a book must be one; name another")
	require.ErrorAs(t, Book{folder}.Check(), &e)
	require.ErrorAs(t, Book{filepath.Join(folder, "file", "b")}.Append(note{}), &e, "a file in place of a folder")
	_, err = scan(Book{folder}, func(int, []byte) error { return nil })
	require.ErrorAs(t, err, &e)
	require.ErrorAs(t, Book{"/dev/full"}.Append(note{}), &e)
	require.NoError(t, Book{filepath.Join(folder, "new", "b")}.Check())
	require.ErrorAs(t, Book{filepath.Join(folder, "b")}.Append(func() {}), &e)
	require.ErrorContains(t, Book{filepath.Join(folder, "b")}.Append(note{Filler: strings.Repeat("x", maxLine)}),
		"longer than 64 kB and could not be read")
	_, err = os.Stat(filepath.Join(folder, "b"))
	require.ErrorIs(t, err, os.ErrNotExist)
}

// kills is how many programs are killed while they write.
var kills = flag.Int("kills", 500, "how many writers are killed")

// Two programs at once on one book, killed at random moments while they write, again and
// again: no record that either reported as written is lost, none is there twice, and no
// torn record is read as whole.
//
// It shows what a killed program loses, not what a power cut loses: for that see
// TestSyncedBeforeTold.
func TestTwoWritersAndManyKills(t *testing.T) {
	b := Book{filepath.Join(t.TempDir(), "book.jsonl")}
	told, killed := booktest.Kills{
		Count: *kills, More: 50 * time.Millisecond,
		Start: func(writer string) *exec.Cmd {
			cmd := exec.Command(os.Args[0])
			cmd.Env = append(os.Environ(), "BOOK_TEST_WRITE="+b.Path, "BOOK_TEST_WRITER="+writer)
			return cmd
		},
		Tells: func(line string) bool { _, err := strconv.Atoi(line); return err == nil },
	}.Run(t)
	notes, damaged := read(t, b)
	found := map[string]int{}
	for _, n := range notes {
		found[n.Writer]++
		require.Equal(t, found[n.Writer], n.Number, "in order, each once, and none missing")
		require.Equal(t, strings.Repeat("x", n.Number*37%900), n.Filler, "whole")
	}
	booktest.Lost(t, told, found, len(damaged), killed)
}

// A record is synced to the disk before it is reported as written: this checks the order
// of a writer's system calls. A new book's folder is synced, too.
func TestSyncedBeforeTold(t *testing.T) {
	strace, err := exec.LookPath("strace")
	if err != nil && os.Getenv("CI") == "" {
		t.Skip("strace is not installed")
	}
	require.NoError(t, err)
	b := Book{filepath.Join(t.TempDir(), "book.jsonl")}
	trace := filepath.Join(t.TempDir(), "trace")
	cmd := exec.Command(strace, "-f", "-o", trace, "-e", "trace=openat,write,fsync", os.Args[0])
	cmd.Env = append(os.Environ(), "BOOK_TEST_WRITE="+b.Path, "BOOK_TEST_WRITER=traced", "BOOK_TEST_RECORDS=2")
	out, err := cmd.CombinedOutput()
	if strings.Contains(string(out), "Operation not permitted") {
		t.Skip("this machine lets nobody be traced")
	}
	require.NoError(t, err, string(out))
	text, err := os.ReadFile(trace)
	require.NoError(t, err)
	var calls []string
	for line := range strings.SplitSeq(string(text), "\n") {
		switch {
		case strings.Contains(line, `"{\"type\":\"note\"`):
			calls = append(calls, "record")
		case strings.Contains(line, "fsync("):
			calls = append(calls, "sync")
		case strings.Contains(line, `write(1, "1\n"`), strings.Contains(line, `write(1, "2\n"`):
			calls = append(calls, "told")
		}
	}
	assert.Equal(t, []string{"record", "sync", "sync", "told", "record", "sync", "told"}, calls,
		"the second sync is the new name's")
}

// A disk that is full in the middle of a record: what was reported as written is there,
// the torn record does not damage any other, and once there is space again the book goes
// on. A file size limit simulates the full disk.
func TestFullDisk(t *testing.T) {
	sh, err := exec.LookPath("sh")
	if err != nil && runtime.GOOS == "windows" {
		t.Skip("there is no sh here to set a limit")
	}
	require.NoError(t, err)
	b := Book{filepath.Join(t.TempDir(), "book.jsonl")}
	cmd := exec.Command(sh, "-c", `ulimit -f 16; exec "$0"`, os.Args[0])
	cmd.Env = append(os.Environ(), "BOOK_TEST_WRITE="+b.Path, "BOOK_TEST_WRITER=Ada")
	out, err := cmd.Output()
	require.Error(t, err, "it ends when there is no room")
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	told := len(lines) - 1
	assert.Contains(t, lines[told], "the book can't be written")
	assert.Contains(t, lines[told], "check the path and the free space")
	require.Greater(t, told, 5)
	notes, damaged := read(t, b)
	assert.Len(t, notes, told)
	assert.LessOrEqual(t, len(damaged), 1)
	require.NoError(t, b.Append(note{Record{"note", time.Now()}, "Ben", 1, ""}))
	notes, again := read(t, b)
	assert.Len(t, notes, told+1)
	assert.Equal(t, damaged, again)
	assert.Equal(t, "Ben", notes[told].Writer)
}

// A file that is not a book at all is reported before its line numbers fill the memory.
func TestHundredThousandDamagedLines(t *testing.T) {
	b := Book{filepath.Join(t.TempDir(), "book.jsonl")}
	require.NoError(t, os.WriteFile(b.Path, bytes.Repeat([]byte("x\n"), maxDamaged), 0o600))
	_, err := scan(b, func(int, []byte) error { return nil })
	require.ErrorContains(t, err, "can't be read; is this a book?")
}

// Links in a book's path are followed, and stay links; a loop of links, and a folder
// without write permission, are reported.
func TestLinksAndPermissions(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links and modes are others there")
	}
	folder := t.TempDir()
	real, link := filepath.Join(folder, "real.jsonl"), filepath.Join(folder, "link.jsonl")
	require.NoError(t, os.Symlink(real, link))
	require.NoError(t, Book{link}.Append(note{Record{"note", time.Now()}, "Ada", 1, ""}),
		"the book is new, and there where the link points")
	require.NoError(t, Book{link}.Append(note{Record{"note", time.Now()}, "Ada", 2, ""}))
	notes, damaged := read(t, Book{real})
	assert.Len(t, notes, 2)
	assert.Empty(t, damaged)
	target, err := os.Readlink(link)
	require.NoError(t, err)
	assert.Equal(t, real, target)

	circle := filepath.Join(folder, "circle.jsonl")
	require.NoError(t, os.Symlink(circle, circle))
	var e *fault.Error
	require.ErrorAs(t, Book{circle}.Append(note{}), &e)
	require.ErrorAs(t, Book{filepath.Join(circle, "b")}.Append(note{}), &e)
	_, err = scan(Book{circle}, func(int, []byte) error { return nil })
	require.ErrorAs(t, err, &e)

	if os.Getuid() == 0 {
		return // root is not restricted by permissions
	}
	locked := filepath.Join(folder, "locked")
	require.NoError(t, os.Mkdir(locked, 0o500))
	require.ErrorAs(t, Book{filepath.Join(locked, "b")}.Append(note{}), &e)
	assert.Equal(t, "name a book where you can write, with --book", e.Hint)
	require.NoError(t, os.Chmod(real, 0o400))
	require.ErrorAs(t, Book{real}.Append(note{}), &e)
	notes, _ = read(t, Book{real})
	assert.Len(t, notes, 2, "it can still be read")
}

// scan scans a book's file.
func scan(b Book, each func(number int, line []byte) error) ([]int, error) {
	in, err := b.Open()
	if err != nil {
		return nil, err
	}
	defer in.Close()
	return Scan(in, b.Path, each)
}
