// Package picture draws what a lamp shows: an animated picture of the lamp
// ([WriteGIF]) and a still timeline of its pulses ([WriteSVG]).
//
// Light moves: [WriteGIF] refuses anything that flashes faster than blink.CheckShown
// allows.
package picture

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/gif"
	"io"
	"math"
	"time"

	"tallywink.example/blink"
)

// GIFStep is the unit in which GIF counts time.
const GIFStep = 10 * time.Millisecond

// ErrStep is the error that [WriteGIF] wraps if an interval is not a multiple of
// [GIFStep] and its time would have to be rounded.
var ErrStep = errors.New("not a multiple of 10ms")

// gifSize is the width and height of the picture in pixels; gifSoft is the number of
// pixels over which the lamp's rim fades.
const (
	gifSize = 160
	gifLamp = 56 // radius
	gifRim  = 66 // radius of the housing
	gifSoft = 1.5
)

// Colors of the picture. The light is amber, since saturated red is the most harmful
// color to flash (WCAG 2.3.1).
var (
	wall    = color.RGBA{0x24, 0x2b, 0x33, 0xff}
	housing = color.RGBA{0x4a, 0x54, 0x5f, 0xff}
	unlit   = color.RGBA{0x16, 0x1a, 0x1f, 0xff}
	amber   = color.RGBA{0xff, 0xc8, 0x4d, 0xff}
)

// WriteGIF writes intervals as an animated picture of the lamp that repeats them
// forever, one picture per interval. It begins with a little of the last interval: a
// person or a program that opens it first gets some dark, then the whole frame, then
// most of the long dark. The error wraps blink.ErrFlashes if the intervals flash too
// fast to be shown, [ErrStep] if GIF can't represent their times, or is that of the
// writer.
func WriteGIF(w io.Writer, intervals []blink.Interval) error {
	if err := blink.CheckShown(intervals); err != nil {
		return err
	}
	lit, dark := drawLamp(amber), drawLamp(unlit)
	picture := &gif.GIF{}
	for _, iv := range fromEndOfLast(intervals) {
		if iv.Duration%GIFStep != 0 || iv.Duration/GIFStep > math.MaxUint16 || iv.Duration <= 0 {
			return fmt.Errorf("%w: an interval of %v", ErrStep, iv.Duration)
		}
		frame := dark
		if iv.Lit {
			frame = lit
		}
		picture.Image = append(picture.Image, frame)
		picture.Delay = append(picture.Delay, int(iv.Duration/GIFStep))
	}
	return gif.EncodeAll(w, picture)
}

// fromEndOfLast begins repeating intervals near the end of the last one. Most of that
// interval stays at the end: half of the long dark could still be the beginning of an
// edge's rest.
func fromEndOfLast(intervals []blink.Interval) []blink.Interval {
	n := len(intervals) - 1
	if n < 1 || intervals[n].Duration < 6*GIFStep {
		return intervals
	}
	end := intervals[n]
	begin := blink.Interval{Lit: end.Lit, Duration: end.Duration / 6 / GIFStep * GIFStep}
	end.Duration -= begin.Duration
	return append(append([]blink.Interval{begin}, intervals[:n]...), end)
}

// drawLamp draws the lamp in a color. The picture's palette is mixtures of neighboring
// colors, so that rims are smooth.
func drawLamp(light color.RGBA) *image.Paletted {
	const steps = 16
	var palette color.Palette
	for i := range steps {
		palette = append(palette, mixed(light, housing, float64(i)/(steps-1)))
	}
	for i := range steps {
		palette = append(palette, mixed(housing, wall, float64(i)/(steps-1)))
	}
	picture := image.NewPaletted(image.Rect(0, 0, gifSize, gifSize), palette)
	shade := func(distance, radius float64) float64 { // 0 inside, 1 outside
		return min(max((distance-radius)/gifSoft+0.5, 0), 1)
	}
	for y := range gifSize {
		for x := range gifSize {
			d := math.Hypot(float64(x)+0.5-gifSize/2, float64(y)+0.5-gifSize/2)
			index := int(math.Round(shade(d, gifLamp) * (steps - 1)))
			if outer := shade(d, gifRim); outer > 0 {
				index = steps + int(math.Round(outer*(steps-1)))
			}
			picture.SetColorIndex(x, y, uint8(index))
		}
	}
	return picture
}

func mixed(a, b color.RGBA, share float64) color.RGBA {
	mix := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + share*(float64(y)-float64(x)))) }
	return color.RGBA{mix(a.R, b.R), mix(a.G, b.G), mix(a.B, b.B), 0xff}
}
