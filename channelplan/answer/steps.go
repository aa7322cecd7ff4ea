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
	"tallywink.example/channelplan/wording"
)

// This file says what a technician does next. It turns the lock state of an amplifier,
// the pilot read from its lamp, the verdict on that pilot and the amplifier's record into
// a few sentences in the words of the trade.
//
// The steps are common practice, with no source unless a rule names one. They never tell
// anyone to change a setting on a guess: the pilot is measured before the amplifier is
// blamed, no pilot is selected that is not valid, and each answer says who decides when
// it is not the technician's call.

// Situation is what is known at the amplifier.
type Situation struct {
	System
	State blink.State   // what the lamp's rhythm shows
	End   blink.EdgeEnd // in state edge, if it was seen
	// Doubtful reports that something was read but no pilot (in a recording, no signal)
	// is certain; Counts then holds what to count again, the most informative first.
	Doubtful bool
	Counts   []string
	// Named holds the pilots that single looks name, if they contradict each other.
	Named []channelplan.Pilot
	// Rhythm holds the states whose rhythm the marks look like, the most likely first;
	// the marks are then not a frame.
	Rhythm []blink.State
	// FromTime reports that the lamp was recorded or timed, not counted.
	FromTime bool
	// Tapped reports that a person tapped each change of the light.
	Tapped bool
	// Places holds where lamps are in a clip that show different things, if it is not
	// known which one is meant.
	Places []Place
	// RunsOn reports that a look has more groups than a frame, StartUnseen that the long
	// dark before it was not seen.
	RunsOn, StartUnseen bool
	// OffColor reports that what was read is shown in another color than was seen. ByColor
	// holds two states that only the color of the light tells apart, if nobody gave it.
	OffColor bool
	ByColor  []blink.State
	// Assumed reports that nobody said that the state is locked: a frame was read, and what
	// its long dark showed is not known.
	Assumed bool
	// Bars is how many bars of light seem to have been taken for groups behind the frame of
	// Framed, 0 if none; Same reports that looks are the same, and still doubtful.
	Bars   int
	Framed channelplan.Pilot
	Same   bool
	// Unconfirmed reports that no look that was entered spells the pilot as it stands: the
	// pilot is what most likely was miscounted.
	Unconfirmed bool
	// Report judges the pilot that was read, by the lineup or, if there is none, by plan
	// and record; nil without a pilot.
	Report *lineup.Report
	// Recorded judges the amplifier's pilot on record, Spare its spare on record; each is
	// nil if the record has none.
	Recorded, Spare *lineup.Report
	// Slope judges the second pilot of an amplifier that has one for gain and one for
	// slope, if the lamp does not name that one; nil if it has none.
	Slope *lineup.Report
}

// Step is something to do: a sentence or two. If it has an act, how to do it differs from
// face to face.
type Step struct {
	Text string
	Act  fault.Act
}

// With returns the step and how its act is done, in the words of a face, which end its last
// sentence.
func (s Step) With(how string) string {
	if how == "" {
		return s.Text
	}
	return strings.TrimSuffix(s.Text, ".") + how + "."
}

// Steps whose how differs from face to face.
var (
	twoLooks  = Step{"Wait for the long dark, count one whole frame, and enter both looks.", fault.PartLooks}
	moreLooks = Step{"Wait for the long dark, count one more whole frame, and enter it with the others.", fault.PartLooks}
	partLooks = Step{"That is more groups than one frame has: split the looks at the long dark.", fault.PartLooks}
	oneLook   = Step{"Wait for the long dark, count one whole frame after it, and enter only that look.", fault.BeginAtHead}
	tellState = Step{"Watch it for ten seconds. If it keeps doing that, enter the state instead of marks.", fault.TellState}
	whichLamp = Step{"Move closer and record just one lamp, or say which one you mean.", fault.PickLamp}
	giveColor = Step{"Say which color the light is.", fault.GiveColor}
	toJudge   = Step{
		"The lamp shows nothing wrong. Add the lineup to see if this pilot is valid in your system.", fault.GiveLineup,
	}
	stillValid = Step{
		"It is the pilot on record: note the reading. Add the lineup to see if it is still valid.", fault.GiveLineup,
	}
)

