// Package demo is an invented cable system, embedded, so that every command
// has something to work on: Quillfen Valley Cable. All its names, services,
// levels and amplifiers are made up. The same files stand in testdata/demo.
package demo

import (
	_ "embed"
	"strings"
	"time"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

// Name is what stands for the demo system where a file is asked for.
const Name = "demo"

// Day is the day the demo plays on: its lineup is then in force.
func Day() time.Time { return time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC) }

//go:embed lineup.csv
var lineupCSV string

//go:embed amps.csv
var ampsCSV string

// Lineup returns the system's lineup.
func Lineup() (*lineup.Lineup, error) {
	return lineup.Read(strings.NewReader(lineupCSV), Name)
}

// Amplifier returns one amplifier of the system's inventory, as
// [plant.Find] does.
func Amplifier(id string) (plant.Amplifier, error) {
	return plant.Find(strings.NewReader(ampsCSV), Name, id)
}
