package answer_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
)

var (
	p116 = channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	p73  = channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}
)

// The same pilots as the code names them.
var (
	b116 = channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	b73  = channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}
)

func report(p channelplan.Pilot, verdict lineup.Verdict, rules ...string) *lineup.Report {
	at, ok := lineup.Locate(p, channelplan.STD)
	r := &lineup.Report{Pilot: p, Located: at, InPlan: ok, Verdict: verdict}
	severity := map[lineup.Verdict]lineup.Severity{lineup.WithCare: lineup.Caution, lineup.Unusable: lineup.Blocker}[verdict]
	for _, rule := range rules { // the first one decides
		r.Findings = append(r.Findings, lineup.Finding{Rule: lineup.Rule(rule), Severity: severity,
			Text: "because of " + rule})
		severity = min(severity, lineup.Caution)
	}
	return r
}

func amp(a lineup.Amplifier) *lineup.Amplifier {
	a.ID = "OSR-01"
	return &a
}

// at is a short form of a situation.
type at struct {
	State                           blink.State
	End                             blink.EdgeEnd
	Doubtful, FromTime, LineupKnown bool
	RunsOn, StartUnseen             bool
	Unconfirmed, Assumed, Same      bool
	Bars                            int
	Framed                          channelplan.Pilot
	Counts                          []string
	Named                           []channelplan.Pilot
	Report, Recorded, Spare, Slope  *lineup.Report
	Amplifier                       *lineup.Amplifier
}

func (a at) situation() answer.Situation {
	s := answer.Situation{System: answer.System{Code: blink.Tally, Amplifier: a.Amplifier}, State: a.State, End: a.End,
		Doubtful: a.Doubtful, FromTime: a.FromTime,
		RunsOn: a.RunsOn, StartUnseen: a.StartUnseen, Unconfirmed: a.Unconfirmed, Assumed: a.Assumed, Same: a.Same,
		Bars: a.Bars, Framed: a.Framed, Counts: a.Counts, Named: a.Named, Report: a.Report, Recorded: a.Recorded,
		Spare: a.Spare, Slope: a.Slope}
	if a.LineupKnown {
		s.Lineup = &lineup.Lineup{}
	}
	return s
}

func texts(steps []answer.Step) []string {
	var all []string
	for _, s := range steps {
		all = append(all, s.Text)
	}
	return all
}

