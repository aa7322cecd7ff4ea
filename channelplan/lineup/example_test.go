package lineup_test

import (
	"fmt"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// A pilot is judged against an invented lineup.
func ExampleLineup_Check() {
	l, err := lineup.Read(strings.NewReader(`# name: Quillfen Valley Cable
# forward: 54-1002
# effective: 2026-03-02
channel,carrier,duty
8,analog,part-time
116,qam256,
`), "lineup.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	report := l.Check(channelplan.Pilot{Channel: 8, Kind: channelplan.Analog}, lineup.Context{})
	fmt.Println(report.Verdict)
	fmt.Println(report.Findings[0].Rule+":", report.Findings[0].Text)
	// Output:
	// unusable
	// part-time: it is a part-time carrier: when it goes off the air, the AGC loses its pilot
}
