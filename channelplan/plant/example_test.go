package plant_test

import (
	"fmt"

	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
)

// A cascade from the node down.
func ExamplePlant_Cascades() {
	p, err := plant.Read(demo.Inventory(), demo.Name)
	if err != nil {
		fmt.Println(err)
		return
	}
	c := p.Cascades()
	for _, i := range c.Order[:3] {
		fmt.Println(p.Amplifiers[i].ID, c.Depth[i])
	}
	// Output:
	// OSR-01 0
	// OSR-02 1
	// OSR-03 2
}

// One amplifier of an inventory.
func ExampleFind() {
	a, _, err := plant.Find(demo.Inventory(), demo.Name, "hrn-02")
	fmt.Println(a.ID, a.Pilot, a.Passband, err)
	// Output: HRN-02 73 analog 54 to 750 MHz <nil>
}
