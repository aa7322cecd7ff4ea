package capture

import "math"

// glitches leaves out single samples that are far off both of their neighbors: a spike on
// the line, a value that was lost and written as zero. No mark is as short as that. Such
// samples otherwise look like another light that flickers beside the lamp.
type glitches struct {
	emit       func(seconds, bright float64)
	last, held arrived // the last sample passed on, and the one after it
	has, holds bool
	usual      float64 // how far a sample is from between its neighbors: four of five are nearer
	seen       int
}

const (
	// glitchSpan is how close the neighbors of a glitch must be, in seconds: shorter than the
	// shortest mark, 100 ms.
	glitchSpan = 0.07
	// farOff is how many times farther than usual a glitch is off.
	farOff = 4
	// settling is how many samples it takes to know what is usual.
	settling = 32
)

// add takes the next sample.
func (g *glitches) add(seconds, bright float64) {
	next := arrived{seconds, bright}
	if g.holds && (!g.has || !g.isGlitch(next)) {
		g.pass()
	}
	g.held, g.holds = next, true
}

func (g *glitches) pass() {
	g.emit(g.held.seconds, g.held.bright)
	g.last, g.has = g.held, true
}

// isGlitch reports whether the sample that is held is a glitch between the last one and the
// next.
func (g *glitches) isGlitch(next arrived) bool {
	a, b, c := g.last.bright, g.held.bright, next.bright
	usual := g.usual
	off := math.Abs(b - (a+c)/2)
	const up, down = 1.05 * 1.05 * 1.05 * 1.05, 1.05
	switch g.seen++; {
	case g.usual == 0:
		g.usual = off
	case off > g.usual:
		g.usual *= up
	default:
		g.usual /= down
	}
	beyond := max(b-max(a, c), min(a, c)-b)
	return g.seen > settling && next.seconds-g.last.seconds < glitchSpan && beyond > farOff*usual && beyond > 0
}

// finish passes on what is held.
func (g *glitches) finish() {
	if g.holds {
		g.pass()
	}
}