// say returns steps that are done the same way everywhere.
func say(texts ...string) []Step {
	var steps []Step
	for _, text := range texts {
		steps = append(steps, Step{Text: text})
	}
	return steps
}

// Steps returns what to do, in order: at most five groups of sentences.
func Steps(s Situation) []Step {
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
		return say(
			strings.TrimSpace("Customers affected? Call it in now. Don't adjust anything. "+
				s.tellApart("Count again: ", blink.Fault, blink.Holding)),
			"Measure the output against design: with the self-test failed, its level may be anything. Report it. The supervisor decides if the output is set to design in manual, and when the module is replaced, which cuts off everyone downstream.",
		)
	case blink.Steady:
		return say(
			"Customers affected? Call it in now. "+
				cmp.Or(s.tellApart("Then shade the lamp and watch it for ten seconds: ", blink.Manual, blink.Thermal),
					"Then shade the lamp and watch it for ten seconds."),
			"Watch it for a few minutes: it may be starting up. Still lit? Measure the output, and report a stuck AGC module.",
			"The supervisor decides whether to replace it now.",
		)
	case blink.Dark:
		return say(
			"Are customers off? Call it in now. Then shade the lamp from the sun and watch it for ten seconds.",
			"Check that an AGC module is installed, and measure. No signal at the input: go upstream. Signal at the input, none at the output: no power, or a dead amplifier. Signal passes: measure the output against design.",
			"Check power only if you are trained for it. If the amplifiers next to it are dark too, report a power outage.",
			"The supervisor decides about a missing or dead module.",
		)
	}
	return nil
}

// tellApart says how two states differ; "" if the code does not have a signal for both.
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

// countBars asks the user to count the bars in a frame's long dark, which show the end of
// the range.
func (s Situation) countBars() string {
	if s.Code == nil || s.Code.Bars(blink.EndLow) == 0 {
		return "Look at the long dark after the frame again: it shows if the input is too low or too high."
	}
	return fmt.Sprintf("Count the bars of light in the long dark: %s if the input is too low, %s if it is too high.",
		s.Code.BarWords(blink.EndLow), s.Code.BarWords(blink.EndHigh))
}

// pilotAt names a judged pilot, with the frequency to tune a meter to.
func pilotAt(r *lineup.Report) string {
	if !r.InPlan || r.Pilot.Channel == 0 {
		return r.Pilot.String()
	}
	return fmt.Sprintf("%v (%s MHz)", r.Pilot, channelplan.FormatMHz(r.Located.FrequencyHz))
}

// weaker returns the report on the recorded pilot or, if nothing is wrong with that, on a
// slope pilot that is not usable: without either one, an amplifier with two is lost.
func (s Situation) weaker() *lineup.Report {
	if unusable(s.Slope) && !unusable(s.Recorded) {
		return s.Slope
	}
	return s.Recorded
}

// pilotsAt names the recorded pilot, and the slope pilot if there is one, with their
// frequencies.
func (s Situation) pilotsAt() string {
	if s.Slope == nil {
		return pilotAt(s.Recorded)
	}
	return fmt.Sprintf("%s, slope %s", pilotAt(s.Recorded), pilotAt(s.Slope))
}

// design says how to compare what the meter shows with the design. If the answer says
// what the meter should show, the test point loss is already taken off there.
func (s Situation) design() string {
	p := s.metered()
	switch {
	case s.Meter(p) == nil:
		return ", add the test point loss, and compare with design"
	case s.Amplifier.Design.TestPointDB > 0:
		return " and compare with the Meter lines"
	}
	return ", add the test point loss, and compare with the Meter lines"
}

// metered returns the pilot whose level at the amplifier is worth telling: the one that
// was read, else the one on record, if it is usable; zero if neither is.
func (s Situation) metered() channelplan.Pilot {
	for _, r := range []*lineup.Report{s.Report, s.Recorded} {
		if r != nil && !unusable(r) {
			return r.Pilot
		}
	}
	return channelplan.Pilot{}
}

// meter returns the step that comes before the amplifier is blamed.
func (s Situation) meter(what string) string {
	return fmt.Sprintf("Measure %s at the input test point%s. Is it there, and at design level?", what, s.design())
}

// meterBeside is meter for cases in which the first question is whether only the pilot is
// off or all carriers are.
func (s Situation) meterBeside(what string) string {
	return fmt.Sprintf("Measure %s, a channel on each side and both balance channels at the input test point%s.",
		what, s.design())
}

