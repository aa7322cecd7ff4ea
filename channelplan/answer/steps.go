package answer

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
)

// This file says what a technician does next: from the lock state of an amplifier,
// the pilot read from its lamp, the verdict on that pilot and the amplifier's record
// to a few sentences in the words of the trade.
//
// They are common practice, with no source but where a rule names one. They
// send nobody to change a setting on a guess: before the amplifier is blamed
// its pilot is metered, no pilot is to be selected that is not valid, and
// each answer says who decides when it is not the technician's call.

// Caution is the usual caution, said once beside any instruction.
const Caution = "Power, heights, traffic: as local codes, employer, training allow. " +
	"Hands off open housings, no phone aloft. " +
	"AGC moves all levels below."

// Interrupts is said wherever something is pulled that signal passes through
// (common practice, no source).
const Interrupts = "Pulling a pad, an equalizer or a module cuts off everybody downstream, telephones too: " +
	"only in a maintenance window, and tell those who must know first."

// SetLevel are what is done once a pilot is selected (common practice, no source): the AGC
// has a level of its own, so that to switch to it does not put the output at design.
const SetLevel = "Set the output to design at both balance channels. Switch to AGC, wait for the lock, " +
	"set the AGC's level until the output is the same. If you can't: back to manual, report."

// Situation is what is known at the amplifier.
type Situation struct {
	System
	State blink.State   // what the lamp's rhythm tells
	End   blink.EdgeEnd // in state edge, as far as it was seen
	// Doubtful tells that something was read and no pilot, or of a recording no
	// signal, is sure; Counts holds what to count again then, the most telling first.
	Doubtful bool
	Counts   []string
	// Named holds the pilots that single looks name, where they contradict
	// each other.
	Named []channelplan.Pilot
	// Rhythm holds the states whose rhythm the marks look like, which are then no
	// frame, the likeliest first.
	Rhythm []blink.State
	// FromTime tells that the lamp was recorded or timed, not counted.
	FromTime bool
	// Places holds where lamps are in a clip that tell different things, where it
	// is not known which is meant.
	Places []Place
	// RunsOn tells that a look has more groups than a frame, StartUnseen that
	// the long dark before it was not seen.
	RunsOn, StartUnseen bool
	// Report judges the pilot that was read, by the lineup or, without one,
	// by plan and record; nil without a pilot.
	Report *lineup.Report
	// Recorded judges the amplifier's recorded pilot, Spare its recorded spare;
	// nil without one.
	Recorded, Spare *lineup.Report
}

// Step is something to do: a sentence or two. How what it asks for is done differs
// from face to face where there is an act.
type Step struct {
	Text string
	Act  fault.Act
}

// Sentences that ask for what each face does in its own way.
const (
	twoLooks   = "Wait for the long dark, count one whole frame, and give both looks."
	partLooks  = "There are more groups than a frame has: part the looks at the long dark."
	oneLook    = "Wait for the long dark, count one whole frame from it, and give that look alone."
	tellState  = "Watch it for ten seconds. If that is what it does, give the state in place of marks."
	whichLamp  = "Say which lamp is meant, or record one alone, closer."
	toJudge    = "Nothing to do by the lamp. Give the lineup to hear whether this pilot is valid in your system."
	stillValid = "It is the pilot on record: note the reading. Give the lineup to hear whether it is still valid."
)

var stepActs = map[string]fault.Act{
	twoLooks: fault.PartLooks, partLooks: fault.PartLooks, oneLook: fault.BeginAtHead, whichLamp: fault.PickLamp, tellState: fault.TellState, toJudge: fault.GiveLineup, stillValid: fault.GiveLineup,
}

// Steps returns what to do, in order: four sentences or groups of sentences
// at most.
func Steps(s Situation) []Step {
	var steps []Step
	for _, text := range s.steps() {
		steps = append(steps, Step{text, stepActs[text]})
	}
	return steps
}

