package audit_test

import (
	"context"
	"fmt"
	"os"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/audit"
	"tallywink.example/channelplan/plant/demo"
)

// Every amplifier of the demo against its lineup: those that need attention are printed,
// and all are counted.
func ExampleRun() {
	l, err := demo.Lineup()
	if err != nil {
		fmt.Println(err)
		return
	}
	inv, err := plant.Begin(demo.Inventory(), demo.Name)
	if err != nil {
		fmt.Println(err)
		return
	}
	w := audit.Writer{
		Only: func(j *audit.Judgement) bool { return j.Report.Findings[0].Rule == lineup.InsideOFDM },
		Row: func(to []byte, r *plant.Row, j *audit.Judgement) []byte {
			return fmt.Appendf(to, "%s: %s\n", r.ID, j.Report.Findings[0].Text)
		},
	}
	s, err := audit.Run(context.Background(), inv, audit.Request{Lineup: l, Today: demo.Day()}, w, os.Stdout)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(s.Amps, "amplifiers,", s.Unusable, "unusable")
	// Output:
	// BRK-02: the OFDM block 810 to 1002 MHz covers its channel: there is no such pilot
	// GRV-03: the OFDM block 810 to 1002 MHz covers its channel: there is no such pilot
	// 308 amplifiers, 3 unusable
}
