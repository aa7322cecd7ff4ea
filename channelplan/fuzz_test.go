package channelplan_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
)

// A frequency that parses can be formatted, and parses again to the same hertz.
func FuzzParseMHz(f *testing.F) {
	for _, seed := range []string{"747", "747.25", "0.000001", "1e3", "3000", "-1", "747,25", " 54 ", "NaN"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		hz, err := channelplan.ParseMHz(text)
		if err != nil {
			require.ErrorIs(t, err, channelplan.ErrFrequency)
			return
		}
		require.Positive(t, hz)
		require.LessOrEqual(t, hz, int64(channelplan.MaxHz))
		again, err := channelplan.ParseMHz(channelplan.FormatMHz(hz))
		require.NoError(t, err)
		require.Equal(t, hz, again)
	})
}
