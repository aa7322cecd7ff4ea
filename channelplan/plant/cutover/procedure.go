package cutover

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
)

// The steps are common practice, with no source, and in the words of package
// answer: a pilot is metered before it is selected, the output is brought to
// design in manual, where no AGC corrects what is being set, and the lamp is
// read at the end.

// MoveEarly are the steps at an amplifier that moves before the change.
func MoveEarly() []string {
	return []string{
		"Meter the input at both balance channels, and the new pilot, test point loss added. Not there, or the input more than 2 dB off design: find that fault first, or stop and report. Don't pad it away.",
		"Switch to manual and select the new pilot. " + answer.SetLevel,
		"Read the lamp: it must tell the new pilot, as drawn. Meter the output once more at both balance channels: still at design? Note the reading.",
		"Only then go on to the next amplifier down the cascade.",
		answer.Interrupts,
	}
}

// ParkIt are the steps at an amplifier that is parked before the change, whose
// lamp speaks a code.
func ParkIt(code *blink.Code) []string {
	read := "Read the lamp: it must tell manual, or thermal. "
	if a, b := code.Brief(blink.Manual), code.Brief(blink.Thermal); a != "" && b != "" {
		read = fmt.Sprintf("Read the lamp: %s for manual, %s for thermal. ", a, b)
	}
	return []string{
		"Shortly before the change: meter the output, switch to manual (or thermal, where it is fitted) and set the same output. Note output and temperature.",
		read + "Nothing compensates for temperature now (thermal: only in part), so keep it short.",
	}
}

// LockAgain are the steps at a parked amplifier after the change.
func LockAgain() []string {
	return []string{
		"When the headend says that the change is done, from the node down: meter the input at both balance channels, and the new pilot, against design.",
		"Switch to manual and select the new pilot. " + answer.SetLevel,
		"Read the lamp: it must tell the new pilot, as drawn. Meter the output once more at both balance channels: still at design? Note the reading.",
	}
}

// BackOut is what is done where the change is called off or undone, for
// amplifiers that move early and for those that are parked.
func BackOut(a Action) string {
	if a == Early {
		return "Moved early: both lineups carry the new pilot alike (to half a dB), so nothing need be undone. The old one may be set again in the same way while it is on air."
	}
	return "Parked: stays parked until the headend says that the old lineup is back; then locked on its old pilot by the same steps, from the node down."
}

// WhoBacksOut is who decides that.
const WhoBacksOut = "Who calls it off: the headend for what is carried, the supervisor for which pilot an amplifier has."
