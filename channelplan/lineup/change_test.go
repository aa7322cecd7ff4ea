package lineup_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// read reads an invented lineup.
func read(t *testing.T, rows ...string) *lineup.Lineup {
	t.Helper()
	l, err := lineup.Read(strings.NewReader("# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz,frequency_mhz,level_dbmv,duty\n"+
		strings.Join(rows, "\n")), "invented")
	require.NoError(t, err)
	require.Empty(t, l.Problems)
	return l
}

func analog73() lineup.Amplifier {
	return lineup.Amplifier{ID: "A", Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}}
}

func told(c lineup.Comparison) []string {
	var all []string
	for _, change := range c.Changes {
		all = append(all, fmt.Sprintf("%v: %s", change.What, change.Text))
	}
	return all
}

// 256-QAM is carried 6 dB below analog (Hranac, The Power of QAM, Communications
// Technology, October 2006): an AGC that mistakes one for the other raises its output by
// as much. Square root law: common practice.
func TestStepWhenAnalogGoesDigital(t *testing.T) {
	before, after := read(t, "73,analog,,,,40,"), read(t, "73,qam256,,,,34,")
	a := analog73()
	c := lineup.Compare(before, after, a)
	assert.Equal(t, []string{
		"pilot-lost: 73 analog is not a valid pilot after the change: the pilot is analog, but channel 73 carries 256-QAM",
		"carrier-changed: analog at 40.0 dBmV becomes 256-QAM at 34.0 dBmV: if the AGC locks at all, its output goes 6.0 dB up (it depends on the detector)",
	}, told(c))
	assert.InDelta(t, 6, c.Step.DB, 1e-9)
	assert.InDelta(t, 6*math.Sqrt(1002/517.25), c.Step.TopDB, 1e-9)

	a.Range = lineup.Range{UpDB: 4, DownDB: 5}
	c = lineup.Compare(before, after, a)
	assert.InDelta(t, 4, c.Step.DB, 1e-9)
	assert.True(t, c.Step.Held)
	assert.Contains(t, c.Changes[1].Text, "4.0 dB up, to the end of its range")

	back := a
	back.Pilot.Kind = channelplan.Digital
	c = lineup.Compare(after, before, back)
	assert.InDelta(t, -5, c.Step.DB, 1e-9, "held at the other end")

	a.Passband = lineup.Band{LowHz: 54_000_000, HighHz: 750_000_000}
	a.Range = lineup.Range{}
	assert.InDelta(t, 6*math.Sqrt(750/517.25), lineup.Compare(before, after, a).Step.TopDB, 1e-9)
}

func TestWhatBecomesOfAPilot(t *testing.T) {
	digital := func(channel int) lineup.Amplifier {
		return lineup.Amplifier{Pilot: channelplan.Pilot{Channel: channel, Kind: channelplan.Digital}}
	}
	spared := digital(80)
	spared.Spare = channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}
	for name, c := range map[string]struct {
		before, after []string
		a             lineup.Amplifier
		want          []string
	}{
		"it stays": {
			[]string{"80,qam256,,,,36,"}, []string{"80,qam256,,,,36.5,"}, digital(80), nil,
		},
		"its level moves": {
			[]string{"80,qam256,,,,36,"}, []string{"80,qam256,,,,38,"}, digital(80),
			[]string{"level-changed: its level goes from 36.0 to 38.0 dBmV: the AGC follows, and its output goes 2.0 dB down (it depends on the detector)"},
		},
		"its order of QAM changes": {
			[]string{"80,qam64,,,,30,"}, []string{"80,qam256,,,,34,"}, digital(80),
			[]string{"carrier-changed: 64-QAM at 30.0 dBmV becomes 256-QAM at 34.0 dBmV: if the AGC locks at all, its output goes 4.0 dB down (it depends on the detector)"},
		},
		"a block swallows it": {
			[]string{"116,qam256,,,,37,", ",ofdm,810,1002,,36.5,"}, []string{",ofdm,744,1002,,36.5,"}, digital(116),
			[]string{"pilot-lost: 116 digital is not a valid pilot after the change: the OFDM block 744 to 1002 MHz covers its channel: there is no such pilot",
				"carrier-changed: 256-QAM at 37.0 dBmV becomes OFDM at 36.5 dBmV",
				"neighbor-over: another carrier or block covers its channel after the change"},
		},
		"it was gone already": {
			[]string{"80,qam256,,,,36,"}, []string{"80,qam256,,,,36,"}, digital(90),
			[]string{"pilot-absent: 90 digital is not a valid pilot before or after: the lineup carries nothing on channel 90"},
		},
		"it comes back": {
			[]string{"80,qam256,,,,36,part-time"}, []string{"80,qam256,,,,36,"}, digital(80),
			[]string{"pilot-back: 80 digital becomes a valid pilot; before, it was not: it is a part-time carrier: when it goes off the air, the AGC loses its pilot"},
		},
		"its neighbors come, go and change": {
			[]string{"79,qam256,,,,35,", "80,qam256,,,,36,", "81,analog,,,,40,"},
			[]string{"80,qam256,,,,36,", "81,qam256,,,,36,"}, digital(80),
			[]string{"neighbor-gone: next to it, channel 79 goes away",
				"neighbor-changed: next to it, channel 81 becomes 256-QAM at 36.0 dBmV; it was analog at 40.0 dBmV"},
		},
		"one neighbor is new": {
			[]string{"80,qam256,,,,36,"}, []string{"80,qam256,,,,36,", "81,qam256,,,,36,"}, digital(80),
			[]string{"neighbor-new: next to it, channel 81 is new at 36.0 dBmV"},
		},
		"its spare is lost": {
			[]string{"80,qam256,,,,36,", "73,analog,,,,40,"}, []string{"80,qam256,,,,36,"}, spared,
			[]string{"spare-lost: its spare, 73 analog, is not a valid pilot after the change: the lineup carries nothing on channel 73"},
		},
	} {
		got := lineup.Compare(read(t, c.before...), read(t, c.after...), c.a)
		assert.Equal(t, c.want, told(got), name)
		if len(c.want) > 0 {
			assert.True(t, got.Has(got.Changes[0].What), name)
		}
		assert.False(t, got.Has(lineup.CarrierMoved), name)
	}
	moved := lineup.Compare(read(t, "80,analog,,,,40,"), read(t, "80,analog,,,559.2625,40,"),
		lineup.Amplifier{Pilot: channelplan.Pilot{Channel: 80, Kind: channelplan.Analog}})
	assert.Equal(t, []string{"carrier-moved: its carrier moves from 559.25 to 559.2625 MHz"}, told(moved))
	assert.False(t, moved.Step.Known)
	kinds := 0
	for w := lineup.ChangeKind(0); w.String() != ""; w++ {
		kinds++
	}
	assert.Equal(t, 11, kinds, "each has a word")
}
