package movie_test

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	imagegif "image/gif"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink/capture/movie"
	"tallywink.example/channelplan/fault"
)

func open(t *testing.T, data []byte) movie.Movie {
	t.Helper()
	m, _, err := movie.Read(bytes.NewReader(data))
	require.NoError(t, err)
	return m
}

type picture struct {
	At   time.Duration
	Gray []uint8
	// Color has both color differences, one after the other.
	Color []uint8
}

// pictures reads a movie to its end.
func pictures(m movie.Movie) (all []picture, err error) {
	width, _ := m.Size()
	for {
		var p picture
		p.At, err = m.Next(func(plane movie.Plane, top int, rows []uint8) {
			if plane != movie.Luma {
				p.Color = append(p.Color, rows...)
				return
			}
			if top*width != len(p.Gray) {
				panic("bands out of order")
			}
			p.Gray = append(p.Gray, rows...)
		})
		if err == io.EOF {
			return all, nil
		}
		if err != nil {
			return all, err
		}
		all = append(all, p)
	}
}

// refuses asserts that a movie, or a picture in it, can't be read, and that the error
// says so and what to do.
func refuses(t *testing.T, in io.Reader, says string) {
	t.Helper()
	m, _, err := movie.Read(in)
	if err == nil {
		_, err = pictures(m)
	}
	var e *fault.Error
	require.ErrorAs(t, err, &e)
	assert.Contains(t, err.Error(), says)
	assert.NotEmpty(t, e.Hint)
}

// The stream grammar of yuv4mpeg(5): tagged fields in any order, unknown ones skipped;
// fields in the picture's header; and after brightness, planes of the sizes in the
// page's notes on image data.
func TestY4MGrammar(t *testing.T) {
	gray := []byte("abcdefgh") // 4 x 2
	for name, c := range map[string]struct {
		header, frame string
		other         int // bytes of other planes
	}{
		"the default is 4:2:0":      {"YUV4MPEG2 W4 H2 F25:1", "FRAME", 4},
		"4:2:0 by name":             {"YUV4MPEG2 W4 H2 F25:1 Ip A1:1 C420jpeg XYSCSS=420JPEG", "FRAME", 4},
		"fields in another order":   {"YUV4MPEG2 C420mpeg2 A0:0 F25:1 H2 W4", "FRAME", 4},
		"PAL":                       {"YUV4MPEG2 W4 H2 F25:1 C420paldv", "FRAME", 4},
		"4:1:1":                     {"YUV4MPEG2 W4 H2 F25:1 C411", "FRAME", 4},
		"4:2:2":                     {"YUV4MPEG2 W4 H2 F25:1 C422", "FRAME", 8},
		"4:4:4":                     {"YUV4MPEG2 W4 H2 F25:1 C444", "FRAME", 16},
		"4:4:4 with transparency":   {"YUV4MPEG2 W4 H2 F25:1 C444alpha", "FRAME", 24},
		"brightness alone":          {"YUV4MPEG2 W4 H2 F25:1 Cmono", "FRAME", 0},
		"a picture with fields":     {"YUV4MPEG2 W4 H2 F25:1 Im Cmono", "FRAME I1pp Xany=thing", 0},
		"fields that nobody knows":  {"YUV4MPEG2 W4 H2 F25:1 Cmono Q7 Xwhatever", "FRAME", 0},
		"two blanks between fields": {"YUV4MPEG2 W4  H2 F50:2 Cmono", "FRAME", 0},
	} {
		t.Run(name, func(t *testing.T) {
			one := c.frame + "\n" + string(gray) + strings.Repeat("z", c.other)
			m := open(t, []byte(c.header+"\n"+one+one+one))
			width, height := m.Size()
			assert.Equal(t, []int{4, 2}, []int{width, height})
			all, err := pictures(m)
			require.NoError(t, err)
			require.Len(t, all, 3)
			for i, p := range all {
				assert.Equal(t, gray, p.Gray)
				assert.Equal(t, time.Duration(i)*40*time.Millisecond, p.At)
			}
			assert.Equal(t, 120*time.Millisecond, m.Length())
		})
	}
	// Odd sizes: color planes have half of each side, rounded up.
	m := open(t, []byte("YUV4MPEG2 W3 H3 F30000:1001 C420\nFRAME\n123456789aabbccddFRAME\n123456789aabbccdd"))
	all, err := pictures(m)
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Equal(t, "123456789", string(all[1].Gray))
	assert.InDelta(t, 1001.0/30000, all[1].At.Seconds(), 1e-8) // the NTSC frame rate
}

