package season_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/season"
)

const mhz = 1_000_000

// The worked example of 'Coaxial Cable Attenuation Changes versus Temperature', technical
// tip: 0.055 dB per foot at 750 MHz, 200 feet: 11.0 dB at 68 F become 11.4 dB at 100 F.
func TestWorkedExample(t *testing.T) {
	s := season.Span{LossDB: 0.055 * 200, AtHz: 750 * mhz}
	assert.InDelta(t, 11.0, s.LossAt(750*mhz, 68), 1e-9)
	assert.InDelta(t, 11.4, s.LossAt(750*mhz, 100), 0.05)
}

// Loss over frequency, compared with a table of Series 6 cable at 68 F, in dB per hundred
// feet, which is about the same from several makers (from memory): starting from 750 MHz,
// the square root law is within 6 % from 55 to 1000 MHz, low at both ends.
func TestSquareRootLaw(t *testing.T) {
	s := season.Span{LossDB: 5.65, AtHz: 750 * mhz}
	for at, loss := range map[int64]float64{55: 1.60, 211: 3.05, 300: 3.64, 450: 4.43, 550: 4.90, 750: 5.65,
		865: 6.10, 1000: 6.55} {
		got := s.LossAt(at*mhz, season.Reference)
		assert.InEpsilon(t, loss, got, 0.06, "%d MHz", at)
	}
}

// The example from the project's design, worked by hand: one span of 22 dB at 750 MHz,
// pilot at 747 MHz, 95 F today, -10 to 110 F: 22 sqrt(747/750) = 21.956; times 1 + 0.0011
// (T - 68): 20.072 at -10 F, 22.608 at 95 F, 22.970 at 110 F.
func TestOneSpan(t *testing.T) {
	q := season.Conditions{Spans: []season.Span{{22, 750 * mhz}}, PilotHz: 747 * mhz, LowHz: 54 * mhz,
		HighHz: 1002 * mhz, Now: 95,
		Low: -10, High: 110, UpDB: 4, DownDB: 4, StepDB: 0.5}
	a, err := q.Answer()
	require.NoError(t, err)
	assert.InDelta(t, 2.9, a.SwingDB, 0.005)
	assert.InDelta(t, 1.087, a.OffsetDB, 0.005)
	assert.InDelta(t, 2.536, a.LowDB, 0.005)
	assert.InDelta(t, -0.362, a.HighDB, 0.005)
	assert.True(t, a.Covered)
	assert.Equal(t, 1.0, a.SetDB)
	assert.InDelta(t, 4-1.362, a.RoomUpDB, 0.005)
	assert.InDelta(t, 4+1-2.536, a.RoomDownDB, 0.005)
	assert.InDelta(t, 2.9*math.Sqrt(54.0/747), a.SwingLowDB, 0.005)
	assert.InDelta(t, 2.9*math.Sqrt(1002.0/747), a.SwingHighDB, 0.005)
	assert.False(t, a.Beyond)
	// At the extremes, the control is as far from its ends as RoomUpDB and RoomDownDB
	// say.
	assert.InDelta(t, q.UpDB-a.RoomUpDB, q.StandsAt(110, a), 1e-9)
	assert.InDelta(t, a.RoomDownDB-q.DownDB, q.StandsAt(-10, a), 1e-9)

	// Spans add up; two halves equal the whole.
	q.Spans = []season.Span{{11, 750 * mhz}, {11, 750 * mhz}}
	b, err := q.Answer()
	require.NoError(t, err)
	assert.InDelta(t, a.SwingDB, b.SwingDB, 1e-9)
	// If the range reaches further up, the control is set further up, with equal room on
	// both sides.
	q.UpDB, q.DownDB, q.StepDB = 6, 2, 0
	b, err = q.Answer()
	require.NoError(t, err)
	assert.InDelta(t, b.RoomUpDB, b.RoomDownDB, 1e-9)
	assert.InDelta(t, a.OffsetDB+2, b.SetDB, 1e-9)
	// If the range only just covers the swing, rounding must not spoil that.
	q.UpDB, q.DownDB, q.StepDB = 1.6, 1.4, 0.5
	b, err = q.Answer()
	require.NoError(t, err)
	require.True(t, b.Covered)
	assert.Positive(t, b.RoomUpDB)
	assert.Positive(t, b.RoomDownDB)
	q.StepDB = 0
	// On a cold day the control is below the middle.
	q.Now = -10
	b, err = q.Answer()
	require.NoError(t, err)
	assert.InDelta(t, -b.SwingDB/2, b.OffsetDB, 1e-9)
	q.UpDB, q.DownDB = 1, 1
	b, err = q.Answer()
	require.NoError(t, err)
	assert.False(t, b.Covered)
	assert.Negative(t, b.RoomUpDB)
	q.PilotHz = 1600 * mhz
	b, err = q.Answer()
	require.NoError(t, err)
	assert.True(t, b.Beyond)
}

