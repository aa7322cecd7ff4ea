// Package booktest kills programs while they write to books, so that tests can check what
// is lost.
package booktest

import (
	"bufio"
	"errors"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// Kills describes the programs to kill.
type Kills struct {
	Count int // how many programs are started, two at a time
	// Each program is killed at a random moment between its start and twice the time that
	// one takes to report its first record, plus More.
	More time.Duration
	// Start makes the program for a writer.
	Start func(writer string) *exec.Cmd
	// Tells reports whether a line that a program printed says that a record is written.
	Tells func(line string) bool
}

// Run starts the programs and kills them. It returns how many records each reported as
// written before that, by writer, and how many were still running when they were killed.
func (k Kills) Run(t testing.TB) (told map[string]int, killed int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(1, uint64(k.Count)))
	told = map[string]int{}
	end := func(w *writing) {
		tells, alive := w.end(t, k.Tells)
		told[w.name] += tells
		if alive {
			killed++
		}
	}
	begun := time.Now()
	first := k.begin(t, "the first")
	for told[first.name] == 0 && first.output.Scan() {
		if k.Tells(first.output.Text()) {
			told[first.name]++
		}
	}
	longest := 2*time.Since(begun) + k.More
	end(first)
	for n := 0; n < k.Count; n += 2 {
		two := []*writing{k.begin(t, writer(n)), k.begin(t, writer(n+1))}
		time.Sleep(time.Duration(rng.Int64N(int64(longest))))
		for _, w := range two {
			end(w)
		}
	}
	return told, killed
}

// writing is a program that writes.
type writing struct {
	name    string
	program *exec.Cmd
	output  *bufio.Scanner
}

func (k Kills) begin(t testing.TB, name string) *writing {
	t.Helper()
	w := &writing{name: name, program: k.Start(name)}
	out, err := w.program.StdoutPipe()
	require.NoError(t, err)
	w.program.Stderr = w.program.Stdout
	require.NoError(t, w.program.Start())
	w.output = bufio.NewScanner(out)
	return w
}

// end kills the program, and returns how many records it has reported that were not yet
// counted, and whether it was still running.
func (w *writing) end(t testing.TB, tells func(line string) bool) (told int, alive bool) {
	t.Helper()
	if err := w.program.Process.Kill(); !errors.Is(err, os.ErrProcessDone) {
		require.NoError(t, err)
	}
	for w.output.Scan() {
		if tells(w.output.Text()) {
			told++
		}
	}
	require.NoError(t, w.output.Err())
	var exit *exec.ExitError
	return told, errors.As(w.program.Wait(), &exit) && !exit.Exited()
}

func writer(n int) string { return "writer " + strconv.Itoa(n) }

// Lost compares what was reported as written with what is in the book, by writer: nothing
// that was reported may be lost, and each program that was killed may leave at most one
// torn line.
func Lost(t testing.TB, told, found map[string]int, torn, killed int) {
	t.Helper()
	all, there := 0, 0
	for name, n := range told {
		all += n
		require.GreaterOrEqual(t, found[name], n, "%s was told of %d", name, n)
	}
	for _, n := range found {
		there += n
	}
	require.Positive(t, all, "they did write")
	require.Positive(t, killed, "some were killed")
	require.LessOrEqual(t, torn, killed, "at most what each was writing")
	t.Logf("%d kills: %d records told of, %d found, %d lines torn, none lost", killed, all, there, torn)
}