func (s Situation) steps() []string {
	if s.Doubtful && (s.FromTime || s.State.ShowsFrame() || s.State == blink.NoState) {
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
		return s.with(s.tellApart("Count again: ", blink.Fault, blink.Holding),
			"Meter the output against design: with the self-test failed, its level may be anything. Adjust nothing by the lamp.",
			"Report it: the supervisor decides when the module is changed, which interrupts everybody downstream. Customers affected: ask to set the output to design in manual.")
	case blink.Steady:
		return []string{
			cmp.Or(s.tellApart("Watch ten seconds, with the lamp shaded: ", blink.Manual, blink.Thermal), "Watch ten seconds, with the lamp shaded."),
			"An amplifier that starts shows it for a while. If it stays, meter the output and report a stuck AGC module.",
			"The supervisor decides whether it is changed now.",
		}
	case blink.Dark:
		return []string{
			"Watch ten seconds, with the lamp shaded from the sun.",
			"Check that an AGC module is fitted, and that signal passes. No signal: it has no power or no input.",
			"Power is checked by those trained for it. If the amplifiers next to it are dark too, report a power outage.",
			"Customers off: call it in now. The supervisor decides about a missing or dead module.",
		}
	}
	return nil
}

// with puts a step before others, where there is one.
func (s Situation) with(first string, steps ...string) []string {
	if first == "" {
		return steps
	}
	return append([]string{first}, steps...)
}

// tellApart says by what two states differ; "" where the code does not show
// both.
func (s Situation) tellApart(lead string, a, b blink.State) string {
	if s.Code == nil || s.Code.Brief(a) == "" || s.Code.Brief(b) == "" {
		return ""
	}
	means := func(s blink.State, brief string) string {
		verb := "mean"
		if strings.HasPrefix(brief, "one ") {
			verb = "means"
		}
		return fmt.Sprintf("%s %s %v", brief, verb, s)
	}
	return fmt.Sprintf("%s%s, %s.", lead, means(a, s.Code.Brief(a)), means(b, s.Code.Brief(b)))
}

// countBars asks for the bars in a frame's long dark, which tell the end of
// the range.
func (s Situation) countBars() string {
	if s.Code == nil || s.Code.Bars(blink.EndLow) == 0 {
		return "Look at the rest of the frame again: it tells whether the input is too low or too high."
	}
	return fmt.Sprintf("Count the bars of light in the long dark: %s for an input that is too low, %s for one that is too high.", s.Code.BarWords(blink.EndLow), s.Code.BarWords(blink.EndHigh))
}

// pilotAt names a judged pilot with the frequency to tune a meter to.
func pilotAt(r *lineup.Report) string {
	if !r.InPlan || r.Pilot.Channel == 0 {
		return r.Pilot.String()
	}
	return fmt.Sprintf("%v (%s MHz)", r.Pilot, channelplan.FormatMHz(r.Located.FrequencyHz))
}

// meter is the step that comes before any blame.
func meter(what string) string {
	return fmt.Sprintf("Meter %s at the input test point and add the test point's loss: is it there, and at design level?", what)
}

// meterBeside is the same, where the first thing to know is whether the pilot alone is
// off or all carriers are.
func meterBeside(what string) string {
	return fmt.Sprintf("Meter %s and a channel on each side of it at the input test point; add the test point's loss.", what)
}

const (
	lineupIsHeadends = "What is carried is the headend's call, which pilot this amplifier gets the supervisor's."
	askSupervisor    = "The supervisor decides on any change."
)

// invalid says that a pilot is not valid and by which rule.
func invalid(r *lineup.Report) string {
	return fmt.Sprintf("%v is not valid here (%s)", r.Pilot, r.Findings[0].Rule)
}

func unusable(r *lineup.Report) bool { return r != nil && r.Verdict == lineup.Unusable }

// undecided reports whether nothing is known of a pilot, since the lineup's row
// for it can't be read: a fault of the file, not of the plant.
func undecided(r *lineup.Report) bool { return r != nil && r.Has(lineup.RowUnreadable) }

// cannotTell is what to do about a pilot of which nothing is known.
func cannotTell(r *lineup.Report) string {
	return fmt.Sprintf("Whether %v is valid here can't be told: its row of the lineup can't be read. Have it corrected, and change nothing before.", r.Pilot)
}

