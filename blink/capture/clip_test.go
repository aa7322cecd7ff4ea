package capture_test

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/gif"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/blink/picture"
	"tallywink.example/channelplan"
)

// view is how lamps are filmed, by hand, outdoors. It shares nothing with the finder.
// All of it is invented, and none of it is made to suit the finder.
type view struct {
	width, height int
	rate          float64 // pictures a second
	seconds       float64
	lamps         []filmed
	noise         float64 // deviation of each pixel, gray levels
	shake         float64 // deviation of the camera, pixels
	pan           float64 // pixels a second that the camera drifts
	leaves        int     // number of leaves moving in front of the background
	glare         bool    // a bright reflection that drifts through
	exposure      float64 // how strongly the gain answers the mean brightness
	texture       float64 // contrast of the background, gray levels
	uneven        float64 // share of a step by which times vary
}

// filmed is a lamp in view.
type filmed struct {
	x, y, diameter float64
	lit, dark      float64 // gray levels added to the background
	intervals      []blink.Interval
	period         time.Duration
	skip           time.Duration // of the period, before the clip begins
}

func lampOf(s blink.Signal, unit time.Duration, x, y, diameter float64, random *rand.Rand) filmed {
	intervals, period, err := blink.Tally.Signal(s, unit)
	if err != nil {
		panic(err)
	}
	return filmed{x: x, y: y, diameter: diameter, lit: 110, dark: 10, intervals: intervals, period: period,
		skip: time.Duration(random.Float64() * float64(period))}
}

func (l filmed) litAt(at time.Duration) bool {
	at = (at + l.skip) % l.period
	for _, iv := range l.intervals {
		if at < iv.Duration {
			return iv.Lit
		}
		at -= iv.Duration
	}
	return false
}

// film is a view as a movie.
type film struct {
	view
	random     *rand.Rand
	background []float32 // wider than the picture by margin on each side
	leaf       []leaf
	n          int
	x, y       float64 // of the camera
	gain       float64
	gray       []uint8
	clean      []float32
	noises     []float32 // of the sensor, starting anywhere in each picture
	at         time.Duration
}

// leaf is a leaf on its twig: a weakly damped oscillator driven by gusts.
type leaf struct{ x, y, size, bright, own, swing, speed float64 }

func (l *leaf) blow(seconds float64, random *rand.Rand) {
	const damping, gust = 0.15, 12 // gust: the resulting swing, in pixels
	force := 2 * gust * l.own * math.Sqrt(damping*l.own/seconds) * random.NormFloat64()
	l.speed += seconds * (force - l.own*l.own*l.swing - 2*damping*l.own*l.speed)
	l.swing += seconds * l.speed
}

const margin = 48

func newFilm(v view, random *rand.Rand) *film {
	f := &film{view: v, random: random, gain: 1, gray: make([]uint8, v.width*v.height),
		clean: make([]float32, v.width*v.height)}
	w, h := v.width+2*margin, v.height+2*margin
	f.background = make([]float32, w*h)
	// Blotches of several sizes: walls, sky, bark.
	for _, size := range []int{64, 24, 9} {
		across := w/size + 2
		knots := make([]float64, across*(h/size+2))
		for i := range knots {
			knots[i] = random.NormFloat64() * v.texture / 1.7
		}
		for i := range f.background {
			x, y := float64(i%w)/float64(size), float64(i/w)/float64(size)
			k := int(y)*across + int(x)
			fx, fy := x-math.Floor(x), y-math.Floor(y)
			f.background[i] += float32((knots[k]*(1-fx)+knots[k+1]*fx)*(1-fy) + (knots[k+across]*(1-fx)+knots[k+across+1]*fx)*fy)
		}
	}
	f.noises = make([]float32, 3*len(f.clean))
	for i := range f.noises {
		f.noises[i] = float32(v.noise * random.NormFloat64())
	}
	for range v.leaves {
		f.leaf = append(f.leaf, leaf{random.Float64() * float64(v.width), random.Float64() * float64(v.height),
			5 + 20*random.Float64(),
			60 * random.NormFloat64(), 1 + 8*random.Float64(), 0, 0})
	}
	return f
}

func (f *film) Size() (int, int) { return f.width, f.height }

func (f *film) ChromaSize() (int, int) { return 0, 0 }

func (f *film) Length() time.Duration { return time.Duration(f.seconds * 1e9) }