// output is the step for levels that everyone downstream gets.
func (s Situation) output() string {
	return fmt.Sprintf("Measure the output at both balance channels%s.", s.design())
}

const (
	lineupIsHeadends = "The headend decides what is carried; the supervisor decides which pilot this amplifier gets."
	askSupervisor    = "The supervisor decides on any change."
)

// invalid says that a pilot is not valid, and by which rule.
func invalid(r *lineup.Report) string {
	return fmt.Sprintf("%v is not valid here (%s)", r.Pilot, r.Findings[0].Rule)
}

func unusable(r *lineup.Report) bool { return r != nil && r.Verdict == lineup.Unusable }

// undecided reports whether nothing is known about a pilot because a row of the
// lineup can't be read: a fault of the file, not of the plant.
func undecided(r *lineup.Report) bool { return r != nil && r.Undecided() }

// cannotTell says what to do about a pilot that nothing is known about.
func cannotTell(r *lineup.Report) string {
	return fmt.Sprintf("There is no way to say if %v is valid here: a row of the lineup can't be read. Get it fixed, and change nothing until then.",
		r.Pilot)
}

// mismatched reports whether an unusable pilot is of another kind than the lineup lists,
// so that the record or the detector's setting may be wrong instead of the pilot.
func mismatched(r *lineup.Report) bool { return unusable(r) && r.Has(lineup.CarrierMismatch) }

func doubtful(s Situation) []Step {
	change := Step{Text: "Change nothing on a doubtful reading. If it is doubtful a third time, have someone else read it."}
	switch {
	case s.OffColor:
		return append(say(fmt.Sprintf("What you read is not shown in %s by this code. Look again: is it that color, and the lamp that you mean?",
			s.Color)), change)
	case len(s.ByColor) > 0:
		var means []string
		for _, state := range s.ByColor {
			means = append(means, fmt.Sprintf("%s means %v", s.Code.ColorOf(state), state))
		}
		return append(say("Only the color tells: "+strings.Join(means, ", ")+"."), giveColor, change)
	case len(s.Rhythm) == 0 && s.showsNoPilot() && !s.FromTime:
		return append(say("This lamp shows no pilot, only states: there is no frame to count."), tellState, change)
	case len(s.Rhythm) > 0:
		looks := fmt.Sprintf("Flashes that repeat evenly are a rhythm, not a frame. It looks like %v: %s.",
			s.Rhythm[0], s.Code.Look(s.Rhythm[0], blink.NoEnd))
		return append(say(looks), tellState, change)
	case len(s.Places) > 0:
		return []Step{whichLamp, change}
	case s.Tapped:
		return append(say("Tap it again, at each change of the light, for two frames. Or count a frame."), change)
	case s.FromTime:
		return append(say(
			"Record it again, longer (three frames or half a minute), with the camera steady and out of the sun. Or count a frame.",
		), change)
	case len(s.Named) > 1:
		return append(say(fmt.Sprintf("The looks disagree (%s): make sure they are all of the same lamp.", list(s.Named))),
			moreLooks, change)
	case s.Bars > 0:
		end := blink.EndLow
		if s.Bars > 1 {
			end = blink.EndHigh
		}
		return append(say(
			fmt.Sprintf("The first groups are a whole frame, %v. Was what came after it a bar, longer than any long mark?",
				s.Framed),
			fmt.Sprintf("If so, it is at the edge: enter the frame without it, and the state edge, %v end. One bar is the low end, two are the high end.",
				end),
		), change)
	case s.Same:
		return say(
			"You counted the same thing again. Have someone else count one whole frame: if it stays so, this lamp may use another code.",
			"Change nothing on a doubtful reading.",
		)
	case s.RunsOn:
		return []Step{partLooks, twoLooks, change}
	case s.StartUnseen:
		return append([]Step{oneLook}, append(say(s.Counts[:min(len(s.Counts), 1)]...), change)...)
	}
	return append(say(s.Counts[:min(len(s.Counts), 2)]...), twoLooks, change)
}

func list(pilots []channelplan.Pilot) string {
	var names []string
	for _, p := range pilots[:min(len(pilots), 3)] {
		names = append(names, p.String())
	}
	return strings.Join(names, ", ")
}

