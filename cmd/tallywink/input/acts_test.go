package input

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tallywink.example/channelplan/fault"
)

// A new kind of act must be said how to do it, or a hint ends without it.
func TestEveryActIsSaid(t *testing.T) {
	for _, a := range fault.Acts() {
		_, said := acts[a]
		assert.True(t, said || a == fault.PickLamp, "act %d", a) // the answer says which lamps there are
	}
}
