package spot

import (
	"cmp"
	"iter"
	"math"
	"runtime"
	"slices"
	"sync"
	"time"
)

// Spot is a place in the picture that switches between two levels.
type Spot struct {
	// X, Y and Size are the middle and the diameter of a disk as large as the spot, in
	// pixels of the first picture.
	X, Y, Size float64
	// Swing is how many gray levels its middle changes by, on average.
	Swing float64
	// Follow receives the spot's brightness, picture by picture, beginning with the window
	// of time in which the spot was found.
	Follow Follower

	plane   int      // the plane in which it is clearest
	size    gridSize // of that plane's grid
	cells   []int    // of that grid
	weights []float32
	wave    []float32 // its brightness in the pictures that were searched, less the mean
	clear   float64   // see [Spot.clarity]
	ended   bool      // the camera was turned, and its place is not known any more
}

// follow has a follower take in a spot's brightness in pictures.
func (s *Spot) follow(of []shown, into Follower) {
	if s.ended {
		return
	}
	for _, p := range of {
		if p := p.plane(s.plane); p.cells != nil && s.in(p) {
			into.Add(p.at.Seconds(), s.bright(p))
		}
	}
}

// in reports whether a picture shows all of a spot.
func (s *Spot) in(p still) bool {
	inside := p.inside(s.size)
	return !slices.ContainsFunc(s.cells, func(cell int) bool { return !inside.has(cell, s.size.width) })
}

// Follower takes a spot's brightness as it comes, in gray levels, with the time in
// seconds since the beginning of the movie.
type Follower interface{ Add(seconds, bright float64) }

// Finder finds spots and follows them.
type Finder struct {
	width, height int
	chromaWidth   int // of a color difference plane, in samples; 0 if there is none
	chromaHeight  int
	newFollower   func() Follower
	steady        steadier
	window        []shown
	bytes         int // in the window
	size          gridSize
	rolling       bool // the window always holds the latest pictures, and nothing older is known
	Spots         []*Spot
}

// gridSize is how many cells a grid has, and how many pixels wide a cell is.
type gridSize struct{ width, height, cell int }

// still is a stabilized picture of the window: the brightness of cells, times
// brightScale.
type still struct {
	at       time.Duration
	cells    []uint16
	dx, dy   float32 // how far it was shifted, in cells; of several pictures, the smallest shift
	dx2, dy2 float32 // the largest shift, if this is the mean of several pictures
}

// shown is a picture of the window: its brightness and, if it has color, its color
// differences. A cell of these is as large as two by two of the others.
type shown struct {
	still
	chroma [2][]uint16
}

// planes is how many planes a picture in color has: brightness is plane 0.
const planes = 3

// bytes returns how much memory a picture takes.
func (p shown) bytes() int { return 2 * (len(p.cells) + len(p.chroma[0]) + len(p.chroma[1])) }

// plane returns one plane of a picture. It has no cells if the picture has no color.
func (p shown) plane(n int) still {
	if n == 0 {
		return p.still
	}
	return still{p.at, p.chroma[n-1], p.dx / 2, p.dy / 2, p.dx2 / 2, p.dy2 / 2}
}

// neutral is a color difference of gray.
const neutral = 128 * brightScale

const (
	brightScale = 64
	// maxWindow and maxWindowBytes limit the pictures that are kept to find spots in: two
	// frames of the code at its slowest, or as much as should be in memory.
	maxWindow      = 40 * time.Second
	maxWindowBytes = 96 << 20
	// maxSpots is the most spots that are followed, and colorSpots how many of them are
	// kept for those that stand out by their color: what moves in a colorful view must
	// not crowd out the brightest.
	maxSpots   = 36
	colorSpots = 12
)

// NewFinder makes a finder for a movie with pictures of a size, to be followed to its
// end. newFollower makes the follower that takes a new spot's brightness.
func NewFinder(width, height int, newFollower func() Follower) *Finder {
	return &Finder{width: width, height: height, newFollower: newFollower}
}

// NewRolling makes a finder for an endless sequence of pictures. It only knows the last
// half minute or so of them. Use [Finder.Look] to get its spots.
func NewRolling(width, height int, newFollower func() Follower) *Finder {
	return &Finder{width: width, height: height, newFollower: newFollower, rolling: true}
}

