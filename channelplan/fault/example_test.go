package fault_test

import (
	"fmt"

	"tallywink.example/channelplan/fault"
)

func ExampleError() {
	err := &fault.Error{Line: 4, Column: 9, Text: `"loud" is not a level`, Hint: "write dBmV, such as 36.5"}
	fmt.Println(err)
	fmt.Println(fault.In("lineup.csv", err, ""))
	// Output:
	// 4:9: "loud" is not a level; write dBmV, such as 36.5
	// lineup.csv:4:9: "loud" is not a level; write dBmV, such as 36.5
}