func locked(s Situation) []Step {
	if first := s.countOnceMore(); first != "" {
		return append(say(first), lockedOnReport(s)...)
	}
	return agreeing(s, lockedOnReport(s))
}

// countOnceMore asks for one more frame if none that was entered spells the pilot as it
// stands; "" if one does, or if the steps ask for it anyway.
func (s Situation) countOnceMore() string {
	if !s.Unconfirmed || len(s.Named) > 1 || unusable(s.Report) {
		return ""
	}
	return "Count one more frame: no frame you entered is right as it stands. Until then, the reading counts as doubtful."
}

// agreeing replaces the first step by one that says that the looks disagree.
func agreeing(s Situation, steps []Step) []Step {
	if len(s.Named) < 2 {
		return steps
	}
	first := fmt.Sprintf("The looks do not all agree (%s): were they all of this lamp, or did its pilot change? Look once more before you note it.",
		list(s.Named))
	return append(say(first), steps[1:]...)
}

// offDesign says what to do if the output is off although the lamp shows nothing wrong.
func (s Situation) offDesign() string {
	return fmt.Sprintf("Output off design? Leave the setting. Measure the pilot at the input test point%s. Report the output and the pilot's level.",
		s.design())
}

// showsNoPilot reports whether the lamp's code has no frames.
func (s Situation) showsNoPilot() bool { return s.Code != nil && len(s.Code.Groups) == 0 }

// nameless says how to find out which pilot the AGC follows if only the state is known.
func (s Situation) nameless() string {
	if s.showsNoPilot() {
		return "read that at the module, if you can do so without touching it."
	}
	return "wait for the long dark, count the frame, and enter its marks."
}

// otherInvalid reports whether an amplifier with two pilots is locked on a good one while the
// other one is not valid.
func otherInvalid(r *lineup.Report) bool {
	return slices.ContainsFunc(r.Findings, func(f lineup.Finding) bool {
		return f.Rule == lineup.OtherPilot && f.Severity == lineup.Caution
	})
}

func lockedOnReport(s Situation) []Step {
	r, a := s.Report, s.Amplifier
	switch {
	case r == nil && s.showsNoPilot() && unusable(s.Recorded):
		return say(
			"The lamp can't show which pilot the AGC follows. "+wording.Capital(s.nameless()),
			fmt.Sprintf("The recorded %s.", invalid(s.Recorded))+" "+s.output(),
			"Call your supervisor before you leave: which pilot should it get?",
		)
	case r == nil && s.showsNoPilot():
		return say(
			"The lamp shows nothing wrong, but it can't show which pilot the AGC follows. "+
				wording.Capital(s.nameless()),
			s.offDesign(),
		)
	case r == nil:
		return say("The state alone does not name the pilot: " + s.nameless())
	case r.Verdict == lineup.Unusable:
		return wrongPilot(s)
	case a != nil && a.Mode != lineup.AGC:
		return say(
			fmt.Sprintf("The record says %v by design, but the AGC is on: either the record or the switch is wrong. Leave it locked and ask.",
				a.Mode),
			"The supervisor decides which of the two to fix.",
		)
	case r.Has(lineup.NotAssigned):
		return notAssigned(s)
	case s.Lineup == nil && a == nil:
		return []Step{toJudge}
	case s.Lineup == nil && r.Verdict == lineup.Usable:
		return []Step{stillValid}
	case r.Verdict == lineup.Usable:
		nothing := "The lamp shows nothing wrong. Note the reading and leave the setting alone."
		if s.Assumed && s.Code != nil && s.Code.Bars(blink.EndLow) > 0 {
			nothing = fmt.Sprintf("No bar of light in the long dark? Then the lamp shows nothing wrong: note the reading and leave the setting alone. With %s, enter it again as edge low; with %s, as edge high.",
				s.Code.BarWords(blink.EndLow), s.Code.BarWords(blink.EndHigh))
		}
		return say(nothing, s.offDesign())
	}
	if otherInvalid(r) {
		return say(
			"Change nothing. This pilot is good, but the other one of this amplifier is not valid here: gain or slope may follow anything. Count one more frame, to be sure.",
			s.output(),
			"Call your supervisor before you leave: which other pilot should it get, and should it go to manual at design until then?",
		)
	}
	steps := []string{
		"Leave it locked: a caution alone is no reason to retune.",
		"Report the caution: to the headend if it is about the carrier or the lineup, to your supervisor if it is about this amplifier.",
	}
	if r.Has(lineup.LineupProblems) {
		steps = append(steps, "The lineup file has rows that can't be read. Get them fixed: the verdict may change.")
	}
	return say(steps...)
}

