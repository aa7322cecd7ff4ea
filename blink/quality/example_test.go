package quality_test

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/blink/quality"
)

// Measure how good a code is.
func ExampleOf() {
	r := quality.Of(blink.Tally)
	fmt.Printf("%d pilots, frames differ in %d groups at least, %.0f%% of single errors are silent\n", r.Pilots,
		r.Distance, 100*r.SilentShare())
	// Output: 597 pilots, frames differ in 2 groups at least, 0% of single errors are silent
}
