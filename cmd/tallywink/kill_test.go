package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/book/booktest"
	"tallywink.example/channelplan/plant/field"
)

// Two technicians note readings in one book, and are killed at random moments: no reading
// that was reported as noted is lost, and no torn one counts.
func TestKilledWhileNoting(t *testing.T) {
	program := build(t, "tallywink", ".")
	b := book.Book{Path: filepath.Join(t.TempDir(), "readings.jsonl")}
	told, killed := booktest.Kills{
		Count: 100,
		Start: func(writer string) *exec.Cmd {
			cmd := exec.Command(program, "decode", "_.. . _. _..", "--amps", "demo", "--amp", "OSR-03", "--lineup",
				"demo", "--book", b.Path, "--by", writer)
			cmd.Env = append(os.Environ(), "HOME="+filepath.Dir(b.Path))
			return cmd
		},
		Tells: func(line string) bool { return strings.HasPrefix(line, "noted in ") },
	}.Run(t)
	in, err := b.Open()
	require.NoError(t, err)
	defer in.Close()
	readings, err := field.Read(in, b.Path, time.Time{}, time.Now())
	require.NoError(t, err)
	found := map[string]int{}
	for _, r := range readings.Readings {
		found[r.Who]++
		assert.Equal(t, 1, found[r.Who], "each is noted once")
		assert.Equal(t, "OSR-03", r.Amp)
	}
	booktest.Lost(t, told, found, len(readings.Damaged), killed)
}
