package capture_test

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
)

// optics is what a camera does to a picture before it is stored. It shares nothing with
// the finder. All of it is invented.
type optics struct {
	movie.Movie
	width, height int
	n             int
	alter         func(gray []uint8, n int)
	when          func(seconds float64) float64 // when a picture is shown; nil: when it was
	gray          []uint8
}

func (o *optics) Next(take func(plane movie.Plane, top int, rows []uint8)) (time.Duration, error) {
	o.gray = o.gray[:0]
	at, err := o.Movie.Next(func(_ movie.Plane, _ int, rows []uint8) { o.gray = append(o.gray, rows...) })
	if err != nil {
		return at, err
	}
	if o.alter != nil {
		o.alter(o.gray, o.n)
	}
	o.n++
	for top := 0; top < o.height; top += movie.Band {
		take(movie.Luma, top, o.gray[top*o.width:min(top+movie.Band, o.height)*o.width])
	}
	if o.when != nil {
		at = time.Duration(o.when(at.Seconds()) * 1e9)
	}
	return at, nil
}

// blurred is a camera out of focus: each pixel is the mean of a square around it, twice.
func blurred(width, height, reach int) func([]uint8, int) {
	line := make([]int, max(width, height))
	mean := func(gray []uint8, from, step, n int) {
		for i := range n {
			line[i] = int(gray[from+i*step])
		}
		sum := reach * line[0] // beyond a side is what is at the side
		for i := range reach + 1 {
			sum += line[i]
		}
		for i := range n {
			gray[from+i*step] = uint8(sum / (2*reach + 1))
			sum += line[min(i+reach+1, n-1)] - line[max(i-reach, 0)]
		}
	}
	return func(gray []uint8, _ int) {
		for range 2 {
			for y := range height {
				mean(gray, y*width, 1, width)
			}
			for x := range width {
				mean(gray, x, width, height)
			}
		}
	}
}

// encoded is a clip stored at a low rate by a common codec, and read back: ffmpeg does
// both.
func encoded(t *testing.T, m movie.Movie, rate string, codec ...string) movie.Movie {
	t.Helper()
	program, err := exec.LookPath("ffmpeg")
	if err != nil {
		require.Empty(t, os.Getenv("CI"), "CI has ffmpeg")
		t.Skip("ffmpeg is not installed")
	}
	width, height := m.Size()
	var raw bytes.Buffer
	for {
		if _, err := m.Next(func(_ movie.Plane, _ int, rows []uint8) { raw.Write(rows) }); err == io.EOF {
			break
		} else {
			require.NoError(t, err)
		}
	}
	path := filepath.Join(t.TempDir(), "clip.mkv")
	size := fmt.Sprintf("%dx%d", width, height)
	args := append([]string{"-v", "error", "-f", "rawvideo", "-pix_fmt", "gray", "-s", size, "-r", rate, "-i",
		"-"}, codec...)
	write := exec.Command(program, append(args, "-pix_fmt", "yuv420p", path)...)
	write.Stdin = &raw
	out, err := write.CombinedOutput()
	require.NoError(t, err, "%s", out)
	back := exec.Command(program, "-v", "error", "-i", path, "-f", "yuv4mpegpipe", "-pix_fmt", "yuv420p", "-")
	y4m, err := back.Output()
	require.NoError(t, err)
	read, _, err := movie.Read(bytes.NewReader(y4m))
	require.NoError(t, err)
	return read
}

var clips = flag.Int("clips", 1, "clips of each class of camera outdoors")

