package screen

import (
	"github.com/gdamore/tcell/v2"

	"tallywink.example/trainer"
	"tallywink.example/trainer/lesson"
)

// Colors of the lamp. The lamp is amber, because flashing is most harmful in saturated
// red (WCAG 2.3.1).
var (
	amber    = tcell.NewRGBColor(255, 200, 77)
	dimAmber = tcell.NewRGBColor(130, 104, 48)
	unlit    = tcell.NewRGBColor(38, 42, 48)
	glare    = tcell.NewRGBColor(225, 225, 215)
)

// drawLamp draws the lamp in an area of the screen. Without color it uses characters: '#'
// in reverse for lit, '.' for unlit.
func drawLamp(s tcell.Screen, lamp trainer.Lamp, width int, color bool) {
	plain := tcell.StyleDefault
	top, height, look, lit := lamp.Y, lamp.Height, lamp.Look, lamp.Lit
	shape := lampShape(height, look)
	left := lamp.X
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
		case color: // the character helps if black is the nearest color available
			style = plain.Background(unlit)
		case lit && dim:
			sign = '+'
		case lit:
			sign, style = '#', plain.Reverse(true)
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

// lampShape returns half the lamp's width in each row: a drop, wider at the bottom.
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
