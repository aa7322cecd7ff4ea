package capture_test

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan"
)

// handheld is a second, independent generator of clips: a lamp on bright brushed
// metal with bolts and a label, filmed by hand.
type handheld struct {
	width, height int
	rate          float64 // pictures a second
	seconds       float64
	diameter      float64 // of the lamp, pixels
	contrast      float64 // of lit against dark, gray levels
	noise         float64 // deviation of each pixel in each picture, gray levels
	shake         float64 // deviation of the camera, pixels
	plain         bool    // the metal has no bolts, dents and label: nothing steep to steady by
	base          float64 // brightness of the metal, gray levels
	grain         float64 // deviation of each pixel of the metal from the next, gray levels: rough metal
	x, y          float64 // middle of the lamp, pixels
	lit           func(seconds float64) bool
	path          func(seconds float64) (dx, dy float64) // of the camera, besides the shake; nil: it stays

	random *rand.Rand
	metal  []float32 // with border pixels on each side
	noises []float32
	gray   []uint8
	n      int
	dx, dy float64
}

const border = 120

// newHandheld draws the metal and begins the clip.
func newHandheld(h handheld, random *rand.Rand) *handheld {
	h.random = random
	w, ht := h.width+2*border, h.height+2*border
	h.metal = make([]float32, w*ht)
	h.gray = make([]uint8, h.width*h.height)
	// Light falls slantwise; brushing makes streaks, long and one pixel or two high.
	for y := range ht {
		streak, ghost := 0.0, random.NormFloat64()
		for x := range w {
			streak = 0.97*streak + math.Sqrt(1-0.97*0.97)*random.NormFloat64()
			h.metal[y*w+x] = float32(h.base + 20*math.Sin(float64(x)/90+float64(y)/140) + 5*streak + 3*ghost + h.grain*random.NormFloat64())
		}
	}
	// Dents, bolts and a label with writing.
	disk := func(cx, cy, r, bright float64) {
		for y := max(int(cy-r-1), 0); y <= min(int(cy+r+1), ht-1); y++ {
			for x := max(int(cx-r-1), 0); x <= min(int(cx+r+1), w-1); x++ {
				h.metal[y*w+x] += float32(bright * min(max(r-math.Hypot(float64(x)-cx, float64(y)-cy)+0.5, 0), 1))
			}
		}
	}
	area := float64(w * ht)
	if h.plain {
		area = 0
	}
	for range int(area / 2500) {
		disk(random.Float64()*float64(w), random.Float64()*float64(ht), 2+12*random.Float64(), 18*random.NormFloat64())
	}
	for range int(area / 12000) {
		x, y := random.Float64()*float64(w), random.Float64()*float64(ht)
		disk(x, y, 6, -35)
		disk(x-1, y-1, 4, 45)
	}
	for i := range int(min(area, 30)) {
		disk(float64(w)*0.6+float64(i%10)*7, float64(ht)*0.75+float64(i/10)*9, 1+1.5*random.Float64(), -45)
	}
	h.noises = make([]float32, 3*len(h.gray))
	for i := range h.noises {
		h.noises[i] = float32(h.noise * random.NormFloat64())
	}
	return &h
}

func (h *handheld) Size() (int, int) { return h.width, h.height }

func (h *handheld) ChromaSize() (int, int) { return 0, 0 }

func (h *handheld) Length() time.Duration { return time.Duration(h.seconds * 1e9) }

