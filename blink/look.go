package blink

import (
	"fmt"
	"strings"
	"time"

	"tallywink.example/channelplan/wording"
)

// This file describes in words what a lamp does, from a code's rhythms, so that it
// works for every code.

// Look says what the lamp does in a state, as half a sentence. For edge it describes
// one end of the range, or either one for [NoEnd]. It is empty if the code does not
// show the state.
func (c *Code) Look(s State, end EdgeEnd) string {
	look := c.look(s, end)
	if color := c.ColorOf(s); color != "" && look != "" {
		look += ", in " + color
	}
	return look
}

func (c *Code) look(s State, end EdgeEnd) string {
	own := rhythmLook(c.Rhythms[s.valid()])
	if own != "" {
		own += c.pace(s.valid())
	}
	switch s {
	case Locked:
		framed := c.frameLook()
		if own != "" && framed != "" {
			return framed + ", or " + own
		}
		return framed + own
	case Edge:
		if own != "" {
			return own
		}
		return c.edgeLook(end.valid())
	case Steady:
		if c.Unchanging(true) != Steady {
			return ""
		}
		return litThroughout
	case Dark:
		return "no light for ten seconds"
	}
	return own
}

// pace says how long a rhythm's period is if another state has the same rhythm at another
// speed; else it is empty.
func (c *Code) pace(s State) string {
	own := c.Rhythms[s]
	if len(own) < 2 {
		return ""
	}
	shape, speed := shapeOf(own)
	for i, beats := range c.Rhythms {
		if other, its := shapeOf(beats); State(i) == s || len(beats) < 2 || other != shape || its == speed {
			continue
		}
		units := 0
		for _, b := range own {
			units += b.Units
		}
		return fmt.Sprintf(", every %.1f s", (time.Duration(units) * c.Timing.Unit).Seconds())
	}
	return ""
}

const litThroughout = "lit without a break for ten seconds"

// frameLook says what a frame looks like; "" if the code has none.
func (c *Code) frameLook() string {
	least, most := c.FrameLengths()
	switch {
	case most == 0:
		return ""
	case most == 1:
		return "the frame: one counted group, then a long dark"
	case least != most:
		return fmt.Sprintf("the frame: %s to %s counted groups, then a long dark", wording.Number(least),
			wording.Number(most))
	}
	return fmt.Sprintf("the frame: %s counted groups, then a long dark", wording.Number(most))
}

// rhythmLook says what a rhythm looks like; "" if there is none.
func rhythmLook(beats []Beat) string {
	n, lit, dark := countBeats(beats)
	switch {
	case n == 0:
		return ""
	case len(beats) == 1:
		return litThroughout
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
	case len(c.EdgeRests[EndLow]) == 0:
		return ""
	case len(c.Groups) == 0 && end == NoEnd:
		return fmt.Sprintf("%s (input too low), or %s (input too high)", rhythmLook(c.EdgeRests[EndLow]),
			rhythmLook(c.EdgeRests[EndHigh]))
	case len(c.Groups) == 0:
		return rhythmLook(c.EdgeRests[end])
	case end == EndLow:
		return fmt.Sprintf("the frame, and %s of light in its long dark", barWords(low))
	case end == EndHigh:
		return fmt.Sprintf("the frame, and %s of light in its long dark", barWords(high))
	}
	return fmt.Sprintf("the frame, and in its long dark %s of light (input too low) or %s (input too high)",
		barWords(low), wording.Number(high))
}

// KindsText says how a frame names the kind of carrier: 'Head: 1 analog, 2 digital, 3 cw; 5
// more from channel 100 on.' It is empty if a frame does not name it.
func (c *Code) KindsText() string {
	group, ok := c.Group(FromKind)
	if !ok {
		return ""
	}
	var kinds []string
	for _, h := range c.Heads {
		shown := fmt.Sprint(h.Digit)
		if group.hasOwnMarks() {
			shown = c.MarksOf(group, h.Digit).Words() + " for"
		}
		kinds = append(kinds, fmt.Sprintf("%s %v", shown, h.Kind))
	}
	text := wording.Capital(group.Name) + ": " + strings.Join(kinds, ", ")
	if c.HundredAdds != 0 {
		text += fmt.Sprintf("; %d more from channel 100 on", c.HundredAdds)
	}
	return text + "."
}

// PresetsText says which number is which pilot: 'Number 1 is 77 cw, 2 is 116 digital.' It is
// empty if frames carry channels.
func (c *Code) PresetsText() string {
	if len(c.Presets) == 0 {
		return ""
	}
	presets := make([]string, len(c.Presets))
	for i, p := range c.Presets {
		presets[i] = fmt.Sprintf("%d is %v", p.Number, p.Pilot)
	}
	return "Number " + strings.Join(presets, ", ") + "."
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
	if len(c.Groups) == 0 {
		return 0
	}
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
	beats := c.Rhythms[s.valid()]
	n, lit, dark := countBeats(beats)
	one, more := "one flash", " flashes"
	pace := c.pace(s.valid())
	if color := c.ColorOf(s); color != "" {
		pace += ", in " + color
	}
	switch {
	case n == 0:
		return ""
	case len(beats) == 1:
		return "always lit" + pace
	case n == 1 && lit == dark:
		return "light and dark alike" + pace
	case lit > dark:
		one, more = "one blink off", " blinks off"
	}
	if n == 1 {
		return one + pace
	}
	return wording.Number(n) + more + pace
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
