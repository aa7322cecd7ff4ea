package season

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"
)

// A temperature that parses is within the accepted range, and is the same when written in
// Fahrenheit.
func FuzzParseTemperature(f *testing.F) {
	for _, seed := range []string{"95F", "-10 f", "35C", "35.5\u00b0C", "1e2F", "C", "", "InfF", "NaNC"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		v, err := ParseTemperature(text)
		if err != nil {
			require.ErrorIs(t, err, ErrTemperature)
			return
		}
		require.GreaterOrEqual(t, v, coldest)
		require.LessOrEqual(t, v, hottest)
		again, err := ParseTemperature(fmt.Sprintf("%vF", float64(v)))
		require.NoError(t, err)
		require.Equal(t, v, again)
	})
}

// Whatever the question, the answer adds up: what is left at both ends of the range is
// the range less the swing.
func FuzzAnswer(f *testing.F) {
	f.Add(22.0, 750.0, 747.0, 95.0, -10.0, 110.0, 4.0, 4.0, 0.5)
	f.Fuzz(func(t *testing.T, loss, at, pilot, now, low, high, up, down, step float64) {
		q := Conditions{Spans: []Span{{loss, int64(at * 1e6)}}, PilotHz: int64(pilot * 1e6), LowHz: 54e6,
			HighHz: 1002e6,
			Now:    Fahrenheit(now), Low: Fahrenheit(low), High: Fahrenheit(high), UpDB: up, DownDB: down, StepDB: step}
		if pilot < 1 || pilot > 3000 || at < 1 || at > 3000 || low < float64(coldest) || high > float64(hottest) ||
			step < 0 || step > 10 {
			return // refused when they are read
		}
		a, err := q.Answer()
		if err != nil {
			return
		}
		scale := 1 + a.SwingDB + up + down
		require.InDelta(t, up+down-a.SwingDB, a.RoomUpDB+a.RoomDownDB, 1e-9*scale)
		require.InDelta(t, a.SwingDB, a.LowDB-a.HighDB, 1e-9*scale)
		if a.Covered {
			require.GreaterOrEqual(t, min(a.RoomUpDB, a.RoomDownDB), -1e-9*scale, "covered is covered at both ends")
		}
	})
}
