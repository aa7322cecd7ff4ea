package field_test

import (
	"fmt"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/plant/field"
)

// Two readings narrow down the place of a fault.
func ExampleCompare() {
	p, err := plant.Read(demo.Inventory(), demo.Name)
	if err != nil {
		fmt.Println(err)
		return
	}
	at := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	seen := []field.Reading{
		{Record: book.Record{Type: field.Type, Time: at}, Amp: "OSR-01", State: blink.Locked},
		{Record: book.Record{Type: field.Type, Time: at}, Amp: "OSR-02", State: blink.Holding},
	}
	for _, f := range field.Compare(p, p.Cascades(), seen, nil).Faults {
		fmt.Println(f.Text)
	}
	// Output: 116 digital is there at OSR-01 and lost at OSR-02: the fault is between them; check the span before OSR-02, and its own input
}
