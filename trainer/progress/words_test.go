package progress_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tallywink.example/trainer/progress"
)

func TestMarksInWords(t *testing.T) {
	for mark, words := range map[string]string{
		"digit 7": "digit 7", "head analog+100": "head: analog, channel 100 or more",
		"check differs":        "check digit that differs",
		"field pilot digital":  "in the field, pilot: digital",
		"field state edge-low": "in the field, state: edge, low end", "state holding": "state: holding",
		"verdict caution": "verdict: usable with caution", "action dark": "first step: dark",
		"decision steady": "who decides: steady", "sending cw": "sending: cw", "odd": "odd",
		"doubt looks": "in doubt: two looks that disagree",
	} {
		assert.Equal(t, words, progress.ItemText(mark), mark)
	}
}