func TestY4MThatCannotBeRead(t *testing.T) {
	const head = "YUV4MPEG2 W4 H2 F25:1 Cmono\n"
	for name, c := range map[string]struct{ text, says string }{
		"no width":          {"YUV4MPEG2 H2 F25:1\n", "the size is given as 0 x 2; save"},
		"a size of nothing": {"YUV4MPEG2 W0 H-2 F25:1\n", "the size is given as 0 x -2"},
		"a size that lies": {"YUV4MPEG2 W65535 H65535 F25:1\n",
			"are 65535 x 65535, and the limit is 16 million pixels; scale the"},
		"a size past all number": {"YUV4MPEG2 W99999999999999999999 H2 F25:1\n",
			`the header's "W99999999999999999999" can't be read`},
		"no rate": {"YUV4MPEG2 W4 H2\n",
			"the header has no frame rate, or an impossible one; write F30:1"},
		"an unknown rate": {"YUV4MPEG2 W4 H2 F0:0\n", "the header has no frame rate, or an impossible one"},
		"a picture in 8 months": {"YUV4MPEG2 W4 H2 F1:20000000\n",
			"the header has no frame rate, or an impossible one"},
		"longer than a month": {"YUV4MPEG2 W1 H1 F1:60 Cmono\n" + strings.Repeat("FRAME\nx", 50_000),
			"the video says it is longer than a month"},
		"10 bit":               {"YUV4MPEG2 W4 H2 F25:1 C420p10\n", "the color space is 420p10, but only 8-bit"},
		"no end of the header": {"YUV4MPEG2 " + strings.Repeat("X", 5000), "the header line does not end"},
		"a header cut short":   {"YUV4MPEG2 W4 H", "the header line does not end"},
		"a picture cut short":  {head + "FRAME\n1234567", "picture 1: the video ends in the middle of it; copy"},
		"the second cut short": {head + "FRAME\n12345678FRA", "picture 2: the video ends in the middle of it"},
		"pictures larger than said": {head + "FRAME\n1234567890FRAME\n1234567890",
			"picture 2: it should start with FRAME; the header says 4 x 2, but the pictures are not that size"},
	} {
		t.Run(name, func(t *testing.T) { refuses(t, strings.NewReader(c.text), c.says) })
	}
	// In a file, what is not needed is skipped, but not past its end.
	path := filepath.Join(t.TempDir(), "lamp.y4m")
	text := "YUV4MPEG2 W100 H100 F25:1 C444\n" + strings.Repeat("FRAME\n"+strings.Repeat("x", 30_000), 3)
	for cut, says := range map[int]string{0: "", 1: "picture 3: the video ends", 19_000: "picture 3: the video ends",
		30_006: ""} {
		require.NoError(t, os.WriteFile(path, []byte(text[:len(text)-cut]), 0o644))
		file, err := os.Open(path)
		require.NoError(t, err)
		m, _, err := movie.Read(file)
		require.NoError(t, err)
		all, err := pictures(m)
		if says == "" {
			require.NoError(t, err)
			assert.Len(t, all, (len(text)-cut)/30_000)
		} else {
			require.ErrorContains(t, err, says)
		}
		require.NoError(t, file.Close())
	}
}

func TestOtherKinds(t *testing.T) {
	_, _, err := movie.Read(strings.NewReader("file 'other.mp4'\n"))
	require.ErrorContains(t, err, "this is text, not a video; name a clip")
	_, r, err := movie.Read(strings.NewReader("RIFF\x00\x00..AVI "))
	require.ErrorIs(t, err, movie.ErrFormat)
	rest, err := io.ReadAll(r)
	require.NoError(t, err)
	assert.Equal(t, "RIFF\x00\x00..AVI ", string(rest), "nothing of it may be lost")
	_, _, err = movie.Read(strings.NewReader(""))
	require.ErrorContains(t, err, "there is nothing in it")
	_, _, err = movie.Read(strings.NewReader("GIF89a"))
	require.ErrorContains(t, err, "the GIF ends in the middle of it")
}

