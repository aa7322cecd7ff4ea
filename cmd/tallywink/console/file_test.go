package console_test

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/cmd/tallywink/console"
)

// A file is replaced whole and keeps its mode, a link stays a link, and no other file is
// left in the folder.
func TestFileIsReplacedWhole(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "lamp.gif")
	require.NoError(t, os.WriteFile(path, []byte("old"), 0o600))
	require.NoError(t, console.File{path, []byte("new")}.Write())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "new", string(data))
	info, err := os.Stat(path)
	require.NoError(t, err)
	if runtime.GOOS != "windows" {
		assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
		link := filepath.Join(dir, "link.gif")
		require.NoError(t, os.Symlink(path, link))
		require.NoError(t, console.File{link, []byte("newer")}.Write())
		target, err := os.Readlink(link)
		require.NoError(t, err)
		assert.Equal(t, path, target)
		data, err = os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, "newer", string(data))
		require.NoError(t, os.Remove(link))
	}
	require.Error(t, console.File{filepath.Join(dir, "none", "x"), nil}.Write())
	if runtime.GOOS != "windows" {
		dangling, circle := filepath.Join(dir, "dangling"), filepath.Join(dir, "circle")
		require.NoError(t, os.Remove(path))
		require.NoError(t, os.Symlink("lamp.gif", dangling))
		assert.True(t, console.SameFile(dangling, path), "though neither is there")
		require.NoError(t, console.File{dangling, []byte("new")}.Write())
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, "new", string(data))
		assert.True(t, console.SameFile(dangling, path))
		require.NoError(t, os.Remove(dangling))
		require.NoError(t, os.Symlink(circle, circle))
		require.ErrorContains(t, console.File{circle, nil}.Write(), "its links go in a circle")
		_, err = os.Readlink(circle)
		require.NoError(t, err, "it is left as it is")
		require.NoError(t, os.Remove(circle))

		// '..' after a link to a folder leads out of that folder.
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "b", "c"), 0o700))
		require.NoError(t, os.Mkdir(filepath.Join(dir, "a"), 0o700))
		require.NoError(t, os.Symlink(filepath.Join("..", "b", "c"), filepath.Join(dir, "a", "link")))
		for _, there := range []bool{true, false} {
			require.NoError(t, os.RemoveAll(filepath.Join(dir, "b", "c", "out")))
			require.NoError(t, os.Symlink(filepath.Join("..", "x"), filepath.Join(dir, "b", "c", "out")))
			require.NoError(t, os.WriteFile(filepath.Join(dir, "a", "x"), []byte("mine"), 0o600))
			require.NoError(t, os.RemoveAll(filepath.Join(dir, "b", "x")))
			if there {
				require.NoError(t, os.WriteFile(filepath.Join(dir, "b", "x"), []byte("old"), 0o600))
			}
			through := filepath.Join(dir, "a", "link", "out")
			assert.True(t, console.SameFile(through, filepath.Join(dir, "b", "x")))
			assert.False(t, console.SameFile(through, filepath.Join(dir, "a", "x")))
			require.NoError(t, console.File{through, []byte("new")}.Write())
			for name, want := range map[string]string{"a": "mine", "b": "new"} {
				data, err := os.ReadFile(filepath.Join(dir, name, "x"))
				require.NoError(t, err)
				assert.Equal(t, want, string(data), name)
			}
		}
		require.NoError(t, os.RemoveAll(filepath.Join(dir, "a")))
		require.NoError(t, os.RemoveAll(filepath.Join(dir, "b")))
	}
	other := filepath.Join(dir, "other")
	assert.True(t, console.SameFile(other, filepath.Join(dir, "x", "..", "other")))
	assert.False(t, console.SameFile(other, path))
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing is left beside it")
}

// A write that was killed leaves a file behind; the next one in that folder removes it,
// and leaves alone what is not ours or still being written.
func TestNothingStaysBehind(t *testing.T) {
	folder := t.TempDir()
	gone := exec.Command("true")
	require.NoError(t, gone.Run())
	stray := filepath.Join(folder, fmt.Sprintf(".tallywink-%d", gone.Process.Pid))
	busy := filepath.Join(folder, fmt.Sprintf(".tallywink-%d", os.Getppid()))
	other := filepath.Join(folder, ".tallywink-notes")
	for _, name := range []string{stray, busy, other} {
		require.NoError(t, os.WriteFile(name, []byte("half"), 0o600))
	}
	own := filepath.Join(folder, fmt.Sprintf(".tallywink-%d", os.Getpid())) // of an earlier process with this number
	require.NoError(t, os.WriteFile(own, []byte("half"), 0o600))
	long := time.Now().Add(-time.Hour)
	require.NoError(t, os.Chtimes(stray, long, long))
	require.NoError(t, os.Chtimes(busy, long, long))
	require.NoError(t, console.File{filepath.Join(folder, "card.svg"), []byte("whole")}.Write())
	assert.NoFileExists(t, stray)
	assert.NoFileExists(t, own)
	assert.FileExists(t, busy)
	assert.FileExists(t, other)
}
