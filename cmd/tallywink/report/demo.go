package report

import "tallywink.example/channelplan/answer"

// DemoDoc is the JSON document of the demo's lineup and of the lamps that it reads.
type DemoDoc struct {
	Schema   int               `json:"schema"`
	Lineup   any               `json:"lineup"`
	Readings []answer.Document `json:"readings"`
}
