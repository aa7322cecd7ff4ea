// Package spot finds spots in moving pictures that switch between two levels
// of brightness, and follows them: what a lamp looks like in a picture held by
// hand, among leaves and glare.
//
// Pictures are averaged to a grid of cells ([Finder.Add]), which is steadied
// against the shaking hand and the camera's exposure, and kept for some time.
// In that time those cells are looked for whose brightness is the most like
// two levels, and the cells around them that go along. A spot once found is
// followed to the end. What the spots mean is not known here.
package spot

import "encoding/binary"

// grid is a picture averaged over square cells.
type grid struct {
	width, height int
	cell          int // side of a cell in pixels
	bright        []float32
}

// maxCells is how many cells a grid has at most: 240 x 135 for 1920 x 1080.
const maxCells = 36_000

// newGrid makes a grid for pictures of a size: the finest that has no more
// than maxCells. Pixels that fill no cell, at the right and at the bottom, are
// left out.
func newGrid(width, height int) *grid {
	g := &grid{cell: 1}
	for width/g.cell > 0 && height/g.cell > 0 && (width/g.cell)*(height/g.cell) > maxCells {
		g.cell *= 2
	}
	g.width, g.height = max(width/g.cell, 1), max(height/g.cell, 1)
	g.bright = make([]float32, g.width*g.height)
	return g
}

// fill averages a picture into the grid.
func (g *grid) fill(gray []uint8, width, height int) {
	switch {
	case g.cell == 1:
		for i := range g.bright {
			g.bright[i] = float32(gray[i/g.width*width+i%g.width])
		}
	case g.cell%8 == 0:
		g.fillWide(gray, width)
	default:
		g.fillNarrow(gray, width, height)
	}
}

func (g *grid) fillNarrow(gray []uint8, width, height int) {
	rows, columns := min(g.cell, height), min(g.cell, width)
	scale := 1 / float32(rows*columns)
	sums := make([]uint32, g.width)
	for y := range g.height {
		clear(sums)
		for dy := range rows {
			row := gray[(y*g.cell+dy)*width:]
			for x := range sums {
				for _, v := range row[x*g.cell : x*g.cell+columns] {
					sums[x] += uint32(v)
				}
			}
		}
		for x, sum := range sums {
			g.bright[y*g.width+x] = float32(sum) * scale
		}
	}
}

// fillWide is fill for cells of 8 pixels and multiples: eight pixels are added
// up at once, as four sums of 16 bits each of their odd and even ones. 128 rows
// of two pixels are the most that fit.
func (g *grid) fillWide(gray []uint8, width int) {
	const even = 0x00ff00ff00ff00ff
	scale := 1 / float32(g.cell*g.cell)
	words := g.cell / 8
	sums := make([]uint64, g.width*words)
	for y := range g.height {
		clear(sums)
		for dy := range g.cell {
			start := (y*g.cell + dy) * width
			row := gray[start : start+len(sums)*8]
			for i := range sums {
				v := binary.LittleEndian.Uint64(row[i*8:])
				sums[i] += v&even + v>>8&even
			}
		}
		for x := range g.width {
			total := uint64(0)
			for _, s := range sums[x*words : (x+1)*words] {
				total += s&0xffff + s>>16&0xffff + s>>32&0xffff + s>>48
			}
			g.bright[y*g.width+x] = float32(total) * scale
		}
	}
}

// at returns the brightness at a place between cells, in cells from the first
// one's middle; outside, that of the edge.
func (g *grid) at(x, y float32) float32 {
	x = min(max(x, 0), float32(g.width-1))
	y = min(max(y, 0), float32(g.height-1))
	left, top := int(x), int(y)
	fx, fy := x-float32(left), y-float32(top)
	right, below := left, top*g.width
	if left+1 < g.width {
		right++
	}
	next := below
	if top+1 < g.height {
		next += g.width
	}
	upper := g.bright[below+left] + fx*(g.bright[below+right]-g.bright[below+left])
	lower := g.bright[next+left] + fx*(g.bright[next+right]-g.bright[next+left])
	return upper + fy*(lower-upper)
}

// coarser returns the grid averaged over squares of n cells.
func (g *grid) coarser(n int, into *grid) *grid {
	if into == nil {
		into = &grid{width: g.width / n, height: g.height / n, cell: g.cell * n}
		into.bright = make([]float32, into.width*into.height)
	}
	scale := 1 / float32(n*n)
	for y := range into.height {
		out := into.bright[y*into.width : (y+1)*into.width]
		clear(out)
		for dy := range n {
			row := g.bright[(y*n+dy)*g.width:]
			for x := range out {
				for _, v := range row[x*n : x*n+n] {
					out[x] += v
				}
			}
		}
		for x := range out {
			out[x] *= scale
		}
	}
	return into
}
