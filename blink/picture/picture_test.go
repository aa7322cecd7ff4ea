package picture

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"image/color"
	"image/gif"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// samples are signals of every state, and some frames.
func samples(yield func(blink.Signal) bool) {
	for _, s := range blink.States() {
		if !s.ShowsFrame() {
			if !yield(blink.Signal{State: s}) {
				return
			}
			continue
		}
		for channel := 1; channel <= 199; channel += 33 {
			for _, kind := range channelplan.PilotKinds() {
				signal := blink.Signal{State: s, Pilot: channelplan.Pilot{Channel: channel, Kind: kind}}
				if s == blink.Edge {
					signal.End = blink.EdgeEnd(1 + channel%2)
				}
				if !yield(signal) {
					return
				}
			}
		}
	}
}

// brightness returns the luminance of the middle of a frame, 0 to 1: WCAG 2.x,
// relative luminance.
func brightness(c color.Color) float64 {
	r, g, b, _ := c.RGBA()
	linear := func(v uint32) float64 {
		x := float64(v) / 0xffff
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*linear(r) + 0.7152*linear(g) + 0.0722*linear(b)
}

// The GIF shows what was sent: the picture's frames and delays, read back by the
// standard library's decoder, are the intervals.
func TestGIFKeepsTheTimes(t *testing.T) {
	for s := range samples {
		for _, unit := range []time.Duration{180 * time.Millisecond, 200 * time.Millisecond, 300 * time.Millisecond} {
			intervals, _, err := blink.Tally.Signal(s, unit)
			require.NoError(t, err)
			var b bytes.Buffer
			require.NoError(t, WriteGIF(&b, intervals))
			got, err := gif.DecodeAll(&b)
			require.NoError(t, err)
			if last := len(intervals) - 1; last > 0 {
				assert.Zero(t, got.LoopCount, "without end")
				// It begins near the end of the last interval, and ends with the remainder of it.
				require.Len(t, got.Image, len(intervals)+1, "%v", s)
				assert.Equal(t, intervals[last].Duration, time.Duration(got.Delay[0]+got.Delay[last+1])*GIFStep)
				assert.InDelta(t, 5*got.Delay[0], got.Delay[last+1], 6)
				begin, end := intervals[last], intervals[last]
				begin.Duration, end.Duration = time.Duration(got.Delay[0])*GIFStep,
					time.Duration(got.Delay[last+1])*GIFStep
				intervals = append(append([]blink.Interval{begin}, intervals[:last]...), end)
			}
			require.Len(t, got.Image, len(intervals), "%v", s)
			for i, iv := range intervals {
				assert.Equal(t, iv.Duration, time.Duration(got.Delay[i])*GIFStep)
				middle := brightness(got.Image[i].At(gifSize/2, gifSize/2))
				assert.Equal(t, iv.Lit, middle > 0.5, "%v, frame %d", s, i)
				if !iv.Lit {
					assert.Less(t, middle, 0.05)
				}
			}
		}
	}
}

// Source: WCAG 2.x, 2.3.1: saturated red, R/(R+G+B) of 0.8 or more, is the color to
// avoid when flashing.
func TestTheFlashingColorIsNotRed(t *testing.T) {
	assert.Less(t, float64(amber.R)/float64(int(amber.R)+int(amber.G)+int(amber.B)), 0.8)
}

func TestGIFRefuses(t *testing.T) {
	fast, _, err := blink.Tally.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 44, Kind: channelplan.CW}}, 100*time.Millisecond)
	require.NoError(t, err)
	require.ErrorIs(t, WriteGIF(io.Discard, fast), blink.ErrFlashes, "what flashes too fast is not shown")
	odd, _, err := blink.Tally.Signal(blink.Signal{State: blink.Seeking}, 205*time.Millisecond)
	require.NoError(t, err)
	require.NoError(t, WriteGIF(io.Discard, odd), "eight units of 205 ms are no fraction of 10 ms")
	odd, _, err = blink.Tally.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 44, Kind: channelplan.CW}}, 205*time.Millisecond)
	require.NoError(t, err)
	require.ErrorIs(t, WriteGIF(io.Discard, odd), ErrStep)
	require.ErrorIs(t, WriteGIF(io.Discard, []blink.Interval{{Lit: true, Duration: 700 * time.Second}}), ErrStep,
		"GIF counts to 655 s")
	seeking, _, err := blink.Tally.Signal(blink.Signal{State: blink.Seeking}, 200*time.Millisecond)
	require.NoError(t, err)
	require.ErrorIs(t, WriteGIF(full{}, seeking), errFull)
}

var errFull = errors.New("full")

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errFull }

// timeline is the relevant parts of a timeline.
type timeline struct {
	bars  []float64 // x and width, alternating
	texts []string
}

func parse(t *testing.T, svg string) timeline {
	t.Helper()
	var d timeline
	decoder := xml.NewDecoder(strings.NewReader(svg))
	inText := false
	text := ""
	for {
		token, err := decoder.Token()
		if err == io.EOF {
			return d
		}
		require.NoError(t, err, "well-formed XML")
		switch e := token.(type) {
		case xml.StartElement:
			attr := map[string]string{}
			for _, a := range e.Attr {
				attr[a.Name.Local] = a.Value
			}
			if e.Name.Local == "rect" && attr["class"] == "lit" {
				for _, name := range []string{"x", "width"} {
					v, err := strconv.ParseFloat(attr[name], 64)
					require.NoError(t, err)
					d.bars = append(d.bars, v)
				}
			}
			if e.Name.Local == "text" {
				inText, text = true, ""
			}
		case xml.CharData:
			if inText {
				text += string(e)
			}
		case xml.EndElement:
			if e.Name.Local == "text" {
				d.texts = append(d.texts, text)
				inText = false
			}
		}
	}
}

// The timeline's bars are where the light is and as wide as it is long; below a frame
// are its groups with their digits.
func TestSVGIsTheTimeline(t *testing.T) {
	const unit = 200 * time.Millisecond
	for s := range samples {
		var b bytes.Buffer
		require.NoError(t, WriteSVG(&b, blink.Tally, s, unit))
		d := parse(t, b.String())
		intervals, _, err := blink.Tally.Signal(s, unit)
		require.NoError(t, err)
		var want []float64
		var now time.Duration
		for _, iv := range intervals {
			if iv.Lit {
				want = append(want, margin+float64(now/unit)*unitWidth, float64(iv.Duration/unit)*unitWidth)
			}
			now += iv.Duration
		}
		require.InDeltaSlice(t, want, d.bars, 0.1, "%v", s)
		all := strings.Join(d.texts, "|")
		assert.Contains(t, all, s.State.String())
		if s.State.ShowsFrame() {
			digits, err := blink.Tally.Digits(s.Pilot)
			require.NoError(t, err)
			assert.Contains(t, all, fmt.Sprintf("head %d|tens %d|units %d|check %d", digits[0], digits[1],
				digits[2], digits[3]))
			assert.Contains(t, all, s.Pilot.String())
		}
	}
	require.ErrorIs(t, WriteSVG(io.Discard, blink.Tally, blink.Signal{State: blink.Locked}, unit), blink.ErrChannel)
	require.ErrorIs(t, WriteSVG(full{}, blink.Tally, blink.Signal{State: blink.Seeking}, unit), errFull)
}