func TestTemperatures(t *testing.T) {
	for text, want := range map[string]float64{"95F": 95, "-10f": -10, "35C": 95, "-40 C": -40, "20.5C": 68.9,
		"0C": 32, " 68\u00b0F ": 68} {
		got, err := season.ParseTemperature(text)
		require.NoError(t, err, text)
		assert.InDelta(t, want, float64(got), 1e-9, text)
	}
	for _, text := range []string{"", "95", "hot", "F", "NaNF", "1e9F", "-300C", "95K", "InfC"} {
		_, err := season.ParseTemperature(text)
		require.ErrorIs(t, err, season.ErrTemperature, text)
	}
	assert.Equal(t, "95 F (35 C)", fmt.Sprint(season.Fahrenheit(95)))
}

func TestQuestionsWithoutAnAnswer(t *testing.T) {
	good := season.Conditions{Spans: []season.Span{{22, 750 * mhz}}, PilotHz: 747 * mhz, LowHz: 54 * mhz,
		HighHz: 1002 * mhz,
		Now:    60, Low: 0, High: 100, UpDB: 4, DownDB: 4}
	_, err := good.Answer()
	require.NoError(t, err)
	for name, c := range map[string]struct {
		spoil func(*season.Conditions)
		want  error
	}{
		"no span":           {func(q *season.Conditions) { q.Spans = nil }, season.ErrSpan},
		"a span of nothing": {func(q *season.Conditions) { q.Spans = []season.Span{{0, 750 * mhz}} }, season.ErrSpan},
		"a span at nowhere": {func(q *season.Conditions) { q.Spans = []season.Span{{22, 0}} }, season.ErrSpan},
		"a loss of no sense": {func(q *season.Conditions) { q.Spans = []season.Span{{math.NaN(), 750 * mhz}} },
			season.ErrSpan},
		"hotter than ever":   {func(q *season.Conditions) { q.Now = 101 }, season.ErrOrder},
		"low above high":     {func(q *season.Conditions) { q.Low = 110 }, season.ErrOrder},
		"no range":           {func(q *season.Conditions) { q.UpDB, q.DownDB = 0, 0 }, season.ErrRange},
		"a range below none": {func(q *season.Conditions) { q.DownDB = -1 }, season.ErrRange},
	} {
		q := good
		c.spoil(&q)
		_, err := q.Answer()
		require.ErrorIs(t, err, c.want, name)
	}
}

func ExampleConditions_Answer() {
	a, err := season.Conditions{
		Spans: []season.Span{{LossDB: 22, AtHz: 750_000_000}}, PilotHz: 747_000_000,
		LowHz: 54_000_000, HighHz: 1_002_000_000,
		Now: 95, Low: -10, High: 110, UpDB: 4, DownDB: 4, StepDB: 0.5,
	}.Answer()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("swing %.1f dB, covered %v, set it %+.1f dB from the middle\n", a.SwingDB, a.Covered, a.SetDB)
	// Output: swing 2.9 dB, covered true, set it +1.0 dB from the middle
}

// If the range does not cover the year, the control is not set beyond its end. By hand:
// 66 dB at 750 MHz and 105 F, between -20 and 110 F: the middle of the swing is 60
// degrees below today, 66 x 0.0011 x 60 = 4.36 dB.
func TestSetWithinRange(t *testing.T) {
	q := season.Conditions{PilotHz: 750_000_000, LowHz: 54_000_000, HighHz: 1_002_000_000, Now: 105,
		Low: -20, High: 110,
		UpDB: 3, DownDB: 3, StepDB: 0.5}
	for range 3 {
		q.Spans = append(q.Spans, season.Span{LossDB: 22, AtHz: 750_000_000})
	}
	a, err := q.Answer()
	require.NoError(t, err)
	assert.False(t, a.Covered)
	assert.InDelta(t, 4.36, a.OffsetDB, 0.01)
	assert.Equal(t, 3.0, a.SetDB)
	assert.InDelta(t, 3-(3+66*0.0011*5), a.RoomUpDB, 1e-9, "in the heat it lacks what five degrees take")
	q.Now = -15
	a, err = q.Answer()
	require.NoError(t, err)
	assert.Equal(t, -3.0, a.SetDB)
}

// A range covers a swing on paper down to nothing to spare, but is tight below the 2 dB
// that set-up and drift take (common practice, no source). 20 dB swing by 20 x 0.0011 x 120
// = 2.64 dB (the rule of 0.11 % per degree F).
func TestTight(t *testing.T) {
	for _, c := range []struct {
		upDB, downDB   float64
		covered, tight bool
	}{{1, 1, false, false}, {1.4, 1.4, true, true}, {2, 2.6, true, true}, {2.4, 2.4, true, false}} {
		q := season.Conditions{Spans: []season.Span{{20, 747_000_000}}, PilotHz: 747_000_000, LowHz: 54_000_000,
			HighHz: 1_002_000_000, Now: 50, Low: -10, High: 110, UpDB: c.upDB, DownDB: c.downDB}
		a, err := q.Answer()
		require.NoError(t, err)
		assert.InDelta(t, c.upDB+c.downDB-2.64, q.SpareDB(a), 1e-6)
		assert.Equal(t, c.covered, a.Covered, "%v", c)
		assert.Equal(t, c.tight, q.Tight(a), "%v", c)
	}
}
