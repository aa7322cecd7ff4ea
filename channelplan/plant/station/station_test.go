package station_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/season"
)

// An invented cascade: the next station has to make up for what the cable before
// amplifiers without AGC swings. The figures for one span of 22 dB at 750 MHz are those
// of season's tests.
func TestStations(t *testing.T) {
	p, err := plant.Read(strings.NewReader(`amp,channel,carrier,mode,upstream,span_db,span_mhz,range_up_db,range_down_db
A1,116,digital,,,22,750,4,4
A2,,,manual,A1,20,750,,
A3,,,thermal,A2,24,750,,
A4,116,digital,,A3,22,750,4,4
A5,116,digital,,A4,22,750,1,1
A6,116,digital,,A5,,,4,4
A7,116,digital,,A3,22,750,,
A8,1,analog,,A4,22,750,4,4
A9,73,analog,,A4,18,750,4,4
B1,116,digital,,GONE,10,750,4,4
B2,,,thermal,B3,20,750,,
B3,,,thermal,B2,20,750,,
B4,116,digital,,B3,20,750,4,4
`), "amps.csv")
	require.NoError(t, err)
	q := station.Conditions{Plan: channelplan.STD, Passband: lineup.Band{LowHz: 54_000_000, HighHz: 1_002_000_000},
		Now: 95,
		Low: -10, High: 110}
	stations := station.Stations(p, p.Cascades(), q)
	var order []string
	byID := map[string]station.Station{}
	for _, s := range stations {
		order = append(order, s.ID)
		byID[s.ID] = s
	}
	assert.Equal(t, []string{"A5", "A4", "A1", "A9", "A6", "A7", "A8", "B1", "B4"}, order,
		"the shortest first, then what is not known")

	one := byID["A1"]
	assert.InDelta(t, 2.9, one.Answer.SwingDB, 0.05)
	assert.InDelta(t, 1.1, one.Answer.OffsetDB, 0.05)
	assert.True(t, one.Answer.Covered)
	assert.Empty(t, one.Through)

	far := byID["A4"]
	assert.Equal(t, []string{"A3", "A2"}, far.Through)
	assert.Equal(t, 66.0, far.SumDB())
	assert.InDelta(t, 3*one.Answer.SwingDB, far.Answer.SwingDB, 1e-9, "three spans of 22 dB on average")
	assert.False(t, far.Answer.Covered)
	assert.InDelta(t, 8-far.Answer.SwingDB, far.SpareDB(), 1e-9)
	// If the thermal A3 compensates for its 24 of the 66 dB, what is left swings as 42 dB.
	assert.Equal(t, []string{"A3"}, far.Thermal)
	assert.InDelta(t, far.Answer.SwingDB*42/66, far.LeastDB, 1e-9)
	assert.Empty(t, one.Thermal)

	assert.Equal(t, "the loss of the span before A6 is not known", byID["A6"].Unknown)
	assert.Equal(t, "the range of its AGC is not known", byID["A7"].Unknown)
	assert.Equal(t, "what feeds B1 is not known: GONE is not listed, or is in a loop", byID["B1"].Unknown)
	assert.Equal(t, "what feeds B2 is not known: B3 is not listed, or is in a loop", byID["B4"].Unknown)
	assert.Equal(t, "the STD plan has no channel 1", byID["A8"].Unknown)

	q.Range = lineup.Range{UpDB: 6, DownDB: 6}
	for _, s := range station.Stations(p, p.Cascades(), q) {
		if s.ID == "A7" {
			assert.Equal(t, 12.0, s.Question.UpDB+s.Question.DownDB)
			assert.Empty(t, s.Unknown)
		}
	}
	q.Now = season.Fahrenheit(120)
	assert.Contains(t, station.Stations(p, p.Cascades(), q)[0].Unknown, "out of order")
}
