package channelplan_test

import (
	"fmt"

	"tallywink.example/channelplan"
)

// Which channel holds 747 MHz, and which of its carriers is there.
func ExamplePlan_Holding() {
	c, ok := channelplan.STD.Holding(747_000_000)
	fmt.Println(ok, c, channelplan.FormatMHz(c.VisualHz()), channelplan.FormatMHz(c.CenterHz()))
	// Output: true channel 116 (STD) 745.25 747
}

// Why channel 42 is 25 kHz above its regular place in the standard plan.
func ExampleAeronautical() {
	for _, hz := range []int64{331_250_000, 331_275_000} {
		v := channelplan.Aeronautical(hz)
		fmt.Println(channelplan.FormatMHz(hz), v.AwayHz, v.Passes)
	}
	// Output:
	// 331.25 0 false
	// 331.275 25000 true
}
