package capture_test

import (
	"bytes"
	"errors"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"tallywink.example/blink/capture"
	"tallywink.example/channelplan/fault"
)

// For any trace, an error gives a place inside it, and the result is light that
// alternates and lasts no longer than the recording.
func FuzzReadTrace(f *testing.F) {
	f.Add([]byte("seconds,brightness\n0,1\n0.5,9\n1,1\n1.6,9\n2,9\n"))
	f.Add([]byte("# x\nbrightness;seconds\n1,5;0\n7;0,1\n1;0,2\n9;0,3\n"))
	f.Add([]byte("seconds\tbrightness\r\n0\t1\r\n1e9\t1e15\r\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 8<<10 {
			return
		}
		trace, err := capture.ReadTrace(bytes.NewReader(data))
		if err != nil {
			var where *fault.Error
			require.True(t, errors.As(err, &where), "%T", err)
			lines := bytes.Split(data, []byte("\n"))
			require.Positive(t, where.Line)
			require.LessOrEqual(t, where.Line, len(lines))
			require.Positive(t, where.Column)
			require.LessOrEqual(t, where.Column, utf8.RuneCount(lines[where.Line-1])+1)
			require.NotEmpty(t, where.Hint)
			return
		}
		require.GreaterOrEqual(t, trace.Samples, 2)
		require.Positive(t, trace.Length)
		for _, piece := range trace.Pieces {
			require.GreaterOrEqual(t, piece.From, time.Duration(0))
			sum := piece.From
			for i, iv := range piece.Intervals {
				require.GreaterOrEqual(t, iv.Duration, time.Duration(0))
				require.True(t, i == 0 || piece.Intervals[i-1].Lit != iv.Lit, "light and dark alternate")
				sum += iv.Duration
			}
			require.LessOrEqual(t, sum, trace.Length+time.Millisecond)
		}
	})
}
