package card

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rivo/uniseg"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
)

func content(t *testing.T, code *blink.Code) Content {
	t.Helper()
	l, err := demo.Lineup()
	require.NoError(t, err)
	return Content{Code: code, Lineup: l, Day: demo.Day(), Pilots: []channelplan.Pilot{
		{Channel: 116, Kind: channelplan.Digital}, {Channel: 73, Kind: channelplan.Analog},
		{Channel: 60, Kind: channelplan.CW}, {Channel: 138, Kind: channelplan.Digital}}}
}

func codes(t *testing.T) []*blink.Code {
	t.Helper()
	curlew, problems, err := sheet.Open(sheet.CurlewName)
	require.NoError(t, err)
	require.Empty(t, problems)
	return []*blink.Code{sheet.Tally(), curlew}
}

// Everything is on the paper and nothing overlaps, assuming that text is as wide as the
// layout expects.
func TestEverythingFits(t *testing.T) {
	for _, code := range codes(t) {
		for _, f := range Formats() {
			c, err := New(content(t, code), f)
			require.NoError(t, err)
			assert.Zero(t, c.LeftOut)
			type box struct {
				x1, y1, x2, y2 float64
				what           string
			}
			var boxes []box
			for _, m := range c.rects {
				boxes = append(boxes, box{m.x, m.y, m.x + m.width, m.y + m.height, "a mark"})
			}
			for _, w := range c.words {
				boxes = append(boxes, box{w.x, w.y - 0.8*w.size, w.x + 0.5*w.size*float64(len(w.text)), w.y, w.text})
			}
			for i, a := range boxes {
				panelWidth, panelHeight := f.Width/float64(f.across), f.Height/float64(f.down)
				require.Equal(t, int(a.x1/panelWidth), int(a.x2/panelWidth), "%s: %s crosses a fold", f.Name, a.what)
				require.Equal(t, int(a.y1/panelHeight), int(a.y2/panelHeight), "%s: %s crosses a fold", f.Name, a.what)
				require.Positive(t, a.x1)
				require.Less(t, a.x2, f.Width)
				require.Less(t, a.y2, f.Height)
				for _, b := range boxes[:i] {
					apart := a.x1 >= b.x2 || b.x1 >= a.x2 || a.y1 >= b.y2 || b.y1 >= a.y2
					require.True(t, apart, "%s %s: %q stands on %q", code.Name, f.Name, a.what, b.what)
				}
			}
		}
	}
}

// The drawn marks, measured in the rendered picture: as many as the code has, each as
// wide as it is lit. librsvg (rsvg-convert) does the rendering.
func TestMarksInTheRenderedPicture(t *testing.T) {
	program, err := exec.LookPath("rsvg-convert")
	if err != nil {
		require.Empty(t, os.Getenv("CI"), "CI has librsvg2-bin")
		t.Skip("rsvg-convert is not installed")
	}
	for _, code := range codes(t) {
		for _, f := range Formats() {
			made := content(t, code)
			c, err := New(made, f)
			require.NoError(t, err)
			const perMM = 20
			picture := render(t, program, c, perMM)
			assert.InDelta(t, f.Width*perMM, picture.Bounds().Dx(), 1.5,
				"Drawn at actual size, black on white: print it at 100 %. It has the pilots that")
			for i, p := range made.Pilots {
				light, _, err := code.Signal(blink.Signal{State: blink.Locked, Pilot: p}, code.Timing.Unit)
				require.NoError(t, err)
				light = light[:len(light)-1]
				x, y := whereFrame(t, c, p.String()+",", f)
				want := runsOf(light, code, f)
				length := 2.0 // with some paper on either side
				for _, run := range want {
					length += run
				}
				got := inkRuns(picture, x*perMM, y*perMM, (x+length)*perMM)
				require.Equal(t, len(want), len(got), "%s %s, pilot %d %v", code.Name, f.Name, i, p)
				for k := range want {
					require.InDelta(t, want[k]*perMM, float64(got[k]), 2, "%s %s, %v, stretch %d", code.Name,
						f.Name, p, k)
				}
			}
		}
	}
}

// render renders a card at the given number of pixels per millimeter.
func render(t *testing.T, program string, c *Card, perMM float64) image.Image {
	t.Helper()
	path := filepath.Join(t.TempDir(), "card.svg")
	var svg bytes.Buffer
	require.NoError(t, c.WriteSVG(&svg))
	require.NoError(t, os.WriteFile(path, svg.Bytes(), 0o600))
	const mmPerInch = 25.4
	dpi := fmt.Sprint(perMM * mmPerInch)
	out, err := exec.Command(program, "-d", dpi, "-p", dpi, path).Output()
	require.NoError(t, err)
	picture, err := png.Decode(bytes.NewReader(out))
	require.NoError(t, err)
	return picture
}

