package spot

import (
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Cells of every size are the plain mean of their pixels. Pixels that do not fill a
// cell are left out.
func TestAveraging(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	for _, size := range [][2]int{{1, 1}, {7, 5}, {160, 160}, {320, 240}, {641, 483}, {1280, 720}, {1923, 1085},
		{4096, 4096}, {16384, 1024}, {1, 16384}} {
		width, height := size[0], size[1]
		gray := make([]uint8, width*height)
		for i := range gray {
			gray[i] = uint8(random.Uint32())
		}
		if width == 1280 { // all white gives the largest possible sum
			for i := range gray {
				gray[i] = 255
			}
		}
		a := NewFinder(width, height, nil).NewAveraged()
		for top := 0; top < height; top += 64 {
			a.Take(0, top, gray[top*width:min(top+64, height)*width])
		}
		g := a.grid
		require.LessOrEqual(t, len(g.bright), maxCells)
		require.Zero(t, 64%g.cell, "a band holds whole cells")
		for range 200 {
			x, y := random.IntN(g.width), random.IntN(g.height)
			sum := 0.0
			for dy := range g.cell {
				for dx := range g.cell {
					sum += float64(gray[(y*g.cell+dy)*width+x*g.cell+dx])
				}
			}
			require.InDelta(t, sum/float64(g.cell*g.cell), g.bright[y*g.width+x], 1e-3, "%d x %d, cell %d at %d,%d",
				width, height, g.cell, x, y)
		}
	}
}

// texture is an invented view, smooth over a few cells.
func texture(x, y float64) float64 {
	return 100 + 30*math.Sin(x/3.1)*math.Cos(y/2.7) + 25*math.Sin(x/11+y/7) + 10*math.Cos(x/5-y/4)
}

func textured(dx, dy, gain, noise float64, random *rand.Rand) *grid {
	g := newGrid(160, 120)
	for i := range g.bright {
		x, y := float64(i%g.width), float64(i/g.width)
		g.bright[i] = float32(gain*texture(x-dx, y-dy) + noise*random.NormFloat64())
	}
	return g
}

// Shift and gain of a picture are measured to a seventh of a cell, and the shift is
// undone.
func TestSteadying(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 2))
	var s steadier
	s.see(textured(0, 0, 1, 1.5, random))
	still := textured(0, 0, 1, 0, random)
	for _, c := range []struct{ dx, dy, gain float64 }{{0, 0, 1}, {0.4, -0.3, 1}, {2.2, 1.7, 0.9}, {4.5, -3.1, 1.2},
		{1, -1, 0.8}, {-5, 2, 1}} {
		g := textured(c.dx, c.dy, c.gain, 1.5, random)
		v, _ := s.see(g)
		assert.InDelta(t, c.dx, v.dx, 0.15, "%+v", c)
		assert.InDelta(t, c.dy, v.dy, 0.15, "%+v", c)
		assert.InEpsilon(t, c.gain, v.gain, 0.02, "%+v", c)
		back := make([]uint16, len(g.bright))
		g.shifted(v.dx, v.dy, brightScale/v.gain, back)
		for y := 10; y < g.height-10; y += 7 {
			for x := 10; x < g.width-10; x += 7 {
				require.InDelta(t, still.bright[y*g.width+x], float64(back[y*g.width+x])/brightScale, 10,
					"%+v at %d,%d", c, x, y)
			}
		}
	}
}

// If there is nothing but noise, a picture counts as still: the noise of one picture is
// not searched for in the next.
func TestNoiseIsNotFollowed(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 3))
	var s steadier
	for range 50 {
		g := newGrid(160, 120)
		for i := range g.bright {
			g.bright[i] = 60 + float32(3*random.NormFloat64())
		}
		v, _ := s.see(g)
		assert.InDelta(t, 0, v.dx, 1e-6)
		assert.InDelta(t, 0, v.dy, 1e-6)
	}
}

// Inside and at the edges, the shifted grid matches a lookup of single places.
func TestShiftedAgreesWithLookUp(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 4))
	g := newGrid(30, 20)
	for i := range g.bright {
		g.bright[i] = float32(255 * random.Float64())
	}
	into := make([]uint16, len(g.bright))
	for _, shift := range [][2]float32{{0, 0}, {0.5, 0.25}, {-3.3, 2.7}, {29, 0}, {-40, 50}, {0, -19.5}} {
		g.shifted(shift[0], shift[1], brightScale, into)
		for i, b := range into {
			want := g.at(float32(i%g.width)+shift[0], float32(i/g.width)+shift[1]) * brightScale
			require.InDelta(t, want, float64(b), 1.5, "%v, cell %d", shift, i)
		}
	}
}

type series struct{ bright []float64 }

func (s *series) Add(_, bright float64) { s.bright = append(s.bright, bright) }

// A spot that switches is found first, with its place, size and swing. What the
// stabilizing leaves of the view may be found as well, with far less swing: this
// package does not decide what means something.
func TestFinding(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 5))
	f := NewFinder(160, 120, func() Follower { return &series{} })
	for n := range 300 {
		a := f.NewAveraged()
		for i := range a.grid.bright {
			x, y := float64(i%160), float64(i/160)
			b := texture(x, y) + 2*random.NormFloat64()
			if n/9%2 == 0 && math.Hypot(x-99.5, y-39.5) < 6 {
				b += 60
			}
			a.grid.bright[i] = float32(b)
		}
		at := time.Duration(n) * 33 * time.Millisecond
		f.Add(at, at+33*time.Millisecond, a)
	}
	f.Finish()
	s := f.Spots[0]
	for _, other := range f.Spots[1:] {
		assert.Less(t, other.Swing, s.Swing/5)
	}
	assert.InDelta(t, 100, s.X, 1)
	assert.InDelta(t, 40, s.Y, 1)
	assert.InDelta(t, 12, s.Size, 1.5)
	assert.InDelta(t, 60, s.Swing, 6)
	bright := s.Follow.(*series).bright
	require.Len(t, bright, 300)
	assert.InDelta(t, 60, bright[0]-bright[10], 6)
}

// Sarle's coefficient at its published points: 1 for two levels, 0.56 for a uniform
// distribution, 0.33 for a normal (SAS/STAT User's Guide, the CLUSTER procedure). Of
// these, only two levels score with all of their deviation.
func TestScores(t *testing.T) {
	random := rand.New(rand.NewPCG(6, 6))
	var window []still
	for range 40_000 {
		two := 50.0
		if random.Float64() < 0.3 {
			two = 100
		}
		cells := []uint16{uint16(two * brightScale), uint16((50 + 50*random.Float64()) * brightScale),
			uint16((75 + 10*random.NormFloat64()) * brightScale)}
		window = append(window, still{cells: cells})
	}
	scores := scores(gridSize{3, 1, 1}, window)
	assert.InDelta(t, 50*math.Sqrt(0.3*0.7), scores[0], 0.3)
	assert.InDelta(t, 50/math.Sqrt(12)*(5.0/9-bimodal)/(1-bimodal), scores[1], 0.3)
	assert.Zero(t, scores[2])
}
