package picture

import (
	"bytes"
	"image/png"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// The bars of a timeline, measured in the rendered picture: as many as the signal has,
// each as wide as it is lit. librsvg (rsvg-convert) does the rendering.
func TestBarsInTheRenderedTimeline(t *testing.T) {
	program, err := exec.LookPath("rsvg-convert")
	if err != nil {
		require.Empty(t, os.Getenv("CI"), "CI has librsvg2-bin")
		t.Skip("rsvg-convert is not installed")
	}
	p := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	for _, s := range []blink.Signal{{State: blink.Locked, Pilot: p},
		{State: blink.Edge, End: blink.EndHigh, Pilot: p}, {State: blink.Holding}, {State: blink.Thermal}} {
		var svg bytes.Buffer
		require.NoError(t, WriteSVG(&svg, blink.Tally, s, blink.Tally.Timing.Unit))
		render := exec.Command(program)
		render.Stdin = &svg
		out, err := render.Output()
		require.NoError(t, err)
		picture, err := png.Decode(bytes.NewReader(out))
		require.NoError(t, err)
		intervals, _, err := blink.Tally.Signal(s, blink.Tally.Timing.Unit)
		require.NoError(t, err)
		x := margin
		for i, iv := range intervals {
			end := x + int(iv.Duration/blink.Tally.Timing.Unit)*unitWidth
			for ; x < end; x++ {
				r, _, _, _ := picture.At(x, pulseTop+pulseHeight/2).RGBA()
				require.Equal(t, iv.Lit, r < 0x8000, "%v: pixel %d, stretch %d", s, x, i)
			}
		}
		r, _, _, _ := picture.At(x+1, pulseTop+pulseHeight/2).RGBA()
		require.Greater(t, r, uint32(0x8000), "nothing behind the end")
	}
}