// mismatched reports whether a pilot fails for its kind alone, so that the
// record or the detector's setting may be wrong and not the pilot.
func mismatched(r *lineup.Report) bool { return unusable(r) && r.Has(lineup.CarrierMismatch) }

func doubtful(s Situation) []string {
	const change = "Change nothing on a doubtful reading. Doubtful a third time: have somebody else read it."
	switch {
	case len(s.Rhythm) > 0:
		looks := fmt.Sprintf("Evenly repeated flashes are a rhythm, not a frame. It looks like %v: %s.", s.Rhythm[0], s.Code.Look(s.Rhythm[0], blink.NoEnd))
		return []string{looks, tellState, change}
	case len(s.Places) > 0:
		return []string{whichLamp, change}
	case s.FromTime:
		return []string{
			"Record it again and longer, three frames or half a minute, with the camera still and out of the sun. Or count a frame.",
			change,
		}
	case len(s.Named) > 1:
		return []string{
			fmt.Sprintf("The looks contradict each other (%s): make sure they are of one lamp.", list(s.Named)), twoLooks, change,
		}
	case s.RunsOn:
		return []string{partLooks, twoLooks, change}
	case s.StartUnseen:
		return append([]string{oneLook}, append(slices.Clone(s.Counts[:min(len(s.Counts), 1)]), change)...)
	}
	return append(slices.Clone(s.Counts[:min(len(s.Counts), 2)]), twoLooks, change)
}

func list(pilots []channelplan.Pilot) string {
	var names []string
	for _, p := range pilots[:min(len(pilots), 3)] {
		names = append(names, p.String())
	}
	return strings.Join(names, ", ")
}

func locked(s Situation) []string {
	return agreeing(s, lockedOnReport(s))
}

// agreeing puts first, in place of the first step, that looks disagree.
func agreeing(s Situation, steps []string) []string {
	if len(s.Named) < 2 {
		return steps
	}
	first := fmt.Sprintf("Not all looks agree (%s): were they of one lamp, or did it change its pilot? Look once more before you note it.", list(s.Named))
	return append([]string{first}, steps[1:]...)
}

func lockedOnReport(s Situation) []string {
	r, a := s.Report, s.Amplifier
	switch {
	case r == nil:
		return []string{"The state alone names no pilot: count the frame, from the long dark on, and give its marks."}
	case r.Verdict == lineup.Unusable:
		return wrongPilot(s)
	case a != nil && a.Mode != lineup.AGC:
		return []string{
			fmt.Sprintf("The record says %v by design, and its AGC is on: the record or the switch is wrong. Leave it locked and ask.", a.Mode),
			"The supervisor decides which of the two is put right.",
		}
	case r.Has(lineup.NotAssigned):
		return notAssigned(s)
	case s.Lineup == nil && a == nil:
		return []string{toJudge}
	case s.Lineup == nil && r.Verdict == lineup.Usable:
		return []string{stillValid}
	case r.Verdict == lineup.Usable:
		return []string{
			"The lamp shows nothing wrong: note the reading and leave the setting alone.",
			"Is the output off design all the same? First meter the pilot at the input test point, test point loss added, against design.",
		}
	}
	steps := []string{
		"Leave it locked: a caution alone is no reason to retune.",
		"Pass the caution on: what concerns the carrier or the lineup to the headend, what concerns this amplifier to your supervisor.",
	}
	if r.Has(lineup.LineupProblems) {
		steps = append(steps, "The lineup file has rows that can't be read: have them corrected, the verdict may change.")
	}
	return steps
}

// changeTo are the steps for another pilot: it is metered before it is
// selected, and the output brought to design in manual, where no AGC corrects
// what is being set.
func changeTo(r *lineup.Report) string {
	return fmt.Sprintf("If the supervisor agrees: meter %s at the input; in manual select it and set the output at both balance channels; switch to AGC, set the AGC's level for the same output, read the lamp. If you can't: back to manual, report.", pilotAt(r))
}

