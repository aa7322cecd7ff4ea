package channelplan_test

import (
	"fmt"

	"tallywink.example/channelplan"
)

// A lineup tells which QAM; a pilot lamp tells no more than digital.
func ExampleKind_Family() {
	kind, err := channelplan.ParseListedKind("qam256")
	fmt.Println(kind.Label(), kind.Family(), err)
	// Output: 256-QAM digital <nil>
}
