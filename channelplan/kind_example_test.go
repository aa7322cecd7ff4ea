package channelplan_test

import (
	"fmt"

	"tallywink.example/channelplan"
)

// A lineup gives the order of the QAM; a pilot lamp shows only that it is digital.
func ExampleKind_Family() {
	kind, err := channelplan.ParseListedKind("qam256")
	fmt.Println(kind.Label(), kind.Family(), err)
	// Output: 256-QAM digital <nil>
}
