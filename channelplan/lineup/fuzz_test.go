package lineup_test

import (
	"bytes"
	"errors"
	"os"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
)

// Whatever a lineup contains: every problem is at a place inside the file, carriers come
// from its rows and are in order, and pilots can be judged.
func FuzzReadLineup(f *testing.F) {
	seed, err := os.ReadFile("../plant/demo/lineup.csv")
	require.NoError(f, err)
	f.Add(seed)
	f.Add([]byte("# plan: irc\nchannel;carrier;frequency_mhz;level_dbmv\n1;analog;;37,5\n;ofdm;;\n;cw;439,25;41\n\"5;qam64\n"))
	f.Add([]byte("# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz\n,ofdm,810,1002\n,ofdm,1,2\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 16<<10 {
			return
		}
		lines := bytes.Split(data, []byte("\n"))
		inside := func(line, column int) {
			require.Positive(t, line)
			require.LessOrEqual(t, line, len(lines))
			require.Positive(t, column)
			require.LessOrEqual(t, column, utf8.RuneCount(lines[line-1])+1)
		}
		l, err := lineup.Read(bytes.NewReader(data), "f")
		var file *fault.Error
		if err != nil {
			require.True(t, errors.As(err, &file), "%T", err)
			require.NotEmpty(t, file.Hint)
			if file.Line > 0 {
				inside(file.Line, file.Column)
			}
			return
		}
		for _, p := range append(l.Problems, l.Notes...) {
			inside(p.Line, p.Column)
		}
		low := int64(0)
		for _, c := range l.Carriers {
			require.LessOrEqual(t, c.Line, len(lines))
			require.LessOrEqual(t, low, c.LowHz, "in order of frequency")
			require.LessOrEqual(t, c.LowHz, c.HighHz)
			low = c.LowHz
		}
		for _, p := range []channelplan.Pilot{{Channel: 116, Kind: channelplan.Digital},
			{Channel: 1, Kind: channelplan.Analog}, {Kind: channelplan.CW, FrequencyHz: 439_250_000}} {
			r := l.Check(p, lineup.Context{Amplifier: &lineup.Amplifier{Pilot: p,
				Passband: lineup.Band{54_000_000, 750_000_000}}})
			for _, finding := range r.Findings {
				require.NotEmpty(t, finding.Text)
				require.NotEmpty(t, finding.Source)
			}
		}
		l.Cells()
	})
}
