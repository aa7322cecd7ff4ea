package answer

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
)

// Brief says an answer in one line, as said over the radio: the amplifier, what its lamp
// shows, whether that pilot is valid.
func (a *Answer) Brief() string {
	text := ""
	if a.Amplifier != nil {
		text = wording.Harmless(a.Amplifier.ID) + ": "
	}
	p, named := a.Pilot()
	switch {
	case a.Doubtful:
		return text + "not sure what it shows" + a.guess() + "; change nothing."
	case named:
		text += SignalText(blink.Signal{State: a.State, End: a.End, Pilot: p})
	case a.State.ShowsFrame() && !a.Lamp().HasRhythm(blink.Signal{State: a.State, End: a.End}):
		text += a.State.NameAt(a.End) + ", pilot not read"
	default:
		text += a.State.NameAt(a.End)
	}
	if a.Unconfirmed {
		text += fmt.Sprintf(" (%s, count once more)", wording.Percent(a.Result.Best().Probability))
	}
	if amp := a.Amplifier; amp != nil && amp.Mode != lineup.AGC && a.State.ShowsFrame() {
		return text + fmt.Sprintf(", but the record says %v by design.", amp.Mode)
	}
	r, asRecorded := a.Shown()
	if r == nil || asRecorded && !a.recordMatters(r) {
		return text + "."
	}
	about := ""
	if asRecorded {
		about = fmt.Sprintf("%v on record is ", r.Pilot)
		if r == a.Slope {
			about = "slope pilot " + about
		}
	}
	if own := a.Recorded; !asRecorded && own != nil && own.Pilot != r.Pilot {
		switch {
		case a.Amplifier.Spare == r.Pilot:
			text += fmt.Sprintf(", its spare; its main pilot is %v", own.Pilot)
		default:
			text += fmt.Sprintf(", not its own pilot, %v", own.Pilot)
		}
		if unusable(own) {
			text += fmt.Sprintf(", which is not usable (%s)", own.Findings[0].Rule)
		}
		if r.Verdict != lineup.Unusable {
			return text + "."
		}
	}
	text += ", " + about + VerdictWords(r)
	if r.Verdict != lineup.Usable && len(r.Findings) > 0 {
		text += fmt.Sprintf(" (%s)", r.Findings[0].Rule)
	}
	return text + "."
}

// guess names the most likely pilot or state of a doubtful answer, if one is more likely
// than all others together.
func (a *Answer) guess() string {
	const half = 0.5
	switch {
	case len(a.Rhythm) > 0:
	case a.Recording != nil && len(a.Recording.Candidates) > 0 && a.Recording.Best().Probability > half &&
		a.Recording.objection() == "":
		best := a.Recording.Best()
		return fmt.Sprintf(", most likely %s (%s)", SignalText(best.Signal), wording.Percent(best.Probability))
	case a.Recording == nil && len(a.Looks) > 0 && a.Result.Stranger < half && len(a.Result.Candidates) > 0 &&
		a.Result.Best().Probability > half:
		best := a.Result.Best()
		return fmt.Sprintf(", most likely %v (%s)", best.Pilot, wording.Percent(best.Probability))
	}
	return ""
}
