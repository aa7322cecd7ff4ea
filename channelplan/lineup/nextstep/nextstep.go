// Package nextstep says what a technician does next: from the lock state of
// an amplifier, the pilot read from its lamp, the verdict on that pilot and
// the amplifier's record to a few sentences in the words of the trade.
//
// They are common practice, with no source but where a rule names one. They
// send nobody to change a setting on a guess: before the amplifier is blamed
// its pilot is metered, and each answer says who decides when it is not the
// technician's call.
package nextstep

import (
	"fmt"
	"slices"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// Caution is the usual caution, said once beside any instruction.
const Caution = "Powered plant and heights: only as local codes, employer and training allow. " +
	"A changed AGC setting moves every level downstream."

// Situation is what is known at the amplifier.
type Situation struct {
	State blink.State
	End   blink.EdgeEnd // in state edge, as far as it was seen
	// Doubtful tells that marks were read and no pilot is sure; Counts holds
	// what to count again then, the most telling first, and Named the pilots
	// that single looks name if they contradict each other.
	Doubtful bool
	Counts   []string
	Named    []blink.Pilot
	// Report judges the pilot that was read, by the lineup or, without one,
	// by the record; nil without a pilot, or with neither.
	Report *lineup.Report
	// LineupKnown tells that Report is by the lineup.
	LineupKnown bool
	// Amplifier is its record; nil where none is known.
	Amplifier *lineup.Amplifier
	// Sought judges the recorded pilot of an amplifier that is without one;
	// nil where the record or the lineup is not known.
	Sought *lineup.Report
	Plan   channelplan.Plan
}

// Steps returns what to do, in order: four sentences or groups of sentences
// at most.
func Steps(s Situation) []string {
	if s.Doubtful && (s.State.ShowsFrame() || s.State == blink.NoState) {
		return doubtful(s)
	}
	switch s.State {
	case blink.Locked:
		return locked(s)
	case blink.Edge:
		return edge(s)
	case blink.Manual, blink.Thermal:
		return openLoop(s)
	case blink.Seeking, blink.Holding:
		return withoutPilot(s)
	case blink.Fault:
		return []string{
			"Count again: three flashes are a fault, two are holding.",
			"Meter the output: with the self-test failed nothing vouches for its level. Do not adjust it by the lamp.",
			"Report it. The AGC module is changed by your employer's procedure, and the supervisor decides when.",
		}
	case blink.Steady:
		return []string{
			"Watch ten seconds, with the lamp shaded: one eclipse every few seconds is manual, two are thermal.",
			"An amplifier that starts shows it for a while. If it stays, meter the output and report a stuck AGC module.",
			"The supervisor decides whether it is changed now.",
		}
	case blink.Dark:
		return []string{
			"Watch ten seconds, with the lamp shaded from the sun.",
			"Look whether an AGC module is fitted at all, and whether signal passes: without signal it is the power.",
			"Power is checked by those trained for it. If the amplifiers beside it are dark too, call the supply in.",
		}
	}
	return nil
}

// pilotAt names a pilot with its frequency.
func pilotAt(p lineup.Pilot, plan channelplan.Plan) string {
	at, ok := lineup.Locate(p, plan)
	if !ok || p.Channel == 0 {
		return p.String()
	}
	return fmt.Sprintf("%v (%s MHz)", p, channelplan.FormatMHz(at.FrequencyHz))
}

// meter is the step that comes before any blame.
func meter(what string) string {
	return fmt.Sprintf("Meter %s at the input test point and add the test point's loss: is it there, and at design level?", what)
}

const (
	lineupIsHeadends = "What is carried is the headend's call, which pilot this amplifier gets the supervisor's."
	askSupervisor    = "The supervisor decides before a setting is changed."
)

func doubtful(s Situation) []string {
	steps := s.Counts[:min(len(s.Counts), 2)]
	if len(s.Named) > 1 { // what to count again is then no help
		steps = []string{fmt.Sprintf("The looks contradict each other (%v, %v): make sure they are of one lamp.", s.Named[0], s.Named[1])}
	}
	return append(slices.Clone(steps),
		"Wait for the long dark, count one whole frame, and give both looks with // between them.",
		"Change nothing on a doubtful reading. Doubtful a third time: have somebody else read it.")
}

func locked(s Situation) []string {
	r := s.Report
	if r == nil {
		return []string{"Nothing to do by the lamp. Give --lineup FILE to hear whether this pilot is valid in your system."}
	}
	switch a := s.Amplifier; {
	case a != nil && a.Mode != lineup.AGC && r.Verdict != lineup.Unusable:
		return []string{
			fmt.Sprintf("The record says %v by design, and its AGC is on: the record or the switch is wrong. Leave it locked and ask.", a.Mode),
			"The supervisor decides which of the two is put right.",
		}
	case r.Verdict == lineup.Usable && !s.LineupKnown:
		return []string{"It is the pilot on record: note the reading. Give --lineup FILE to hear whether it is still valid."}
	case r.Verdict == lineup.Usable:
		return []string{
			"All is well: note the reading and leave the setting alone.",
			"Output off design all the same? Meter the pilot at the input test point first, the test point's loss added.",
		}
	case r.Verdict == lineup.Unusable:
		return wrongPilot(s)
	case r.Has("not-assigned"):
		return notAssigned(s)
	}
	return []string{
		"Leave it locked: a caution alone is no reason to retune.",
		"Pass the caution on: what concerns the carrier or the lineup to the headend, what concerns this amplifier to your supervisor.",
	}
}

// notAssigned: a good carrier, but not this amplifier's.
func notAssigned(s Situation) []string {
	own := pilotAt(s.Amplifier.Pilot, s.Plan)
	if s.Report.Pilot == s.Amplifier.Spare {
		return []string{
			meter("its main pilot, " + own + ","),
			"There and at design: it may be set back to it, by your employer's procedure. Gone: tell the headend, and leave it on the spare.",
			askSupervisor,
		}
	}
	return []string{
		"It holds on a good carrier that is not its own. Leave it locked: either the record or the setting is wrong.",
		fmt.Sprintf("If it is to change: select %s, wait for the lock, read the lamp again, and bring the output to design.", own),
		"The supervisor decides which of the two is put right.",
	}
}

// wrongPilot: locked on a pilot that is not valid here.
func wrongPilot(s Situation) []string {
	r := s.Report
	here := pilotAt(r.Pilot, s.Plan)
	steps := []string{"Count one more frame from the long dark, to be sure of the reading."}
	switch {
	case r.Has("not-in-plan"):
		steps = append(steps, "Read so twice: ask which plan this system uses (--plan irc or hrc), before anything else.")
	case r.Has("not-in-lineup"), r.Has("inside-ofdm"), r.Has("carrier-mismatch"):
		steps = append(steps, meter(here),
			"There: the lineup is wrong, tell the headend. Not there: it follows something else, and its level means nothing.")
	case r.Has("outside-forward"):
		steps = append(steps, "Its filters do not pass this carrier in full, so its level is no measure of the others. It needs a pilot inside the passband.")
	case r.Has("overlapped"):
		steps = append(steps, meter(here)+" Two carriers in one place are the headend's to part.")
	default: // part-time, sync-suppressed
		steps = append(steps, "It follows for now and will wander with the carrier. Meter the output, and have a steady pilot assigned.")
	}
	if a := s.Amplifier; a != nil && !a.Pilot.IsZero() && a.Pilot != r.Pilot {
		return append(steps, fmt.Sprintf("The record says %s. With the supervisor's word: select it, wait for the lock, read the lamp, bring the output to design.",
			pilotAt(a.Pilot, s.Plan)))
	}
	return append(steps, lineupIsHeadends)
}

func edge(s Situation) []string {
	what := "the pilot"
	if s.Report != nil {
		what = pilotAt(s.Report.Pilot, s.Plan)
	}
	steps := []string{meter(what)}
	switch s.End {
	case blink.EndLow:
		steps = append(steps,
			"Low on a mild day is no weather: look for a pad or equalizer too large, water in the cable, or a lost input upstream.",
			"Low only in the worst heat: the control is off its place in the range, or the range is too short for the span.")
	case blink.EndHigh:
		steps = append(steps,
			"High on a mild day is no weather: look for a pad left out or too small, or an output set too high upstream.",
			"High only in the worst cold: the control is off its place in the range, or the range is too short for the span.")
	default:
		steps = append([]string{"Count the bars of light in the long dark: one says that the input is too low, two that it is too high."}, steps...)
	}
	if s.Report != nil && s.Report.Verdict == lineup.Unusable {
		return append(steps[:min(len(steps), 2)], "The pilot itself is not valid here: settle that first. "+lineupIsHeadends)
	}
	return append(steps, "Whatever is changed ends with the output at design. "+askSupervisor)
}

// openLoop: gain set by hand, or by temperature alone.
func openLoop(s Situation) []string {
	by := map[blink.State]lineup.Mode{blink.Manual: lineup.HandSet, blink.Thermal: lineup.OpenLoop}[s.State]
	a := s.Amplifier
	if a != nil && a.Mode == by {
		return []string{
			fmt.Sprintf("No fault: %s is %v by design. Note the reading.", a.ID, by),
			"Meter the output against design for today's temperature: no pilot corrects it.",
		}
	}
	steps := []string{"Ask before you switch it: somebody may have parked it for work on the pilot or on this cascade."}
	if a != nil && a.Mode == lineup.AGC && !a.Pilot.IsZero() {
		steps[0] = fmt.Sprintf("The record says AGC on %s. Ask before you switch it: somebody may have parked it for work.", pilotAt(a.Pilot, s.Plan))
	}
	return append(steps,
		"With leave to switch: meter the pilot at the input test point, bring the output to design as it is, then switch the AGC in and wait for the lock.",
		"Do not leave it with the output off design. "+askSupervisor)
}

// withoutPilot: seeking or holding.
func withoutPilot(s Situation) []string {
	first := "Leave the setting alone: the gain stands at its last value, and aligning to it would spoil the range."
	if s.State == blink.Seeking {
		first = "Give it a few minutes: a restart or a short loss of signal shows this too."
	}
	what := "its pilot"
	if a := s.Amplifier; a != nil && !a.Pilot.IsZero() {
		what = "its pilot, " + pilotAt(a.Pilot, s.Plan) + ","
	}
	then := "Only the pilot gone: call the headend. All low or gone: go upstream to the first amplifier that is locked; the fault lies below it."
	if s.Sought != nil && s.Sought.Verdict == lineup.Unusable {
		then = fmt.Sprintf("That pilot is not valid here (%s). Where it is missing, the amplifier needs another pilot, not a repair.", s.Sought.Findings[0].Rule)
	}
	last := "There and at design: the AGC's pilot setting or module is at fault, and the supervisor decides. " + "The headend decides what is carried."
	return []string{first, meter(what), then, last}
}
