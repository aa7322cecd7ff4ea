package face

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tallywink.example/channelplan/fault"
)

// A new kind of act must be said how to do it on the page, or be listed here.
func TestEveryActIsSaidOrLeftOut(t *testing.T) {
	leftOut := map[fault.Act]string{
		fault.ListChannels: "the page finds a channel by its number or frequency",
		fault.NameBook:     "the page's book has no path",
		fault.GiveInput:    "the page has no standard input",
		fault.ReadTrace:    "the page opens a trace as it opens a clip",
		fault.AuditRows:    "the page judges one amplifier",
		fault.NameDay:      "the page has no audit of a book",
		fault.ShowSheet:    "the page does not print sheets",
	}
	for _, a := range fault.Acts() {
		_, said := acts[a]
		_, left := leftOut[a]
		assert.NotEqual(t, said, left, "act %d", a)
	}
}