// notAssigned: a good carrier, but not this amplifier's.
func notAssigned(s Situation) []string {
	onSpare := s.Report.Pilot == s.Amplifier.Spare
	switch {
	case undecided(s.Recorded):
		return []string{"Leave it locked.", cannotTell(s.Recorded), askSupervisor}
	case mismatched(s.Recorded):
		return []string{
			fmt.Sprintf("Leave it locked: by the lineup the recorded %v is of another kind, so that the record or the lineup is wrong.", s.Recorded.Pilot),
			askSupervisor,
		}
	case unusable(s.Recorded) && onSpare:
		return []string{
			fmt.Sprintf("It is on its spare, and rightly: its main pilot %s. Leave it locked.", invalid(s.Recorded)),
			"Have another main pilot assigned and the record changed: the supervisor decides.",
		}
	case unusable(s.Recorded):
		return []string{
			fmt.Sprintf("It holds on a good carrier; the recorded %s. Leave it locked.", invalid(s.Recorded)),
			"Have the record changed: the supervisor decides.",
		}
	case s.Recorded == nil:
		return []string{"Leave it locked, and ask which pilot it is to have.", askSupervisor}
	case onSpare:
		return []string{
			meter("its main pilot, " + pilotAt(s.Recorded) + ","),
			"There and at design: it may be set back to it, by your employer's procedure. Gone: tell the headend, and leave it on the spare.",
			askSupervisor,
		}
	case s.Report.Pilot.Channel == s.Recorded.Pilot.Channel && s.Report.Pilot.Kind != channelplan.Digital && s.Recorded.Pilot.Kind != channelplan.Digital:
		return []string{
			"It follows the channel on record with another setting of the detector. Leave it locked and ask which is right.",
			askSupervisor,
		}
	}
	return []string{
		"It holds on a good carrier that is not its own. Leave it locked: either the record or the setting is wrong.",
		changeTo(s.Recorded),
		"The supervisor decides which of the two is put right.",
	}
}

// wrongPilot: locked on a pilot that is not valid here.
func wrongPilot(s Situation) []string {
	r, a := s.Report, s.Amplifier
	here := pilotAt(r)
	steps := []string{"Count one more frame from the long dark, to be sure of the reading."}
	if undecided(r) {
		return append(steps, cannotTell(r), lineupIsHeadends)
	}
	if r.Has(lineup.LineupProblems) {
		steps[0] = "Have the lineup's unreadable rows corrected: the verdict may change. And count one more frame."
	}
	switch {
	case r.Has(lineup.NotInPlan):
		return append(steps, "Same reading twice? Ask which plan this system uses, std, irc or hrc, before anything else.", lineupIsHeadends)
	case r.Has(lineup.OutsideForward) && a != nil && !a.Passband.IsZero():
		steps = append(steps, fmt.Sprintf("An amplifier that passes %s can't follow it in full: the reading or the recorded passband is wrong, or it needs another pilot.", a.Passband))
	case r.Has(lineup.InsideOFDM):
		// A meter reads the block's power there, whatever became of the pilot.
		steps = append(steps, fmt.Sprintf("Look at %s in spectrum view: a level alone tells nothing there, the block has power too.", here),
			"If you see only the OFDM block, the AGC is tracking that. It needs another pilot.")
	case r.Has(lineup.CarrierMismatch):
		steps = append(steps, fmt.Sprintf("Look at %s in spectrum view, or try a QAM lock: a level alone does not tell the kind.", here),
			"As the lineup says: the detector is set for the wrong kind. As the lamp says: the lineup is wrong, tell the headend.")
	case r.Has(lineup.NotInLineup):
		steps = append(steps, meter(here),
			"There: the lineup is wrong, tell the headend. Not there: it follows something else, and its level means nothing.")
	case r.Has(lineup.OutsideForward):
		steps = append(steps, "Its filters do not pass this carrier in full, so its level is no measure of the others. It needs a pilot inside the passband.")
	case r.Has(lineup.Overlapped):
		steps = append(steps, meter(here)+" Two carriers in one place are the headend's to part.")
	default: // part-time, sync-suppressed
		steps = append(steps, "It follows for now and will wander with the carrier. Meter the output against design, and have a steady pilot assigned.")
	}
	switch own := s.Recorded; {
	case a != nil && a.Mode != lineup.AGC:
		return append(steps, fmt.Sprintf("And the record says %v by design: its AGC should not be on at all. The supervisor decides.", a.Mode))
	case undecided(own):
		return append(steps, cannotTell(own))
	case own == nil || own.Pilot == r.Pilot:
	case unusable(own):
		return append(steps, fmt.Sprintf("Nor is the pilot on record: %s. A new one is the supervisor's to assign.", invalid(own)))
	default:
		return append(steps, "The record says otherwise. "+changeTo(own))
	}
	return append(steps, lineupIsHeadends)
}

