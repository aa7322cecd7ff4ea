package console

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The bar shows how much of a file has been read, and for a pipe, only the words.
func TestBar(t *testing.T) {
	path := filepath.Join(t.TempDir(), "clip")
	require.NoError(t, os.WriteFile(path, make([]byte, 100), 0o644))
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	p := &Bar{what: "reading the clip", file: file, size: 100}
	_, err = file.Seek(25, 0)
	require.NoError(t, err)
	assert.Equal(t, "reading the clip: 7 s [######..................] 25%", p.text("7 s"))
	p.Forget()
	assert.Equal(t, "reading the clip: 7 s", p.text("7 s"))
	var none *Bar // no terminal
	none.Show("7 s")
	none.Forget()
	none.Clear()
}
