package wording_test

import (
	"fmt"

	"tallywink.example/channelplan/wording"
)

func ExampleNearest() {
	fmt.Println(wording.Nearest("digtal", []string{"analog", "digital", "cw"}))
	// Output: digital
}