// animation is a GIF with everything a GIF can do: pictures smaller than the canvas,
// transparency, and each method of disposal.
func animation() *imagegif.GIF {
	palette := color.Palette{color.Gray{0}, color.Gray{100}, color.Gray{200}, color.Transparent}
	picture := func(r image.Rectangle, indexes ...uint8) *image.Paletted {
		p := image.NewPaletted(r, palette)
		copy(p.Pix, indexes)
		return p
	}
	return &imagegif.GIF{
		Config: image.Config{Width: 3, Height: 2, ColorModel: palette},
		Image: []*image.Paletted{
			picture(image.Rect(0, 0, 3, 2), 1, 1, 1, 1, 1, 1),
			picture(image.Rect(1, 0, 3, 1), 2, 3), // the second pixel is transparent
			picture(image.Rect(0, 1, 1, 2), 2),    // and restored afterwards
			picture(image.Rect(0, 0, 1, 1), 2),    // and cleared afterwards
			picture(image.Rect(2, 1, 3, 2), 2),
		},
		Delay: []int{10, 20, 5, 1, 0},
		Disposal: []byte{imagegif.DisposalNone, imagegif.DisposalNone, imagegif.DisposalPrevious,
			imagegif.DisposalBackground, imagegif.DisposalNone},
	}
}

func encoded(t *testing.T, g *imagegif.GIF) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, imagegif.EncodeAll(&b, g))
	return b.Bytes()
}

// Pictures and times as in the GIF89a specification, section 23.
func TestGIF(t *testing.T) {
	g := animation()
	g.Delay[4] = 7
	m := open(t, encoded(t, g))
	all, err := pictures(m)
	require.NoError(t, err)
	want := []struct {
		at   time.Duration
		gray []byte
	}{
		{0, []byte{100, 100, 100, 100, 100, 100}},
		{100 * time.Millisecond, []byte{100, 200, 100, 100, 100, 100}},
		{300 * time.Millisecond, []byte{100, 200, 100, 200, 100, 100}},
		{350 * time.Millisecond, []byte{200, 200, 100, 100, 100, 100}},
		{360 * time.Millisecond, []byte{0, 200, 100, 100, 100, 200}},
	}
	require.Len(t, all, len(want))
	for i, w := range want {
		assert.Equal(t, w.at, all[i].At, "picture %d", i+1)
		assert.Equal(t, w.gray, all[i].Gray, "picture %d", i+1)
	}
	assert.Equal(t, 430*time.Millisecond, m.Length())

	// A picture that takes no time is drawn over at once.
	all, err = pictures(open(t, encoded(t, animation())))
	require.NoError(t, err)
	assert.Len(t, all, 4)
}

func TestGIFThatCannotBeRead(t *testing.T) {
	sound := encoded(t, animation())
	still := animation()
	for i := range still.Delay {
		still.Delay[i] = 0
	}
	bomb := bytes.Clone(sound)
	binary.LittleEndian.PutUint16(bomb[6:], 65535)
	binary.LittleEndian.PutUint16(bomb[8:], 65535)
	outside := bytes.Clone(sound)
	binary.LittleEndian.PutUint16(outside[6:], 2)
	for name, c := range map[string]struct {
		data []byte
		says string
	}{
		"65535 x 65535":  {bomb, "are 65535 x 65535,"},
		"delays of zero": {encoded(t, still), "all delays in the GIF are zero, so it has no timing"},
		"truncated":      {sound[:len(sound)-12], "picture 5: the GIF ends in the middle of it"},
		"no trailer":     {sound[:len(sound)-1], "picture 6: the GIF ends in the middle of it"},
		"a block of no kind": {append(bytes.Clone(sound[:len(sound)-1]), 0x55),
			"picture 6: a block of unknown kind 0x55"},
		"pictures out of it":    {outside, "does not fit in the GIF's 2 x 2;"},
		"no size":               {append([]byte("GIF89a\x00\x00\x00\x00"), 0, 0, 0), "the size is given as 0 x 0"},
		"codes that are damage": {bytes.Replace(sound, []byte{0x2c}, []byte{0x2c, 0}, 1), "picture"},
	} {
		t.Run(name, func(t *testing.T) { refuses(t, bytes.NewReader(c.data), c.says) })
	}
}

