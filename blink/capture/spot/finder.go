package spot

import (
	"iter"
	"math"
	"runtime"
	"slices"
	"sync"
	"time"
)

// Spot is a place in the picture that switches between two levels.
type Spot struct {
	// X, Y and Size are the middle and the diameter of a disk as large as the
	// spot, in pixels of the first picture.
	X, Y, Size float64
	// Swing is by how many gray levels its middle changes, on average.
	Swing float64
	// Follow receives the spot's brightness, picture by picture, from the
	// window of time on in which it was found.
	Follow Follower

	cells   []int // of the grid
	weights []float32
	ended   bool // the camera was turned, and its place is not known any more
}

// follow has a follower take in a spot's brightness in pictures.
func (s *Spot) follow(of []still, into Follower) {
	if s.ended {
		return
	}
	for _, p := range of {
		into.Add(p.at.Seconds(), s.bright(p))
	}
}

// Follower takes a spot's brightness as it comes: in seconds since the
// movie's beginning, and in gray levels.
type Follower interface{ Add(seconds, bright float64) }

// Finder finds spots and follows them.
type Finder struct {
	width, height int
	newFollower   func() Follower
	steady        steadier
	window        []still
	bytes         int // in the window
	size          gridSize
	rolling       bool // the window is always the last of the movie, and nothing is known before it
	Spots         []*Spot
}

// gridSize is how many cells a grid has, and how many pixels wide one is.
type gridSize struct{ width, height, cell int }

// still is a steadied picture of the window: brightness of cells, times
// brightScale.
type still struct {
	at     time.Duration
	cells  []uint16
	dx, dy float32 // how far it was shifted, in cells
}

const (
	brightScale = 64
	// maxWindow and maxWindowBytes are how long pictures are kept to find
	// spots in: two frames of the code at its slowest, or as much as memory
	// should hold.
	maxWindow      = 40 * time.Second
	maxWindowBytes = 64 << 20
	// maxSpots is how many spots are followed.
	maxSpots = 24
)

// NewFinder makes a finder for a movie with pictures of a size, which is followed to
// its end. newFollower makes what takes a found spot's brightness.
func NewFinder(width, height int, newFollower func() Follower) *Finder {
	return &Finder{width: width, height: height, newFollower: newFollower}
}

// NewRolling makes a finder for pictures without end, which only knows the last half
// minute and more of them, and is to be asked by [Finder.Look].
func NewRolling(width, height int, newFollower func() Follower) *Finder {
	return &Finder{width: width, height: height, newFollower: newFollower, rolling: true}
}

// Averaged is a picture averaged to a grid.
type Averaged struct {
	grid  *grid
	width int
}

// NewAveraged makes an empty picture for [Averaged.Take] to fill. It may run
// ahead of [Finder.Add] in a goroutine of its own.
func (f *Finder) NewAveraged() *Averaged {
	return &Averaged{newGrid(f.width, f.height), f.width}
}

// Take takes rows of the picture, from the row top on, in bands of 64.
func (a *Averaged) Take(top int, rows []uint8) { a.grid.fill(top, rows, a.width) }

// Add takes the next picture, and the time until which it is shown.
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
	f.bytes += 2 * len(cells)
	// A picture shown for long, as in a GIF, counts for all that time, in so
	// many samples at most.
	for t := range samples(at, until) {
		f.window = append(f.window, still{t, cells, v.dx, v.dy})
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
			f.bytes -= 2 * len(p.cells)
		}
	}
	f.window = append([]still(nil), f.window[n:]...)
}

// Look returns the spots known by now, as if the movie ended here, with followers of
// their own that have taken in the brightness of the last pictures, up to those that
// are kept. The finder goes on as if nobody had looked.
func (f *Finder) Look() []*Spot {
	if len(f.window) == 0 {
		return f.Spots
	}
	all := slices.Clone(f.Spots)
	for _, s := range f.search(f.some()) {
		if len(all) < maxSpots && !known(all, s) {
			all = append(all, s)
		}
	}
	for i, s := range all {
		now := *s
		now.Follow = f.newFollower()
		s.follow(f.window, now.Follow)
		all[i] = &now
	}
	return all
}

// some are pictures of the window at even distances: so many tell as well as all.
func (f *Finder) some() []still {
	var some []still
	for i := 0; i < len(f.window); i += len(f.window)/looked + 1 {
		some = append(some, f.window[i])
	}
	return some
}

// longestStep is how long a picture counts as one sample, and mostSamples as
// how many it counts at most.
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

// Finish ends the movie: what has come is looked through.
func (f *Finder) Finish() {
	if len(f.window) > 0 {
		f.endWindow()
	}
}

// endWindow looks for spots in the window, has all that are known take in
// their brightness in it, and begins a new one.
func (f *Finder) endWindow() {
	for _, s := range f.search(f.window) {
		if len(f.Spots) < maxSpots && !known(f.Spots, s) {
			s.Follow = f.newFollower()
			f.Spots = append(f.Spots, s)
		}
	}
	for _, s := range f.Spots {
		s.follow(f.window, s.Follow)
	}
	f.window, f.bytes = nil, 0
}

