package capture_test

import (
	"context"
	"fmt"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
)

// Read what the lamp showed from a recording of its brightness.
func ExampleReadTrace() {
	var csv strings.Builder
	csv.WriteString("seconds,brightness\n")
	for i := range 400 { // 20 a second: lit and dark alike, 1.6 s each
		fmt.Fprintf(&csv, "%.2f,%d\n", float64(i)/20, 20+60*(i/32%2))
	}
	trace, err := capture.ReadTrace(strings.NewReader(csv.String()))
	if err != nil {
		fmt.Println(err)
		return
	}
	reader := reading.NewTimedReader(blink.Tally, reading.AssumedDurations, nil)
	result, _, err := trace.Read(context.Background(), reader, nil)
	fmt.Println(result.Best().Signal.State, err)
	// Output: seeking <nil>
}
