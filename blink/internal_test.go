package blink

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// Same source: the property for which the table was chosen.
func TestDammTableIsTotallyAntiSymmetric(t *testing.T) {
	for c := range 10 {
		assert.Zero(t, dammTable[c][c])
		for x := range 10 {
			for y := range 10 {
				if x == y {
					continue
				}
				assert.NotEqual(t, dammTable[c][x], dammTable[c][y], "a row is a permutation")
				assert.NotEqual(t, dammTable[dammTable[c][x]][y], dammTable[dammTable[c][y]][x],
					"a swap changes the result")
			}
		}
	}
}
