package blink

import (
	"fmt"

	"tallywink.example/channelplan/wording"
)

// This file describes in words what a lamp does, from a code's rhythms, so that it
// works for every code.

// Look says what the lamp does in a state, as half a sentence. For edge it describes
// one end of the range, or either one for [NoEnd]. It is empty if the code does not
// show the state.
func (c *Code) Look(s State, end EdgeEnd) string {
	switch s {
	case Locked:
		least, most := c.FrameLengths()
		switch {
		case most == 1:
			return "the frame: one counted group, then a long dark"
		case least != most:
			return fmt.Sprintf("the frame: %s to %s counted groups, then a long dark", wording.Number(least), wording.Number(most))
		}
		return fmt.Sprintf("the frame: %s counted groups, then a long dark", wording.Number(most))
	case Edge:
		return c.edgeLook(end.valid())
	case Steady:
		return "lit without a break for ten seconds"
	case Dark:
		return "no light for ten seconds"
	}
	n, lit, dark := countBeats(c.Rhythms[s.valid()])
	switch {
	case n == 0:
		return ""
	case n == 1 && lit == dark:
		return "on and off for equal times"
	case n == 1 && lit > dark:
		return "lit, with one short blink off, again and again"
	case lit > dark:
		return fmt.Sprintf("lit, with %s blinks off close together, again and again", wording.Number(n))
	case n == 1:
		return "one flash, then a long dark"
	}
	return wording.Number(n) + " flashes, then a long dark"
}

func (c *Code) edgeLook(end EdgeEnd) string {
	low, high := c.Bars(EndLow), c.Bars(EndHigh)
	switch {
	case low == 0 && high == 0:
		return ""
	case end == EndLow:
		return fmt.Sprintf("the frame, and %s of light in its long dark", barWords(low))
	case end == EndHigh:
		return fmt.Sprintf("the frame, and %s of light in its long dark", barWords(high))
	}
	return fmt.Sprintf("the frame, and in its long dark %s of light (input too low) or %s (input too high)", barWords(low), wording.Number(high))
}

// BarWords says how many bars of light are in a frame's long dark at an end of the
// range: 'one bar', 'two bars'.
func (c *Code) BarWords(end EdgeEnd) string { return barWords(c.Bars(end)) }

func barWords(n int) string {
	if n == 1 {
		return "one bar"
	}
	return wording.Number(n) + " bars"
}

// Bars returns how many bars of light are in a frame's long dark at an end of the
// range, or 0 if the code has no such signal.
func (c *Code) Bars(end EdgeEnd) int {
	n := 0
	for _, b := range c.EdgeRests[end.valid()] {
		if b.Lit {
			n++
		}
	}
	return n
}

// Brief says in two or three words what the lamp does in a state that has its own
// rhythm: 'one blink off', 'two flashes', 'light and dark alike'. It is empty for other
// states.
func (c *Code) Brief(s State) string {
	n, lit, dark := countBeats(c.Rhythms[s.valid()])
	one, more := "one flash", " flashes"
	switch {
	case n == 0:
		return ""
	case n == 1 && lit == dark:
		return "light and dark alike"
	case lit > dark:
		one, more = "one blink off", " blinks off"
	}
	if n == 1 {
		return one
	}
	return wording.Number(n) + more
}

// countBeats returns how often a rhythm is lit in a period, and how many units it is
// lit and dark.
func countBeats(beats []Beat) (n, lit, dark int) {
	for _, b := range beats {
		if b.Lit {
			n++
			lit += b.Units
		} else {
			dark += b.Units
		}
	}
	return n, lit, dark
}
