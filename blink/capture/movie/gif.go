package movie

import (
	"bufio"
	"bytes"
	"encoding/binary"
	"fmt"
	"image"
	"image/color"
	imagegif "image/gif"
	"io"
	"time"

	"tallywink.example/channelplan/fault"
)

// This file reads animated GIF picture by picture. The standard library decodes either
// all of a GIF or only its first picture. So this code walks the blocks, by the GIF89a
// Specification (CompuServe 1990), sections 17 to 27, and hands each picture to the
// library as a GIF of its own. It never trusts a header beyond what checkSize allows.

// Blocks and labels, GIF89a sections 20, 23 and 27.
const (
	gifImage     = 0x2c
	gifExtension = 0x21
	gifTrailer   = 0x3b
	gifControl   = 0xf9
)

// gifStep is the unit of delays, GIF89a section 23.
const gifStep = 10 * time.Millisecond

// maxPictureBytes is how long a picture's data may be: LZW codes of 12 bits for every
// pixel would be half again as long as the pixels.
const maxPictureBytes = 2 * maxPixels

// Disposal methods, GIF89a section 23: what happens to a picture when its time is over.
const (
	disposeBackground = 2
	disposePrevious   = 3
)

type gif struct {
	in     *bufio.Reader
	header []byte // signature, screen descriptor and global colors
	width  int
	height int

	canvas   planes // what is shown
	previous planes // what was shown before, for disposePrevious
	pictures int
	at       time.Duration // of the next picture
	moved    bool          // some delay was not zero

	// How to dispose of the picture on the canvas, and where it is.
	dispose byte
	bounds  image.Rectangle
}

// planes are those of a picture. The color differences are empty until there is color.
type planes [3][]uint8

// colorful reports whether a palette has anything but grays.
func colorful(p color.Palette) bool {
	for _, c := range p {
		if r, g, b, _ := c.RGBA(); r != g || g != b {
			return true
		}
	}
	return false
}

// gifColors returns the number of bytes in a color table, from the packed fields of
// sections 18 and 20.
func gifColors(packed byte) int {
	if packed&0x80 == 0 {
		return 0
	}
	return 3 << (packed&7 + 1)
}

func newGIF(in *bufio.Reader) (*gif, error) {
	g := &gif{in: in, header: make([]byte, 13)}
	if err := g.fill(g.header); err != nil {
		return nil, g.broken(err)
	}
	g.width = int(binary.LittleEndian.Uint16(g.header[6:]))
	g.height = int(binary.LittleEndian.Uint16(g.header[8:]))
	if err := checkSize(g.width, g.height); err != nil {
		return nil, err
	}
	colors := make([]byte, gifColors(g.header[10]))
	if err := g.fill(colors); err != nil {
		return nil, g.broken(err)
	}
	g.header = append(g.header, colors...)
	g.canvas[Luma] = make([]uint8, g.width*g.height)
	return g, nil
}

func (g *gif) fill(b []byte) error {
	_, err := io.ReadFull(g.in, b)
	return err
}

func (g *gif) broken(err error) error {
	return readError(g.pictures+1, "the GIF", "the GIF ends in the middle of it", err)
}

func (g *gif) damaged(text string, args ...any) error {
	return &fault.Error{Text: inPicture(g.pictures+1) + fmt.Sprintf(text, args...), Hint: "copy or save the GIF again"}
}

func (g *gif) Size() (int, int) { return g.width, g.height }

func (g *gif) ChromaSize() (int, int) { return g.width, g.height }

func (g *gif) Length() time.Duration { return g.at }

// Next returns the next picture that is shown for some time. A picture with zero delay
// is drawn over at once.
func (g *gif) Next(take func(plane Plane, top int, rows []uint8)) (time.Duration, error) {
	for {
		delay, err := g.draw()
		if err == io.EOF && g.pictures > 1 && !g.moved {
			return 0, &fault.Error{Text: "all delays in the GIF are zero, so it has no timing",
				Hint: "make it again with the real delay of each picture"}
		}
		if err == io.EOF {
			return 0, io.EOF
		}
		if err != nil {
			return 0, g.broken(err)
		}
		g.pictures++
		if delay == 0 {
			continue
		}
		g.moved = true
		for p, canvas := range g.canvas {
			for top := 0; top < g.height && canvas != nil; top += Band {
				take(Plane(p), top, canvas[top*g.width:min(top+Band, g.height)*g.width])
			}
		}
		if g.at > maxLength {
			return 0, tooLong(g.pictures)
		}
		at := g.at
		g.at += time.Duration(delay) * gifStep
		return at, nil
	}
}

// draw draws the next picture on the canvas and returns its delay in steps, or io.EOF
// after the last one.
func (g *gif) draw() (delay int, err error) {
	var control [4]byte // packed fields, delay, transparent index
	hasControl := false
	for {
		block, err := g.in.ReadByte()
		if err != nil {
			return 0, noEOF(err)
		}
		switch block {
		case gifTrailer:
			return 0, io.EOF
		case gifExtension:
			label, err := g.in.ReadByte()
			if err != nil {
				return 0, noEOF(err)
			}
			data := control[:]
			if label != gifControl {
				data = nil
			}
			if err := g.extension(data); err != nil {
				return 0, noEOF(err)
			}
			hasControl = hasControl || label == gifControl
		case gifImage:
			transparent := -1
			if hasControl && control[0]&1 != 0 {
				transparent = int(control[3])
			}
			dispose := byte(0)
			if hasControl {
				dispose = control[0] >> 2 & 7
			}
			return int(binary.LittleEndian.Uint16(control[1:])), g.picture(transparent, dispose)
		default:
			return 0, g.damaged("a block of unknown kind %#02x", block)
		}
	}
}

