package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/answer"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/report"
)

// If ffmpeg is not installed, the message says what to do.
func TestClipWithoutFFmpeg(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	path := filepath.Join(t.TempDir(), "notes.mp4")
	require.NoError(t, os.WriteFile(path, []byte("\x00\x00\x00 ftypisom"), 0o644))
	for _, from := range []string{path, "-"} {
		stdout, stderr, status := runHere(t, "\x00\x00\x00 ftypisom", "decode", "--clip", from)
		assert.Empty(t, stdout)
		assert.Contains(t, stderr,
			"this is not GIF or Y4M, and ffmpeg, which reads all others, is not installed\n  install ffmpeg, or save the clip as GIF or Y4M\n")
		assert.Equal(t, exitUnfit, status)
	}
}

// A light that blinks but is not clearly a lamp does not give an answer, however well its
// best candidate matches the code's signals.
func TestWhatIsNoLampIsDoubtful(t *testing.T) {
	spot := &capture.Lamp{X: 10, Y: 20}
	spot.Candidates = []reading.TimedCandidate{{Signal: blink.Signal{State: blink.Manual}, Probability: 0.9998}}
	spot.Sequence = []reading.Segment{{TimedCandidate: spot.Candidates[0]}}
	spot.Fit = 4.1
	a := answer.OfRecording(answer.System{}, answer.OfClip(&capture.Clip{Width: 100, Height: 100, Pictures: 200,
		Unread: spot}, nil))
	assert.True(t, a.Doubtful)
	assert.True(t, a.BadNews(false))
	assert.True(t, a.Document().Doubtful)
	var out strings.Builder
	printed := console.New(console.Streams{Out: &out}, true)
	report.PrintAnswer(printed, a, "", true)
	require.NoError(t, printed.Flush())
	assert.Contains(t, out.String(), "doubtful: this light does not clearly follow the Tally code")
	assert.NotContains(t, out.String(), "manual")
}