// A GIF or a Y4M that is cut off at any place gives an error or fewer pictures, never a
// panic.
func TestCutAnywhere(t *testing.T) {
	y := []byte("YUV4MPEG2 W4 H2 F25:1 Cmono\nFRAME\n12345678FRAME\n12345678")
	for _, data := range [][]byte{encoded(t, animation()), y} {
		for n := range data {
			m, _, err := movie.Read(bytes.NewReader(data[:n]))
			if err == nil {
				_, err = pictures(m)
			}
			if err == nil { // between two pictures of a Y4M
				assert.Contains(t, []int{len("YUV4MPEG2 W4 H2 F25:1 Cmono\n"), len(data) - len("FRAME\n12345678")}, n)
			}
		}
	}
}

// The color differences of both formats. Worked values: a picture in ITU-R BT.601 at full
// range, as JFIF 1.02 states it (both from memory): Cb = 128 - 0.1687 R - 0.3313 G + 0.5 B,
// Cr = 128 + 0.5 R - 0.4187 G - 0.0813 B. Pure blue has Y 29, Cb 255 (255.5 is clipped),
// Cr 107; pure red has 76, 85, 255; pure green 150, 44, 21; every gray has 128, 128.
func TestColor(t *testing.T) {
	palette := color.Palette{color.RGBA{0, 0, 255, 255}, color.RGBA{255, 0, 0, 255}, color.RGBA{0, 255, 0, 255},
		color.Gray{90}}
	want := [][3]uint8{{29, 255, 107}, {76, 85, 255}, {150, 44, 21}, {90, 128, 128}}
	grays := color.Palette{color.Gray{10}, color.Gray{20}}
	g := &imagegif.GIF{Delay: []int{10, 10}}
	g.Image = []*image.Paletted{image.NewPaletted(image.Rect(0, 0, 4, 1), grays),
		image.NewPaletted(image.Rect(0, 0, 4, 1), palette)}
	copy(g.Image[1].Pix, []uint8{0, 1, 2, 3})
	var b bytes.Buffer
	require.NoError(t, imagegif.EncodeAll(&b, g))
	all, err := pictures(open(t, b.Bytes()))
	require.NoError(t, err)
	require.Len(t, all, 2)
	assert.Empty(t, all[0].Color, "gray so far")
	require.Len(t, all[1].Color, 8)
	for i, w := range want {
		got := [3]uint8{all[1].Gray[i], all[1].Color[i], all[1].Color[4+i]}
		for p := range w {
			assert.InDelta(t, w[p], got[p], 1, "color %d, plane %d", i, p)
		}
	}

	// Each plane's samples in order, however color is sampled: W5 H3 has an odd side.
	for space, size := range map[string][2]int{"420jpeg": {3, 2}, "422": {3, 3}, "444": {5, 3}, "444alpha": {5, 3},
		"mono": {0, 0}, "411": {0, 0}} {
		skipped := map[string]int{"444alpha": 15, "411": 2 * 2 * 3}[space]
		n := size[0] * size[1]
		var b bytes.Buffer
		b.WriteString("YUV4MPEG2 W5 H3 F25:1 C" + space + "\n")
		for range 2 {
			b.WriteString("FRAME\n")
			b.Write(bytes.Repeat([]byte{1}, 15))
			b.Write(bytes.Repeat([]byte{2}, n))
			b.Write(bytes.Repeat([]byte{3}, n))
			b.Write(bytes.Repeat([]byte{4}, skipped))
		}
		m := open(t, b.Bytes())
		width, height := m.ChromaSize()
		assert.Equal(t, size, [2]int{width, height}, space)
		all, err := pictures(m)
		require.NoError(t, err, space)
		require.Len(t, all, 2, space)
		for _, p := range all {
			assert.Equal(t, bytes.Repeat([]byte{1}, 15), p.Gray, space)
			assert.Equal(t, string(bytes.Repeat([]byte{2}, n))+string(bytes.Repeat([]byte{3}, n)),
				string(p.Color), space)
		}
	}
}