// Color tells the finder that pictures have color differences, in planes of a size in
// samples: each as large as the picture, or half as large. A lamp whose brightness hardly
// changes may change its color. Call it before anything else.
func (f *Finder) Color(width, height int) { f.chromaWidth, f.chromaHeight = width, height }

// Averaged is a picture averaged to a grid.
type Averaged struct {
	grid        *grid
	chroma      [2]*grid // nil if there are no color differences
	has         [2]bool  // there are some in this picture
	width       int
	chromaWidth int
}

// NewAveraged makes an empty picture for [Averaged.Take] to fill. That may run ahead of
// [Finder.Add] in its own goroutine.
func (f *Finder) NewAveraged() *Averaged {
	a := &Averaged{grid: newGrid(f.width, f.height), width: f.width, chromaWidth: f.chromaWidth}
	for i := range a.chroma {
		a.chroma[i] = a.grid.newChroma(f.chromaWidth, f.chromaHeight, f.width, f.height)
	}
	return a
}

// Take takes rows of a plane of the picture, beginning at row top, in bands of 64. Plane
// 0 is brightness, and comes first; 1 and 2 are the color differences.
func (a *Averaged) Take(plane, top int, rows []uint8) {
	switch {
	case plane == 0:
		a.has = [2]bool{}
		a.grid.fill(top, rows, a.width)
	case a.chroma[plane-1] != nil:
		a.has[plane-1] = true
		a.chroma[plane-1].fill(top, rows, a.chromaWidth)
	}
}

// Add takes the next picture, with its time and the time until which it is shown.
func (f *Finder) Add(at, until time.Duration, picture *Averaged) {
	g := picture.grid
	f.size = gridSize{g.width, g.height, g.cell}
	era := f.steady.era
	v, ok := f.steady.see(g)
	if f.steady.era != era {
		f.endEra()
	}
	if !ok {
		return // nobody knows what it shows at which place: a gap
	}
	cells := make([]uint16, len(g.bright))
	g.shifted(v.dx, v.dy, brightScale/v.gain, cells)
	now := shown{still: still{at, cells, v.dx, v.dy, v.dx, v.dy}}
	for i, c := range picture.chroma {
		if picture.has[i] {
			now.chroma[i] = make([]uint16, len(c.bright))
			c.shifted(v.dx/2, v.dy/2, brightScale, now.chroma[i])
		}
	}
	f.bytes += now.bytes()
	// A picture shown for a long time, as in a GIF, counts for all that time, but as a
	// limited number of samples.
	for t := range samples(at, until) {
		now.at = t
		f.window = append(f.window, now)
	}
	switch full := f.bytes > maxWindowBytes || at-f.window[0].at > maxWindow; {
	case full && f.rolling:
		f.forget()
	case full:
		f.endWindow()
	}
}

// endEra ends all spots: where they are in the pictures to come is not known.
func (f *Finder) endEra() {
	if !f.rolling {
		f.Finish()
	}
	for _, s := range f.Spots {
		s.ended = true
	}
	f.window, f.bytes = nil, 0
}

// forget drops the oldest quarter of the window.
func (f *Finder) forget() {
	const share = 4
	n := len(f.window)/share + 1
	for i, p := range f.window[:n] {
		if i == 0 || &p.cells[0] != &f.window[i-1].cells[0] {
			f.bytes -= p.bytes()
		}
	}
	f.window = slices.Clone(f.window[n:])
}

// Look returns the spots known so far, as if the movie ended here. They have their own
// followers, which have taken in the brightness of the latest pictures, as many as are
// kept. The finder continues as if Look had not been called.
func (f *Finder) Look() []*Spot {
	if len(f.window) == 0 {
		return f.Spots
	}
	all := f.withNew(slices.Clone(f.Spots))
	for i, s := range all {
		now := *s
		now.Follow = f.newFollower()
		s.follow(f.window, now.Follow)
		all[i] = &now
	}
	return all
}

