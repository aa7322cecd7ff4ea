// Package spot finds spots in a video that switch between two levels of brightness, and
// follows them: this is what a lamp looks like in a handheld video, among leaves and
// glare.
//
// Pictures are averaged to a grid of cells ([Finder.Add]). The grid is stabilized
// against the shaking hand and the camera's exposure, and kept for some time. The
// finder then looks for the cells whose brightness is most like two levels, and for the
// cells around them that follow them. Once found, a spot is followed to the end. This
// package does not know what the spots mean.
package spot

import (
	"encoding/binary"
	"math"
	"slices"
)

// grid is a picture, or one of its color difference planes, averaged over square cells.
type grid struct {
	width, height int
	cell, tall    int // width and height of a cell, in samples of the plane
	bright        []float32
	sums          []uint32 // for fillWide
}

// maxCells is the most cells in a grid: 240 x 135 for 1920 x 1080.
const maxCells = 36_000

// newGrid makes the finest grid with at most maxCells for pictures of a size. Pixels at
// the right and at the bottom that do not fill a cell are left out.
func newGrid(width, height int) *grid {
	g := &grid{cell: 1}
	for (width/g.cell)*(height/g.cell) > maxCells {
		g.cell *= 2
	}
	g.tall = g.cell
	g.width, g.height = width/g.cell, height/g.cell
	g.bright = make([]float32, g.width*g.height)
	return g
}

// newChroma makes a grid for a color difference plane of a size in samples, which
// belongs to a picture of width pixels and to its grid: each cell is as large as two by
// two of the grid's. It returns nil if there is no such plane.
func (g *grid) newChroma(planeWidth, planeHeight, width, height int) *grid {
	c := &grid{width: g.width / 2, height: g.height / 2, cell: g.cell, tall: g.cell}
	if planeWidth == width {
		c.cell *= 2
	}
	if planeHeight == height {
		c.tall *= 2
	}
	if planeWidth == 0 || planeHeight == 0 || c.width == 0 || c.height == 0 {
		return nil
	}
	c.bright = make([]float32, c.width*c.height)
	return c
}

// fill averages rows of a picture of the given width into the grid, beginning at row
// top. Both top and the number of rows are multiples of the cell size, except for rows
// at the picture's end that do not fill a cell.
func (g *grid) fill(top int, rows []uint8, width int) {
	for ; len(rows) >= g.tall*width && top/g.tall < g.height; top += g.tall {
		out := g.bright[top/g.tall*g.width:][:g.width]
		switch {
		case g.cell == 1 && g.tall == 1:
			for x := range out {
				out[x] = float32(rows[x])
			}
		case g.cell%8 == 0 && g.tall%8 == 0:
			g.fillWide(rows, width, out)
		default:
			g.fillNarrow(rows, width, out)
		}
		rows = rows[g.tall*width:]
	}
}

// fillNarrow averages a row of cells that are a few pixels wide.
func (g *grid) fillNarrow(rows []uint8, width int, out []float32) {
	scale := 1 / float32(g.cell*g.tall)
	for x := range out {
		sum := uint32(0)
		for dy := range g.tall {
			for _, v := range rows[dy*width+x*g.cell:][:g.cell] {
				sum += uint32(v)
			}
		}
		out[x] = float32(sum) * scale
	}
}

// fillWide averages a row of cells that are 8 pixels wide or a multiple, eight rows of
// pixels at a time.
func (g *grid) fillWide(rows []uint8, width int, out []float32) {
	scale := 1 / float32(g.cell*g.tall)
	words := g.cell / 8
	g.sums = slices.Grow(g.sums[:0], g.width*words)[:g.width*words]
	clear(out)
	for dy := 0; dy < g.tall; dy += 8 {
		eightRows(rows[dy*width:], width, g.sums)
		sums := g.sums
		for x := range out {
			for _, sum := range sums[:words] {
				out[x] += float32(sum) * scale
			}
			sums = sums[words:]
		}
	}
}

// eightRows adds up eight rows of pixels of the given width, in blocks of 64 pixels. It
// adds eight pixels at once, as four sums of 16 bits each for the odd and for the even
// ones. It is unrolled because most of the time for a clip is spent here.
func eightRows(rows []uint8, width int, sums []uint32) {
	const even = 0x00ff00ff00ff00ff
	r0, r1, r2, r3 := rows[:width], rows[width:2*width], rows[2*width:3*width], rows[3*width:4*width]
	r4, r5, r6, r7 := rows[4*width:5*width], rows[5*width:6*width], rows[6*width:7*width], rows[7*width:8*width]
	for x := range sums {
		i := 8 * x
		a, b := binary.LittleEndian.Uint64(r0[i:i+8]), binary.LittleEndian.Uint64(r1[i:i+8])
		c, d := binary.LittleEndian.Uint64(r2[i:i+8]), binary.LittleEndian.Uint64(r3[i:i+8])
		e, f := binary.LittleEndian.Uint64(r4[i:i+8]), binary.LittleEndian.Uint64(r5[i:i+8])
		g, h := binary.LittleEndian.Uint64(r6[i:i+8]), binary.LittleEndian.Uint64(r7[i:i+8])
		sum := (a&even + b&even) + (c&even + d&even) + (e&even + f&even) + (g&even + h&even) +
			(a>>8&even + b>>8&even) + (c>>8&even + d>>8&even) + (e>>8&even + f>>8&even) + (g>>8&even + h>>8&even)
		// The upper 16 bits of the product are the sum of the four: 64 pixels
		// of 255 fit.
		sums[x] = uint32(sum * 0x0001000100010001 >> 48)
	}
}

// at returns the brightness at a place between cells, measured in cells from the middle
// of the first one. Outside the grid it returns the brightness of the edge.
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

// shifted writes the grid shifted by dx, dy cells, with each brightness multiplied by
// scale.
func (g *grid) shifted(dx, dy, scale float32, into []uint16) {
	left, top := int(math.Floor(float64(dx))), int(math.Floor(float64(dy)))
	fx, fy := dx-float32(left), dy-float32(top)
	for y := range g.height {
		out := into[y*g.width : (y+1)*g.width]
		// If both rows and columns are inside, the four weights are the same for all cells;
		// at the edges each cell is looked up by itself.
		from, to := max(-left, 0), min(g.width-1-left, g.width)
		if y+top < 0 || y+top+1 >= g.height || from >= to {
			from, to = g.width, g.width
		} else {
			upper := g.bright[(y+top)*g.width+from+left:]
			lower := g.bright[(y+top+1)*g.width+from+left:]
			inner := out[from:to]
			upper, lower = upper[:len(inner)+1], lower[:len(inner)+1]
			w00, w10 := (1-fx)*(1-fy)*scale, fx*(1-fy)*scale
			w01, w11 := (1-fx)*fy*scale, fx*fy*scale
			for x := range inner {
				b := w00*upper[x] + w10*upper[x+1] + w01*lower[x] + w11*lower[x+1]
				inner[x] = uint16(min(int32(b), math.MaxUint16))
			}
		}
		for x := range from {
			out[x] = uint16(min(int32(g.at(float32(x)+dx, float32(y)+dy)*scale), math.MaxUint16))
		}
		for x := to; x < g.width; x++ {
			out[x] = uint16(min(int32(g.at(float32(x)+dx, float32(y)+dy)*scale), math.MaxUint16))
		}
	}
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