func (f *film) Next(take func(plane movie.Plane, top int, rows []uint8)) (time.Duration, error) {
	if float64(f.n) >= f.seconds*f.rate {
		return 0, io.EOF
	}
	seconds := (float64(f.n) + f.uneven*(f.random.Float64()-0.5)) / f.rate
	at := max(time.Duration(seconds*1e9), f.at)
	f.at = at + 1
	f.n++
	// The hand: a tremor whose memory lasts a fifth of a second.
	forget := math.Exp(-5 / f.rate)
	f.x = f.x*forget + f.shake*math.Sqrt(1-forget*forget)*f.random.NormFloat64()
	f.y = f.y*forget + f.shake*math.Sqrt(1-forget*forget)*f.random.NormFloat64()
	f.draw(at, f.x+f.pan*seconds, f.y)
	for top := 0; top < f.height; top += movie.Band {
		take(movie.Luma, top, f.gray[top*f.width:min(top+movie.Band, f.height)*f.width])
	}
	return at, nil
}

// draw draws the picture as the camera sees it, shifted by cx, cy.
func (f *film) draw(at time.Duration, cx, cy float64) {
	w := f.width + 2*margin
	bx, by := min(max(cx+margin, 0), 2*margin-1.01), min(max(cy+margin, 0), 2*margin-1.01)
	fx, fy := float32(bx-math.Floor(bx)), float32(by-math.Floor(by))
	for y := range f.height {
		row := f.background[(y+int(by))*w+int(bx):]
		below := row[w:]
		for x := range f.width {
			f.clean[y*f.width+x] = 90 + (row[x]*(1-fx)+row[x+1]*fx)*(1-fy) + (below[x]*(1-fx)+below[x+1]*fx)*fy
		}
	}
	for i := range f.leaf {
		l := &f.leaf[i]
		l.blow(1/f.rate, f.random)
		f.disk(l.x+l.swing-cx, l.y+l.swing/2-cy, l.size, l.bright)
	}
	if f.glare {
		seconds := at.Seconds()
		f.disk(float64(f.width)*(0.5+0.45*math.Sin(0.7*seconds)),
			float64(f.height)*(0.5+0.4*math.Cos(0.31*seconds)), 18, 120)
	}
	for _, l := range f.lamps {
		bright := l.dark
		if l.litAt(at) {
			bright = l.lit
		}
		f.disk(l.x-cx, l.y-cy, l.diameter, bright)
	}
	mean := float32(0)
	for _, v := range f.clean {
		mean += v
	}
	mean /= float32(len(f.clean))
	// The exposure follows in a third of a second.
	f.gain += (math.Pow(90/float64(mean), f.exposure) - f.gain) * min(3/f.rate, 1)
	gain, noise := float32(f.gain), f.noises[f.random.IntN(len(f.noises)-len(f.clean)):]
	for i, v := range f.clean {
		f.gray[i] = uint8(min(max(v*gain+noise[i], 0), 255))
	}
}

// disk adds to the brightness of a disk with a soft rim.
func (f *film) disk(x, y, diameter, bright float64) {
	r := diameter / 2
	for py := max(int(y-r-1), 0); py <= min(int(y+r+1), f.height-1); py++ {
		for px := max(int(x-r-1), 0); px <= min(int(x+r+1), f.width-1); px++ {
			inside := min(max(r-math.Hypot(float64(px)-x, float64(py)-y)+0.5, 0), 1)
			f.clean[py*f.width+px] += float32(bright * inside)
		}
	}
}

