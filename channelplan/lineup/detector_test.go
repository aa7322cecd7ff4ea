package lineup_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

func TestParseDetector(t *testing.T) {
	d, err := lineup.ParseDetector(" OFDM digital Power 54-870")
	require.NoError(t, err)
	assert.True(t, d.Known() && d.Power)
	assert.True(t, d.Follows(channelplan.QAM256) && d.Follows(channelplan.OFDM))
	assert.False(t, d.Follows(channelplan.Analog) || d.Follows(channelplan.CW))
	assert.Equal(t, lineup.Band{54_000_000, 870_000_000}, d.Band)
	again, err := lineup.ParseDetector(d.String())
	require.NoError(t, err)
	assert.Equal(t, d, again)
	assert.False(t, lineup.Detector{}.Known())
	for _, text := range []string{"", "power", "54-870", "digital sloppy", "digital 54-870 60-70", "digital 870-54"} {
		_, err := lineup.ParseDetector(text)
		assert.Error(t, err, text)
	}
}

// What a detector can follow decides over the lineup. The lineups are invented.
func TestDetectorsAndTheRules(t *testing.T) {
	before := readText(t, "# forward: 54-1002\nchannel,carrier,level_dbmv\n73,analog,40\n116,qam256,36\n")
	after := readText(t,
		"# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz,level_dbmv\n73,qam256,,,34\n,ofdm,744,1002,35\n")
	detector := func(text string) lineup.Detector {
		d, err := lineup.ParseDetector(text)
		require.NoError(t, err)
		return d
	}
	p116, p73 := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital},
		channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}
	verdict := func(l *lineup.Lineup, p channelplan.Pilot, d string) (lineup.Verdict, lineup.Rule) {
		a := lineup.Amplifier{ID: "A", Pilot: p}
		if d != "" {
			a.Detector = detector(d)
		}
		r := l.CheckOne(p, lineup.Context{Amplifier: &a})
		return r.Verdict, r.Findings[0].Rule
	}
	for _, c := range []struct {
		l        *lineup.Lineup
		p        channelplan.Pilot
		detector string
		verdict  lineup.Verdict
		rule     lineup.Rule
	}{
		{after, p116, "", lineup.Unusable, lineup.InsideOFDM},
		{after, p116, "digital", lineup.Unusable, lineup.InsideOFDM},
		{after, p116, "digital ofdm power", lineup.WithCare, lineup.InsideOFDM},
		{after, p73, "analog", lineup.Unusable, lineup.CarrierMismatch},
		{after, p73, "analog digital power", lineup.WithCare, lineup.CarrierMismatch},
		{before, p116, "analog cw", lineup.Unusable, lineup.OutsideDetector},
		{before, p116, "digital 54-600", lineup.Unusable, lineup.OutsideDetector},
	} {
		v, rule := verdict(c.l, c.p, c.detector)
		assert.Equal(t, c.verdict, v, "%v %q", c.p, c.detector)
		assert.Equal(t, c.rule, rule, "%v %q", c.p, c.detector)
	}

	// Analog at 40 dBmV becomes 256-QAM at 34: 6 dB up where power is measured, nothing but a
	// lost pilot where not.
	power := lineup.Compare(before, after, lineup.Amplifier{Pilot: p73, Detector: detector("analog digital power")})
	assert.InDelta(t, 6, power.Step.DB, 1e-9)
	assert.Contains(t, power.Changes[0].Text,
		"the detector measures power, so the AGC follows, and its output goes 6.0 dB up")
	alone := lineup.Compare(before, after, lineup.Amplifier{Pilot: p73, Detector: detector("analog")})
	assert.False(t, alone.Step.Known)
	assert.Contains(t, alone.Changes[1].Text, "the detector (analog) loses it")
	assert.True(t, lineup.Loses(before, after, p73, detector("analog")))
	assert.False(t, lineup.Loses(before, after, p73, lineup.Detector{}), "nobody knows")
}

// A blocker is remembered for amplifiers that are alike, and for no others.
func TestBlockers(t *testing.T) {
	l := readText(t, settled+"116,qam256\n138,qam256\n,ofdm,810,1002\n")
	rule := l.Blockers()
	power, err := lineup.ParseDetector("power digital ofdm")
	require.NoError(t, err)
	analog, err := lineup.ParseDetector("analog")
	require.NoError(t, err)
	covered, carried := pilot(t, "138 digital"), pilot(t, "116 digital")
	for range 2 {
		for id, c := range map[string]struct {
			pilot channelplan.Pilot
			amp   lineup.Amplifier
			want  lineup.Rule
		}{
			"a block":            {covered, lineup.Amplifier{}, lineup.InsideOFDM},
			"its power":          {covered, lineup.Amplifier{Detector: power}, ""},
			"usable":             {carried, lineup.Amplifier{}, ""},
			"another detector":   {carried, lineup.Amplifier{Detector: analog}, lineup.OutsideDetector},
			"a narrow passband":  {carried, lineup.Amplifier{Passband: lineup.Band{LowHz: 54e6, HighHz: 550e6}}, lineup.OutsideForward},
			"as the slope pilot": {carried, lineup.Amplifier{Slope: lineup.SlopePilot{Pilot: carried, Detector: analog}}, lineup.OutsideDetector},
		} {
			c.amp.ID = id
			assert.Equal(t, c.want, rule(c.pilot, c.amp), id)
		}
	}
}