// whereFrame returns a place a little left of a pilot's frame, at its middle height:
// the frame is below the pilot's text.
func whereFrame(t *testing.T, c *Card, text string, f Format) (x, y float64) {
	t.Helper()
	for _, w := range c.words {
		if !strings.HasPrefix(w.text, text) {
			continue
		}
		for _, m := range c.rects {
			if m.x == w.x && m.y > w.y && m.y < w.y+3*f.text {
				return w.x - 0.5, m.y + f.text/2
			}
		}
	}
	require.Fail(t, "the pilot stands on the card", text)
	return 0, 0
}

// runsOf returns the widths of light and dark, alternating, in millimeters.
func runsOf(light []blink.Interval, code *blink.Code, f Format) []float64 {
	var runs []float64
	for _, iv := range light {
		runs = append(runs, float64(iv.Duration/code.Timing.Unit)*f.unit)
	}
	return runs
}

// inkRuns returns the widths of ink and paper along a line, alternating, from the first
// ink to the last before an end.
func inkRuns(picture image.Image, x, y, end float64) []int {
	dark := func(x int) bool {
		r, g, b, _ := picture.At(x, int(y)).RGBA()
		return r+g+b < 3*0x8000
	}
	at := int(x)
	for at < int(end) && !dark(at) {
		at++
	}
	var runs []int
	for at < int(end) {
		start, ink := at, dark(at)
		for at < int(end) && dark(at) == ink {
			at++
		}
		runs = append(runs, at-start)
	}
	if len(runs) > 0 && len(runs)%2 == 0 { // paper up to the end
		runs = runs[:len(runs)-1]
	}
	return runs
}

// Names from files can't break out of the SVG or control anything.
func TestHostileNames(t *testing.T) {
	l, err := lineup.Read(strings.NewReader("# name: </text><script>\x1b[31m\u202e\n# forward: 54-1002\nchannel,carrier\n116,qam256\n"),
		"evil.csv")
	require.NoError(t, err)
	code := *sheet.Tally()
	code.Name = "<b>&"
	c, err := New(Content{Code: &code, Lineup: l,
		Pilots: []channelplan.Pilot{{Channel: 116, Kind: channelplan.Digital}}, Day: time.Date(2026, 11, 25, 0, 0, 0,
			0, time.UTC)}, Letter)
	require.NoError(t, err)
	for _, write := range []func(io.Writer) error{c.WriteSVG, c.WriteHTML} {
		var b bytes.Buffer
		require.NoError(t, write(&b))
		text := b.String()
		assert.NotContains(t, text, "<script")
		assert.NotContains(t, text, "\x1b")
		assert.NotContains(t, text, "\u202e")
		assert.NotContains(t, text, "<b>")
	}
	var svg bytes.Buffer
	require.NoError(t, c.WriteSVG(&svg))
	d := xml.NewDecoder(&svg)
	for {
		_, err := d.Token()
		if err == io.EOF {
			break
		}
		require.NoError(t, err, "well-formed")
	}
}

// Content that does not fit is rejected, or the card says that it was left out.
func TestRoom(t *testing.T) {
	long := *sheet.Tally()
	long.Timing.Rest, long.Timing.GroupGap = 300, 200
	_, err := New(content(t, &long), Letter)
	require.ErrorIs(t, err, ErrRoom)
	many := content(t, sheet.Tally())
	for n := range 60 {
		many.Pilots = append(many.Pilots, channelplan.Pilot{Channel: 23 + n, Kind: channelplan.Digital})
	}
	c, err := New(many, A4)
	require.NoError(t, err)
	assert.Positive(t, c.LeftOut)
	var b bytes.Buffer
	require.NoError(t, c.WriteSVG(&b))
	assert.Contains(t, b.String(), fmt.Sprintf("lack of room: %d.", c.LeftOut))
}

func ExampleNew() {
	l, err := demo.Lineup()
	if err != nil {
		panic(err)
	}
	c, err := New(Content{Code: sheet.Tally(), Lineup: l, Day: demo.Day(),
		Pilots: []channelplan.Pilot{{Channel: 116, Kind: channelplan.Digital}}}, A4)
	if err != nil {
		panic(err)
	}
	var svg strings.Builder
	if err := c.WriteSVG(&svg); err != nil {
		panic(err)
	}
	fmt.Println(strings.SplitN(svg.String(), "\n", 3)[1])
	// Output: <svg xmlns="http://www.w3.org/2000/svg" width="210mm" height="297mm" viewBox="0 0 210 297" font-family="sans-serif" fill="#000">
}

// Wide letters take two columns: no line is wider than it may be, and nothing is lost.
func TestWideLettersStayOnTheCard(t *testing.T) {
	for _, text := range []string{"Pilotlampe: " + strings.Repeat("谷", 90), strings.Repeat("e\u0301", 70) + " x",
		"a 谷谷 b 谷谷谷谷谷谷谷谷谷谷谷 c"} {
		lines := broken(text, 20)
		for _, line := range lines {
			assert.LessOrEqual(t, uniseg.StringWidth(line), 20, line)
		}
		assert.Equal(t, strings.ReplaceAll(text, " ", ""), strings.ReplaceAll(strings.Join(lines, ""), " ", ""))
	}
}
