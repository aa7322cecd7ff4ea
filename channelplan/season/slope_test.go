package season_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/season"
)

// Worked by hand from section 7's law: 22 dB at 750 MHz is 21.956 dB at 747 MHz and 16.951
// dB at 445.25 MHz, both at 68 F; between -10 and 110 F loss changes by 0.132 of that, so
// the two differ by 0.132 x 5.005 = 0.661 dB more when it is hot. At 95 F the difference is
// 5.005 x (0.0297 - (0.0462 - 0.0858)/2) = 0.248 dB above its mean.
func TestSlope(t *testing.T) {
	q := season.Conditions{Spans: []season.Span{{22, 750_000_000}}, PilotHz: 747_000_000, LowHz: 54_000_000,
		HighHz: 1_002_000_000,
		Now:    95, Low: -10, High: 110, UpDB: 4, DownDB: 4, StepDB: 0.1}
	a, err := q.Answer()
	require.NoError(t, err)
	assert.Zero(t, a.Slope, "one pilot, no slope")
	assert.False(t, q.SlopeShort(a))

	q.SlopeHz, q.SlopeUpDB, q.SlopeDownDB = 445_250_000, 1.5, 1.5
	a, err = q.Answer()
	require.NoError(t, err)
	assert.InDelta(t, 0.661, a.Slope.SwingDB, 0.001)
	assert.InDelta(t, 0.248, a.Slope.OffsetDB, 0.001)
	assert.InDelta(t, 0.2, a.Slope.SetDB, 1e-9)
	assert.True(t, a.Slope.Covered)
	assert.False(t, q.SlopeShort(a))

	// Whichever of the two is the higher one, heat asks for more slope.
	up := q
	up.PilotHz, up.SlopeHz = q.SlopeHz, q.PilotHz
	b, err := up.Answer()
	require.NoError(t, err)
	assert.InDelta(t, a.Slope.SwingDB, b.Slope.SwingDB, 1e-9)
	assert.InDelta(t, a.Slope.OffsetDB, b.Slope.OffsetDB, 1e-9)

	q.SlopeUpDB, q.SlopeDownDB = 0.1, 0.5
	a, err = q.Answer()
	require.NoError(t, err)
	assert.True(t, q.SlopeShort(a), "0.6 dB for 0.66")
	assert.InDelta(t, 0, a.Slope.SetDB, 1e-9, "0.048 dB, in steps of 0.1")
	q.SlopeUpDB, q.SlopeDownDB = 0, 0
	a, err = q.Answer()
	require.NoError(t, err)
	assert.False(t, q.SlopeShort(a), "how far it reaches is not known")
	q.SlopeUpDB = -1
	_, err = q.Answer()
	require.ErrorIs(t, err, season.ErrRange)
}

func TestParseSwing(t *testing.T) {
	for text, want := range map[string]season.Fahrenheit{"30F": 30, "17C": 30.6, " 5 f ": 5, "0F": 0, "10.5 C": 18.9} {
		got, err := season.ParseSwing(text)
		require.NoError(t, err, text)
		assert.InDelta(t, float64(want), float64(got), 1e-9, text)
	}
	for _, text := range []string{"", "F", "30", "-5F", "200F", "30FF", "30K", "NaNF"} {
		_, err := season.ParseSwing(text)
		require.ErrorIs(t, err, season.ErrTemperature, text)
	}
}