// some returns the pictures of the window, plane by plane, averaged over blurred, or over
// longer if that would leave more than looked: a mean of several shows more than one of
// them. Color differences are empty unless all pictures have them.
func (f *Finder) some() (some [planes][]still) {
	f.fillGray()
	n := len(f.window)
	step := max((f.window[n-1].at-f.window[0].at)/time.Duration(max(n-1, 1)), 1)
	each := max(int(blurred/step), (n+looked-1)/looked, 1)
	each = min(each, max(n/fewest, 1))
	for plane := range some {
		if !slices.ContainsFunc(f.window, func(p shown) bool { return p.plane(plane).cells == nil }) {
			some[plane] = averaged(f.window, plane, each)
		}
	}
	return some
}

// fillGray gives pictures without color the color differences of gray, if others of the
// window have color: a GIF has none until its first colored picture.
func (f *Finder) fillGray() {
	for i := range f.window[0].chroma {
		var gray []uint16
		if !slices.ContainsFunc(f.window, func(p shown) bool { return p.chroma[i] != nil }) {
			continue
		}
		for k := range f.window {
			if p := &f.window[k]; p.chroma[i] == nil {
				if gray == nil {
					gray = slices.Repeat([]uint16{neutral}, (f.size.width/2)*(f.size.height/2))
				}
				p.chroma[i] = gray
				f.bytes += 2 * len(gray)
			}
		}
	}
}

// averaged returns the means of so many pictures each, of one plane.
func averaged(window []shown, plane, each int) []still {
	var some []still
	sums := make([]uint32, len(window[0].plane(plane).cells))
	for of := range slices.Chunk(window, each) {
		s := of[0].plane(plane)
		if each > 1 {
			clear(sums)
			for _, p := range of {
				p := p.plane(plane)
				for i, v := range p.cells {
					sums[i] += uint32(v)
				}
				s.dx, s.dx2, s.dy, s.dy2 = min(s.dx, p.dx), max(s.dx2, p.dx), min(s.dy, p.dy), max(s.dy2, p.dy)
			}
			s.cells = make([]uint16, len(sums))
			for i, v := range sums {
				s.cells[i] = uint16(v / uint32(len(of)))
			}
		}
		some = append(some, s)
	}
	return some
}

// halved returns pictures with half as many cells each way.
func halved(g gridSize, some []still) (gridSize, []still) {
	half := gridSize{g.width / 2, g.height / 2, 2 * g.cell}
	out := make([]still, len(some))
	for n, p := range some {
		cells := make([]uint16, half.width*half.height)
		for y := range half.height {
			upper, lower := p.cells[2*y*g.width:][:g.width], p.cells[(2*y+1)*g.width:][:g.width]
			row := cells[y*half.width:][:half.width]
			for x := range row {
				above, below := uint32(upper[2*x])+uint32(upper[2*x+1]), uint32(lower[2*x])+uint32(lower[2*x+1])
				row[x] = uint16((above + below) / 4)
			}
		}
		out[n] = still{p.at, cells, p.dx / 2, p.dy / 2, p.dx2 / 2, p.dy2 / 2}
	}
	return half, out
}

// longestStep is the longest time for which a picture counts as one sample, and
// mostSamples is the most samples that it counts as.
const (
	longestStep = 40 * time.Millisecond
	mostSamples = 1000
)

// samples are the times at which a picture shown from at until then counts as one
// sample each. They are spread evenly over that time: a last one close to the
// next picture would be averaged with it.
func samples(at, until time.Duration) iter.Seq[time.Duration] {
	n := min(max((until-at+longestStep-1)/longestStep, 1), mostSamples)
	return func(yield func(time.Duration) bool) {
		for i := range n {
			if !yield(at + (until-at)*i/n) {
				return
			}
		}
	}
}

// Finish ends the movie and searches the pictures that have come.
func (f *Finder) Finish() {
	if len(f.window) > 0 {
		f.endWindow()
	}
}

// endWindow looks for spots in the window, gives all known spots their brightness in
// it, and begins a new window.
func (f *Finder) endWindow() {
	f.Spots = f.withNew(f.Spots)
	for _, s := range f.Spots {
		if s.Follow == nil {
			s.Follow = f.newFollower()
		}
		s.follow(f.window, s.Follow)
	}
	f.window, f.bytes = nil, 0
}

