package progress_test

import (
	"fmt"
	"time"

	"tallywink.example/blink"
	"tallywink.example/trainer/progress"
)

// The lamp goes faster for a trainee who reads it well.
func ExampleSpeed_Unit() {
	var attempts []progress.Attempt
	for range 10 {
		attempts = append(attempts, progress.Attempt{Exercise: "digits", Right: true})
	}
	speed := progress.SpeedOf(blink.Tally)
	fmt.Println(speed.Slowest, speed.Unit(attempts, "digits"), speed.Fastest.Round(time.Millisecond))
	// Output: 300ms 280ms 180ms
}
