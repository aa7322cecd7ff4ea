package cutover_test

import (
	"fmt"
	"time"

	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/demo"
)

// The work at one node on the day the demo's lineup changes.
func ExampleNew() {
	before, err := demo.Lineup()
	if err != nil {
		fmt.Println(err)
		return
	}
	after, err := demo.Next()
	if err != nil {
		fmt.Println(err)
		return
	}
	p, err := plant.Read(demo.Inventory(), demo.Name)
	if err != nil {
		fmt.Println(err)
		return
	}
	plan := cutover.New(p, p.Cascades(), cutover.Request{Before: before, After: after, Visit: 30 * time.Minute,
		Crews: 1, Node: "N03"})
	for _, s := range plan.Steps[:2] {
		fmt.Println(s.ID, s.Action, s.To.Pilot)
	}
	// Output:
	// HRN-01 early 61 cw
	// HRN-02 early 61 cw
}
