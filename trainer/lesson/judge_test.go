package lesson

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan/plant/demo"
)

// No two of the steps offered could both be right, and neighbors are neighbors in
// frequency.
func TestOptionsAreApart(t *testing.T) {
	l, err := demo.Lineup()
	require.NoError(t, err)
	for seed := range uint64(40) {
		m := Material{Code: blink.Tally, Lineup: l, Today: demo.Day(), Random: rand.New(rand.NewPCG(seed, 1))}
		for _, s := range m.Code.States() {
			q := stepQuestion(m, "action "+s.State.String(), 200*time.Millisecond)
			assert.GreaterOrEqual(t, len(q.Options), 3, s.State)
			for i, a := range q.Options {
				for _, b := range q.Options[:i] {
					assert.False(t, alike(a, b), "%s / %s", a, b)
				}
			}
		}
	}
	m := Material{Lineup: l}
	assert.Equal(t, []int{12, 13, 23}, m.beside(13))
	assert.Equal(t, []int{94, 100, 101}, m.beside(100))
	assert.Equal(t, []int{2, 3}, m.beside(2))
}
