package blink_test

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan/fault"
)

// insideInput asserts that a place is inside the input or right after it.
func insideInput(t *testing.T, input string, line, column int) {
	t.Helper()
	lines := strings.Split(input, "\n")
	require.Positive(t, line)
	require.LessOrEqual(t, line, len(lines))
	require.Positive(t, column)
	require.LessOrEqual(t, column, utf8.RuneCountInString(lines[line-1])+1)
}

// Text that parses also prints, and parses again to the same frames; any other text
// gets an error with its place.
func FuzzParseNotation(f *testing.F) {
	for _, seed := range []string{"_.. . _. _..", "- · … // x ?\n*", "_..//_. /", "\ufeff. .", "\xff",
		strings.Repeat("._ ", 70)} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		looks, err := blink.ParseNotation(text)
		if err != nil {
			var where *fault.Error
			require.True(t, errors.As(err, &where), "%T", err)
			insideInput(t, text, where.Line, where.Column)
			require.NotEmpty(t, where.Hint)
			return
		}
		require.NotEmpty(t, looks)
		require.LessOrEqual(t, len(looks), blink.MaxLooks)
		for _, look := range looks {
			require.NotEmpty(t, look)
		}
		again, err := blink.ParseNotation(blink.FormatFrames(looks))
		require.NoError(t, err)
		require.Equal(t, looks, again)
		require.True(t, blink.IsNotation(blink.FormatFrames(looks)))
	})
}

// Digits that parse become the marks of those digits.
func FuzzParseDigits(f *testing.F) {
	for _, seed := range []string{"7167", "71x7 // 7 1 6 7", "1\n2", "*", "a"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		looks, err := blink.Tally.ParseDigits(text)
		if err != nil {
			var where *fault.Error
			require.True(t, errors.As(err, &where), "%T", err)
			insideInput(t, text, where.Line, where.Column)
			return
		}
		for _, look := range looks {
			for _, g := range look {
				if _, ok := blink.Tally.DigitOf(g); !ok {
					require.Equal(t, blink.Group(blink.UnreadMark), g)
				}
			}
		}
		again, err := blink.ParseNotation(blink.FormatFrames(looks))
		require.NoError(t, err)
		require.Equal(t, looks, again)
	})
}
