package cutover

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
)

// The steps are common practice, with no source, and use the words of package answer: a
// pilot is measured before it is selected, the output is set to design in manual, where
// no AGC works against the adjustment, and the lamp is read at the end.

// MoveEarly returns the steps at an amplifier that moves before the change.
func MoveEarly() []string {
	return []string{
		answer.Interrupts,
		"Measure the input at both balance channels, and the new pilot, and add the test point loss. If the pilot is not there or the input is more than 2 dB off design, find that fault first, or stop and report. Don't pad it away.",
		"Switch to manual and select the new pilot. " + answer.SetLevel,
		"Read the lamp: it must show the new pilot, as drawn. Measure the output once more at both balance channels: is it still at design? Note the reading.",
		"Only then go on to the next amplifier down the cascade.",
	}
}

// ParkIt returns the steps at an amplifier that is parked before the change; code is the
// code that its lamp uses.
func ParkIt(code *blink.Code) []string {
	read := "Read the lamp: it must show manual or thermal. "
	if a, b := code.Brief(blink.Manual), code.Brief(blink.Thermal); a != "" && b != "" {
		read = fmt.Sprintf("Read the lamp: %s for manual, %s for thermal. ", a, b)
	}
	return []string{
		"Shortly before the change, measure the output, switch to manual (or thermal, if installed) and set the same output. Write down the output and the temperature.",
		read + "Nothing compensates for temperature now (thermal: only in part), so keep it short.",
	}
}

// LockAgain returns the steps at a parked amplifier after the change.
func LockAgain() []string {
	return []string{
		"When the headend says the change is done, work from the node down: measure the input at both balance channels, and the new pilot, against design.",
		"Switch to manual and select the new pilot. " + answer.SetLevel,
		"Read the lamp: it must show the new pilot, as drawn. Measure the output once more at both balance channels: is it still at design? Note the reading.",
	}
}

// BackOut says what to do if the change is called off or undone, for amplifiers that move
// early and for those that are parked.
func BackOut(a Action) string {
	if a == Early {
		return "Moved early: the new pilot is the same in both lineups (within half a dB), so there is nothing to undo. You may set the old one again the same way while it is on the air."
	}
	return "Parked: leave it parked until the headend says the old lineup is back; then lock it on its old pilot by the same steps, from the node down."
}

// WhoBacksOut says who decides that.
const WhoBacksOut = "Who calls it off: the headend decides what is carried, the supervisor decides which pilot an amplifier has."
