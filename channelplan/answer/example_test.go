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
	// - Count again: three flashes mean fault, two flashes mean holding.
	// - Measure the output against design: with the self-test failed, its level may be anything. Adjust nothing by the lamp.
	// - Report it: the supervisor decides when to replace the module, which cuts off everyone downstream. If customers are affected, ask to set the output to design in manual.
}
