package console_test

import (
	"bufio"
	"bytes"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/cmd/tallywink/console"
)

// A list printed one by one is the same, byte for byte, as the list printed at once.
func TestJSONListIsJSON(t *testing.T) {
	type inner struct {
		Name string   `json:"name"`
		List []string `json:"list"`
	}
	for _, documents := range [][]any{{}, {inner{"a", nil}},
		{inner{"<b>\u202e", []string{"x", "y"}}, 7, map[string]int{}}} {
		var whole, single bytes.Buffer
		all, one := bufio.NewWriter(&whole), bufio.NewWriter(&single)
		require.NoError(t, (&console.Console{Out: all}).JSON(documents))
		require.NoError(t, (&console.Console{Out: one}).JSONList(func(yield func(any) bool) {
			for _, d := range documents {
				if !yield(d) {
					return
				}
			}
		}))
		require.NoError(t, all.Flush())
		require.NoError(t, one.Flush())
		assert.Equal(t, whole.String(), single.String())
	}
}
