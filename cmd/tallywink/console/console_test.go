package console

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"tallywink.example/channelplan/wording"
)

// Text that Wrap has broken is joined again, word for word, and steps stay separate.
func TestUnwrapped(t *testing.T) {
	const text = "Leave the setting alone: the gain stands at its last value, and aligning to it would spoil the range. " +
		"Measure its pilot at the input test point and add the test point loss: is it there, and at design level?"
	assert.Equal(t, []string{text}, unwrapped(wording.Wrap(text, 71), 71))
	steps := []string{"Short.", text, "Short, too."}
	assert.Equal(t, []string{"1. Short.", "2. " + text, "3. Short, too."}, unwrapped(Numbered("Next", steps).Lines, 71))
	assert.Empty(t, unwrapped(nil, 71))
}

// On a narrow terminal, no line is wider than the terminal, and no word is lost.
func TestNarrowAnswers(t *testing.T) {
	var wide, narrow strings.Builder
	for _, width := range []int{LineWidth, 40} {
		out := New(Streams{nil, map[int]*strings.Builder{LineWidth: &wide, 40: &narrow}[width], nil}, true)
		out.Width = width
		out.Print([]Block{Section("State", "holding: the pilot is lost and the last gain is held."),
			Numbered("Next", []string{"Leave the setting alone: the gain stands at its last value, and aligning to it would spoil the range.", "Report it."}),
			{"Told", []string{"doubtful:", "  66%  116 digital"}}}, nil)
		assert.NoError(t, out.Flush())
	}
	assert.Equal(t, strings.Fields(wide.String()), strings.Fields(narrow.String()))
	for line := range strings.Lines(narrow.String()) {
		assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 40, line)
	}
	assert.Contains(t, narrow.String(), "Next\n  1. Leave the setting alone: the\n     gain stands at its last value")
}

// /dev/null is a device like a terminal: --show once played on it forever.
func TestNowhereIsNoTerminal(t *testing.T) {
	nowhere, err := os.OpenFile(os.DevNull, os.O_RDWR, 0)
	assert.NoError(t, err)
	defer nowhere.Close()
	assert.False(t, IsTerminal(nowhere))
}