func edge(s Situation) []string {
	switch a := s.Amplifier; {
	case unusable(s.Report):
		steps := wrongPilot(s)
		steps[0] = "The edge means nothing until the pilot is right. Count one more frame, to be sure of the reading."
		return agreeing(s, steps)
	case a != nil && a.Mode != lineup.AGC:
		return []string{
			fmt.Sprintf("The record says %v by design, and its AGC is on: the record or the switch is wrong. Ask before anything is set.", a.Mode),
			"Meter the output against design, and report both. The supervisor decides.",
		}
	}
	return agreeing(s, edgeOfRange(s))
}

func edgeOfRange(s Situation) []string {
	what := "the pilot"
	if s.Report != nil {
		what = pilotAt(s.Report)
	}
	var first string
	switch r := s.Report; {
	case r == nil:
		first = "The state alone names no pilot: count the frame, from the long dark on, and give its marks."
	case r.Has(lineup.NotAssigned) && s.Recorded != nil && !unusable(s.Recorded):
		first = fmt.Sprintf("It is not on its own pilot, %s: one at another level may be all that is wrong. Ask which is right.", pilotAt(s.Recorded))
	case s.End == blink.NoEnd:
		first = s.countBars()
	}
	steps := []string{meterBeside(what)}
	if first != "" {
		steps = []string{first, meterBeside(what)}
	}
	switch s.End {
	case blink.EndLow:
		steps = append(steps, "Only the pilot low: every other channel is too high now; meter it one amplifier upstream, then call the headend. "+
			"All low: look for a pad or equalizer too large, water, or a lost input upstream.",
			"At design, or low in the worst heat only: the gain control is off its place in the range. The supervisor decides.")
	case blink.EndHigh:
		steps = append(steps, "Only the pilot high: every other channel is too low now; meter it one amplifier upstream, then call the headend. "+
			"All high: look for a pad left out or too small, or an output set too high upstream.",
			"At design, or high in the worst cold only: the gain control is off its place in the range. The supervisor decides.")
	default:
		if s.Report == nil {
			steps = append(steps, s.countBars())
		}
		steps = append(steps, "Whatever is changed ends with the output at design. "+askSupervisor)
	}
	return steps
}

