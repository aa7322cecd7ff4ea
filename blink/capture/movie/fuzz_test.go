package movie

import (
	"bytes"
	"errors"
	"image"
	"image/color"
	imagegif "image/gif"
	"io"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/fault"
)

// drained reads a movie to its end, within limits set by the size of the input. Every
// picture must arrive whole, from the top, and times must increase.
func drained(t *testing.T, data []byte) {
	m, _, err := Read(bytes.NewReader(data))
	if err != nil {
		return // the caller reports it; it is not one of our formats
	}
	width, height := m.Size()
	require.Positive(t, width)
	require.Positive(t, height)
	require.LessOrEqual(t, width*height, maxPixels)
	if width*height > 1<<16 {
		return // large ones take long and do not test anything new
	}
	before := time.Duration(-1)
	for range 200 {
		rows := 0
		at, err := m.Next(func(plane Plane, top int, band []uint8) {
			if plane != Luma {
				return
			}

			require.Equal(t, rows, top)
			require.Zero(t, len(band)%width)
			rows += len(band) / width
			require.LessOrEqual(t, rows, height)
		})
		if err == io.EOF {
			require.GreaterOrEqual(t, m.Length(), before)
			return
		}
		if err != nil {
			var broken *fault.Error
			require.True(t, errors.As(err, &broken), "%T: %v", err, err)
			require.NotEmpty(t, broken.Hint)
			return
		}
		require.Equal(t, height, rows)
		require.Greater(t, at, before)
		before = at
	}
}

func FuzzGIF(f *testing.F) {
	g := &imagegif.GIF{}
	for i := range 3 {
		p := image.NewPaletted(image.Rect(0, 0, 5, 4), color.Palette{color.Black, color.White, color.Transparent})
		p.Pix[i] = 1
		g.Image, g.Delay, g.Disposal = append(g.Image, p), append(g.Delay, 10), append(g.Disposal, byte(i))
	}
	var b bytes.Buffer
	require.NoError(f, imagegif.EncodeAll(&b, g))
	f.Add(b.Bytes())
	f.Add([]byte("GIF89a\xff\xff\xff\xff\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if bytes.HasPrefix(data, []byte("GIF")) && len(data) <= 4<<10 {
			drained(t, data)
		}
	})
}

func FuzzY4M(f *testing.F) {
	f.Add([]byte("YUV4MPEG2 W2 H2 F25:1 Cmono\nFRAME\n0123FRAME\n4567"))
	f.Add([]byte("YUV4MPEG2 W4 H2 F30000:1001 C420jpeg XYSCSS=420JPEG\nFRAME Ip\n012345670123"))
	f.Add([]byte("YUV4MPEG2 W99999999 H99999999 F0:0\nFRAME\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		if bytes.HasPrefix(data, []byte("YUV4MPEG2")) && len(data) <= 4<<10 {
			drained(t, data)
		}
	})
}