// withNew searches the window and adds the spots that are new, without a follower.
func (f *Finder) withNew(spots []*Spot) []*Spot {
	for _, s := range f.search() {
		if active(spots) < maxSpots && !known(spots, s) {
			spots = append(spots, s)
		}
	}
	return spots
}

// active counts the spots that are still followed.
func active(spots []*Spot) int {
	n := 0
	for _, s := range spots {
		if !s.ended {
			n++
		}
	}
	return n
}

// known reports whether a spot lies on one of the others.
func known(others []*Spot, s *Spot) bool {
	for _, other := range others {
		if !other.ended && math.Hypot(s.X-other.X, s.Y-other.Y) < max(s.Size, other.Size)/2+4 {
			return true
		}
	}
	return false
}

// bright is a spot's brightness in gray levels: the mean of its cells, weighted by how
// much each one changes.
func (s *Spot) bright(p still) float64 {
	sum := float32(0)
	for i, c := range s.cells {
		sum += s.weights[i] * float32(p.cells[c])
	}
	return float64(sum) / brightScale
}

const (
	// bimodal is the value of Sarle's coefficient, (skewness² + 1) / kurtosis, above which
	// it indicates two levels: it is 1 for two points, 0.56 for a uniform distribution and
	// 0.33 for a normal (SAS/STAT User's Guide, the CLUSTER procedure).
	bimodal = 0.4
	// leastSwing is the smallest change that is considered, in gray levels.
	leastSwing = 1.0
	// alike is the correlation above which a cell belongs to a spot, and same is the
	// correlation above which two spots are one light, or its mirror image.
	alike = 0.6
	same  = 0.85
	// looked is how many pictures of a window are used to find which cells belong to a
	// spot, and tried is how many spots are tried in a window.
	looked = 400
	// seen is the share of the pictures that must show a cell: a hand may lose a lamp for
	// some seconds, a few times. What leaves more often than fewLosses is at the edge, where
	// the shaking of the hand alone makes things come and go.
	seen      = 0.6
	fewLosses = 3
	tried     = 40 // in brightness, and again in color
	// blurred is the time over which pictures are averaged before the search, no longer
	// than the shortest mark; fewest is how many pictures it must leave.
	blurred = 100 * time.Millisecond
	fewest  = 100
	// scales is how many cell sizes are searched, each twice as wide as the one before:
	// one of them fits the light and the shake that stabilizing leaves.
	scales = 4
	// finer is how many times clearer a light must be in larger cells for these to be
	// used.
	finer = 1.25
)

// scale holds the pictures of one plane at one cell size.
type scale struct {
	gridSize
	plane   int
	side    int // of a cell, in cells of the plane's finest scale
	wide    int // of a cell, in cells of the finest scale of brightness
	some    []still
	scores  []float64
	claimed []bool
}

// scalesOf returns all scales of all planes, the finest of each plane first.
func (f *Finder) scalesOf(some [planes][]still) []scale {
	var all []scale
	for plane, some := range some {
		if some == nil {
			continue
		}
		size, wide := f.size, 1
		if plane > 0 {
			size, wide = gridSize{f.size.width / 2, f.size.height / 2, 2 * f.size.cell}, 2
		}
		for n := range scales {
			if n > 0 {
				if size.width < leastSide || size.height < leastSide {
					break
				}
				size, some = halved(size, some)
			}
			all = append(all, scale{size, plane, 1 << n, wide << n, some, scores(size, some),
				make([]bool, size.width*size.height)})
		}
	}
	return all
}

// seed is a cell of a scale that may be in a spot.
type seed struct {
	scale, cell int
	score       float64
}

// seedsOf returns the cells of scales that look like two levels, those with the highest
// scores first.
func seedsOf(scales []scale) []seed {
	var seeds []seed
	for n, s := range scales {
		for i, score := range s.scores {
			if score > 0 {
				seeds = append(seeds, seed{n, i, score * float64(s.side)})
			}
		}
	}
	slices.SortStableFunc(seeds, func(a, b seed) int { return cmp.Compare(b.score, a.score) })
	return seeds
}

