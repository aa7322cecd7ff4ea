package nextstep

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan/carrier"
	"tallywink.example/channelplan/lineup"
)

var (
	p116 = lineup.Pilot{Channel: 116, Kind: carrier.Digital}
	p73  = lineup.Pilot{Channel: 73, Kind: carrier.Analog}
)

func report(p lineup.Pilot, verdict lineup.Verdict, rules ...string) *lineup.Report {
	r := &lineup.Report{Pilot: p, InPlan: true, Verdict: verdict}
	for _, rule := range rules {
		r.Findings = append(r.Findings, lineup.Finding{Rule: rule, Text: "because of " + rule})
	}
	return r
}

func amp(a lineup.Amplifier) *lineup.Amplifier {
	a.ID = "OSR-01"
	return &a
}

func TestSteps(t *testing.T) {
	for _, c := range []struct {
		name string
		s    Situation
		says []string
	}{
		{"locked, no lineup", Situation{State: blink.Locked}, []string{"--lineup FILE"}},
		{"locked, by the record alone", Situation{State: blink.Locked, Report: report(p116, lineup.Usable)}, []string{"pilot on record", "--lineup FILE"}},
		{"locked, manual by design", Situation{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.Usable), Amplifier: amp(lineup.Amplifier{Mode: lineup.HandSet})},
			[]string{"The record says manual by design, and its AGC is on", "supervisor decides"}},
		{"locked, usable", Situation{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.Usable)}, []string{"All is well", "Meter the pilot at the input test point first"}},
		{"locked, a caution", Situation{State: blink.Locked, Report: report(p116, lineup.WithCare, "narrowcast")}, []string{"Leave it locked", "headend"}},
		{"locked on a wrong pilot that is not in the lineup", Situation{State: blink.Locked, Report: report(p116, lineup.Unusable, "not-in-lineup")},
			[]string{"Count one more frame", "Meter 116 digital (747 MHz) at the input test point and add the test point's loss", "tell the headend", "headend's call"}},
		{"locked on a wrong pilot, the record says which", Situation{State: blink.Locked, Report: report(p73, lineup.Unusable, "part-time"), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"wander", "The record says 116 digital (747 MHz)", "supervisor's word"}},
		{"a channel the plan has not", Situation{State: blink.Locked, Report: report(lineup.Pilot{Channel: 1, Kind: carrier.Analog}, lineup.Unusable, "not-in-plan")}, []string{"which plan"}},
		{"out of its passband", Situation{State: blink.Locked, Report: report(p116, lineup.Unusable, "outside-forward")}, []string{"filters"}},
		{"two carriers in one place", Situation{State: blink.Locked, Report: report(p116, lineup.Unusable, "overlapped")}, []string{"headend's to part"}},
		{"a good carrier that is not this amplifier's", Situation{State: blink.Locked, Report: report(p73, lineup.WithCare, "not-assigned"), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"Leave it locked", "select 116 digital (747 MHz)", "supervisor decides"}},
		{"on its spare", Situation{State: blink.Locked, Report: report(p73, lineup.WithCare, "not-assigned"), Amplifier: amp(lineup.Amplifier{Pilot: p116, Spare: p73})},
			[]string{"Meter its main pilot, 116 digital (747 MHz),", "leave it on the spare"}},
		{"edge, low", Situation{State: blink.Edge, End: blink.EndLow, Report: report(p116, lineup.Usable)}, []string{"Meter 116 digital", "no weather", "water", "design"}},
		{"edge, high", Situation{State: blink.Edge, End: blink.EndHigh}, []string{"Meter the pilot", "pad left out", "cold"}},
		{"edge, end not seen", Situation{State: blink.Edge}, []string{"Count the bars"}},
		{"edge on a pilot that is not valid", Situation{State: blink.Edge, End: blink.EndLow, Report: report(p116, lineup.Unusable, "part-time")}, []string{"not valid here"}},
		{"manual by design", Situation{State: blink.Manual, Amplifier: amp(lineup.Amplifier{Mode: lineup.HandSet})}, []string{"No fault: OSR-01 is manual by design"}},
		{"thermal by design", Situation{State: blink.Thermal, Amplifier: amp(lineup.Amplifier{Mode: lineup.OpenLoop, Pilot: p116})}, []string{"thermal by design"}},
		{"manual and should be AGC", Situation{State: blink.Manual, Amplifier: amp(lineup.Amplifier{Pilot: p116})}, []string{"The record says AGC on 116 digital", "supervisor decides"}},
		{"manual, no record", Situation{State: blink.Manual}, []string{"Ask before you switch"}},
		{"seeking that does not end", Situation{State: blink.Seeking, Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"few minutes", "its pilot, 116 digital (747 MHz),", "call the headend", "supervisor decides"}},
		{"holding", Situation{State: blink.Holding}, []string{"Leave the setting alone", "Meter its pilot at", "go upstream", "headend decides"}},
		{"holding for a pilot that is not in the lineup", Situation{State: blink.Holding, Amplifier: amp(lineup.Amplifier{Pilot: p116}), Sought: report(p116, lineup.Unusable, "inside-ofdm")},
			[]string{"not valid here (inside-ofdm)"}},
		{"fault", Situation{State: blink.Fault}, []string{"three flashes", "supervisor decides"}},
		{"steady", Situation{State: blink.Steady}, []string{"ten seconds"}},
		{"dark", Situation{State: blink.Dark}, []string{"ten seconds", "trained"}},
		{"doubtful", Situation{State: blink.Locked, Doubtful: true, Counts: []string{"Count A.", "Count B.", "Count C."}}, []string{"Count A.", "Count B.", "long dark", "Change nothing"}},
		{"doubtful because looks contradict", Situation{State: blink.Locked, Doubtful: true,
			Named: []blink.Pilot{{Channel: 116, Kind: carrier.Digital}, {Channel: 73, Kind: carrier.Analog}}}, []string{"116 digital, 73 analog", "one lamp"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			steps := Steps(c.s)
			require.NotEmpty(t, steps)
			assert.LessOrEqual(t, len(steps), 4)
			text := strings.Join(steps, "\n")
			for _, s := range c.says {
				assert.Contains(t, text, s)
			}
			for _, step := range steps {
				assert.LessOrEqual(t, len(step), 190, "a step is short: %s", step)
				assert.True(t, strings.HasSuffix(step, ".") || strings.HasSuffix(step, "?"), step)
			}
		})
	}
}

// No state is left without an answer, and what is not in order names who
// decides.
func TestEveryStateHasStepsAndADecider(t *testing.T) {
	for _, s := range blink.States() {
		steps := Steps(Situation{State: s})
		assert.NotEmpty(t, steps, s)
		if s != blink.Locked {
			text := strings.Join(steps, " ")
			assert.Regexp(t, "supervisor|headend|trained", text, s)
		}
	}
	assert.Empty(t, Steps(Situation{}))
}