// notAssigned returns the steps for a good carrier that is not this amplifier's pilot.
func notAssigned(s Situation) []Step {
	onSpare := s.Report.Pilot == s.Amplifier.Spare
	switch {
	case undecided(s.Recorded):
		return say("Leave it locked.", cannotTell(s.Recorded), askSupervisor)
	case mismatched(s.Recorded):
		return say(
			fmt.Sprintf("Leave it locked: the lineup lists the recorded %v as another kind, so either the record or the lineup is wrong.",
				s.Recorded.Pilot),
			askSupervisor,
		)
	case unusable(s.Recorded) && onSpare:
		return say(
			fmt.Sprintf("It is right to be on its spare: its main pilot %s. Leave it locked.", invalid(s.Recorded)),
			"Ask for another main pilot and a corrected record: the supervisor decides.",
		)
	case unusable(s.Recorded):
		return say(
			fmt.Sprintf("It is locked on a good carrier; the recorded %s. Leave it locked.", invalid(s.Recorded)),
			"Ask for a corrected record: the supervisor decides.",
		)
	case s.Recorded == nil:
		return say("Leave it locked, and ask which pilot it should have.", askSupervisor)
	case onSpare:
		return append(say(
			"It is on its spare. Leave it locked.",
			s.meter("its main pilot, "+pilotAt(s.Recorded)+","),
			"Gone, low or high? Leave it on the spare, and measure the main pilot upstream. Bad at the node too: call the headend.",
		), Step{"There, and at design? Ask your supervisor before you leave: should you set it to that pilot?", fault.ShowSetting})
	case s.Report.Pilot.Channel == s.Recorded.Pilot.Channel && s.Report.Pilot.Kind != channelplan.Digital &&
		s.Recorded.Pilot.Kind != channelplan.Digital:
		return say(
			"It is on the recorded channel, but with a different detector setting. Leave it locked and ask which is right.",
			askSupervisor,
		)
	}
	return append(say(
		"It is locked, but not on its own pilot. Leave it locked: either the record or the setting is wrong.",
		s.meter("its own pilot, "+pilotAt(s.Recorded)+","),
	), Step{"Gone or off: report that, and leave it as it is. Good: ask your supervisor before you leave: should you set it to that pilot?", fault.ShowSetting})
}