// search finds the spots in the window, the most promising first. It looks at cells of
// several sizes and orders them by how far their swing exceeds the noise: a larger cell
// averages out more of it. It looks at brightness first and then at color, which counts
// where it is clearer.
func (f *Finder) search() []*Spot {
	some := f.some()
	all := f.scalesOf(some)
	isColor := func(s scale) bool { return s.plane > 0 }
	first := slices.IndexFunc(all, isColor)
	if first < 0 {
		first = len(all)
	}
	spots := f.searchIn(nil, maxSpots-colorSpots, all[:first], some)
	return f.searchIn(spots, maxSpots, all[first:], some)
}

// searchIn adds the spots that some scales show, up to most.
func (f *Finder) searchIn(spots []*Spot, most int, scales []scale, some [planes][]still) []*Spot {
	tries := 0
	for _, from := range seedsOf(scales) {
		of := scales[from.scale]
		if of.claimed[from.cell] {
			continue
		}
		if tries++; tries > tried || len(spots) == most {
			break
		}
		s := f.clearest(scales, some, from.cell%of.width*of.wide, from.cell/of.width*of.wide, of.wide)
		if s == nil {
			continue
		}
		s.claim(scales, f.size.width)
		// A light and what it lights up are one spot, at its brightest place.
		i := slices.IndexFunc(spots, func(other *Spot) bool {
			return known([]*Spot{other}, s) || math.Abs(float64(correlation(s.wave, other.wave))) > same
		})
		switch {
		case i < 0:
			spots = append(spots, s)
		case s.plane > 0 && spots[i].plane == 0 && s.clear > finer*spots[i].clear:
			spots[i] = s
		}
	}
	return spots
}

// clearest grows a spot at a square of cells of the finest scale, at each of some scales,
// and returns the clearest one, or nil.
func (f *Finder) clearest(scales []scale, some [planes][]still, x, y, span int) *Spot {
	var s *Spot
	for _, at := range scales {
		cell := y/at.wide*at.width + x/at.wide
		if at.wide < span {
			cell = strongest(at, x, y, span)
		}
		if x/at.wide >= at.width || y/at.wide >= at.height || cell < 0 || at.claimed[cell] || at.scores[cell] == 0 {
			continue
		}
		wave := centered(at.gridSize, at.some, cell)
		grown := grow(at.gridSize, at.some, cell, wave, at.claimed)
		grown.plane, grown.wave = at.plane, wave
		grown.size = gridSize{f.size.width / (at.wide / at.side), f.size.height / (at.wide / at.side), 0}
		grown.spread(grown.size.width, at)
		grown.clear = grown.clarity(some[at.plane])
		if s == nil && grown.clear > 0 || s != nil && grown.clear > finer*s.clear {
			s = grown
		}
	}
	if s != nil && s.plane > 0 {
		s.orient(f.size, some)
	}
	return s
}

// orient makes a spot that was found by its color go up where the lamp is lit: where the
// same place is brighter or, if its brightness does not go along, more colorful.
func (s *Spot) orient(size gridSize, some [planes][]still) {
	series := make([]float32, len(some[0]))
	for i, p := range some[0] {
		if !s.in(some[s.plane][i]) {
			continue
		}
		for _, c := range s.cells {
			x, y := c%(size.width/2)*2, c/(size.width/2)*2
			series[i] += float32(p.cells[y*size.width+x])
		}
	}
	mean, n := float32(0), float32(0)
	for i, v := range series {
		if s.in(some[s.plane][i]) {
			mean += v
			n++
		}
	}
	for i := range series {
		if s.in(some[s.plane][i]) {
			series[i] -= mean / n
		}
	}
	const goesAlong = 0.3
	up := correlation(series, s.wave)
	if math.Abs(float64(up)) < goesAlong {
		level := 0.0
		for _, p := range some[s.plane] {
			if s.in(p) {
				level += s.bright(p) / float64(n)
			}
		}
		up = float32(level - neutral/brightScale*s.gain())
	}
	if up < 0 {
		for i := range s.weights {
			s.weights[i] = -s.weights[i]
		}
	}
}

// gain returns the sum of a spot's weights: what an even brightness of 1 comes to.
func (s *Spot) gain() float64 {
	sum := 0.0
	for _, w := range s.weights {
		sum += float64(w)
	}
	return sum
}

