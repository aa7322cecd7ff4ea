package blink_test

import (
	"fmt"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// The frame of a pilot, and how long it takes.
func ExampleCode_Encode() {
	pilot := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	frame, _ := blink.Tally.Encode(pilot)
	_, period, _ := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: pilot}, 200*time.Millisecond)
	fmt.Println(frame, period)
	// Output: _.. . _. _.. 8.8s
}

// Marks as written, decoded strictly to the pilot.
func ExampleCode_Pilot() {
	looks, _ := blink.ParseNotation("-.. . -. -..")
	digits, _ := blink.Tally.DigitsOf(looks[0])
	fmt.Println(blink.Tally.Pilot(digits))
	// Output: 116 digital <nil>
}