// A lamp in a handheld clip is found where it is, and read right.
func TestClips(t *testing.T) {
	plain := view{width: 320, height: 240, rate: 30, noise: 3, texture: 25, shake: 2}
	with := func(change func(*view)) view {
		v := plain
		change(&v)
		return v
	}
	for _, c := range []struct {
		name     string
		diameter float64
		n        int
		view
	}{
		{"a lamp of 13 pixels and shake", 13, 8, plain},
		{"shake of several pixels", 13, 5, with(func(v *view) { v.shake = 5 })},
		{"a lamp of 3 pixels", 3, 4, with(func(v *view) { v.shake = 1 })},
		{"a lamp of 100 pixels", 100, 3, plain},
		{"leaves and glare", 13, 6, with(func(v *view) { v.leaves, v.glare = 12, true })},
		{"an exposure that follows", 40, 4, with(func(v *view) { v.exposure = 0.8 })},
		{"12 pictures a second", 13, 4, with(func(v *view) { v.rate = 12 })},
		{"60 pictures a second, uneven", 13, 3, with(func(v *view) { v.rate, v.uneven = 60, 0.7 })},
		{"a camera that wanders", 13, 4, with(func(v *view) { v.pan = 1.5 })},
		{"night: nothing else to be seen", 13, 4, with(func(v *view) { v.texture = 0 })},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			hidden := 0
			for i := range c.n {
				random := rand.New(rand.NewPCG(2, uint64(i)))
				signal, unit := anySignal(random), time.Duration(18+random.IntN(8))*10*time.Millisecond
				v := c.view
				v.seconds = 3 * 46 * unit.Seconds()
				x, y := 70+180*random.Float64(), 70+100*random.Float64()
				v.lamps = []filmed{lampOf(signal, unit, x, y, c.diameter, random)}
				clip, err := capture.ReadClip(context.Background(), newFilm(v, random), reader(), nil)
				require.NoError(t, err)
				if c.leaves > 0 && len(clip.Lamps) == 0 {
					hidden++ // a leaf hangs in front of it
					continue
				}
				if !assert.NotEmpty(t, clip.Lamps, "%d: %v at %.0f,%.0f; stranger %v", i, signal, x, y, clip.Unread) {
					continue
				}
				l := clip.Lamps[0]
				name := fmt.Sprintf("%d: %v at %.0f,%.0f read as %v at %.0f,%.0f size %.0f", i, signal, x, y,
					l.Best(), l.X, l.Y, l.Size)
				assert.Equal(t, signal, l.Best().Signal, name)
				assert.False(t, l.Doubtful(), name)
				assert.InDelta(t, x, l.X, 6+c.diameter/4, name)
				assert.InDelta(t, y, l.Y, 6+c.diameter/4, name)
				assert.Equal(t, 1, len(clip.Lamps), name)
			}
			assert.LessOrEqual(t, hidden, c.n/4)
		})
	}
}

// Cameras that are slow, at every length of a unit, and hands that shake: most clips
// are read right, and of what is called sure nearly all is right. At 12 and at 24
// pictures a second a picture's time is no multiple of a sample's.
func TestSlowCameras(t *testing.T) {
	type class struct {
		rate  float64 // pictures a second
		unit  time.Duration
		shake float64
	}
	var classes []class
	for _, rate := range []float64{8, 10, 12, 15, 24} {
		for _, unit := range []time.Duration{100, 120, 130, 200} {
			classes = append(classes, class{rate, unit * time.Millisecond, 1.5})
		}
	}
	classes = append(classes, class{15, 200 * time.Millisecond, 12}, class{30, 150 * time.Millisecond, 12})
	const each = 12
	var sure, wrong atomic.Int64
	t.Run("clips", func(t *testing.T) {
		for _, c := range classes {
			t.Run(fmt.Sprintf("%v a second, units of %v, shake %v", c.rate, c.unit, c.shake), func(t *testing.T) {
				t.Parallel()
				right := 0
				for i := range each {
					random := rand.New(rand.NewPCG(77, uint64(i)))
					v := view{width: 160, height: 120, rate: c.rate, noise: 3, texture: 25, shake: c.shake,
						seconds: 3 * 46 * c.unit.Seconds()}
					if c.shake > 2 {
						v.width, v.height = 320, 240
					}
					signal := anySignal(random)
					v.lamps = []filmed{lampOf(signal, c.unit, float64(v.width)*(0.25+random.Float64()/2),
						float64(v.height)*(0.25+random.Float64()/2), 13, random)}
					clip, err := capture.ReadClip(context.Background(), newFilm(v, random), reader(), nil)
					require.NoError(t, err)
					if len(clip.Lamps) == 0 {
						continue
					}
					l := clip.Lamps[0]
					if l.Best().Signal == signal {
						right++
					}
					switch {
					case l.Doubtful():
					case l.Best().Signal == signal:
						sure.Add(1)
					default:
						wrong.Add(1)
						t.Logf("%d: %v read as %v", i, signal, l.Best())
					}
				}
				assert.GreaterOrEqual(t, right, each*3/4)
			})
		}
	})
	assert.LessOrEqual(t, wrong.Load(), int64(1), "of %d that are sure", sure.Load())
	assert.Greater(t, sure.Load(), int64(each*len(classes)*3/4))
}

