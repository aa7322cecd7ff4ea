package book

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

// Whatever a book contains: every line is valid, damaged or blank, and a record appended
// to it is read back whole.
func FuzzRead(f *testing.F) {
	f.Add([]byte("{\"type\":\"a\"}\n{\"type\"\n\n[1]\n{}"))
	f.Add([]byte("{\"type\":\"a\",\"time\":\"x\"}\r\n\x00{}\n"))
	dir := f.TempDir()
	f.Fuzz(func(t *testing.T, data []byte) {
		b := Book{filepath.Join(dir, "book.jsonl")}
		require.NoError(t, os.WriteFile(b.Path, data, 0o600))
		sound := map[int]bool{}
		damaged, err := scan(b, func(number int, line []byte) error {
			require.True(t, json.Valid(line))
			require.Equal(t, byte('{'), line[0])
			sound[number] = true
			return nil
		})
		require.NoError(t, err)
		lines := bytes.Split(data, []byte("\n"))
		for i, line := range lines {
			blank := len(bytes.TrimSpace(line)) == 0
			require.Equal(t, !blank && !sound[i+1], contains(damaged, i+1), "line %d", i+1)
		}
		if err := b.Append(Record{Type: "mine"}); err != nil {
			require.ErrorContains(t, err, "this file does not start like a book, so nothing was written to it")
			return
		}
		last := ""
		_, err = scan(b, func(_ int, line []byte) error {
			last = string(line)
			return nil
		})
		require.NoError(t, err)
		require.Contains(t, last, `"type":"mine"`)
		written, err := os.ReadFile(b.Path)
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(written, data), "what was there stays")
	})
}

func contains(list []int, n int) bool {
	for _, x := range list {
		if x == n {
			return true
		}
	}
	return false
}