// wrongPilot returns the steps for an amplifier locked on a pilot that is not valid here.
// Nothing is set there before the supervisor has been asked, and nobody leaves before the
// output has been measured: the AGC may follow anything.
func wrongPilot(s Situation) []Step {
	r, a := s.Report, s.Amplifier
	here := pilotAt(r)
	steps := []string{"Adjust nothing. Count one more frame from the long dark, to be sure of the reading."}
	if s.State == blink.Edge {
		steps[0] = "The edge means nothing until the pilot is right. Adjust nothing, and count one more frame."
	}
	if undecided(r) {
		return say(append(steps, cannotTell(r), lineupIsHeadends)...)
	}
	if r.Has(lineup.LineupProblems) && s.State != blink.Edge {
		steps[0] = "Get the lineup's unreadable rows fixed: the verdict may change. Adjust nothing, and count one more frame."
	}
	ask := "which pilot should it get"
	switch {
	case r.Has(lineup.NotInPlan):
		return say(append(steps,
			"Same reading twice? Ask which plan this system uses (std, irc or hrc) before anything else.",
			lineupIsHeadends)...)
	case r.Has(lineup.OutsideForward) && a != nil && !a.Passband.IsZero():
		steps = append(steps,
			fmt.Sprintf("This amplifier passes %s, not all of this carrier: the reading or the recorded passband is wrong, or it needs another pilot.",
				a.Passband))
	case r.Has(lineup.InsideOFDM):
		// A meter reads the block's power there, whether or not the pilot is still on the
		// air.
		steps = append(steps,
			fmt.Sprintf("Look at %s in spectrum view: a level alone proves nothing there, because the block has power too. If you see a carrier of its own, the lineup is wrong: tell the headend.",
				here),
			"If you see only the OFDM block, the AGC is tracking that. It needs another pilot.")
	case r.Has(lineup.CarrierMismatch):
		steps = append(steps,
			fmt.Sprintf("Look at %s in spectrum view, or try a QAM lock: a level alone does not show what kind it is.",
				here),
			"If the lineup is right, the detector is set for the wrong kind. If the lamp is right, the lineup is wrong: tell the headend.")
	case r.Has(lineup.NotInLineup):
		steps = append(steps,
			fmt.Sprintf("Look at %s in spectrum view. If a carrier is there, the lineup is wrong: tell the headend. If not, the AGC is following something else, and its level means nothing.",
				here))
	case r.Has(lineup.OutsideForward):
		steps = append(steps,
			"The filters do not pass all of this carrier, so its level does not show how the others are. It needs a pilot inside the passband.")
	case r.Has(lineup.OutsideDetector):
		steps = append(steps,
			"The record says that this detector can't follow it: either the reading or the record is wrong. Look at the module's label.")
	case r.Has(lineup.Overlapped):
		steps = append(steps,
			fmt.Sprintf("Look at %s in spectrum view. If two carriers share one spot, tell the headend: it has to separate them.",
				here))
	default: // part-time, sync-suppressed
		steps = append(steps,
			"When this carrier goes off the air, the AGC has nothing to follow. It needs a full-time pilot.")
		ask = "which full-time pilot should it get"
	}
	return append(say(append(steps, s.output())...), s.whoSets(ask))
}

// whoSets ends the steps for an amplifier locked on a pilot that is not valid here: ask is
// the question for the supervisor.
func (s Situation) whoSets(ask string) Step {
	a := s.Amplifier
	const until = ", and should it go to manual at design until then?"
	switch own := s.Recorded; {
	case a != nil && a.Mode != lineup.AGC:
		return Step{Text: fmt.Sprintf("Call your supervisor before you leave: the record says %v by design, so the AGC should not be on at all.",
			a.Mode)}
	case undecided(own):
		return Step{Text: cannotTell(own)}
	case own == nil || own.Pilot == s.Report.Pilot:
		return Step{Text: "Call your supervisor before you leave: " + ask + until}
	case unusable(own):
		return Step{Text: fmt.Sprintf("The recorded %s either: call your supervisor before you leave. Which pilot should it get%s",
			invalid(own), until)}
	default:
		return Step{fmt.Sprintf("The record names %s, which is valid here. Ask your supervisor before you leave: should you set it to that pilot?",
			pilotAt(own)), fault.ShowSetting}
	}
}

func edge(s Situation) []Step {
	switch a := s.Amplifier; {
	case unusable(s.Report):
		return agreeing(s, wrongPilot(s))
	case s.Report == nil && unusable(s.Recorded) && (a == nil || a.Mode == lineup.AGC):
		return say(
			fmt.Sprintf("The recorded %s, so the edge means nothing until the pilot is known: %s",
				invalid(s.Recorded), s.nameless()),
			s.output(),
			"Call your supervisor before you leave: which pilot should it get, and should it go to manual at design until then?",
		)
	case a != nil && a.Mode != lineup.AGC:
		return say(
			fmt.Sprintf("The record says %v by design, but the AGC is on: either the record or the switch is wrong. Ask before you set anything.",
				a.Mode),
			"Measure the output against design, and report both. The supervisor decides.",
		)
	}
	return agreeing(s, edgeOfRange(s))
}