// known reports whether a spot lies on one of others.
func known(others []*Spot, s *Spot) bool {
	for _, other := range others {
		if !other.ended && math.Hypot(s.X-other.X, s.Y-other.Y) < max(s.Size, other.Size)/2+4 {
			return true
		}
	}
	return false
}

// bright is a spot's brightness in gray levels: the mean of its cells, each
// weighed by how much it changes.
func (s *Spot) bright(p still) float64 {
	sum := float32(0)
	for i, c := range s.cells {
		sum += s.weights[i] * float32(p.cells[c])
	}
	return float64(sum) / brightScale
}

const (
	// bimodal is from where Sarle's coefficient, (skewness² + 1) / kurtosis,
	// speaks for two levels: 1 for two points, 0.56 for all levels alike, 0.33
	// for a normal (SAS/STAT User's Guide, the CLUSTER procedure).
	bimodal = 0.4
	// leastSwing is the least change that is looked at, in gray levels.
	leastSwing = 1.0
	// alike is from which correlation on a cell goes along with a spot, and
	// same from which two spots are one light, or its mirror image.
	alike = 0.6
	same  = 0.85
	// looked is how many pictures of a window are looked at to tell which
	// cells go along, and tried how many spots are tried in a window.
	looked = 400
	tried  = 40
)

// search finds the spots that pictures show, the most promising first.
func (f *Finder) search(of []still) []*Spot {
	scores := f.scores(of)
	order := make([]int, 0, len(scores))
	for i, s := range scores {
		if s > 0 {
			order = append(order, i)
		}
	}
	slices.SortFunc(order, func(a, b int) int {
		switch {
		case scores[a] > scores[b]:
			return -1
		case scores[a] < scores[b]:
			return 1
		}
		return a - b
	})
	some := f.some()
	claimed := make([]bool, len(scores))
	var spots []*Spot
	var series [][]float32
	tries := 0
	for _, seed := range order {
		if claimed[seed] {
			continue
		}
		if tries++; tries > tried || len(spots) == maxSpots {
			break
		}
		wave := centered(some, seed)
		s := grow(f.size, some, seed, wave, claimed)
		// A light and what it lights up are one spot, where it is brightest.
		if !slices.ContainsFunc(series, func(other []float32) bool {
			return math.Abs(float64(correlation(wave, other))) > same
		}) {
			spots, series = append(spots, s), append(series, wave)
		}
	}
	return spots
}

// scores returns, by cell, how much it is like two levels: the deviation of
// its brightness, as far as it is bimodal.
func (f *Finder) scores(of []still) []float64 {
	type moments struct{ sum, sum2, sum3, sum4 float64 }
	n := float64(len(of))
	first := of[0].cells
	all := make([]moments, len(first))
	var wait sync.WaitGroup
	parts := runtime.GOMAXPROCS(0)
	for part := range parts {
		from, to := part*len(all)/parts, (part+1)*len(all)/parts
		wait.Go(func() {
			all, first := all[from:to], first[from:to]
			for _, p := range of {
				for i, v := range p.cells[from:to] {
					x := float64(int(v)-int(first[i])) / brightScale
					m := &all[i]
					xx := x * x
					m.sum += x
					m.sum2 += xx
					m.sum3 += xx * x
					m.sum4 += xx * xx
				}
			}
		})
	}
	wait.Wait()
	scores := make([]float64, len(all))
	inside := f.inside(of)
	for i, m := range all {
		if !inside(i) {
			continue
		}
		mean := m.sum / n
		variance := m.sum2/n - mean*mean
		if variance < leastSwing*leastSwing/16 {
			continue
		}
		third := m.sum3/n - 3*mean*m.sum2/n + 2*mean*mean*mean
		fourth := m.sum4/n - 4*mean*m.sum3/n + 6*mean*mean*m.sum2/n - 3*mean*mean*mean*mean
		skew2 := third * third / (variance * variance * variance)
		sarle := (skew2 + 1) / (fourth / (variance * variance))
		if sarle > bimodal {
			scores[i] = math.Sqrt(variance) * (sarle - bimodal) / (1 - bimodal)
		}
	}
	return scores
}

// inside returns what reports whether a cell was within all of some pictures.
func (f *Finder) inside(of []still) func(cell int) bool {
	var left, right, up, down float32 // how far they are shifted
	for _, p := range of {
		left, right, up, down = max(left, -p.dx), max(right, p.dx), max(up, -p.dy), max(down, p.dy)
	}
	g := f.size
	return func(cell int) bool {
		x, y := float32(cell%g.width), float32(cell/g.width)
		return x >= left && x+right <= float32(g.width-1) && y >= up && y+down <= float32(g.height-1)
	}
}

// centered returns a cell's brightness less its mean.
func centered(some []still, cell int) []float32 {
	wave := make([]float32, len(some))
	sum := float32(0)
	for i, p := range some {
		wave[i] = float32(p.cells[cell])
		sum += wave[i]
	}
	for i := range wave {
		wave[i] -= sum / float32(len(wave))
	}
	return wave
}

// correlation is that of two centered waves.
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

// grow makes a spot of a cell and all connected ones that go along with it.
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
		own := centered(some, cell)
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
				if claimed[next] || correlation(centered(some, next), wave) < alike {
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