func (h *handheld) Next(take func(plane movie.Plane, top int, rows []uint8)) (time.Duration, error) {
	seconds := float64(h.n) / h.rate
	if seconds >= h.seconds {
		return 0, io.EOF
	}
	h.n++
	forget := math.Exp(-5 / h.rate)
	h.dx = h.dx*forget + h.shake*math.Sqrt(1-forget*forget)*h.random.NormFloat64()
	h.dy = h.dy*forget + h.shake*math.Sqrt(1-forget*forget)*h.random.NormFloat64()
	px, py := 0.0, 0.0
	if h.path != nil {
		px, py = h.path(seconds)
	}
	bright := 0.0
	if h.lit(seconds) {
		bright = h.contrast
	}
	w := h.width + 2*border
	bx, by := min(max(h.dx+px+border, 0), 2*border-1.01), min(max(h.dy+py+border, 0), 2*border-1.01)
	fx, fy := float32(bx-math.Floor(bx)), float32(by-math.Floor(by))
	w00, w10, w01, w11 := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
	noise := h.noises[h.random.IntN(len(h.noises)-len(h.gray)):]
	lx, ly, r := h.x-(bx-border), h.y-(by-border), h.diameter/2
	for y := range h.height {
		row := h.metal[(y+int(by))*w+int(bx):]
		below := row[w:]
		for x := range h.width {
			v := w00*row[x] + w10*row[x+1] + w01*below[x] + w11*below[x+1]
			if math.Abs(float64(x)-lx) < r+1 && math.Abs(float64(y)-ly) < r+1 {
				v += float32((bright + 5) * covered(float64(x)-lx, float64(y)-ly, r))
			}
			h.gray[y*h.width+x] = uint8(min(max(v+noise[y*h.width+x]+0.5, 0), 255))
		}
	}
	for top := 0; top < h.height; top += movie.Band {
		take(movie.Luma, top, h.gray[top*h.width:min(top+movie.Band, h.height)*h.width])
	}
	return time.Duration(seconds * 1e9), nil
}

// covered is the share of a pixel that a disk of radius r covers, whose middle is the
// pixel's but for x, y: antialiased by 8 x 8 points.
func covered(x, y, r float64) float64 {
	const fine = 8
	n := 0
	for i := range fine * fine {
		px, py := x+(float64(i%fine)+0.5)/fine-0.5, y+(float64(i/fine)+0.5)/fine-0.5
		if px*px+py*py < r*r {
			n++
		}
	}
	return float64(n) / (fine * fine)
}

// shown is a frame of the code, begun anywhere, three times.
func shown(random *rand.Rand, unit time.Duration) (signal blink.Signal, lit func(float64) bool, seconds float64) {
	kinds := channelplan.PilotKinds()
	signal = blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 1 + random.IntN(158),
		Kind: kinds[random.IntN(len(kinds))]}}
	intervals, period, err := blink.Tally.Signal(signal, unit)
	if err != nil {
		panic(err)
	}
	skip := random.Float64() * period.Seconds()
	return signal, func(at float64) bool {
		at = math.Mod(at+skip, period.Seconds())
		for _, iv := range intervals {
			if at -= iv.Duration.Seconds(); at < 0 {
				return iv.Lit
			}
		}
		return false
	}, 3 * period.Seconds()
}

// outcome reads a handheld clip: right and sure (R), right and doubtful (r), doubtful
// and not right (d), sure and wrong (W), not found at all (-).
func outcome(t *testing.T, h handheld, seed uint64) byte {
	random := rand.New(rand.NewPCG(77, seed))
	signal, lit, seconds := shown(random, time.Duration(15+random.IntN(11))*10*time.Millisecond)
	h.lit, h.seconds = lit, seconds
	h.x, h.y = float64(h.width)*(0.25+0.5*random.Float64()), float64(h.height)*(0.25+0.4*random.Float64())
	c, err := capture.ReadClip(context.Background(), newHandheld(h, random), reader(), nil)
	require.NoError(t, err)
	if len(c.Lamps) == 0 {
		return '-'
	}
	l := c.Lamps[0]
	right := l.Best().Signal == signal && math.Hypot(l.X-h.x, l.Y-h.y) < 12+h.diameter
	switch {
	case right && !l.Doubtful():
		return 'R'
	case right:
		return 'r'
	case l.Doubtful():
		return 'd'
	}
	t.Logf("%+v seed %d: %v at %.0f,%.0f read as %v at %.0f,%.0f", h, seed, signal, h.x, h.y, l.Best(), l.X, l.Y)
	return 'W'
}

