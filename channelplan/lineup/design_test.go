package lineup_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// Worked by hand: a design of 37 dBmV at 55.25 MHz and 47 dBmV at 745.25 MHz, analog
// equivalent, and a lineup that carries 256-QAM 6 dB below analog on a flat line of 40
// dBmV.
func TestExpect(t *testing.T) {
	l := readText(t,
		"# forward: 54-1002\nchannel,carrier,level_dbmv\n2,analog,40\n60,cw,43\n73,qam256,33\n116,qam256,34\n")
	d := lineup.Design{LowHz: 55_250_000, HighHz: 747_000_000, Input: lineup.Balance{10, 14, true},
		Output:      lineup.Balance{37, 47, true},
		TestPointDB: 20}
	of := func(channel int, kind channelplan.Kind) lineup.Expected {
		return l.Expect(channelplan.Pilot{Channel: channel, Kind: kind}, d)
	}
	// At the high balance channel itself: 47 dBmV less the 6 dB of 256-QAM.
	e := of(116, channelplan.Digital)
	assert.InDelta(t, 41, e.Output, 1e-9)
	assert.InDelta(t, 8, e.Input, 1e-9)
	in, out := e.AtMeter()
	assert.InDelta(t, -12, in, 1e-9)
	assert.InDelta(t, 21, out, 1e-9)
	// 439.25 MHz is 384/691.75 of the way: 37 + 5.551, and the cw is 3 dB above.
	e = of(60, channelplan.CW)
	assert.InDelta(t, 37+10*384.0/691.75+3, e.Output, 1e-9)
	// 73 is 1 dB below the line of 256-QAM: 1 dB less is expected.
	e = of(73, channelplan.Digital)
	assert.InDelta(t, 37+10*float64(519_000_000-55_250_000)/691_750_000-7, e.Output, 1e-9)
	// Nothing is expected if the lineup or the record does not say.
	assert.True(t, l.Expect(channelplan.Pilot{Channel: 99, Kind: channelplan.Analog}, d).IsZero())
	assert.True(t, l.Expect(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, lineup.Design{}).IsZero())
	off := d
	off.HighHz = 900_000_000 // where there is nothing with a level
	assert.True(t, l.Expect(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, off).IsZero())
	assert.Nil(t, l.Balance(off))
	// At the balance channels: analog at design, and the 6 dB of 256-QAM under it.
	both := l.Balance(d)
	require.Len(t, both, 2)
	assert.Equal(t, 2, both[0].Channel)
	assert.InDelta(t, 37, both[0].Output, 1e-9)
	assert.Equal(t, 116, both[1].Channel)
	assert.InDelta(t, 41, both[1].Output, 1e-9)
}