// claim marks a spot's cells at all scales. Width is that of the finest one.
func (s *Spot) claim(all []scale, width int) {
	wide := 1
	if s.plane > 0 {
		wide, width = 2, width/2
	}
	for _, other := range all {
		for _, cell := range s.cells {
			for d := range wide * wide {
				x, y := (cell%width*wide+d%wide)/other.wide, (cell/width*wide+d/wide)/other.wide
				if x < other.width && y < other.height {
					other.claimed[y*other.width+x] = true
				}
			}
		}
	}
}

// strongest returns the cell of a scale with the highest score in a square of cells of
// the finest scale, or -1.
func strongest(of scale, left, top, side int) int {
	best, most := -1, 0.0
	for y := top / of.wide; y < min((top+side)/of.wide, of.height); y++ {
		for x := left / of.wide; x < min((left+side)/of.wide, of.width); x++ {
			if i := y*of.width + x; of.scores[i] > most && !of.claimed[i] {
				best, most = i, of.scores[i]
			}
		}
	}
	return best
}

// clarity returns the distance between a spot's two levels, in deviations of brightness
// from the nearer level (two means, Lloyd 1957).
func (s *Spot) clarity(some []still) float64 {
	var series []float64
	for _, p := range some {
		if s.in(p) {
			series = append(series, s.bright(p))
		}
	}
	if len(series) == 0 {
		return 0
	}
	half := (slices.Min(series) + slices.Max(series)) / 2
	for range 10 {
		var n, sum, squares [2]float64
		for _, v := range series {
			side := 0
			if v > half {
				side = 1
			}
			n[side]++
			sum[side] += v
			squares[side] += v * v
		}
		if n[0] == 0 || n[1] == 0 {
			return 0
		}
		dark, lit := sum[0]/n[0], sum[1]/n[1]
		within := (squares[0] - n[0]*dark*dark + squares[1] - n[1]*lit*lit) / (n[0] + n[1])
		if next := (dark + lit) / 2; math.Abs(next-half) > 0.001*(lit-dark) {
			half = next
			continue
		}
		return (lit - dark) / math.Sqrt(max(within, 1e-4))
	}
	return 0
}

// spread converts a spot of larger cells to cells of its plane's finest grid, of a width
// in cells.
func (s *Spot) spread(width int, of scale) {
	if of.side == 1 {
		return
	}
	cells, weights := s.cells, s.weights
	s.cells, s.weights = nil, nil
	for i, cell := range cells {
		left, top := cell%of.width*of.side, cell/of.width*of.side
		for y := top; y < top+of.side; y++ {
			for x := left; x < left+of.side; x++ {
				s.cells = append(s.cells, y*width+x)
				s.weights = append(s.weights, weights[i]/float32(of.side*of.side))
			}
		}
	}
}

// scores returns, by cell, how much its brightness looks like two levels: its
// deviation, to the extent that it is bimodal.
func scores(g gridSize, of []still) []float64 {
	type moments struct{ n, sum, sum2, sum3, sum4 float64 }
	first := of[0].cells
	all := make([]moments, len(first))
	var wait sync.WaitGroup
	parts := runtime.GOMAXPROCS(0)
	for part := range parts {
		top, bottom := part*g.height/parts, (part+1)*g.height/parts
		wait.Go(func() {
			for _, p := range of {
				in := p.inside(g)
				for y := max(in.top, top); y < min(in.bottom, bottom); y++ {
					from, to := y*g.width+in.left, y*g.width+in.right
					if from >= to {
						break
					}
					row, first := all[from:to], first[from:to]
					for i, v := range p.cells[from:to] {
						x := float64(int(v)-int(first[i])) / brightScale
						m := &row[i]
						xx := x * x
						m.n++
						m.sum += x
						m.sum2 += xx
						m.sum3 += xx * x
						m.sum4 += xx * xx
					}
				}
			}
		})
	}
	wait.Wait()
	scores := make([]float64, len(all))
	for i, m := range all {
		if m.n < seen*float64(len(of)) || m.n < float64(len(of)) && losses(g, of, i) > fewLosses {
			continue
		}
		mean := m.sum / m.n
		variance := m.sum2/m.n - mean*mean
		if variance < leastSwing*leastSwing/16 {
			continue
		}
		third := m.sum3/m.n - 3*mean*m.sum2/m.n + 2*mean*mean*mean
		fourth := m.sum4/m.n - 4*mean*m.sum3/m.n + 6*mean*mean*m.sum2/m.n - 3*mean*mean*mean*mean
		skew2 := third * third / (variance * variance * variance)
		sarle := (skew2 + 1) / (fourth / (variance * variance))
		if sarle > bimodal {
			scores[i] = math.Sqrt(variance) * (sarle - bimodal) / (1 - bimodal)
		}
	}
	return scores
}

