package cutover

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
)

// The steps are common practice, with no source, and use the words of package answer.

// MoveEarly returns the steps at an amplifier that moves before the change.
func MoveEarly() []string {
	return around("Ask your supervisor first, and tell those who must know. "+answer.Interrupts, "Note the reading. Only then go on to the next amplifier down the cascade.")
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
		"Shortly before the change, measure the output at both balance channels. Write it down, with the temperature.",
		"Switch to manual (or thermal, if installed). Set the same output at both balance channels.",
		read + "Nothing compensates for temperature now (thermal: only in part), so keep it short.",
	}
}

// LockAgain returns the steps at a parked amplifier after the change.
func LockAgain() []string {
	return around("Wait until the headend says the change is done. Work from the node down.", "Note the reading. Only then go on to the next amplifier down the cascade. Left in manual? Call your supervisor before you go on.")
}

// LeaveParked returns the steps for an amplifier that no carrier of the new lineup fits.
func LeaveParked() []string {
	return []string{
		"Before the change, park it as above. Leave it parked: after the change there is no pilot it can follow.",
		"The supervisor orders a detector that fits, or decides on another way to hold its level, before the day of the change.",
		"Until then, measure its output whenever the weather turns, and set it to design in manual for the day's temperature.",
	}
}

// BackOut says what to do if the change is called off or undone, for amplifiers that move
// early and for those that are parked.
func BackOut(a Action) string {
	if a == Early {
		return "Moved early: leave it there. The new pilot is the same in both lineups (within half a dB), so it is good whether the change comes or not."
	}
	return "Parked: leave it parked until the headend says the old lineup is back on the air; then set it to its old pilot by the steps under Lock, from the node down. " +
		"Already locked on the new pilot: put it back in manual at design before the headend goes back, and then do the same."
}

// WhoBacksOut says who decides that.
const WhoBacksOut = "Who calls it off: the headend decides what is carried, the supervisor decides which pilot an amplifier has."
