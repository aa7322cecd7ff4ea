package demo

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/carrier"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

func TestFilesInTestdataAreTheEmbeddedOnes(t *testing.T) {
	for file, embedded := range map[string]string{"lineup.csv": lineupCSV, "amps.csv": ampsCSV} {
		data, err := os.ReadFile("../../../testdata/demo/" + file)
		require.NoError(t, err)
		assert.Equal(t, embedded, string(data), file)
	}
}

// The demo has one of everything the rules speak of, and no fault.
func TestDemoLineup(t *testing.T) {
	l, err := Lineup()
	require.NoError(t, err)
	assert.Empty(t, l.Problems)
	assert.Empty(t, l.Notes)
	assert.InDelta(t, 100, len(l.Carriers), 15, "about a hundred carriers")
	kinds := map[carrier.Kind]int{}
	partTime, scrambled := 0, 0
	for _, c := range l.Carriers {
		kinds[c.Kind]++
		if c.PartTime {
			partTime++
		}
		if c.SyncSuppressed {
			scrambled++
		}
	}
	assert.Positive(t, kinds[carrier.Analog])
	assert.Greater(t, kinds[carrier.QAM256], kinds[carrier.Analog])
	assert.Equal(t, 1, kinds[carrier.OFDM])
	assert.Positive(t, kinds[carrier.CW])
	assert.Equal(t, 1, partTime)
	assert.Equal(t, 1, scrambled)

	report := l.Check(lineup.Pilot{Channel: 116, Kind: carrier.Digital},
		lineup.Context{Today: Day()})
	assert.Equal(t, lineup.Usable, report.Verdict, "%v", report.Findings)
}

func TestDemoAmplifier(t *testing.T) {
	a, err := Amplifier("osr-03")
	require.NoError(t, err)
	assert.Equal(t, lineup.Pilot{Channel: 116, Kind: carrier.Digital}, a.Pilot)
	_, err = Amplifier("OSR-33")
	require.ErrorIs(t, err, plant.ErrNoAmplifier)
}
