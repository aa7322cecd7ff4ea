package picture_test

import (
	"fmt"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/picture"
	"tallywink.example/channelplan"
)

// A still timeline of what a lamp shows: one bar for each stretch of light.
func ExampleWriteSVG() {
	s := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}
	var svg strings.Builder
	if err := picture.WriteSVG(&svg, blink.Tally, s, blink.Tally.Timing.Unit); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(strings.Count(svg.String(), `class="lit"`), "bars of light")
	// Output: 9 bars of light
}
