package input_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/cmd/tallywink/input"
)

func TestOwnBooks(t *testing.T) {
	t.Setenv("XDG_DATA_HOME", "/data")
	b, err := input.OpenBook("", input.AttemptsBook)
	require.NoError(t, err)
	assert.Equal(t, "/data/tallywink/attempts.jsonl", b.Path)
	t.Setenv("XDG_DATA_HOME", "not/absolute") // the specification says to ignore it
	t.Setenv("HOME", "/home/ada")
	b, err = input.OpenBook("", input.AttemptsBook)
	require.NoError(t, err)
	assert.Equal(t, "/home/ada/.local/share/tallywink/attempts.jsonl", b.Path)
	t.Setenv("HOME", "")
	_, err = input.OpenBook("", input.AttemptsBook)
	require.ErrorContains(t, err, "name a book")
}
