package spot

import (
	"math"
	"slices"
)

// This file measures how far a picture is shifted against another one, and how much
// brighter it is: the shaking hand and the camera's exposure. It uses the method of
// Lucas and Kanade (1981), coarse to fine, with the gain as a third unknown. Places
// that move differently (the lamp itself, leaves) get less weight.

// view is how a picture differs from the one it is compared with.
type view struct {
	dx, dy float32 // cells by which the scene has moved
	gain   float32 // factor by which it is brighter
}

// feature is a place in a picture that shows how the picture is shifted.
type feature struct {
	x, y     float32
	bright   float32
	gx, gy   float32 // gradient, per cell
	steepest float32
}

// A pattern is the features of a picture, spread over it.
type pattern struct {
	features []feature
	// spread reports whether the features are all over the picture. If they are not, they may
	// be the lamp's own rim, and do not show how the hand moves.
	spread bool
	slope  float32 // the median slope of the features
}

// agrees reports whether a picture shows the features, given its typical error in gray
// levels. The error must be small compared with their slope or, in a noisy picture,
// clearly larger for every view one cell away: noise alone has the same error everywhere.
func (p pattern) agrees(g *grid, v view, typical float32, errs []float32) bool {
	if typical < disagree*p.slope {
		return true
	}
	away := float32(math.Inf(1))
	for _, step := range [][2]float32{{1, 0}, {0, 1}} {
		sum := float32(0)
		for _, sign := range []float32{-1, 1} {
			errs = errs[:0]
			for _, m := range p.features {
				errs = append(errs, g.at(m.x+v.dx+sign*step[0], m.y+v.dy+sign*step[1])-v.gain*m.bright)
			}
			sum += middle(errs) / 2
		}
		away = min(away, sum)
	}
	return len(p.features) > 0 && away > apparent*typical
}

const (
	tiles           = 12 // per side, over which features are spread
	featuresPerTile = 4
	leastSlope      = 1.5 // gray levels per cell, to be a feature
	spreadShare     = 0.25
	leastSide       = 8 // cells; a smaller grid does not show a shift
)

func patternOf(g *grid) pattern {
	var p pattern
	if g.width < leastSide || g.height < leastSide {
		return p
	}
	filled := 0
	for ty := range tiles {
		for tx := range tiles {
			var here []feature
			for y := max(ty*g.height/tiles, 1); y < min((ty+1)*g.height/tiles, g.height-1); y++ {
				for x := max(tx*g.width/tiles, 1); x < min((tx+1)*g.width/tiles, g.width-1); x++ {
					i := y*g.width + x
					gx := (g.bright[i+1] - g.bright[i-1]) / 2
					gy := (g.bright[i+g.width] - g.bright[i-g.width]) / 2
					if steep := gx*gx + gy*gy; steep > leastSlope*leastSlope {
						here = append(here, feature{float32(x), float32(y), g.bright[i], gx, gy, steep})
					}
				}
			}
			slices.SortFunc(here, func(a, b feature) int {
				switch {
				case a.steepest > b.steepest:
					return -1
				case a.steepest < b.steepest:
					return 1
				}
				return 0
			})
			if len(here) > 0 {
				filled++
			}
			p.features = append(p.features, here[:min(len(here), featuresPerTile)]...)
		}
	}
	p.spread = float64(filled) >= spreadShare*tiles*tiles
	if len(p.features) > 0 {
		slopes := make([]float32, len(p.features))
		for i, m := range p.features {
			slopes[i] = m.steepest
		}
		slices.Sort(slopes)
		p.slope = float32(math.Sqrt(float64(slopes[len(slopes)/2])))
	}
	return p
}

