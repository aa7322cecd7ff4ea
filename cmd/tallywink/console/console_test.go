package console

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Text is broken for the width that there is: numbers begin a line, and a row of a table
// is left alone where it fits.
func TestParagraphs(t *testing.T) {
	assert.Equal(t, []string{"1. One two", "   three", "2. Four"},
		Numbered("", []string{"One two three", "Four"}).lines(10))
	assert.Equal(t, []string{"  66%  116  digital"}, Row("  66%%  116  digital").lines(30))
	assert.Equal(t, []string{"  66% 116", "    digital"}, Row("  66%%  116  digital").lines(12))
	assert.Equal(t, []string{"    1  row with", "       more"}, Hung("    1  ", "row with more").lines(16))
	assert.Equal(t, 2, Section("", strings.Repeat("word ", 20)).Height())
	assert.Equal(t, []string{"7"},
		Drawn(func(width int) []string { return []string{strings.Repeat("7", width)} }).lines(1))
}

// Help for a wide terminal is broken anew for a narrow one: sentences are joined, examples
// and the flags of a list stay apart, and no word is lost or broken.
func TestProse(t *testing.T) {
	const text = "one command: what it does\n\n  example one two three\n  example two\n\nA sentence that goes over\ntwo lines.\n\nFlags:\n  --flag VALUE         what it is\n                       for\n  --next               more\n"
	assert.Equal(t, text, Prose(text, LineWidth))
	assert.Equal(t,
		"one command: what it\ndoes\n\n  example one two\n  three\n  example two\n\nA sentence that goes\nover two lines.\n\nFlags:\n  --flag VALUE what it\n  is for\n  --next more\n",
		Prose(text, 22))
}

// On a narrow terminal, no line is wider than the terminal, and no word is lost.
func TestNarrowAnswers(t *testing.T) {
	var wide, narrow strings.Builder
	for _, width := range []int{LineWidth, 40} {
		out := New(Streams{nil, map[int]*strings.Builder{LineWidth: &wide, 40: &narrow}[width], nil}, true)
		out.Width = width
		out.Print([]Block{Section("State", "holding: the pilot is lost and the last gain is held."),
			Numbered("Next",
				[]string{"Leave the setting alone: the gain stands at its last value, and aligning to it would spoil the range.",
					"Report it."}),
			{"Told", []Paragraph{Text("doubtful:"), Row("  66%%  116 digital")}}}, nil)
		assert.NoError(t, out.Flush())
	}
	assert.Equal(t, strings.Fields(wide.String()), strings.Fields(narrow.String()))
	for line := range strings.Lines(narrow.String()) {
		assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 40, line)
	}
	assert.Contains(t, narrow.String(), "Next\n  1. Leave the setting alone: the gain\n     stands at its last value")
}

// /dev/null is a device like a terminal: --show once played on it forever.
func TestNowhereIsNoTerminal(t *testing.T) {
	nowhere, err := os.OpenFile(os.DevNull, os.O_RDWR, 0)
	assert.NoError(t, err)
	defer nowhere.Close()
	assert.False(t, IsTerminal(nowhere))
}
