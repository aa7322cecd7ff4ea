package answer

import (
	"fmt"

	"tallywink.example/blink"
)

// This file has what is done with the hands, in the same words wherever it stands: in the
// steps of an answer, in a work plan, in the plan for the seasons. The procedures are
// common practice, with no source; the employer's own come first.

// Caution is the usual caution, given with any instruction.
const Caution = "Power, heights, traffic, open housings: follow local codes, your employer's rules and your training. " +
	"Come down before you look at a phone. What you set here moves levels for everyone downstream."

// CautionInShort is the caution where nothing is to be opened, measured or set.
const CautionInShort = "Power, heights, traffic: follow your employer's rules and your training."

// Interrupts is added wherever something is pulled that signal passes through (common
// practice, no source).
const Interrupts = "Don't pull a pad, an equalizer or a module outside a maintenance window, and clear it with dispatch first: " +
	"it cuts off everyone downstream, phones too."

// Setting returns the steps, in order, that set an amplifier to a pilot: the pilot and
// the input are measured before anything is touched; the output is set to design in
// manual, where no AGC works against it; the lamp is read before the AGC is trusted; and
// there is a way out. The AGC has a level setting of its own, so switching to AGC does not
// by itself put the output at design. pilot names it, such as "116 digital (747 MHz)".
func Setting(pilot string) []string {
	return setting(pilot, "that pilot", ", add the test point loss, and compare with design for today's temperature", false)
}

// setting ends what is said of measuring with compare; shown is what the lamp must show
// afterward, and inManual reports that it is in manual already.
func setting(pilot, shown, compare string, inManual bool) []string {
	output := "Switch to manual. With the gain and slope controls, set each balance channel to its design output. Needs a pad or equalizer? Stop, ask."
	if inManual {
		output = "With the gain and slope controls, set each balance channel to its design output. Needs a pad or equalizer? Stop, ask."
	}
	return []string{
		fmt.Sprintf("Write down output levels, pilot and switch position. Measure %s and both balance channels at the input test point%s. Any missing, or over 2 dB off? Stop and report.",
			pilot, compare),
		output,
		fmt.Sprintf("Select %s. Switch to AGC and wait for lock. The lamp must show %s.", pilot, shown),
		"Set the AGC's level until both balance channels are there again. No lock, or out of reach? Put it back as you found it, and report.",
	}
}

// firsts are what to do first in each state, for where there is little room.
var firsts = map[blink.State]string{
	blink.Locked:  "Note it. Leave the setting alone.",
	blink.Edge:    "Change nothing. Measure the pilot and its neighbors at the input.",
	blink.Manual:  "Ask before you switch it.",
	blink.Thermal: "Ask before you switch it.",
	blink.Seeking: "Customers affected? Call it in. Change nothing, wait a few minutes.",
	blink.Holding: "Customers affected? Call it in. Change nothing, measure the pilot at the input.",
	blink.Fault:   "Customers affected? Call it in. Change nothing, measure the output.",
	blink.Steady:  "Customers affected? Call it in. Shade it and watch it. Stays lit? Measure the output.",
	blink.Dark:    "Customers off? Call it in. Check power only if you are trained to.",
}

// First says in a few words what to do first in a state; "" for [blink.NoState]. It is
// what [Steps] says, in short.
func First(s blink.State) string { return firsts[s] }

// InDoubt is what to do if the lamp could not be read, in a few words.
const InDoubt = "Not sure? Change nothing, and count again."