// compare improves on a guess of how g differs from the pattern's picture, until
// nothing changes or for at most rounds rounds. It returns the best view found, the
// guess included, and its typical error in gray levels.
func (p pattern) compare(g *grid, v view, rounds int, errs []float32) (best view, least float32) {
	least = float32(math.Inf(1))
	for round := range rounds + 1 {
		errs = errs[:0]
		for _, m := range p.features {
			errs = append(errs, g.at(m.x+v.dx, m.y+v.dy)-v.gain*m.bright)
		}
		typical := middle(errs)
		if typical < least {
			best, least = v, typical
		}
		if round == rounds {
			break
		}
		scale := max(1.4826*typical, 0.5)
		// Normal equations of dx, dy and gain.
		var xx, xy, xg, yy, yg, gg, xe, ye, ge float32
		for i, m := range p.features {
			e := errs[i]
			w := scale / (scale + abs(e))
			w *= w
			gx, gy := v.gain*m.gx, v.gain*m.gy
			wx, wy, wg := w*gx, w*gy, -w*m.bright
			xx += wx * gx
			xy += wx * gy
			xg -= wx * m.bright
			yy += wy * gy
			yg -= wy * m.bright
			gg -= wg * m.bright
			xe -= wx * e
			ye -= wy * e
			ge -= wg * e
		}
		step, ok := solve([3][4]float64{
			{float64(xx), float64(xy), float64(xg), float64(xe)},
			{float64(xy), float64(yy), float64(yg), float64(ye)},
			{float64(xg), float64(yg), float64(gg), float64(ge)},
		})
		if !ok {
			break
		}
		dx, dy, dgain := float32(step[0]), float32(step[1]), float32(step[2])
		v.dx, v.dy = v.dx+dx, v.dy+dy
		v.gain = min(max(v.gain+dgain, leastGain), mostGain)
		const still, same = 0.01, 0.001
		if abs(dx) < still && abs(dy) < still && abs(dgain) < same {
			break
		}
	}
	return best, least
}

// middle returns the approximate median of magnitudes. It halves a range of values,
// which is faster than sorting and just as good for a scale.
func middle(errs []float32) float32 {
	low, high := float32(0), float32(0)
	for _, e := range errs {
		high = max(high, abs(e))
	}
	for range 10 {
		half, below := (low+high)/2, 0
		for _, e := range errs {
			if abs(e) < half {
				below++
			}
		}
		if 2*below < len(errs) {
			low = half
		} else {
			high = half
		}
	}
	return (low + high) / 2
}

func abs(x float32) float32 { return math.Float32frombits(math.Float32bits(x) &^ (1 << 31)) }

// Limits for the gain within one pattern.
const (
	leastGain = 0.4
	mostGain  = 2.5
)

// solve solves three linear equations by elimination.
func solve(a [3][4]float64) (x [3]float64, ok bool) {
	for i := range 3 {
		pivot := i
		for j := i + 1; j < 3; j++ {
			if math.Abs(a[j][i]) > math.Abs(a[pivot][i]) {
				pivot = j
			}
		}
		a[i], a[pivot] = a[pivot], a[i]
		if math.Abs(a[i][i]) < 1e-9 {
			return x, false
		}
		for j := range 3 {
			if j == i {
				continue
			}
			f := a[j][i] / a[i][i]
			for k := i; k < 4; k++ {
				a[j][k] -= f * a[i][k]
			}
		}
	}
	for i := range 3 {
		x[i] = a[i][3] / a[i][i]
	}
	return x, true
}

// A steadier tracks the shift from picture to picture.
type steadier struct {
	fine, coarse pattern
	coarseGrid   *grid
	base         view // of the patterns' picture relative to the first one
	last         view // of the last picture relative to the patterns'
	lost         int  // pictures since the features were last found
	found        int  // pictures in a row in which they were found, until they are proven
	era          int  // how often the place was lost, see [steadier.see]
	errs         []float32
}

const (
	coarser = 4 // cells per side of a coarse cell
	// moved is the share of the picture's side after which new features are taken.
	moved = 0.15
	// farthest is the share of the picture's side by which the view may move from the
	// first picture before a new era begins.
	farthest = 0.4
	// patience is for how many pictures the features may be out of sight.
	patience = 20
	// proven is in how many pictures in a row features must have been found again to be
	// features: noise is not.
	proven = 20
	// disagree is the error, relative to the features' slope, above which the features count as
	// not found. If there is only noise, the steepest places of one picture have an error
	// of half their slope or more in the next.
	disagree = 0.35
	// apparent is how many times larger the error must be one cell away for features to
	// count as found in a noisy picture.
	apparent = 1.2
)