// noEOF turns the end of the reader into an unexpected one: a GIF ends with its
// trailer.
func noEOF(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}

// extension reads an extension's sub-blocks. It stores the first one in data, as far as
// that has room, and discards the others.
func (g *gif) extension(data []byte) error {
	for first := true; ; first = false {
		size, err := g.in.ReadByte()
		if err != nil || size == 0 {
			return err
		}
		n := 0
		if first && len(data) > 0 {
			if n, err = io.ReadFull(g.in, data[:min(len(data), int(size))]); err != nil {
				return err
			}
		}
		if _, err := g.in.Discard(int(size) - n); err != nil {
			return err
		}
	}
}

// picture draws one picture over what the previous one left.
func (g *gif) picture(transparent int, dispose byte) error {
	descriptor := make([]byte, 9)
	if err := g.fill(descriptor); err != nil {
		return noEOF(err)
	}
	at := func(i int) int { return int(binary.LittleEndian.Uint16(descriptor[i:])) }
	bounds := image.Rect(at(0), at(2), at(0)+at(4), at(2)+at(6))
	if !bounds.In(image.Rect(0, 0, g.width, g.height)) {
		return g.damaged("it is %d x %d and does not fit in the GIF's %d x %d", bounds.Dx(), bounds.Dy(),
			g.width, g.height)
	}
	alone := bytes.NewBuffer(bytes.Clone(g.header))
	alone.WriteByte(gifImage)
	alone.Write(descriptor)
	if _,
		err := io.CopyN(alone, g.in, int64(gifColors(descriptor[8]))+1); err != nil { // colors, and the size of a code
		return noEOF(err)
	}
	for {
		size, err := g.in.ReadByte()
		if err != nil {
			return noEOF(err)
		}
		alone.WriteByte(size)
		if size == 0 {
			break
		}
		if _, err := io.CopyN(alone, g.in, int64(size)); err != nil {
			return noEOF(err)
		}
		if alone.Len() > maxPictureBytes {
			return g.damaged("it has more data than a picture can have")
		}
	}
	alone.WriteByte(gifTrailer)
	decoded, err := imagegif.Decode(alone)
	if err != nil {
		return g.damaged("it can't be decoded: %v", err)
	}
	paletted, ok := decoded.(*image.Paletted)
	if !ok {
		return g.damaged("it has no palette")
	}
	g.clear()
	g.dispose, g.bounds = dispose, bounds
	if g.canvas[BlueDifference] == nil && colorful(paletted.Palette) {
		for _, p := range []Plane{BlueDifference, RedDifference} {
			g.canvas[p] = make([]uint8, g.width*g.height)
			fillNeutral(g.canvas[p])
		}
	}
	if dispose == disposePrevious {
		for p := range g.canvas {
			g.previous[p] = append(g.previous[p][:0], g.canvas[p]...)
		}
	}
	g.paint(paletted, transparent)
	return nil
}

// clear disposes of the picture on the canvas.
func (g *gif) clear() {
	switch g.dispose {
	case disposePrevious:
		for p := range g.canvas {
			copy(g.canvas[p], g.previous[p])
		}
	case disposeBackground:
		for y := g.bounds.Min.Y; y < g.bounds.Max.Y; y++ {
			from, to := y*g.width+g.bounds.Min.X, y*g.width+g.bounds.Max.X
			clear(g.canvas[Luma][from:to])
			for _, p := range []Plane{BlueDifference, RedDifference} {
				if g.canvas[p] != nil {
					fillNeutral(g.canvas[p][from:to])
				}
			}
		}
	}
}

// neutral is the value of a color difference for gray.
const neutral = 128

func fillNeutral(samples []uint8) {
	for i := range samples {
		samples[i] = neutral
	}
}

// paint draws a picture, in the colors of ITU-R BT.601 at full range.
func (g *gif) paint(p *image.Paletted, transparent int) {
	var colors [3][256]uint8
	for i, c := range p.Palette {
		rgb := color.NRGBAModel.Convert(c).(color.NRGBA)
		colors[Luma][i], colors[BlueDifference][i], colors[RedDifference][i] = color.RGBToYCbCr(rgb.R, rgb.G, rgb.B)
	}
	for plane, canvas := range g.canvas {
		if canvas == nil {
			continue
		}
		values := &colors[plane]
		for y := range p.Rect.Dy() {
			row := canvas[(p.Rect.Min.Y+y)*g.width+p.Rect.Min.X:]
			for x, index := range p.Pix[y*p.Stride : y*p.Stride+p.Rect.Dx()] {
				if int(index) != transparent {
					row[x] = values[index]
				}
			}
		}
	}
}
