package lineup_test

import (
	"fmt"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
)

// The carrier that is most fit to be a pilot, and why it is less than perfect.
func ExampleRank() {
	l, err := demo.Lineup()
	if err != nil {
		fmt.Println(err)
		return
	}
	best := lineup.Rank(l, nil, lineup.Context{Today: demo.Day()})[0]
	fmt.Printf("%v %.1f: %s\n", best.Pilot, best.Score, best.Deductions[0].Why)
	// Output: 122 digital 95.4: placement: it sees 88% of the level change that 1002 MHz sees
}
