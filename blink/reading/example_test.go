package reading_test

import (
	"fmt"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// A look with a mistake is doubtful, and the result says what to count again.
func ExampleReader_Read() {
	reader := reading.NewReader(blink.Tally, reading.Assumed, nil)
	looks, _ := blink.ParseNotation(". . _... ..")
	result := reader.Read(looks, reading.StartSeen)
	fmt.Println(result.Doubtful())
	fmt.Println(reader.Differences(looks, result)[0])

	looks, _ = blink.ParseNotation(". . _... .. // . . _... .")
	result = reader.Read(looks, reading.StartSeen)
	fmt.Println(result.Doubtful(), result.Best().Pilot)
	// Output:
	// true
	// Count the last group (check) again: a short is 18 analog, two shorts is 68 analog or 19 digital.
	// false 18 analog
}
