package cutover

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
)

// The steps are common practice, with no source, and use the words of package answer.

// MoveEarly returns the steps at an amplifier that moves before the change.
func MoveEarly() []string {
	return around("Read the lamp first, and note it with the output level. Not on the pilot on record? Call your supervisor before you touch anything.",
		"Note the reading. Only then go on to the next amplifier down the cascade.")
}

func around(first, last string) []string {
	return append(append([]string{first}, answer.Setting("the new pilot")...), last)
}

// ParkIt returns the steps at an amplifier that is parked before the change; code is the
// code that its lamp uses.
func ParkIt(code *blink.Code) []string {
	read := "Read the lamp: it must show manual or thermal. "
	if a, b := code.Brief(blink.Manual), code.Brief(blink.Thermal); a != "" && b != "" {
		read = fmt.Sprintf("Read the lamp: %s for manual, %s for thermal. ", a, b)
	}
	return []string{
		"Come at the time the plan gives, no earlier. Read the lamp first. Not plainly locked on its pilot on record, or output off design? Call your supervisor before you touch anything.",
		"Measure the output at both balance channels. Write it down, with the temperature.",
		"Switch to manual (or thermal, if installed). Set each balance channel back to the level you wrote down for it.",
		read + "Nothing compensates for temperature from now on (thermal: only in part).",
	}
}

// LockAgain returns the steps at a parked amplifier after the change.
func LockAgain() []string {
	return around("Wait until the headend says the change is done. Work from the node down, by the design levels of the new lineup: a balance channel that turned from analog to QAM reads some 6 dB lower at design. Never set QAM to the analog level.",
		"Note the reading. Only then go on to the next amplifier down the cascade. Left in manual? Call your supervisor before you go on.")
}

// LeaveParked returns the steps for an amplifier that no carrier of the new lineup fits.
func LeaveParked() []string {
	return []string{
		"Long before the change: ask the headend to keep a carrier that these can follow, or to put up a cw in their passband. Else the supervisor orders detectors that fit.",
		"None of these in time? Park them before the change, as below, and leave them parked.",
		"As long as one is parked: measure its output after every 20 F of change, and set it to design in manual for the day's temperature.",
	}
}

// BothPilots is what is different at an amplifier whose slope pilot moves, too.
const BothPilots = "Where a slope pilot moves, do both pilots in one visit. Measure both first. In manual, set gain and slope for design at both balance channels. Select both pilots before you switch to AGC. The lamp must show one of them."

// BackOut says what to do if the change is called off or undone, for amplifiers that move
// early and for those that are parked, what is urgent first.
func BackOut(a Action) []string {
	if a == Early {
		return []string{"Moved early? Leave it there. The new pilot is the same in both lineups (within half a dB), so it is good whether the change comes or not, as long as the headend leaves it alone."}
	}
	return []string{
		"Parked, and locked again on a new pilot? Before the headend goes back, put it in manual at design.",
		"Still parked? Leave it parked until the headend says that the old lineup is back on the air. Then set it to its old pilot, with the same steps as for a new one, from the node down.",
	}
}

// WhoBacksOut says who decides that.
const WhoBacksOut = "Back out only when the headend calls it off. Ask your supervisor which pilot each amplifier gets."