func TestSteps(t *testing.T) {
	for _, c := range []struct {
		name string
		s    at
		says []string
	}{
		{"locked, no pilot read", at{State: blink.Locked, LineupKnown: true}, []string{"count the frame"}},
		{"locked, no lineup", at{State: blink.Locked, Report: report(p116, lineup.Usable)},
			[]string{"nothing wrong. Add the lineup to see if this pilot is valid"}},
		{"locked, by the record alone", at{State: blink.Locked, Report: report(p116, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"pilot on record", "Add the lineup to see if it is still valid"}},
		{"locked, manual by design", at{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Mode: lineup.HandSet})},
			[]string{"The record says manual by design, but the AGC is on:", "supervisor decides"}},
		{"locked, usable", at{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.Usable)},
			[]string{"The lamp shows nothing wrong",
				"Output off design? Leave the setting. Measure the pilot at the input test point, add the test point loss, and compare with design. Report the output and the pilot's level."}},
		{"locked, usable, no frame right as it stands",
			at{State: blink.Locked, LineupKnown: true, Unconfirmed: true, Report: report(p116, lineup.Usable)},
			[]string{"Count one more frame: no frame you entered is right as it stands. Until then, the reading counts as doubtful.\nThe lamp shows nothing wrong"}},
		{"edge, no frame right as it stands", at{State: blink.Edge, End: blink.EndLow, Unconfirmed: true,
			Report: report(p116, lineup.Usable)}, []string{"Count one more frame: no frame"}},
		{"locked, but nobody said so", at{State: blink.Locked, LineupKnown: true, Assumed: true,
			Report: report(p116, lineup.Usable)},
			[]string{"No bar of light in the long dark? Then the lamp shows nothing wrong",
				"With one bar, enter it again as edge low; with two bars, as edge high."}},
		{"doubtful, bars behind the frame", at{State: blink.Locked, Doubtful: true, Bars: 2, Framed: p116},
			[]string{"a whole frame, 116 digital. Was what came after it a bar", "the state edge, high end",
				"Change nothing"}},
		{"doubtful, counted twice the same way", at{State: blink.Locked, Doubtful: true, Same: true},
			[]string{"Have someone else count one whole frame", "another code"}},
		{"locked, usable, one look named another",
			at{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.Usable),
				Named: []channelplan.Pilot{b116, b73}},
			[]string{"not all agree (116 digital, 73 analog):", "Look once more"}},
		{"locked, a caution", at{State: blink.Locked, LineupKnown: true,
			Report: report(p116, lineup.WithCare, "narrowcast")}, []string{"Leave it locked", "headend"}},
		{"locked, a lineup that can't be read in full",
			at{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.WithCare, "lineup-problems")},
			[]string{"The lineup file has rows that can't be read. Get them fixed: the verdict may change."}},
		{"locked on a wrong pilot that is not in the lineup",
			at{State: blink.Locked, LineupKnown: true, Report: report(p116, lineup.Unusable, "not-in-lineup")},
			[]string{"Adjust nothing. Count one more frame",
				"Look at 116 digital (747 MHz) in spectrum view. If a carrier is there, the lineup is wrong: tell the headend.",
				"Measure the output at both balance channels",
				"Call your supervisor before you leave: which pilot should it get, and should it go to manual at design until then?"}},
		{"the same, and the lineup can't be read in full",
			at{State: blink.Locked, LineupKnown: true,
				Report: report(p116, lineup.Unusable, "not-in-lineup", "lineup-problems")},
			[]string{"Get the lineup's unreadable rows fixed: the verdict may change. Adjust nothing, and count one more frame."}},
		{"inside a block a meter tells nothing", at{State: blink.Locked, LineupKnown: true,
			Report: report(p116, lineup.Unusable, "inside-ofdm")},
			[]string{"spectrum view", "the block has power too", "It needs another pilot"}},
		{"of another kind a level tells nothing", at{State: blink.Locked, LineupKnown: true,
			Report: report(p116, lineup.Unusable, "carrier-mismatch")},
			[]string{"QAM lock", "in spectrum view, or try a QAM lock: a level alone does not show what kind it is."}},
		{"locked on a wrong pilot, the record says which",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.Unusable, "part-time"),
				Recorded: report(p116, lineup.Usable), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"nothing to follow", "full-time pilot", "Measure the output at both balance channels",
				"The record names 116 digital (747 MHz), which is valid here. Ask your supervisor before you leave: should you set it to that pilot?"}},
		{"locked on a wrong pilot, and the record's is no better",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.Unusable, "part-time"),
				Recorded: report(p116, lineup.Unusable, "inside-ofdm"), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"The recorded 116 digital is not valid here (inside-ofdm) either: call your supervisor before you leave. Which pilot should it get, and should it go to manual"}},
		{"a channel the plan has not", at{State: blink.Locked,
			Report: report(channelplan.Pilot{Channel: 1, Kind: channelplan.Analog}, lineup.Unusable, "not-in-plan")},
			[]string{"which plan"}},
		{"out of its passband", at{State: blink.Locked, Report: report(p116, lineup.Unusable, "outside-forward")},
			[]string{"filters"}},
		{"beyond its detector", at{State: blink.Locked, LineupKnown: true,
			Report: report(p116, lineup.Unusable, "outside-detector")},
			[]string{"this detector can't follow it", "Call your supervisor"}},
		{"two carriers in one place", at{State: blink.Locked, Report: report(p116, lineup.Unusable, "overlapped")},
			[]string{"If two carriers share one spot, tell the headend: it has to separate them."}},
		{"a good carrier that is not this amplifier's",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.WithCare, "not-assigned"),
				Recorded: report(p116, lineup.Usable), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"Leave it locked", "Measure its own pilot, 116 digital (747 MHz), at the input",
				"should you set it to that pilot?"}},
		{"a good carrier, and the record's is gone",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.WithCare, "not-assigned"),
				Recorded: report(p116, lineup.Unusable, "inside-ofdm"), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"the recorded 116 digital is not valid here (inside-ofdm)",
				"Ask for a corrected record: the supervisor decides."}},
		{"on its spare", at{State: blink.Locked, LineupKnown: true,
			Report: report(p73, lineup.WithCare, "not-assigned"), Recorded: report(p116, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Spare: p73})},
			[]string{"Measure its main pilot, 116 digital (747 MHz),", "Leave it on the spare"}},
		{"It is right to be on its spare: its main pilot",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.WithCare, "not-assigned"),
				Recorded:  report(p116, lineup.Unusable, "inside-ofdm"),
				Amplifier: amp(lineup.Amplifier{Pilot: p116, Spare: p73})},
			[]string{"It is right to be on its spare: its main pilot"}},
		{"another detector setting", at{State: blink.Locked, LineupKnown: true,
			Report:    report(p73, lineup.WithCare, "not-assigned"),
			Recorded:  report(channelplan.Pilot{Channel: 73, Kind: channelplan.CW}, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.CW}})},
			[]string{"It is on the recorded channel, but with a different detector setting. Leave it locked and ask which is right."}},
		{"edge, low", at{State: blink.Edge, End: blink.EndLow, Report: report(p116, lineup.Usable)},
			[]string{"Measure 116 digital", "Change no pad, equalizer or setting.",
				"Only the pilot low, or it and its neighbors? Then the AGC holds the other channels too high. Measure it at each amplifier upstream. Still low at the node: call the headend.",
				"All are low: compare pad and equalizer with the record without pulling them",
				"low only in the worst heat: the AGC's range is off center. Change nothing, report it: the supervisor decides."}},
		{"edge, high", at{State: blink.Edge, End: blink.EndHigh},
			[]string{"count the frame", "Measure the pilot",
				"Only the pilot high? Then the AGC holds the other channels too low. Measure it at each amplifier upstream. Still high at the node: call the headend.",
				"All are high: compare pad and equalizer with the record without pulling them, measure the output of the amplifier upstream.",
				"high only in the worst cold: the AGC's range is off center."}},
		{"edge, end not seen", at{State: blink.Edge}, []string{"Count the frame, then the bars of light after it"}},
		{"edge, no pilot read, and the recorded one is not valid",
			at{State: blink.Edge, End: blink.EndLow, Amplifier: amp(lineup.Amplifier{Pilot: p116}),
				Recorded: report(p116, lineup.Unusable, "inside-ofdm")},
			[]string{"the edge means nothing until the pilot is known", "Call your supervisor before you leave"}},
		{"edge on a pilot that is not valid", at{State: blink.Edge, End: blink.EndLow,
			Report: report(p116, lineup.Unusable, "part-time")},
			[]string{"The edge means nothing until the pilot is right", "nothing to follow"}},
		{"edge on a pilot that is not its own", at{State: blink.Edge, End: blink.EndLow,
			Report: report(p73, lineup.WithCare, "not-assigned"), Recorded: report(p116, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"not on its own pilot, 116 digital (747 MHz)"}},
		{"manual by design", at{State: blink.Manual, Amplifier: amp(lineup.Amplifier{Mode: lineup.HandSet})},
			[]string{"No fault: OSR-01 is manual by design"}},
		{"thermal by design", at{State: blink.Thermal,
			Amplifier: amp(lineup.Amplifier{Mode: lineup.OpenLoop, Pilot: p116})}, []string{"thermal by design"}},
		{"manual where the record says thermal", at{State: blink.Manual,
			Amplifier: amp(lineup.Amplifier{Mode: lineup.OpenLoop, Pilot: p116})},
			[]string{"The record says thermal by design, but the lamp shows manual:"}},
		{"manual and should be AGC", at{State: blink.Manual, Recorded: report(p116, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"The record says AGC on 116 digital",
				"Supervisor agrees? Write down output levels, pilot and switch position. Measure 116 digital (747 MHz) and both balance channels at the input test point, add the test point loss, and compare with design. Any missing, or over 2 dB off? Stop and report.",
				"Select 116 digital (747 MHz). Switch to AGC and wait for lock. The lamp must show that pilot.",
				"Put it back as you found it, and report."}},
		{"manual, and its pilot is gone", at{State: blink.Manual,
			Recorded: report(p116, lineup.Unusable, "inside-ofdm"), Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"Do not switch to AGC: the", "inside-ofdm"}},
		{"manual, no record", at{State: blink.Manual}, []string{"Ask your supervisor before you switch"}},
		{"seeking that does not end", at{State: blink.Seeking, Recorded: report(p116, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Upstream: "OSR-00"})},
			[]string{"few minutes", "Leave the setting alone", "its pilot, 116 digital (747 MHz),",
				"call the headend",
				"upstream (OSR-00), measure each input until one is good. The fault is between that amplifier and the next one down.",
				"supervisor decides"}},
		{"seeking where a spare is on record", at{State: blink.Seeking, LineupKnown: true,
			Recorded: report(p116, lineup.Usable), Spare: report(p73, lineup.Usable),
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Spare: p73})},
			[]string{"Its spare, 73 analog, is valid here: tell them, but don't switch to it."}},
		{"seeking where the record says manual", at{State: blink.Seeking,
			Amplifier: amp(lineup.Amplifier{Mode: lineup.HandSet})}, []string{"The record says manual by design"}},
		{"holding", at{State: blink.Holding},
			[]string{"Customers affected? Call it in. Don't balance, and don't change any setting",
				"Measure its pilot, a channel on each side and both balance channels",
				"at each amplifier upstream", "go upstream", "call the headend", "suck-out, trap or water"}},
		{"holding with two pilots", at{State: blink.Holding,
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Slope: lineup.SlopePilot{Pilot: p73}}),
			Recorded:  report(p116, lineup.Usable), Slope: report(p73, lineup.Usable)},
			[]string{"Measure 116 digital (747 MHz), slope 73 analog (517.25 MHz), a channel on each side"}},
		{"holding with a slope pilot that is not in the lineup", at{State: blink.Holding,
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Slope: lineup.SlopePilot{Pilot: p73}}),
			Recorded:  report(p116, lineup.Usable), Slope: report(p73, lineup.Unusable, "not-in-lineup")},
			[]string{"73 analog is not valid here (not-in-lineup): it needs another pilot, not a repair"}},
		{"manual with two pilots", at{State: blink.Manual, LineupKnown: true,
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Slope: lineup.SlopePilot{Pilot: p73}}),
			Recorded:  report(p116, lineup.Usable), Slope: report(p73, lineup.Usable)},
			[]string{"AGC on 116 digital (747 MHz), slope 73 analog (517.25 MHz)", "Select both pilots. Switch to AGC and wait for lock. The lamp must show one of the two."}},
		{"holding for a pilot that is not in the lineup",
			at{State: blink.Holding, Amplifier: amp(lineup.Amplifier{Pilot: p116}),
				Recorded: report(p116, lineup.Unusable, "inside-ofdm")},
			[]string{"116 digital is not valid here (inside-ofdm): it needs another pilot, not a repair"}},
		{"holding, and the spare is no better", at{State: blink.Holding, LineupKnown: true,
			Amplifier: amp(lineup.Amplifier{Pilot: p116, Spare: p73}), Recorded: report(p116, lineup.Unusable,
				"inside-ofdm"), Spare: report(p73, lineup.Unusable, "part-time")},
			[]string{"Its spare is no good either: 73 analog is not valid here (part-time)."}},
		{"holding, and the lineup's row can't be read",
			at{State: blink.Holding, LineupKnown: true, Amplifier: amp(lineup.Amplifier{Pilot: p116}),
				Recorded: report(p116, lineup.Unusable, "row-unreadable")},
			[]string{"There is no way to say if 116 digital is valid here: a row of the lineup can't be read.",
				"Measure 116 digital (747 MHz)"}},
		{"manual, and the lineup's row can't be read",
			at{State: blink.Manual, LineupKnown: true, Amplifier: amp(lineup.Amplifier{Pilot: p116}),
				Recorded: report(p116, lineup.Unusable, "row-unreadable")},
			[]string{"There is no way to say if 116 digital is valid here: a row of the lineup can't be read."}},
		{"on the spare, and the main pilot's row can't be read",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.WithCare, "not-assigned"),
				Recorded:  report(p116, lineup.Unusable, "row-unreadable"),
				Amplifier: amp(lineup.Amplifier{Pilot: p116, Spare: p73})},
			[]string{"Leave it locked",
				"is valid here: a row of the lineup can't be read. Get it fixed, and change nothing until then."}},
		{"its own row can't be read", at{State: blink.Locked, LineupKnown: true,
			Report: report(p116, lineup.Unusable, "row-unreadable")},
			[]string{"is valid here: a row of the lineup can't be read. Get it fixed, and change nothing until then."}},
		{"holding for a pilot of the wrong kind", at{State: blink.Holding, LineupKnown: true,
			Amplifier: amp(lineup.Amplifier{Pilot: p116}), Recorded: report(p116, lineup.Unusable, "carrier-mismatch")},
			[]string{"as another kind: the record or the detector setting is wrong. Ask which."}},
		{"manual, with a pilot of the wrong kind",
			at{State: blink.Manual, LineupKnown: true, Amplifier: amp(lineup.Amplifier{Pilot: p116}),
				Recorded: report(p116, lineup.Unusable, "carrier-mismatch")},
			[]string{"Do not switch to AGC: the", "as another kind"}},
		{"on a good carrier, the record's of the wrong kind",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.WithCare, "not-assigned"),
				Recorded:  report(p116, lineup.Unusable, "carrier-mismatch"),
				Amplifier: amp(lineup.Amplifier{Pilot: p116})},
			[]string{"Leave it locked", "as another kind, so either the record or the lineup is wrong."}},
		{"a wrong pilot on an amplifier that should have none",
			at{State: blink.Locked, LineupKnown: true, Report: report(p73, lineup.Unusable, "part-time"),
				Recorded:  report(p116, lineup.Usable),
				Amplifier: amp(lineup.Amplifier{Pilot: p116, Mode: lineup.OpenLoop})},
			[]string{"the record says thermal by design, so the AGC should not be on"}},
		{"edge on an amplifier that should have no AGC",
			at{State: blink.Edge, End: blink.EndLow, LineupKnown: true, Report: report(p116, lineup.Usable),
				Recorded:  report(p116, lineup.Usable),
				Amplifier: amp(lineup.Amplifier{Pilot: p116, Mode: lineup.OpenLoop})},
			[]string{"The record says thermal by design, but the AGC is on:"}},
		{"beyond the amplifier's own filters", at{State: blink.Locked, LineupKnown: true,
			Report:    report(p116, lineup.Unusable, "outside-forward", "inside-ofdm"),
			Amplifier: amp(lineup.Amplifier{Passband: lineup.Band{LowHz: 54e6, HighHz: 550e6}})},
			[]string{"This amplifier passes 54 to 550 MHz, not all of this carrier"}},
		{"looks that disagree over a pilot at the edge",
			at{State: blink.Edge, End: blink.EndLow, LineupKnown: true, Report: report(p116, lineup.Usable),
				Named: []channelplan.Pilot{b116, b73}}, []string{"The looks do not all agree ("}},
		{"fault", at{State: blink.Fault}, []string{"three flashes", "supervisor decides"}},
		{"steady", at{State: blink.Steady}, []string{"ten seconds"}},
		{"dark", at{State: blink.Dark}, []string{"ten seconds", "trained", "supervisor"}},
		{"doubtful", at{State: blink.Locked, Doubtful: true, Counts: []string{"Count A.", "Count B.", "Count C."}},
			[]string{"Count A.", "Count B.", "long dark", "Change nothing"}},
		{"doubtful, run on", at{State: blink.Locked, Doubtful: true, RunsOn: true, Counts: []string{"Count A."}},
			[]string{"That is more groups than one frame has: split the looks at the long dark."}},
		{"doubtful, from a recording", at{State: blink.Seeking, Doubtful: true, FromTime: true},
			[]string{"Record it again, longer (three frames or half a minute), with the camera steady and out of the sun. Or count a frame.",
				"Change nothing"}},
		{"doubtful, start unseen", at{State: blink.Locked, Doubtful: true, StartUnseen: true,
			Counts: []string{"Count A.", "Count B."}},
			[]string{"Wait for the long dark, count one whole frame after it, and enter only that look.", "Count A."}},
		{"doubtful because looks contradict", at{State: blink.Locked, Doubtful: true,
			Named: []channelplan.Pilot{b116, b73}}, []string{"116 digital, 73 analog", "same lamp."}},
	} {
		t.Run(c.name, func(t *testing.T) {
			steps := texts(answer.Steps(c.s.situation()))
			require.NotEmpty(t, steps)
			assert.LessOrEqual(t, len(steps), 5) // one for each thing that the meter may show
			text := strings.Join(steps, "\n")
			for _, s := range c.says {
				assert.Contains(t, text, s)
			}
			for _, step := range steps {
				assert.LessOrEqual(t, len(step), 285, "a step is short: %s", step)
				assert.True(t, strings.HasSuffix(step, ".") || strings.HasSuffix(step, "?"), step)
			}
		})
	}
}

// Every state gets an answer, and every answer on something out of order names who
// decides.
func TestEveryStateHasStepsAndADecider(t *testing.T) {
	for _, s := range blink.States() {
		steps := texts(answer.Steps(at{State: s}.situation()))
		assert.NotEmpty(t, steps, s)
		if s != blink.Locked { // which asks for the marks
			text := strings.Join(steps, " ")
			assert.Regexp(t, "supervisor|headend|trained", text, s)
		}
	}
	assert.Empty(t, answer.Steps(answer.Situation{}))
}
