package cutover

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
)

// Invented amplifiers with two pilots: what each one needs decides when the one visit is.
func TestTwoPilots(t *testing.T) {
	p := planOf(t, "116,qam256,,,,37\n108,qam256,,,,37\n73,analog,,,,40\n60,cw,,,,41\n59,qam256,,,,33\n,ofdm,810,1002,,36\n",
		"108,qam256,,,,37\n73,qam256,,,,34\n60,cw,,,,41\n59,qam256,,,,33\n,ofdm,744,1002,,36\n",
		`amp,channel,carrier,slope_channel,slope_carrier,detector,slope_detector
both stay,108,digital,60,cw,,
main early,116,digital,60,cw,,
slope early,108,digital,73,analog,,
both early,116,digital,73,analog,,
slope strands,108,digital,73,analog,,analog 500-600
slope below main,59,digital,9,analog,,
`, Request{Visit: time.Hour, Crews: 1})
	type told struct{ action, to, slopeTo string }
	got := map[string]told{}
	for _, s := range p.Steps {
		now := told{action: s.Action.String()}
		if s.To != nil {
			now.to = s.To.Pilot.String()
		}
		if s.SlopeTo != nil {
			now.slopeTo = s.SlopeTo.Pilot.String()
		}
		got[s.ID] = now
	}
	assert.Equal(t, map[string]told{
		"both stay":     {action: "none"},
		"main early":    {"early", "108 digital", ""},
		"slope early":   {"early", "108 digital", "60 cw"},
		"both early":    {"early", "108 digital", "60 cw"},
		"slope strands": {action: "strand"},
		// Nothing that a detector for lines can follow is below channel 59.
		"slope below main": {action: "strand"},
	}, got)
	assert.Equal(t, []int{1, 0, 3, 0, 2}, p.Count[:])

	for i := range p.Steps {
		if s := &p.Steps[i]; s.ID == "slope strands" {
			assert.True(t, s.SlopeStrands)
		}
	}

	// A lamp names one pilot: the other of two that move is to be confirmed.
	p.Follow(func(id string) (Seen, bool) { return Seen{State: 1, Pilot: p.Targets[0].Pilot}, id == "both early" })
	for i := range p.Steps {
		s := &p.Steps[i]
		if s.ID != "both early" {
			require.Zero(t, s.Unconfirmed)
			continue
		}
		require.Equal(t, Moved, s.Stage)
		require.Contains(t, []channelplan.Pilot{s.To.Pilot, s.SlopeTo.Pilot}, s.Unconfirmed)
		require.NotEqual(t, p.Targets[0].Pilot, s.Unconfirmed)
	}

	// A lamp on the main pilot, which stays, does not show that the slope pilot was moved.
	pilot := p.Steps[0].Pilot
	for i := range p.Steps {
		s := &p.Steps[i]
		if s.ID != "slope early" {
			continue
		}
		p.Follow(func(id string) (Seen, bool) { return Seen{State: 1, Pilot: pilot}, id == s.ID })
		require.Equal(t, Waiting, s.Stage)
		p.Follow(func(id string) (Seen, bool) { return Seen{State: 1, Pilot: s.Slope.Pilot}, id == s.ID })
		require.Equal(t, Waiting, s.Stage)
		assert.Empty(t, s.Surprise)
		p.Follow(func(id string) (Seen, bool) { return Seen{State: 1, Pilot: s.SlopeTo.Pilot}, id == s.ID })
		require.Equal(t, Moved, s.Stage)
	}
}

// On random plants, no amplifier ends with one pilot for both, with a slope pilot that is
// not below the main one, or with one that the new lineup does not carry.
func TestTwoPilotsHold(t *testing.T) {
	before, err := demo.Lineup()
	require.NoError(t, err)
	after, err := demo.Next()
	require.NoError(t, err)
	moved := 0
	for seed := range uint64(200) {
		p := randomPlant(t, rand.New(rand.NewPCG(46, seed)))
		for _, s := range New(p, p.Cascades(), Request{Before: before, After: after, Today: demo.Day(),
			Visit: time.Hour, Crews: 1}).Steps {
			if s.Slope.Pilot.IsZero() || s.Action == Strand {
				continue
			}
			main, slope := s.Pilot, s.Slope.Pilot
			if s.To != nil {
				main = s.To.Pilot
			}
			if s.SlopeTo != nil {
				slope = s.SlopeTo.Pilot
				moved++
				low, ok := lineup.Locate(slope, after.Plan)
				require.True(t, ok)
				high, ok := lineup.Locate(main, after.Plan)
				require.True(t, ok)
				require.Less(t, low.FrequencyHz, high.FrequencyHz, "%s, seed %d", s.ID, seed)
				require.True(t, lineup.FarApart(low.FrequencyHz, high.FrequencyHz), "%s, seed %d", s.ID, seed)
			}
			at := s.Amplifier.Amplifier
			at.Pilot, at.Slope.Pilot = main, slope
			for _, pilot := range []struct{ of, as string }{{main.String(), "main"}, {slope.String(), "slope"}} {
				p := main
				if pilot.as == "slope" {
					p = slope
				}
				r := after.CheckOne(p, lineup.Context{Amplifier: &at})
				require.NotEqual(t, lineup.Unusable, r.Verdict, "%s: %s pilot %s, seed %d: %v", s.ID, pilot.as, pilot.of,
					seed, r.Findings)
			}
			require.NotEqual(t, main, slope)
		}
	}
	assert.Greater(t, moved, 40)
}

// Worked by hand: 20 dB at 750 MHz swings by 20 x 0.0011 x 30 = 0.66 dB between night and
// day. Parked ones add up down the cascade, an amplifier that stays on AGC takes it all out,
// and one without AGC by design passes it on.
func TestWhatParkingCosts(t *testing.T) {
	p := planOf(t, "116,qam256,,,,37\n60,cw,,,,41\n", "116,qam256,,,,37\n12,qam256,,,,37\n",
		`amp,channel,carrier,mode,low_mhz,high_mhz,upstream,span_db,span_mhz
stays,116,digital,,54,750,,20,750
parked,60,cw,,54,750,stays,20,750
by hand,,,manual,54,750,parked,10,750
parked too,60,cw,,54,750,by hand,20,750
stays too,116,digital,,54,750,parked too,20,750
not known,60,cw,,54,750,stays too,,
below that,60,cw,,54,750,not known,20,750
wider,60,cw,,54,1000,stays,20,250
`, Request{Visit: time.Hour, Crews: 1, DaySwing: 30})
	got := map[string]float64{}
	for _, s := range p.Steps {
		if s.ParkedKnown {
			got[s.ID] = s.ParkedDB
		}
		assert.Equal(t, s.ID != "stays" && s.ID != "stays too" && s.ID != "by hand", s.Action >= Park, s.ID)
	}
	require.Len(t, got, 3)
	assert.InDelta(t, 0.66, got["parked"], 1e-9)
	assert.InDelta(t, 0.66+0.33+0.66, got["parked too"], 1e-9)
	assert.InDelta(t, 2*0.66, got["wider"], 1e-9, "twice the loss at four times the frequency")
}