// Clips as cameras outdoors make them: every answer is right or doubtful, and most are
// right. Each clip shows three frames or as many seconds, of any signal.
func TestCamerasOutdoors(t *testing.T) {
	const width, height, rate = 320, 240, 30
	type scene struct {
		handheld
		random *rand.Rand
	}
	for _, c := range []struct {
		name  string
		right float64 // least share read right
		film  func(t *testing.T, s scene) movie.Movie
	}{
		{"as it is", 1, func(_ *testing.T, s scene) movie.Movie { return newHandheld(s.handheld, s.random) }},
		{"out of focus", 0.9, func(_ *testing.T, s scene) movie.Movie {
			return &optics{Movie: newHandheld(s.handheld, s.random), width: width, height: height,
				alter: blurred(width, height, 4)}
		}},
		{"uneven times, pictures dropped", 0.9, func(_ *testing.T, s scene) movie.Movie {
			late, last := rand.New(rand.NewPCG(4, s.random.Uint64())), 0.0
			return &optics{Movie: newHandheld(s.handheld, s.random), width: width, height: height,
				when: func(seconds float64) float64 {
					last = max(seconds+0.02*late.Float64(), last+0.001)
					return last
				}}
		}},
		{"reflected in the metal", 0.9, func(_ *testing.T, s scene) movie.Movie {
			// The light comes back, weaker and wider, from a place below.
			h := newHandheld(s.handheld, s.random)
			return &optics{Movie: h, width: width, height: height, alter: func(gray []uint8, n int) {
				if !s.lit(float64(n) / rate) {
					return
				}
				cx, cy := s.x-h.dx+9, s.y-h.dy+26
				for y := max(int(cy)-9, 0); y < min(int(cy)+9, height); y++ {
					for x := max(int(cx)-9, 0); x < min(int(cx)+9, width); x++ {
						share := math.Exp(-((float64(x)-cx)*(float64(x)-cx) + (float64(y)-cy)*(float64(y)-cy)) / 24)
						gray[y*width+x] = uint8(min(float64(gray[y*width+x])+45*share, 255))
					}
				}
			}}
		}},
		{"exposure follows the lamp", 0.9, func(_ *testing.T, s scene) movie.Movie {
			gain := 1.0
			return &optics{Movie: newHandheld(s.handheld, s.random), width: width, height: height,
				alter: func(gray []uint8, n int) {
					want := 1.0
					if s.lit(float64(n) / rate) {
						want = 0.75
					}
					gain += (want - gain) / 12 // 0.4 s
					for i, v := range gray {
						gray[i] = uint8(min(float64(v)*gain, 255))
					}
				}}
		}},
		{"rolling shutter, a lamp that is switched fast", 0.5, func(_ *testing.T, s scene) movie.Movie {
			// The lamp is on for 6 of 10 ms. Rows are read within 25 ms, and look for 4 ms
			// each, which may fall between: some pictures of the lit lamp show it dark.
			dim := s.handheld
			lit := dim.lit
			dim.lit = func(float64) bool { return false }
			h := newHandheld(dim, s.random)
			return &optics{Movie: h, width: width, height: height, alter: func(gray []uint8, n int) {
				at := float64(n) / rate
				if !lit(at) {
					return
				}
				r := s.diameter / 2
				for y := max(int(s.y-h.dy-r-1), 0); y < min(int(s.y-h.dy+r+2), height); y++ {
					row, share := at+0.025*float64(y)/height, 0.0
					for k := range 8 {
						if math.Mod(row+0.004*float64(k)/8, 0.0101) < 0.006 {
							share += 1.0 / 8
						}
					}
					for x := max(int(s.x-h.dx-r-1), 0); x < min(int(s.x-h.dx+r+2), width); x++ {
						add := s.contrast * share * covered(float64(x)-(s.x-h.dx), float64(y)-(s.y-h.dy), r)
						gray[y*width+x] = uint8(min(float64(gray[y*width+x])+add, 255))
					}
				}
			}}
		}},
		{"a twig swings before the lamp", 0, func(_ *testing.T, s scene) movie.Movie {
			// The wind is not even.
			h, phase, period := newHandheld(s.handheld, s.random), 7*s.random.Float64(), 1.5+3*s.random.Float64()
			return &optics{Movie: h, width: width, height: height, alter: func(gray []uint8, n int) {
				middle := s.x - h.dx + (14+9*math.Sin(float64(n)/rate/1.7))*math.Sin(2*math.Pi*float64(n)/rate/period+phase+2*math.Sin(float64(n)/rate/2.3))
				for x := max(int(middle)-3, 0); x < min(int(middle)+4, width); x++ {
					for y := range height {
						gray[y*width+x] = uint8(45 + (x*7+y*13)%11)
					}
				}
			}}
		}},
		{"clouds pass: the whole picture darkens and brightens", 0.9, func(_ *testing.T, s scene) movie.Movie {
			phase, period := 7*s.random.Float64(), 4+6*s.random.Float64()
			return &optics{Movie: newHandheld(s.handheld, s.random), width: width, height: height,
				alter: func(gray []uint8, n int) {
					gain := 0.75 + 0.25*math.Sin(2*math.Pi*float64(n)/rate/period+phase)
					for i, v := range gray {
						gray[i] = uint8(float64(v) * gain)
					}
				}}
		}},
		{"the shadow of leaves swings over the lamp's housing", 0, func(_ *testing.T, s scene) movie.Movie {
			// Soft patches of shade that move to and fro; the lamp's own light is not shaded. The
			// finder takes their motion for the camera's, and loses the lamp.
			h, phase, period := newHandheld(s.handheld, s.random), 7*s.random.Float64(), 2+3*s.random.Float64()
			return &optics{Movie: h, width: width, height: height, alter: func(gray []uint8, n int) {
				at := float64(n) / rate
				shift := 16*math.Sin(2*math.Pi*at/period+phase) + 7*math.Sin(2*math.Pi*at/(0.37*period))
				for y := range height {
					for x := range width {
						shade := 30 * math.Sin((float64(x)+shift)/9) * math.Cos((float64(y)-shift/2)/8)
						gray[y*width+x] = uint8(min(max(float64(gray[y*width+x])+shade, 0), 255))
					}
				}
			}}
		}},
		{"H.264 at 200 kbit a second", 0.9, func(t *testing.T, s scene) movie.Movie {
			return encoded(t, newHandheld(s.handheld, s.random), "30", "-c:v", "libx264", "-preset", "veryfast",
				"-b:v", "200k", "-maxrate", "200k", "-bufsize", "200k")
		}},
		{"VP9 at 150 kbit a second", 0.9, func(t *testing.T, s scene) movie.Movie {
			return encoded(t, newHandheld(s.handheld, s.random), "30", "-c:v", "libvpx-vp9", "-deadline", "realtime",
				"-cpu-used", "8", "-b:v", "150k")
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			row := ""
			for seed := range uint64(*clips) {
				random := rand.New(rand.NewPCG(0xc11b, seed))
				signal, unit := anySignal(random), time.Duration(18+random.IntN(6))*10*time.Millisecond
				intervals, period, err := blink.Tally.Signal(signal, unit)
				require.NoError(t, err)
				skip := random.Float64() * period.Seconds()
				s := scene{random: random, handheld: handheld{width: width, height: height, rate: rate, base: 115,
					diameter: 9, contrast: 100, noise: 4, shake: 1.5,
					x: 80 + 160*random.Float64(), y: 60 + 100*random.Float64(), seconds: 3 * 46 * unit.Seconds(),
					lit: func(at float64) bool {
						at = math.Mod(at+skip, period.Seconds())
						for _, iv := range intervals {
							if at -= iv.Duration.Seconds(); at < 0 {
								return iv.Lit
							}
						}
						return false
					}}}
				clip, err := capture.ReadClip(context.Background(), c.film(t, s), reader(), nil)
				require.NoError(t, err)
				switch {
				case len(clip.Lamps) == 0:
					row += "-"
				case clip.Lamps[0].Doubtful():
					row += "d"
				case clip.Lamps[0].Best().Signal == signal:
					row += "R"
				default:
					row += "W"
					t.Logf("seed %d: %v read as %v", seed, signal, clip.Lamps[0].Best())
				}
			}
			t.Logf("%-46s %s", c.name, row)
			assert.NotContains(t, row, "W", "sure and wrong")
			assert.GreaterOrEqual(t, float64(strings.Count(row, "R")), c.right*float64(len(row)), row)
		})
	}
}
