package main

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// A recording that sampled the lamp too seldom says so, whatever it looks like; a slow
// rhythm can be read from a few samples per second.
func TestSeldomSampled(t *testing.T) {
	trace := func(state string, perSecond int) string {
		signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
		if state == "seeking" {
			signal = blink.Signal{State: blink.Seeking}
		}
		intervals, period, err := blink.Tally.Signal(signal, 200*time.Millisecond)
		require.NoError(t, err)
		var text strings.Builder
		text.WriteString("seconds,brightness\n")
		for i := range 45 * perSecond {
			at := time.Duration(i) * time.Second / time.Duration(perSecond)
			into, lit := at%period, 0
			for _, iv := range intervals {
				if into < iv.Duration {
					if iv.Lit {
						lit = 100
					}
					break
				}
				into -= iv.Duration
			}
			fmt.Fprintf(&text, "%.4f,%d\n", at.Seconds(), lit+i*7%5)
		}
		return text.String()
	}
	for perSecond := 4; perSecond < 8; perSecond++ {
		stdout, _, status := runHere(t, trace("locked", perSecond), "decode", "--trace", "-")
		assert.Equal(t, exitBadNews, status)
		assert.Contains(t, stdout, fmt.Sprintf("doubtful: %d a second is too few to count pulses. Record ten or more",
			perSecond))
	}
	stdout, _, status := runHere(t, trace("locked", 20), "decode", "--trace", "-")
	assert.Equal(t, exitWell, status)
	assert.Contains(t, stdout, "116 digital")
	stdout, _, _ = runHere(t, trace("seeking", 4), "decode", "--trace", "-")
	assert.Contains(t, stdout, "State    seeking: ")
}

// One step of light is no lamp that is always lit or dark, and no number tells how likely it
// would be.
func TestOneStepOfLight(t *testing.T) {
	var text strings.Builder
	text.WriteString("seconds,brightness\n")
	for i := range 30 * 30 {
		bright := 50 + i*7%5
		if i > 400 {
			bright += 60
		}
		fmt.Fprintf(&text, "%.4f,%d\n", float64(i)/30, bright)
	}
	stdout, _, status := runHere(t, text.String(), "decode", "--trace", "-")
	assert.Equal(t, exitBadNews, status)
	assert.Contains(t, stdout, "the recording is not steady enough to trust")
	assert.NotContains(t, stdout, "%")
	assert.NotContains(t, stdout, "Before")
}
