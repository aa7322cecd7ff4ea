// Package demo is an invented cable system, Quillfen Valley Cable, embedded so that every
// command has something to work on. All its names, services, levels and amplifiers are
// made up. The same files are in testdata/demo.
package demo

import (
	_ "embed"
	"strings"
	"time"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// Name stands for the demo system where a file is expected, NextName for its next lineup,
// and HighName for a second, small hub of it, with a high split: its forward band is 258 to
// 1218 MHz.
const (
	Name     = "demo"
	NextName = "demo-next"
	HighName = "demo-high"
)

// Lineups returns the names of the demo's lineups.
func Lineups() []string { return []string{Name, NextName, HighName} }

// Inventories returns the names of the demo's inventories.
func Inventories() []string { return []string{Name, HighName} }

// Day is the day on which the demo takes place: its lineup is in use then, and the next
// one is two weeks away.
func Day() time.Time { return time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC) }

//go:embed lineup.csv
var lineupCSV string

//go:embed next.csv
var nextCSV string

//go:embed amps.csv
var ampsCSV string

//go:embed high.csv
var highCSV string

//go:embed high-amps.csv
var highAmpsCSV string

// Lineup returns the system's lineup.
func Lineup() (*lineup.Lineup, error) {
	return lineup.Read(strings.NewReader(lineupCSV), Name)
}

// Next returns the system's next lineup: its analog channels are retired, the wideband
// block has grown over the main pilot, there are new channels, and one level has moved.
func Next() (*lineup.Lineup, error) {
	return lineup.Read(strings.NewReader(nextCSV), NextName)
}

// High returns the lineup of the second hub, which has no analog carriers, and wideband
// blocks up to 1182 MHz, one of them with an exclusion.
func High() (*lineup.Lineup, error) {
	return lineup.Read(strings.NewReader(highCSV), HighName)
}

// Inventory returns a reader of the system's inventory.
func Inventory() *strings.Reader { return strings.NewReader(ampsCSV) }

// HighInventory returns a reader of the second hub's inventory.
func HighInventory() *strings.Reader { return strings.NewReader(highAmpsCSV) }

// InventoryOf returns a reader of the inventory that a name stands for; ok is false if it is
// none of [Inventories].
func InventoryOf(name string) (r *strings.Reader, ok bool) {
	switch name {
	case Name:
		return Inventory(), true
	case HighName:
		return HighInventory(), true
	}
	return nil, false
}

// Amplifier returns one amplifier of the system's inventory, like [plant.Find].
func Amplifier(id string) (plant.Amplifier, *plant.Inventory, error) {
	return plant.Find(Inventory(), Name, id)
}
