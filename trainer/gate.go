package trainer

import (
	"slices"
	"time"

	"tallywink.example/blink"
)

// Gate is between the views of sessions and the screen. A session's player makes sure
// that its light flashes no more than [blink.MaxFlashes] times in a second. But keys
// and resizing the window can move the lamp, remove it, change its look or begin other
// sessions. Whatever keys are pressed, the gate lets the bright part of the picture
// change at most twice [blink.MaxFlashes] times in a second, so that no place in it
// flashes more often. Rows away from the lamp are let through: a line of text is small
// (WCAG 2.x, 2.3.1: flashing in small areas). Use one Gate for a screen, whatever
// sessions follow one another on it. The zero Gate has not shown anything.
type Gate struct {
	shown         View
	width, height int
	darkUntil     time.Time
	limit         blink.ChangeLimit // of the bright part
}

// settle is how long the lamp stays dark after the window was resized, since the
// terminal itself cuts and moves what is lit.
const settle = time.Second

// Pass returns what may be shown of the wanted view in a window of the given columns
// and rows. Its Wake is when to ask again.
func (g *Gate) Pass(want View, width, height int, now time.Time) View {
	if g.width != 0 && (width != g.width || height != g.height) {
		g.darkUntil = now.Add(settle)
	}
	g.width, g.height = width, height
	if now.Before(g.darkUntil) && want.bright() {
		dark := *want.Lamp
		dark.Lit, dark.Look.Glare, dark.Look.Second = false, false, false
		want.Lamp = &dark
		want.Wake = soonest(want.Wake, g.darkUntil)
	}
	if !g.shown.bright() && !want.bright() || g.sameLight(want) {
		g.shown = want
		return want
	}
	if again := g.limit.Pass(now); !again.IsZero() {
		held := g.shown
		held.Wake = soonest(want.Wake, again)
		return held
	}
	g.shown = want
	return want
}

// Drawn moves the last change to the time at which it was on the screen.
func (g *Gate) Drawn(at time.Time) { g.limit.Drawn(at) }

// bright reports whether anything in a view other than its text is bright.
func (v View) bright() bool {
	return v.Lamp != nil && (v.Lamp.Lit || v.Lamp.Look.Glare || v.Lamp.Look.Second)
}

// sameLight reports whether a view equals the one shown in everything that is where the
// lamp is.
func (g *Gate) sameLight(want View) bool {
	if g.shown.Lamp == nil || want.Lamp == nil || *g.shown.Lamp != *want.Lamp {
		return false
	}
	return slices.Equal(over(g.shown), over(want))
}

// over returns the rows of a view that are where its lamp is.
func over(v View) []Row {
	var rows []Row
	for _, r := range v.Rows {
		if r.Y >= v.Lamp.Y && r.Y < v.Lamp.Y+v.Lamp.Height {
			rows = append(rows, r)
		}
	}
	return rows
}
