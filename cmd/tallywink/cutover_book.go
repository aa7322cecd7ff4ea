package main

import (
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/cmd/tallywink/console"
)

// follow tells the plan what the lamps last showed, by the field book.
func (c *cuttingOver) follow(out *console.Console, plan *cutover.Plan, p *plant.Plant, cascades *plant.Cascades) error {
	readings, err := readFieldBook(out, c.book, c.since)
	if err != nil {
		return err
	}
	last := map[string]*field.Reading{}
	for _, v := range field.Compare(p, cascades, readings.Readings, plan.After).Visits {
		last[v.ID] = v.Last
	}
	plan.Follow(func(id string) (cutover.Seen, bool) {
		r := last[id]
		if r == nil {
			return cutover.Seen{}, false
		}
		pilot, _ := r.Lamp()
		return cutover.Seen{State: r.State, Pilot: pilot, Doubtful: r.Doubtful, At: r.Time, Words: r.Words()}, true
	})
	return nil
}