// Two lamps in view, each with its own unit, and lights that are not lamps: a turn
// signal and one that is always on. Both lamps are reported, each at its place, and
// nothing else.
func TestTwoLampsInView(t *testing.T) {
	for i := range 3 {
		random := rand.New(rand.NewPCG(9, uint64(i)))
		first := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 20 + i, Kind: channelplan.Digital}}
		second := blink.Signal{State: blink.Holding}
		turn := filmed{x: 60, y: 60, diameter: 20, lit: 120, period: 700 * time.Millisecond,
			intervals: []blink.Interval{{Lit: true, Duration: 350 * time.Millisecond},
				{Duration: 350 * time.Millisecond}}}
		always := filmed{x: 250, y: 60, diameter: 12, lit: 120, dark: 120, period: time.Second,
			intervals: []blink.Interval{{Lit: true, Duration: time.Second}}}
		v := view{width: 320, height: 240, rate: 30, noise: 3, texture: 25, shake: 2, seconds: 28,
			lamps: []filmed{turn, always,
				lampOf(first, 200*time.Millisecond, 120, 150, 13, random),
				lampOf(second, 220*time.Millisecond, 170, 150,
					9, random)}}
		clip, err := capture.ReadClip(context.Background(), newFilm(v, random), reader(), nil)
		require.NoError(t, err)
		require.Equal(t, 2, len(clip.Lamps))
		assert.Equal(t, first, clip.Lamps[0].Best().Signal)
		assert.InDelta(t, 120, clip.Lamps[0].X, 6)
		assert.Equal(t, second, clip.Lamps[1].Best().Signal)
		assert.InDelta(t, 170, clip.Lamps[1].X, 6)
		assert.Nil(t, clip.Unread)
	}
}

// A light that does not follow the code is reported as such, and if nothing blinks,
// nothing is reported.
func TestNoLampInView(t *testing.T) {
	random := rand.New(rand.NewPCG(10, 10))
	v := view{width: 320, height: 240, rate: 30, noise: 3, texture: 25, shake: 2, seconds: 20}
	clip, err := capture.ReadClip(context.Background(), newFilm(v, random), reader(), nil)
	require.NoError(t, err)
	assert.Empty(t, clip.Lamps)
	assert.Nil(t, clip.Unread)
	assert.Equal(t, 600, clip.Pictures)
	assert.Equal(t, 20*time.Second, clip.Length)

	v.lamps = []filmed{{x: 90, y: 140, diameter: 20, lit: 120, period: 700 * time.Millisecond,
		intervals: []blink.Interval{{Lit: true, Duration: 350 * time.Millisecond}, {Duration: 350 * time.Millisecond}}}}
	clip, err = capture.ReadClip(context.Background(), newFilm(v, random), reader(), nil)
	require.NoError(t, err)
	assert.Empty(t, clip.Lamps)
	require.NotNil(t, clip.Unread)
	assert.InDelta(t, 90, clip.Unread.X, 6)
	assert.InDelta(t, 140, clip.Unread.Y, 6)
}

// A clip longer than one window: the spot is followed through all of it, and what the
// lamp showed earlier is in the sequence.
func TestALongClip(t *testing.T) {
	random := rand.New(rand.NewPCG(11, 11))
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}}
	v := view{width: 160, height: 120, rate: 12, noise: 3, texture: 25, shake: 1, seconds: 100,
		lamps: []filmed{lampOf(signal, 200*time.Millisecond, 80, 60, 9, random)}}
	clip, err := capture.ReadClip(context.Background(), newFilm(v, random), reader(), nil)
	require.NoError(t, err)
	require.Equal(t, 1, len(clip.Lamps))
	l := clip.Lamps[0]
	assert.Equal(t, signal, l.Best().Signal)
	require.Len(t, l.Sequence, 1)
	assert.InDelta(t, 100, l.Sequence[0].To.Seconds(), 0.2)
}

// The sample clip in testdata is what the generator writes: a lamp of 7 pixels, filmed
// by a shaking hand, in an invented view.
func TestSampleClip(t *testing.T) {
	random := rand.New(rand.NewPCG(4, 2))
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	f := newFilm(view{width: 96, height: 72, rate: 10, seconds: 20, noise: 1, shake: 1.5, texture: 30,
		lamps: []filmed{lampOf(signal, 200*time.Millisecond, 60, 40, 7, random)}}, random)
	grays := make(color.Palette, 32)
	for i := range grays {
		grays[i] = color.Gray{uint8(i * 255 / 31)}
	}
	g := &gif.GIF{}
	for {
		frame := image.NewPaletted(image.Rect(0, 0, f.width, f.height), grays)
		_, err := f.Next(func(_ movie.Plane, top int, rows []uint8) {
			for i, v := range rows {
				frame.Pix[top*f.width+i] = uint8((int(v)*31 + 127) / 255)
			}
		})
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		g.Image, g.Delay = append(g.Image, frame), append(g.Delay, 10)
	}
	var b bytes.Buffer
	require.NoError(t, gif.EncodeAll(&b, g))
	path := filepath.Join("..", "..", "testdata", "clips", "locked-116-digital-shake.gif")
	if *update {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o755))
		require.NoError(t, os.WriteFile(path, b.Bytes(), 0o644))
	}
	file, err := os.Open(path)
	require.NoError(t, err)
	defer file.Close()
	same, err := io.ReadAll(file)
	require.NoError(t, err)
	require.True(t, bytes.Equal(b.Bytes(), same), "%s is not what the generator writes", path)
	_, err = file.Seek(0, io.SeekStart)
	require.NoError(t, err)
	m, _, err := movie.Read(file)
	require.NoError(t, err)
	clip, err := capture.ReadClip(context.Background(), m, reader(), nil)
	require.NoError(t, err)
	require.Equal(t, 1, len(clip.Lamps))
	assert.Equal(t, signal, clip.Lamps[0].Best().Signal)
	assert.False(t, clip.Lamps[0].Doubtful())
	assert.InDelta(t, 60, clip.Lamps[0].X, 3)
	assert.InDelta(t, 40, clip.Lamps[0].Y, 3)
}

