package cutover

import (
	"fmt"

	"tallywink.example/blink"
)

// The steps are common practice, with no source, and in the words of package
// answer: a pilot is metered before it is selected, the output is brought to
// design in manual, where no AGC corrects what is being set, and the lamp is
// read at the end.

// MoveEarly are the steps at an amplifier that moves before the change.
func MoveEarly() []string {
	return []string{
		"Meter the new pilot at the input test point, test point loss added: there, and at design level? If not, stop and report.",
		"In manual select it and set the output to design; switch the AGC in and wait for the lock.",
		"Read the lamp: it must tell the new pilot, as drawn. Meter the output: still at design. Note the reading.",
		"Go on to the next amplifier down the cascade only then.",
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
		read + "From here on nothing corrects the weather: keep it short.",
	}
}

// LockAgain are the steps at a parked amplifier after the change.
func LockAgain() []string {
	return []string{
		"When the headend says that the change is done, from the node down: meter the new pilot at the input test point, against design.",
		"In manual select it and set the output to design; switch the AGC in and wait for the lock.",
		"Read the lamp: it must tell the new pilot, as drawn. Meter the output: still at design. Note the reading.",
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
