package trainer

import (
	"time"

	"github.com/gdamore/tcell/v2"

	"tallywink.example/blink"
	"tallywink.example/trainer/lesson"
)

// lamp is a lamp that is played. Where it is lit is a function of the time
// alone: each change is placed by the time since the beginning, never by
// adding up waits.
type lamp struct {
	light  []blink.Interval // one period
	period time.Duration
	begin  time.Time // dark before
	skip   time.Duration
	once   bool // dark after one period
}

// leadIn is the dark before a lamp begins: time to look there, and longer than
// any two flashes of two plays may lie apart.
const leadIn = 1200 * time.Millisecond

func newLamp(q lesson.Question, now time.Time, skip time.Duration) lamp {
	l := lamp{light: q.Light, begin: now.Add(leadIn), once: q.Look.Once}
	for _, iv := range q.Light {
		l.period += iv.Duration
	}
	if q.Look.MidFrame && l.period > 0 {
		l.skip = skip % l.period
	}
	return l
}

// litAt tells whether the lamp is lit, and when that ends; the zero time
// where it does not.
func (l lamp) litAt(now time.Time) (lit bool, until time.Time) {
	if len(l.light) == 0 {
		return false, time.Time{}
	}
	if now.Before(l.begin) {
		return false, l.begin
	}
	if len(l.light) == 1 { // steady, or dark
		return l.light[0].Lit, time.Time{}
	}
	since := now.Sub(l.begin) + l.skip
	if l.once && since >= l.period {
		return false, time.Time{}
	}
	rounds := since / l.period * l.period
	at := rounds
	for _, iv := range l.light {
		if at += iv.Duration; since < at {
			return iv.Lit, l.begin.Add(at - l.skip)
		}
	}
	return false, time.Time{} // periods add up to their intervals
}

// Colors of the lamp. Saturated red is the color that flashing harms most
// (WCAG 2.3.1): it is amber.
var (
	amber    = tcell.NewRGBColor(255, 200, 77)
	dimAmber = tcell.NewRGBColor(130, 104, 48)
	unlit    = tcell.NewRGBColor(38, 42, 48)
	glare    = tcell.NewRGBColor(225, 225, 215)
)

// drawLamp draws the lamp in an area of the screen. Where there is no color,
// signs do: lit is '#' in reverse, unlit '.'.
func drawLamp(s tcell.Screen, top, height, width int, look lesson.Look, lit, color bool) {
	shape := lampShape(height, look)
	left := width / 2
	if look.Glare {
		for y := top; y < top+height; y++ {
			for x := max(left-16, 0); x < min(left+16, width); x++ {
				if (x+2*y)%3 == 0 {
					style := plain.Bold(true)
					if color {
						style = plain.Foreground(glare)
					}
					s.SetContent(x, y, ':', nil, style)
				}
			}
		}
	}
	put := func(x, y int, lit, dim bool) {
		sign, style := '.', plain
		switch {
		case color && lit && dim:
			sign, style = ' ', plain.Background(dimAmber)
		case color && lit:
			sign, style = ' ', plain.Background(amber)
		case color: // the sign shows where black is the nearest color there is
			style = plain.Background(unlit)
		case lit && dim:
			sign = '+'
		case lit:
			sign, style = '#', marked
		}
		s.SetContent(x, y, sign, nil, style)
	}
	for i, half := range shape {
		y := top + (height-len(shape))/2 + i
		for x := left - half; x < left+half; x++ {
			put(x, y, lit, look.Dim)
		}
	}
	if look.Second {
		y := top + height/2
		for x := min(left+14, width-2); x < min(left+16, width); x++ {
			put(x, y, true, false)
		}
	}
}

// lampShape is half the lamp's width, row by row: a drop, wider below.
func lampShape(height int, look lesson.Look) []int {
	switch {
	case look.Small:
		return []int{1}
	case height >= 8:
		return []int{3, 6, 8, 9, 9, 8, 5}
	case height >= 5:
		return []int{3, 6, 7, 6, 3}
	}
	return []int{3, 3}[:max(min(height, 2), 1)]
}
