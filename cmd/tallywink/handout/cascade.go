package handout

import (
	"fmt"

	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/wording"
)

// Look is how an amplifier is drawn, so that black and white tells it.
type Look uint8

// The looks.
const (
	Well    Look = iota // a thin frame
	Unknown             // a dashed frame
	Care                // a thick frame
	Bad                 // white on black
)

// Amp is what stands in an amplifier's box.
type Amp struct {
	Look Look
	Note string // a word or two below its ID
	// Fault reports that a fault is between the amplifier before and this one.
	Fault bool
}

// The size of a cascade's drawing, in pixels.
const (
	boxWidth, boxHeight = 84.0, 32.0
	spanWidth           = 26.0 // between two boxes
	rowHeight           = 42.0
	letters             = 12 // that fit in a box
	// maxDrawn is how many amplifiers one cascade's drawing has room for on paper.
	maxDrawn = 150
)

// Cascade draws the cascade that begins at a root, from left to right, and returns how
// many amplifiers it has. It returns nil if they are more than [maxDrawn].
func Cascade(p *plant.Plant, c *plant.Cascades, root int, at func(i int) Amp) (*drawing.Sheet, int) {
	type place struct{ x, y float64 }
	places := map[int]place{}
	rows, deepest, count := 0, 0, 0
	// Each amplifier stands at the height of the first below it: the trunk is straight, and
	// branches hang down. The stack goes through a cascade of any depth.
	type visit struct{ amp, depth int }
	stack := []visit{{root, 0}}
	var order []visit
	for len(stack) > 0 {
		v := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		count++
		if count <= maxDrawn {
			order = append(order, v)
			places[v.amp] = place{float64(v.depth) * (boxWidth + spanWidth), float64(rows) * rowHeight}
			deepest = max(deepest, v.depth)
		}
		down := c.Downstream[v.amp]
		if len(down) == 0 {
			rows++ // what comes next begins a new row
		}
		for i := len(down) - 1; i >= 0; i-- {
			stack = append(stack, visit{down[i], v.depth + 1})
		}
	}
	if count > maxDrawn {
		return nil, count
	}
	const margin = 16.0
	title := fmt.Sprintf("the cascade from %s", p.Amplifiers[root].ID)
	d := drawing.New(title, 2*margin+float64(deepest+1)*(boxWidth+spanWidth), float64(rows)*rowHeight+4, drawing.Pixels)
	for _, v := range order {
		at, q := at(v.amp), places[v.amp]
		x, y := q.x+margin, q.y+4
		mid := y + boxHeight/2
		from := x - margin
		if v.depth > 0 {
			up := places[c.Upstream[v.amp]]
			turn := x - spanWidth/2
			upMid := up.y + 4 + boxHeight/2
			d.Line(drawing.Black, 1, 0, up.x+margin+boxWidth, upMid, turn, upMid, turn, mid, x, mid)
			from = turn
		} else {
			d.Line(drawing.Black, 1, 0, from, mid, x, mid)
		}
		if at.Fault {
			const arm = 6.0
			cx := (from + x) / 2
			d.Line(drawing.Black, 3, 0, cx-arm, mid-arm, cx+arm, mid+arm)
			d.Line(drawing.Black, 3, 0, cx-arm, mid+arm, cx+arm, mid-arm)
		}
		ink := drawing.Black
		switch at.Look {
		case Bad:
			d.Rect(x, y, boxWidth, boxHeight, drawing.Black, "")
			ink = drawing.White
		case Care:
			d.Line(drawing.Black, 3, 0, x, y, x+boxWidth, y, x+boxWidth, y+boxHeight, x, y+boxHeight, x, y-1.5)
		case Unknown:
			d.Line(drawing.Black, 1, 3, x, y, x+boxWidth, y, x+boxWidth, y+boxHeight, x, y+boxHeight, x, y)
		default:
			d.Line(drawing.Black, 1, 0, x, y, x+boxWidth, y, x+boxWidth, y+boxHeight, x, y+boxHeight, x, y)
		}
		middle := x + boxWidth/2
		d.Write(drawing.Words{X: middle, Y: y + 14, Size: 11, Bold: true, Anchor: drawing.Middle, Fill: ink,
			Text: wording.Clipped(p.Amplifiers[v.amp].ID, letters)})
		d.Write(drawing.Words{X: middle, Y: y + 26, Size: 10, Anchor: drawing.Middle, Fill: ink,
			Text: wording.Clipped(at.Note, letters+2)})
	}
	return d, count
}
