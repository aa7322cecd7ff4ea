package lineup_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/lineup"
)

// An amplifier with two pilots, on an invented lineup: each is its own, the slope pilot is
// not too low, and neither hides that the other one is not valid.
func TestTwoPilots(t *testing.T) {
	l := readText(t, "# forward: 54-1002\n# effective: 2026-03-02\nchannel,carrier\n116,qam256\n17,cw\n12,analog\n")
	a := lineup.Amplifier{ID: "OSR-04", Pilot: pilot(t, "116 digital"),
		Slope: lineup.SlopePilot{Pilot: pilot(t, "17 cw")}}
	with := lineup.Context{Amplifier: &a, Today: today}
	check := func(of string) lineup.Report { return l.Check(pilot(t, of), with) }

	assert.Empty(t, check("116 digital").Findings)
	r := check("17 cw")
	assert.Equal(t, lineup.Usable, r.Verdict, "a slope pilot is meant to be low: %v", r.Findings)
	require.Len(t, r.Findings, 1)
	assert.Equal(t, "it is the slope pilot of OSR-04, whose main pilot is 116 digital", r.Findings[0].Text)
	assert.Equal(t, lineup.OtherPilot, r.Findings[0].Rule)
	assert.True(t, check("12 analog").Has(lineup.NotAssigned), "neither")
	one := a
	one.Slope = lineup.SlopePilot{}
	assert.True(t, l.Check(pilot(t, "17 cw"), lineup.Context{Amplifier: &one}).Has(lineup.LowPlacement),
		"as its only pilot it is low")

	gone := readText(t, "# forward: 54-1002\n# effective: 2026-03-02\nchannel,carrier\n17,cw\n12,analog\n")
	r = gone.Check(a.Slope.Pilot, with)
	assert.Equal(t, lineup.WithCare, r.Verdict)
	assert.Equal(t, "its main pilot, 116 digital, is not valid here (not-in-lineup): the lineup carries nothing on channel 116",
		r.Findings[0].Text)
	gone = readText(t, "# forward: 54-1002\n# effective: 2026-03-02\nchannel,carrier\n116,qam256\n12,analog\n")
	r = gone.Check(a.Pilot, with)
	assert.Equal(t, lineup.WithCare, r.Verdict)
	assert.Contains(t, r.Findings[0].Text, "its slope pilot, 17 cw, is not valid here (not-in-lineup)")
	assert.Equal(t, lineup.Usable, gone.CheckOne(a.Pilot, with).Verdict, "an audit judges both by themselves")

	// Without a lineup the record still says what the pilot is.
	r = lineup.CheckRecord(a.Slope.Pilot, l.Plan, with)
	assert.Equal(t, lineup.Usable, r.Verdict)
	assert.True(t, r.Has(lineup.OtherPilot))
}
