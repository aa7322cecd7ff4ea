package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Where ffmpeg is not installed, the message says what to do.
func TestClipWithoutFFmpeg(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	path := filepath.Join(t.TempDir(), "notes.mp4")
	require.NoError(t, os.WriteFile(path, []byte("Lamp at OSR-03, seen at noon."), 0o644))
	for _, from := range []string{path, "-"} {
		stdout, stderr, status := runHere(t, "Lamp at OSR-03, seen at noon.", "decode", "--clip", from)
		assert.Empty(t, stdout)
		assert.Contains(t, stderr, "this is neither GIF nor Y4M, and ffmpeg, which reads all others, is not installed\n  install ffmpeg, or save the clip as GIF or Y4M\n")
		assert.Equal(t, exitUnfit, status)
	}
}

// The bar tells how far a file is read, and where it is a pipe how long.
func TestProgressBar(t *testing.T) {
	path := filepath.Join(t.TempDir(), "clip")
	require.NoError(t, os.WriteFile(path, make([]byte, 100), 0o644))
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	p := &bar{file: file, size: 100}
	_, err = file.Seek(25, 0)
	require.NoError(t, err)
	assert.Equal(t, "reading the clip: 7 s [######..................] 25%", p.text(7*time.Second))
	p.forget()
	assert.Equal(t, "reading the clip: 7 s", p.text(7*time.Second))
	var none *bar // no terminal
	none.show(time.Second)
	none.forget()
	none.clear()
}
