// Package demo is an invented cable system, embedded, so that every command
// has something to work on: Quillfen Valley Cable. All its names, services,
// levels and amplifiers are made up. The same files are in testdata/demo.
package demo

import (
	_ "embed"
	"strings"
	"time"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// Name is what stands for the demo system where a file is asked for, and
// NextName for the lineup that it is to have.
const (
	Name     = "demo"
	NextName = "demo-next"
)

// Day is the day the demo plays on: its lineup is then in force, and the next
// one two weeks away.
func Day() time.Time { return time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC) }

//go:embed lineup.csv
var lineupCSV string

//go:embed next.csv
var nextCSV string

//go:embed amps.csv
var ampsCSV string

// Lineup returns the system's lineup.
func Lineup() (*lineup.Lineup, error) {
	return lineup.Read(strings.NewReader(lineupCSV), Name)
}

// Next returns the lineup that the system is to have: its analog channels
// retired, the wideband block grown over the main pilot, new channels, one
// level moved.
func Next() (*lineup.Lineup, error) {
	return lineup.Read(strings.NewReader(nextCSV), NextName)
}

// Inventory returns the system's inventory, to be read.
func Inventory() *strings.Reader { return strings.NewReader(ampsCSV) }

// Amplifier returns one amplifier of the system's inventory, as
// [plant.Find] does.
func Amplifier(id string) (plant.Amplifier, *plant.Inventory, error) {
	return plant.Find(Inventory(), Name, id)
}
