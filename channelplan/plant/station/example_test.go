package station_test

import (
	"fmt"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/plant/station"
)

// The station with the least range to spare for what its cable swings in a year.
func ExampleStations() {
	p, err := plant.Read(demo.Inventory(), demo.Name)
	if err != nil {
		fmt.Println(err)
		return
	}
	q := station.Conditions{Passband: lineup.Band{LowHz: 54_000_000, HighHz: 1_002_000_000}, Now: 95,
		Low: -10, High: 110}
	worst := station.Stations(p, p.Cascades(), q)[0]
	fmt.Printf("%s, with the spans of %v: swing %.1f dB, %.1f dB to spare\n", worst.ID, worst.Through,
		worst.Answer.SwingDB, worst.SpareDB())
	// Output: FLD-05, with the spans of [FLD-03 FLD-02]: swing 9.0 dB, -1.0 dB to spare
}