// openLoop: gain set by hand, or by temperature alone.
func openLoop(s Situation) []string {
	by := map[blink.State]lineup.Mode{blink.Manual: lineup.HandSet, blink.Thermal: lineup.OpenLoop}[s.State]
	a := s.Amplifier
	switch {
	case a != nil && a.Mode == by:
		return []string{
			fmt.Sprintf("No fault: %s is %v by design. Note the reading.", a.ID, by),
			"Meter the output against design for today's temperature: no pilot corrects it.",
		}
	case a != nil && a.Mode != lineup.AGC:
		return []string{
			fmt.Sprintf("The record says %v by design, the lamp says %v: ask which is right. Switch nothing.", a.Mode, s.State),
			"Meter the output against design for today's temperature, and report both. The supervisor decides.",
		}
	case undecided(s.Recorded):
		return []string{cannotTell(s.Recorded), "Meter the output against design for today's temperature.", askSupervisor}
	case mismatched(s.Recorded):
		return []string{
			fmt.Sprintf("Do not switch the AGC in: by the lineup the recorded %v is of another kind. The record or the detector's setting is wrong.", s.Recorded.Pilot),
			"Meter the output against design for today's temperature.", askSupervisor,
		}
	case unusable(s.Recorded):
		return []string{
			fmt.Sprintf("Do not switch the AGC in: the recorded %s. Somebody may have parked it for that.", invalid(s.Recorded)),
			"Meter the output against design for today's temperature.",
			"It needs another pilot. " + lineupIsHeadends,
		}
	}
	steps := []string{"Ask before you switch it: somebody may have parked it for work."}
	if s.State == blink.Thermal {
		steps[0] = "Ask before you switch it: it was parked, or it fell back when it lost its pilot."
	}
	what := "the pilot"
	if s.Recorded != nil {
		what = pilotAt(s.Recorded)
		parked := "somebody may have parked it for work."
		if s.State == blink.Thermal {
			parked = "it was parked, or it fell back when it lost its pilot."
		}
		steps[0] = fmt.Sprintf("The record says AGC on %s. Ask before you switch it: %s", what, parked)
	}
	return append(steps,
		fmt.Sprintf("Once permitted: meter %s at the input test point, test point loss added, against design. Not there, or off: leave it as it is and report.", what),
		"Good: in manual, "+strings.ToLower(SetLevel[:1])+SetLevel[1:],
		askSupervisor)
}

// withoutPilot: seeking or holding.
func withoutPilot(s Situation) []string {
	a := s.Amplifier
	if a != nil && a.Mode != lineup.AGC {
		return []string{
			fmt.Sprintf("The record says %v by design, and the lamp says that its AGC is on: ask which is right.", a.Mode),
			"Meter the output against design. The supervisor decides how it is to run.",
		}
	}
	first := "Leave the setting alone: the gain is held at its last value. If you balance to it, the AGC will be off center when the pilot comes back."
	if s.State == blink.Seeking {
		first = "Give it a few minutes: a restart or a short loss of signal shows this too."
	}
	switch {
	case undecided(s.Recorded):
		return []string{first, cannotTell(s.Recorded), meter(pilotAt(s.Recorded)), askSupervisor}
	case mismatched(s.Recorded):
		return []string{
			first,
			fmt.Sprintf("By the lineup the recorded %v is of another kind: the record or the detector's setting is wrong. Ask which.", s.Recorded.Pilot),
			"Meter the output against design, and report both.", askSupervisor,
		}
	case unusable(s.Recorded):
		return []string{
			first,
			fmt.Sprintf("The recorded %s: it needs another pilot, not a repair. Adjust nothing meanwhile.", invalid(s.Recorded)),
			strings.TrimSpace("Meter the output against design, and report both. " + aboutSpare(s)),
			lineupIsHeadends,
		}
	}
	what, upstream := "its pilot", "upstream"
	if s.Recorded != nil {
		what = "its pilot, " + pilotAt(s.Recorded) + ","
	}
	if a != nil && a.Upstream != "" {
		upstream = "upstream (" + a.Upstream + ")"
	}
	last := strings.TrimSpace("All at design: the pilot setting or the AGC module is at fault; the supervisor decides. " + aboutSpare(s))
	return []string{
		first, meterBeside(what),
		fmt.Sprintf("Only the pilot low: meter it one amplifier upstream. Low there: call the headend; good: look for a suck-out, a trap, water. "+
			"All low: go %s to the first locked amplifier; the fault is below.", upstream),
		last,
	}
}

// aboutSpare says what the recorded spare is worth, if there is one beside the
// main pilot.
func aboutSpare(s Situation) string {
	switch r := s.Spare; {
	case r == nil || s.Recorded != nil && r.Pilot == s.Recorded.Pilot:
		return ""
	case unusable(r):
		return fmt.Sprintf("Its spare is no way out: %s.", invalid(r))
	case s.Lineup == nil:
		return fmt.Sprintf("Its recorded spare is %v.", r.Pilot)
	default:
		return fmt.Sprintf("Its recorded spare, %v, is valid here.", r.Pilot)
	}
}