// see returns how a picture differs from the first one, and whether that is known.
// Where proven features are gone for good the camera was turned: nobody knows where
// things are now in the first picture, and a new era begins. Before noise, or
// nothing, there is nothing to steady by: the camera is taken to be still.
func (s *steadier) see(g *grid) (view, bool) {
	s.coarseGrid = g.coarser(coarser, s.coarseGrid)
	if s.fine.features == nil && s.base.gain == 0 {
		s.base = view{gain: 1}
		s.take(g)
	}
	if !s.fine.spread && !s.coarse.spread {
		s.take(g) // there may be more to see by now
		return s.base, true
	}
	v, found := s.find(g)
	far := float32(moved * float64(min(g.width, g.height)))
	away := max(abs(v.dx), abs(v.dy))
	if !found || away > 3*far {
		noise := s.found < proven
		if noise {
			s.found = 0
		}
		if s.lost++; s.lost < patience {
			return s.base.then(s.last), noise // something is passing by: wait
		}
		s.base = s.base.then(s.last)
		if !noise {
			return s.begin(g), true
		}
		s.take(g)
		return s.base, true
	}
	s.lost = max(s.lost-2, 0)
	s.found++
	s.last = v
	total := s.base.then(v)
	if away > far {
		if abs(total.dx) > farthest*float32(g.width) || abs(total.dy) > farthest*float32(g.height) {
			return s.begin(g), true // hardly anything of the first picture is left to be seen
		}
		s.base = total
		s.take(g)
		s.found = proven // where they were taken is known
	}
	return total, true
}

// begin begins a new era, in which this picture is the first one.
func (s *steadier) begin(g *grid) view {
	s.era++
	s.base = view{gain: 1}
	s.take(g)
	return s.base
}

// find looks for the features in a picture, both from where they were last and from where
// they were taken: something that repeats, such as a fence, may have misled it. It
// returns the better view, and false if neither is good.
func (s *steadier) find(g *grid) (best view, found bool) {
	least := float32(math.Inf(1))
	for i, v := range []view{s.last, {gain: 1}} {
		if i > 0 && abs(s.last.dx)+abs(s.last.dy) < 1 {
			break // much the same
		}
		here, typical, holds := v, float32(math.Inf(1)), false
		if s.coarse.spread {
			var c view
			c, typical = s.coarse.compare(s.coarseGrid, view{v.dx / coarser, v.dy / coarser, v.gain}, 5, s.errs)
			holds = s.coarse.agrees(s.coarseGrid, c, typical, s.errs)
			here = view{c.dx * coarser, c.dy * coarser, c.gain}
		}
		if s.fine.spread {
			// In a noisy picture the fine features may be nothing but noise, while the coarse
			// ones, which average many more pixels, hold.
			f, t := s.fine.compare(g, here, 3, s.errs)
			fineHolds := s.fine.agrees(g, f, t, s.errs)
			if near := abs(f.dx-here.dx)+abs(f.dy-here.dy) < 1; fineHolds || !holds {
				here, typical, holds = f, t, fineHolds
			} else if near {
				here = f
			}
		}
		if i == 0 || holds && !found || holds == found && typical < least {
			best, least, found = here, typical, holds
		}
	}
	return best, found
}

// take takes new features.
func (s *steadier) take(g *grid) {
	s.lost, s.found = 0, 0
	s.fine = patternOf(g)
	s.coarse = patternOf(s.coarseGrid)
	s.last = view{gain: 1}
	s.errs = make([]float32, 0, max(len(s.fine.features), len(s.coarse.features)))
}

// then returns a view followed by another one.
func (v view) then(next view) view {
	return view{v.dx + next.dx, v.dy + next.dy, v.gain * next.gain}
}
