package demo

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

func TestFilesInTestdataAreTheEmbeddedOnes(t *testing.T) {
	for file, embedded := range map[string]string{"lineup.csv": lineupCSV, "next.csv": nextCSV, "amps.csv": ampsCSV,
		"high.csv": highCSV, "high-amps.csv": highAmpsCSV} {
		data, err := os.ReadFile("../../../testdata/demo/" + file)
		require.NoError(t, err)
		assert.Equal(t, embedded, string(data), file)
	}
}

// The demo has one of everything that the rules are about, and no fault.
func TestDemoLineup(t *testing.T) {
	l, err := Lineup()
	require.NoError(t, err)
	assert.Empty(t, l.Problems)
	assert.Empty(t, l.Notes)
	assert.InDelta(t, 100, len(l.Carriers), 15, "about a hundred carriers")
	kinds := map[channelplan.Kind]int{}
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
	assert.Positive(t, kinds[channelplan.Analog])
	assert.Greater(t, kinds[channelplan.QAM256], kinds[channelplan.Analog])
	assert.Equal(t, 1, kinds[channelplan.OFDM])
	assert.Positive(t, kinds[channelplan.CW])
	assert.Equal(t, 1, partTime)
	assert.Equal(t, 1, scrambled)

	report := l.Check(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital},
		lineup.Context{Today: Day()})
	assert.Equal(t, lineup.Usable, report.Verdict, "%v", report.Findings)
}

func TestDemoAmplifier(t *testing.T) {
	a, _, err := Amplifier("osr-03")
	require.NoError(t, err)
	assert.Equal(t, channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, a.Pilot)
	_, _, err = Amplifier("OSR-33")
	require.ErrorIs(t, err, plant.ErrNoAmplifier)
}

// The second hub has what high splits have, and amplifiers with two pilots; nobody has a
// slope pilot alone, in either hub.
func TestHighHub(t *testing.T) {
	l, err := High()
	require.NoError(t, err)
	assert.Empty(t, l.Problems)
	assert.Empty(t, l.Notes)
	assert.Equal(t, lineup.Band{LowHz: 258_000_000, HighHz: 1_218_000_000}, l.Forward)
	for _, c := range l.Carriers {
		assert.NotEqual(t, channelplan.Analog, c.Kind, c)
	}
	for name, inventory := range map[string]*strings.Reader{Name: Inventory(), HighName: HighInventory()} {
		p, err := plant.Read(inventory, name)
		require.NoError(t, err)
		assert.Empty(t, p.Problems)
		assert.Empty(t, p.Cascades().Problems)
		two, unusable := 0, 0
		for _, a := range p.Amplifiers {
			assert.Equal(t, lineup.MainPilot, a.Role, a.ID)
			if !a.Slope.Pilot.IsZero() {
				two++
			}
			if name == HighName && a.Mode == lineup.AGC {
				if l.CheckOne(a.Pilot, lineup.Context{Amplifier: &a.Amplifier}).Verdict == lineup.Unusable {
					unusable++
				}
			}
		}
		assert.Greater(t, two, 1, name)
		if name == HighName {
			assert.Equal(t, 1, unusable)
		}
	}
}

// The inventory is valid, its cascades are complete, and the next lineup leaves work to
// do.
func TestDemoPlant(t *testing.T) {
	p, err := plant.Read(Inventory(), Name)
	require.NoError(t, err)
	assert.Empty(t, p.Problems)
	assert.Greater(t, len(p.Amplifiers), 300)
	assert.Empty(t, p.Cascades().Problems)

	before, err := Lineup()
	require.NoError(t, err)
	after, err := Next()
	require.NoError(t, err)
	assert.Empty(t, after.Problems)
	assert.Empty(t, after.Notes)
	became := map[lineup.ChangeKind]int{}
	stay := 0
	for _, a := range p.Amplifiers {
		if a.Mode != lineup.AGC {
			continue
		}
		c := lineup.Compare(before, after, a.Amplifier)
		for _, ch := range c.Changes {
			became[ch.What]++
		}
		if len(c.Changes) == 0 {
			stay++
		}
	}
	assert.Positive(t, stay)
	for _, w := range []lineup.ChangeKind{lineup.PilotLost, lineup.PilotAbsent, lineup.CarrierChanged,
		lineup.LevelChanged,
		lineup.NeighborNew, lineup.SpareLost} {
		assert.Positive(t, became[w], w)
	}
}