// losses counts how often a cell leaves the pictures.
func losses(g gridSize, of []still, cell int) int {
	n, was := 0, true
	for _, p := range of {
		is := p.inside(g).has(cell, g.width)
		if was && !is {
			n++
		}
		was = is
	}
	return n
}

// rect is a part of a grid, from its left and top cells up to, not including, its right
// and bottom ones.
type rect struct{ left, top, right, bottom int }

// inside returns the cells that a picture shows. It shows nothing of the others: the hand
// has moved away from them.
func (p still) inside(g gridSize) rect {
	lowest := func(d float32) int { return max(int(math.Ceil(float64(-d))), 0) }
	end := func(d float32, n int) int { return min(int(math.Floor(float64(n-1)-float64(d))), n-1) + 1 }
	return rect{lowest(p.dx), lowest(p.dy), end(p.dx2, g.width), end(p.dy2, g.height)}
}

func (r rect) has(cell, width int) bool {
	x, y := cell%width, cell/width
	return x >= r.left && x < r.right && y >= r.top && y < r.bottom
}

// centered returns a cell's brightness less its mean, and 0 where it is not inside.
func centered(g gridSize, some []still, cell int) []float32 {
	wave := make([]float32, len(some))
	sum, n := float32(0), float32(0)
	outside := make([]bool, len(some))
	for i, p := range some {
		if outside[i] = !p.inside(g).has(cell, g.width); !outside[i] {
			wave[i] = float32(p.cells[cell])
			sum += wave[i]
			n++
		}
	}
	for i := range wave {
		if !outside[i] {
			wave[i] -= sum / n
		}
	}
	return wave
}

// correlation returns the correlation of two centered waves.
func correlation(a, b []float32) float32 {
	var ab, aa, bb float32
	for i := range a {
		ab += a[i] * b[i]
		aa += a[i] * a[i]
		bb += b[i] * b[i]
	}
	if aa == 0 || bb == 0 {
		return 0
	}
	return ab / float32(math.Sqrt(float64(aa)*float64(bb)))
}

// grow makes a spot of a cell and all connected cells that follow it.
func grow(g gridSize, some []still, seed int, wave []float32, claimed []bool) *Spot {
	s := &Spot{}
	power := float32(0)
	for _, v := range wave {
		power += v * v
	}
	claimed[seed] = true
	queue := []int{seed}
	total, x, y := 0.0, 0.0, 0.0
	for len(queue) > 0 {
		cell := queue[0]
		queue = queue[1:]
		own := centered(g, some, cell)
		ab := float32(0)
		for i := range own {
			ab += own[i] * wave[i]
		}
		slope := ab / power
		s.cells, s.weights = append(s.cells, cell), append(s.weights, slope)
		cx, cy := cell%g.width, cell/g.width
		total += float64(slope)
		x += float64(slope) * (float64(cx) + 0.5)
		y += float64(slope) * (float64(cy) + 0.5)
		for ny := max(cy-1, 0); ny <= min(cy+1, g.height-1); ny++ {
			for nx := max(cx-1, 0); nx <= min(cx+1, g.width-1); nx++ {
				next := ny*g.width + nx
				if claimed[next] || correlation(centered(g, some, next), wave) < alike {
					continue
				}
				claimed[next] = true
				queue = append(queue, next)
			}
		}
	}
	weight := float32(0)
	for _, w := range s.weights {
		weight += w * w
	}
	for i := range s.weights {
		s.weights[i] /= weight
	}
	cell := float64(g.cell)
	s.X, s.Y = x/total*cell, y/total*cell
	s.Size = 2 * math.Sqrt(float64(len(s.cells))/math.Pi) * cell
	s.Swing = 2 * math.Sqrt(float64(power)/float64(len(wave))) / brightScale
	return s
}
