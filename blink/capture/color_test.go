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
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan"
)

// rgb is a color, a level of 0 to 255 each; a picture clips what exceeds it.
type rgb struct{ r, g, b float64 }

func (c rgb) plus(d rgb, share float64) rgb {
	return rgb{c.r + share*d.r, c.g + share*d.g, c.b + share*d.b}
}

// colored is a colored lamp on a colored ground with leaves, filmed by hand, and encoded
// as Y4M. All of it is invented.
type colored struct {
	dark, lit rgb // added to the ground
	ground    rgb
	diameter  float64
	noise     float64 // deviation of each level of each pixel
	space     string
	uneven    float64 // contrast of the ground, levels
}

// y4m writes the clip of a light.
func (c colored) y4m(w io.Writer, random *rand.Rand, seconds float64, x, y float64, lit func(float64) bool) {
	const width, height, rate = 160, 120, 30
	out := bufio.NewWriterSize(w, 1<<20)
	fmt.Fprintf(out, "YUV4MPEG2 W%d H%d F%d:1 C%s\n", width, height, rate, c.space)
	var cx, cy float64
	planes := [3][]uint8{make([]uint8, width*height), make([]uint8, width*height), make([]uint8, width*height)}
	for n := range int(seconds * rate) {
		forget := math.Exp(-5.0 / rate)
		cx = cx*forget + 1.5*math.Sqrt(1-forget*forget)*random.NormFloat64()
		cy = cy*forget + 1.5*math.Sqrt(1-forget*forget)*random.NormFloat64()
		lamp := c.dark
		if lit(float64(n) / rate) {
			lamp = c.lit
		}
		for py := range height {
			for px := range width {
				sx, sy := float64(px)+cx, float64(py)+cy
				wave := math.Sin(sx/3.1)*math.Cos(sy/2.7) + math.Sin(sx/11+sy/7)
				at := c.ground.plus(rgb{1, 1, 1}, c.uneven*wave).plus(rgb{0.3, -0.5, 0.4}, c.uneven*math.Sin(sx/5-sy/4))
				at = at.plus(lamp, min(max(c.diameter/2-math.Hypot(sx-x, sy-y)+0.5, 0), 1))
				level := func(v float64) uint8 { return uint8(min(max(v+c.noise*random.NormFloat64(), 0), 255)) }
				i := py*width + px
				planes[0][i], planes[1][i], planes[2][i] = color.RGBToYCbCr(level(at.r), level(at.g), level(at.b))
			}
		}
		out.WriteString("FRAME\n")
		out.Write(planes[0])
		across, down := 1, 1 // pixels for each sample of color
		switch c.space {
		case "420jpeg":
			across, down = 2, 2
		case "422":
			across = 2
		}
		for _, plane := range planes[1:] {
			for py := 0; py < height; py += down {
				for px := 0; px < width; px += across {
					sum := 0
					for d := range across * down {
						sum += int(plane[(py+d/across)*width+px+d%across])
					}
					out.WriteByte(uint8(sum / (across * down)))
				}
			}
		}
	}
	out.Flush()
}

// Lamps whose color tells more than their brightness, at 8 pixels: all are read, as a
// white one is.
func TestColoredLamps(t *testing.T) {
	metal, leaves, white := rgb{110, 112, 115}, rgb{50, 105, 40}, rgb{250, 250, 250}
	for _, c := range []struct {
		name string
		colored
	}{
		{"white on metal", colored{lit: rgb{60, 60, 60}, ground: metal, space: "420jpeg", uneven: 15}},
		{"blue on metal", colored{lit: rgb{-12, -5, 60}, ground: metal, space: "420jpeg", uneven: 15}},
		{"red that clips on white", colored{dark: rgb{-25, -150, -150}, lit: rgb{90, -147, -148}, ground: white,
			space: "422", uneven: 4}},
		{"green among leaves", colored{lit: rgb{-20, 45, -20}, ground: leaves, space: "444", uneven: 15}},
		{"amber on metal", colored{lit: rgb{50, 20, -70}, ground: metal, space: "420jpeg", uneven: 15}},
		{"two colors, red for lit, green for dark, equally bright",
			colored{dark: rgb{0, 45, 0}, lit: rgb{88, 0, 0}, ground: metal, space: "420jpeg", uneven: 15}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for i := range 3 {
				random := rand.New(rand.NewPCG(5, uint64(i)))
				signal, lit, seconds := shown(random, time.Duration(17+random.IntN(7))*10*time.Millisecond)
				x, y := 50+60*random.Float64(), 40+40*random.Float64()
				c.diameter, c.noise = 8, 5
				in, out := io.Pipe()
				go func() {
					c.y4m(out, random, seconds, x, y, lit)
					out.Close()
				}()
				m, _, err := movie.Read(in)
				require.NoError(t, err)
				clip, err := capture.ReadClip(context.Background(), m, reader(), nil)
				require.NoError(t, err)
				require.Len(t, clip.Lamps, 1, "%d: %v", i, signal)
				l := clip.Lamps[0]
				assert.Equal(t, signal, l.Best().Signal, i)
				assert.False(t, l.Doubtful(), "%d: %v", i, l.Best())
				assert.InDelta(t, x, l.X, 4)
				assert.InDelta(t, y, l.Y, 4)
			}
		})
	}
}

// A lamp in a GIF whose dark pictures have gray palettes and whose lit ones are red and
// equally bright: color that begins late counts from the beginning.
func TestColorThatBeginsLate(t *testing.T) {
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	light, _, err := blink.Tally.Signal(signal, 200*time.Millisecond)
	require.NoError(t, err)
	g := &gif.GIF{}
	for _, iv := range append(append([]blink.Interval{{Duration: 400 * time.Millisecond}}, light...), light...) {
		palette := color.Palette{color.Gray{90}, color.Gray{100}}
		if iv.Lit {
			palette = color.Palette{color.Gray{90}, color.RGBA{220, 55, 20, 255}} // luma 100
		}
		frame := image.NewPaletted(image.Rect(0, 0, 60, 40), palette)
		for y := 15; y < 25; y++ {
			for x := 25; x < 35; x++ {
				frame.SetColorIndex(x, y, 1)
			}
		}
		g.Image, g.Delay = append(g.Image, frame), append(g.Delay, int(iv.Duration/(10*time.Millisecond)))
	}
	var b bytes.Buffer
	require.NoError(t, gif.EncodeAll(&b, g))
	m, _, err := movie.Read(&b)
	require.NoError(t, err)
	clip, err := capture.ReadClip(context.Background(), m, reader(), nil)
	require.NoError(t, err)
	require.NotEmpty(t, clip.Lamps)
	assert.Equal(t, signal, clip.Lamps[0].Best().Signal)
	assert.False(t, clip.Lamps[0].Doubtful(), "%v", clip.Lamps[0].Best())
}
