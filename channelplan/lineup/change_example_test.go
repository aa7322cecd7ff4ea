package lineup_test

import (
	"fmt"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

// Analog becomes 256-QAM, 6 dB lower: how the AGC responds.
func ExampleCompare() {
	read := func(row string) *lineup.Lineup {
		l, err := lineup.Read(strings.NewReader("# forward: 54-1002\nchannel,carrier,level_dbmv\n"+row), "invented")
		if err != nil {
			panic(err)
		}
		return l
	}
	c := lineup.Compare(read("73,analog,40"), read("73,qam256,34"),
		lineup.Amplifier{Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}})
	fmt.Println(c.Changes[0].What, c.Step.Words())
	// Output: pilot-lost its output goes 6.0 dB up
}
