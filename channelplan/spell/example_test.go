package spell_test

import (
	"fmt"

	"tallywink.example/channelplan/spell"
)

func ExampleNearest() {
	fmt.Println(spell.Nearest("digtal", []string{"analog", "digital", "cw"}))
	// Output: digital
}