func edgeOfRange(s Situation) []Step {
	what := "the pilot"
	if s.Report != nil {
		what = pilotAt(s.Report)
	}
	var first string
	switch r := s.Report; {
	case r == nil && s.End == blink.NoEnd && s.Code != nil && s.Code.Bars(blink.EndLow) > 0:
		first = fmt.Sprintf("Wait for the long dark. Count the frame, then the bars of light after it: %s if the input is too low, %s if it is too high. Enter both.",
			s.Code.BarWords(blink.EndLow), s.Code.BarWords(blink.EndHigh))
	case r == nil:
		first = "The state alone does not name the pilot: " + s.nameless()
	case r.Has(lineup.NotAssigned) && s.Recorded != nil && !unusable(s.Recorded):
		own := pilotAt(s.Recorded)
		return append(say(
			fmt.Sprintf("It is on %v, not on its own pilot, %s. If %v is off level here, that alone can cause the edge. Change nothing.",
				r.Pilot, own, r.Pilot),
			s.meter("its own pilot, "+own+","), s.output(),
		), Step{"Its own pilot is gone or off: leave it, and report that. There and at design: ask your supervisor before you leave: should you set it to that pilot?", fault.ShowSetting})
	case s.countOnceMore() != "":
		first = s.countOnceMore()
	case s.End == blink.NoEnd:
		first = s.countBars()
	}
	steps := []string{s.meterBeside(what) + " Change no pad, equalizer or setting."}
	if first != "" {
		steps = append([]string{first}, steps...)
	}
	const sight = "compare pad and equalizer with the record without pulling them"
	switch s.End {
	case blink.EndLow:
		steps = append(steps,
			"Only the pilot low, or it and its neighbors? Then the AGC holds the other channels too high. Measure it at each amplifier upstream. Still low at the node: call the headend. Good at one: report a suck-out, trap or water between it and the next.",
			"All are low: "+sight+", look for water and damage, measure one amplifier upstream. Report what you find.",
			"All at design, or low only in the worst heat: the AGC's range is off center. Change nothing, report it: the supervisor decides.")
	case blink.EndHigh:
		steps = append(steps,
			"Only the pilot high? Then the AGC holds the other channels too low. Measure it at each amplifier upstream. Still high at the node: call the headend. Good at one of them: report where.",
			"All are high: "+sight+", measure the output of the amplifier upstream. Report what you find.",
			"All at design, or high only in the worst cold: the AGC's range is off center. Change nothing, report it: the supervisor decides.")
	default:
		steps = append(steps, "Report what you find. "+askSupervisor)
	}
	return say(steps...)
}

// openLoop returns the steps for gain set by hand, or by temperature alone.
func openLoop(s Situation) []Step {
	by := map[blink.State]lineup.Mode{blink.Manual: lineup.HandSet, blink.Thermal: lineup.OpenLoop}[s.State]
	a := s.Amplifier
	switch {
	case a != nil && a.Mode == by:
		return say(
			fmt.Sprintf("No fault: %s is %v by design. Note the reading.", a.ID, by),
			"Measure the output against design for today's temperature: no pilot corrects it.",
		)
	case a != nil && a.Mode != lineup.AGC:
		return say(
			fmt.Sprintf("The record says %v by design, but the lamp shows %v: ask which is right. Do not switch anything.",
				a.Mode, s.State),
			"Measure the output against design for today's temperature, and report both. The supervisor decides.",
		)
	}
	s.Recorded = s.weaker()
	switch {
	case undecided(s.Recorded):
		return say(cannotTell(s.Recorded), "Measure the output against design for today's temperature.",
			askSupervisor)
	case mismatched(s.Recorded):
		return say(
			fmt.Sprintf("Do not switch to AGC: the lineup lists the recorded %v as another kind. Either the record or the detector setting is wrong.",
				s.Recorded.Pilot),
			"Measure the output against design for today's temperature.", askSupervisor,
		)
	case unusable(s.Recorded):
		return say(
			fmt.Sprintf("Do not switch to AGC: the recorded %s. Someone may have parked it for that reason.",
				invalid(s.Recorded)),
			"Measure the output against design for today's temperature.",
			"It needs another pilot. "+lineupIsHeadends,
		)
	}
	steps := []string{"Ask your supervisor before you switch it: somebody may have parked it for work."}
	if s.State == blink.Thermal {
		steps[0] = "Ask your supervisor before you switch it: it may be thermal by design, parked, or without its pilot."
	}
	if s.Recorded == nil {
		return say(append(steps,
			"Measure the output at both balance channels and compare with design for today's temperature.",
			"The supervisor decides if it goes back to AGC, and on which pilot.")...)
	}
	what, parked := s.pilotsAt(), "somebody may have parked it for work."
	if s.State == blink.Thermal {
		parked = "it was parked, or it lost its pilot."
	}
	steps[0] = fmt.Sprintf("The record says AGC on %s. Ask your supervisor before you switch it: %s", what, parked)
	shown := "that pilot"
	if s.Slope != nil {
		what, shown = "both pilots", "one of the two" // named above
	}
	set := setting(what, shown, s.design(), s.State == blink.Manual)
	set[0] = "Supervisor agrees? " + set[0]
	return say(append(steps, set...)...)
}