// What encode --gif draws is read back: frames the first time they are shown, rhythms
// when the GIF has repeated a few times, as on a screen that is filmed.
func TestDrawnGIFsAreReadBack(t *testing.T) {
	for i := range 24 {
		random := rand.New(rand.NewPCG(13, uint64(i)))
		signal, unit := anySignal(random), time.Duration(18+random.IntN(13))*10*time.Millisecond
		intervals, period, err := blink.Tally.Signal(signal, unit)
		require.NoError(t, err)
		rounds := 1
		if !signal.State.ShowsFrame() {
			rounds = 4
		}
		var round []blink.Interval
		for range rounds {
			round = append(round, intervals...)
		}
		var b bytes.Buffer
		require.NoError(t, picture.WriteGIF(&b, round))
		m, _, err := movie.Read(&b)
		require.NoError(t, err)
		clip, err := capture.ReadClip(context.Background(), m, reader(), nil)
		require.NoError(t, err)
		assert.Equal(t, time.Duration(rounds)*period, clip.Length)
		require.Equal(t, 1, len(clip.Lamps), "%v", signal)
		l := clip.Lamps[0]
		assert.Equal(t, signal, l.Best().Signal)
		assert.False(t, l.Doubtful(), "%v: %v", signal, l.Best())
		assert.InDelta(t, 80, l.X, 1)
		assert.InDelta(t, 80, l.Y, 1)
		assert.InDelta(t, 112, l.Size, 8)
	}
}

// BenchmarkY4M reads a clip of 1920 x 1080 from a file. Its baseline only reads the
// same bytes into memory the size of one picture.
func BenchmarkY4M(b *testing.B) {
	const width, height, pictures = 1920, 1080, 90
	random := rand.New(rand.NewPCG(12, 12))
	f := newFilm(view{width: width, height: height, rate: 30, noise: 3, texture: 25, shake: 4, seconds: pictures / 30.0,
		lamps: []filmed{lampOf(blink.Signal{State: blink.Seeking}, 200*time.Millisecond, 900, 500, 30, random)}},
		random)
	path := filepath.Join(b.TempDir(), "clip.y4m")
	file, err := os.Create(path)
	require.NoError(b, err)
	w := bufio.NewWriterSize(file, 1<<20)
	fmt.Fprintf(w, "YUV4MPEG2 W%d H%d F30:1 C420jpeg\n", width, height)
	chroma := make([]byte, width*height/2)
	for range pictures {
		w.WriteString("FRAME\n")
		_, err := f.Next(func(_ movie.Plane, _ int, rows []uint8) { w.Write(rows) })
		require.NoError(b, err)
		w.Write(chroma)
	}
	require.NoError(b, w.Flush())
	require.NoError(b, file.Close())
	size := int64(pictures * (width*height*3/2 + len("FRAME\n")))
	b.Run("clip", func(b *testing.B) {
		b.SetBytes(size)
		for b.Loop() {
			file, err := os.Open(path)
			require.NoError(b, err)
			m, _, err := movie.Read(file)
			require.NoError(b, err)
			clip, err := capture.ReadClip(context.Background(), m, reader(), nil)
			require.NoError(b, err)
			require.Equal(b, pictures, clip.Pictures)
			file.Close()
		}
	})
	b.Run("baseline-read", func(b *testing.B) {
		b.SetBytes(size)
		picture := make([]byte, width*height*3/2)
		for b.Loop() {
			file, err := os.Open(path)
			require.NoError(b, err)
			for err == nil {
				_, err = io.ReadFull(file, picture)
			}
			file.Close()
		}
	})
}
