package sheet_test

import (
	"fmt"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
)

// Open a built-in code sheet, and make a frame in its code.
func ExampleOpen() {
	code, problems, err := sheet.Open(sheet.CurlewName)
	if err != nil || len(problems) > 0 {
		fmt.Println(err, problems)
		return
	}
	frame, err := code.Encode(channelplan.Pilot{Channel: 73, Kind: channelplan.Analog})
	fmt.Println(code.Name, frame, err)
	// Output: Curlew ..__. _..._ _._.. <nil>
}

// The problems of a sheet: where, what is wrong, and what to do.
func ExampleParse() {
	_, problems := sheet.Parse([]byte("name = \"Mine\"\nunit_ms = \"fast\"\n"))
	for _, p := range problems[:1] {
		fmt.Printf("%d:%d: %s; %s\n", p.Line, p.Column, p.Text, p.Hint)
	}
	// Output: 2:1: unit_ms is not a whole number; write it without quotes or a decimal point
}
