package answer_test

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
)

// What to do at an amplifier whose lamp shows that its self-test failed.
func ExampleSteps() {
	for _, step := range answer.Steps(answer.Situation{System: answer.System{Code: blink.Tally}, State: blink.Fault}) {
		fmt.Println("-", step.Text)
	}
	// Output:
	// - Customers affected? Call it in now. Don't adjust anything. Count again: three flashes mean fault, two flashes mean holding.
	// - Measure the output against design: with the self-test failed, its level may be anything. Report it. The supervisor decides if the output is set to design in manual, and when the module is replaced, which cuts off everyone downstream.
}