// Small and weak lamps on metal with bolts, and on plain metal, are found and read. A
// lamp of width w, a contrast c and a noise s show, over the n pictures of three frames,
// an energy of n pi/4 w^2 c^2 / 4 s^2 in units of the noise's density; chance, among
// 30,000 places, comes to less than 2 ln 30,000 = 21 plus a few (the tail of a normal).
// The weakest one here has some 600. The scenes are invented. The table is printed with
// -v: a letter for each clip, see outcome.
func TestSmallLamps(t *testing.T) {
	const each = 3
	type class struct {
		diameter, contrast, noise, shake float64
		plain                            bool
	}
	classes := []class{
		{2, 110, 6, 2, false}, {3, 110, 10, 2, false}, {5, 110, 6, 2, true}, {7, 90, 6, 2, true},
		{5, 110, 6, 6, false}, {13, 110, 6, 2, true},
		{2, 40, 6, 2, false}, {3, 40, 10, 2, false}, {5, 40, 10, 2, true}, {8, 40, 10, 6, true},
		{2, 15, 3, 2, false}, {3, 15, 6, 2, false}, {5, 15, 10, 2, false}, {8, 15, 6, 2, true},
	}
	rows := make([]string, len(classes))
	t.Run("clips", func(t *testing.T) {
		for k, c := range classes {
			t.Run(fmt.Sprintf("%+v", c), func(t *testing.T) {
				t.Parallel()
				for seed := range each {
					rows[k] += string(outcome(t, handheld{width: 320, height: 240, rate: 30, base: 115,
						diameter: c.diameter, contrast: c.contrast, noise: c.noise, shake: c.shake, plain: c.plain},
						uint64(seed)))
				}
				assert.NotContains(t, rows[k], "W", "sure and wrong")
				assert.GreaterOrEqual(t, strings.Count(rows[k], "R"), each-1, rows[k])
			})
		}
	})
	for k, c := range classes {
		t.Logf("%2.0f pixels, contrast %3.0f, noise %2.0f, shake %.0f, plain %-5v  %s", c.diameter, c.contrast,
			c.noise, c.shake, c.plain, rows[k])
	}
}

// A hand that wanders: across a third of the picture and back, and so far that the lamp is
// out of the picture for two seconds, which is a gap. All are read, none is wrong.
func TestWanderingHands(t *testing.T) {
	const width, height = 320, 240
	for _, c := range []struct {
		name string
		x    float64 // of the lamp
		path func(seconds, whole float64) (dx, dy float64)
	}{
		{"across a third", 200, func(seconds, whole float64) (float64, float64) {
			return width / 6 * math.Sin(2*math.Pi*seconds/whole), 0
		}},
		{"out for two seconds", 60, func(seconds, whole float64) (float64, float64) {
			// There in half a second, two seconds out, and back.
			out := seconds - whole/2
			return 100 * min(max(min(out/0.5+1, 6-out/0.5), 0), 1), 0
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for seed := range 4 {
				random := rand.New(rand.NewPCG(7, uint64(seed)))
				signal, lit, seconds := shown(random, time.Duration(17+random.IntN(7))*10*time.Millisecond)
				h := handheld{width: width, height: height, rate: 30, base: 115, diameter: 13, contrast: 110,
					noise: 4, shake: 1.5, x: c.x, y: 110, lit: lit, seconds: seconds,
					path: func(at float64) (float64, float64) { return c.path(at, seconds) }}
				clip, err := capture.ReadClip(context.Background(), newHandheld(h, random), reader(), nil)
				require.NoError(t, err)
				require.NotEmpty(t, clip.Lamps, seed)
				l := clip.Lamps[0]
				assert.Equal(t, signal, l.Best().Signal, "%d", seed)
				assert.False(t, l.Doubtful(), "%d: %v", seed, l.Best())
			}
		})
	}
}