// withoutPilot returns the steps for seeking or holding.
func withoutPilot(s Situation) []Step {
	a := s.Amplifier
	if a != nil && a.Mode != lineup.AGC {
		return say(
			fmt.Sprintf("The record says %v by design, but the lamp shows that the AGC is on: ask which is right.",
				a.Mode),
			"Measure the output against design. The supervisor decides how it should run.",
		)
	}
	main := s.Recorded
	s.Recorded = s.weaker()
	first := "Customers affected? Call it in. Don't balance, and don't change any setting: the level would be off when the pilot comes back."
	if s.State == blink.Seeking {
		first = "Customers affected? Call it in. Leave the setting alone and wait a few minutes: a restart or short signal loss looks the same."
	}
	switch {
	case undecided(s.Recorded):
		return say(first, cannotTell(s.Recorded), s.meter(pilotAt(s.Recorded)), askSupervisor)
	case mismatched(s.Recorded):
		return say(
			first,
			fmt.Sprintf("The lineup lists the recorded %v as another kind: the record or the detector setting is wrong. Ask which.",
				s.Recorded.Pilot),
			"Measure the output against design, and report both.", askSupervisor,
		)
	case unusable(s.Recorded):
		return say(
			"Customers affected? Call it in. Change nothing.",
			s.notARepair()+s.besides(main),
			strings.TrimSpace("Measure the output against design. Report that, and that it needs a pilot. "+
				aboutSpare(s)),
			lineupIsHeadends,
		)
	}
	what, upstream, still := "its pilot", "upstream", ""
	if s.State == blink.Seeking {
		still = "Still seeking? "
	}
	switch {
	case s.Recorded != nil && s.Slope != nil:
		what = s.pilotsAt()
	case s.Recorded != nil:
		what = "its pilot, " + pilotAt(s.Recorded)
	}
	if a != nil && a.Upstream != "" {
		upstream = "upstream (" + a.Upstream + ")"
	}
	last := strings.TrimSpace("All high: look upstream. All good: bad setting or module. Measure the output too, and report it: the supervisor decides. " +
		aboutSpare(s))
	return say(
		first, still+s.meterBeside(what),
		"Only the pilot low, or it and its neighbors? Measure it at each amplifier upstream. Still low at the node: call the headend. Good at one: look for a suck-out, trap or water between it and the next.",
		fmt.Sprintf("All low: go %s, measure each input until one is good. The fault is between that amplifier and the next one down.",
			upstream),
		last,
	)
}

// besides asks for the main pilot as well, if it is the slope pilot that is not usable: the
// lamp does not tell which of the two is lost.
func (s Situation) besides(main *lineup.Report) string {
	if main == nil || main == s.Recorded {
		return ""
	}
	return fmt.Sprintf(" Measure its main pilot, %s, too.", pilotAt(main))
}

// notARepair says that the recorded pilot is not one, which explains the state.
func (s Situation) notARepair() string {
	if s.Recorded.Has(lineup.PartTime) {
		return fmt.Sprintf("The recorded %v is part-time: it may be off the air right now. It needs another pilot, not a repair. Adjust nothing until your supervisor gives it one.",
			s.Recorded.Pilot)
	}
	return fmt.Sprintf("The recorded %s: it needs another pilot, not a repair. Adjust nothing until your supervisor gives it one.",
		invalid(s.Recorded))
}

// aboutSpare says whether the spare pilot on record is usable, if there is one apart from
// the main pilot.
func aboutSpare(s Situation) string {
	switch r := s.Spare; {
	case r == nil || s.Recorded != nil && r.Pilot == s.Recorded.Pilot:
		return ""
	case unusable(r):
		return fmt.Sprintf("Its spare is no good either: %s.", invalid(r))
	case s.Lineup == nil:
		return fmt.Sprintf("Its recorded spare is %v: don't switch to it on your own.", r.Pilot)
	default:
		return fmt.Sprintf("Its spare, %v, is valid here: tell them, but don't switch to it.", r.Pilot)
	}
}
