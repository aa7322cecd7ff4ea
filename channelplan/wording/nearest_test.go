package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestNearest(t *testing.T) {
	commands := []string{"demo", "plan", "encode", "decode", "check", "lineup"}
	for _, c := range []struct{ name, typed, want string }{
		{"a letter dropped", "decod", "decode"},
		{"two letters swapped", "lienup", "lineup"},
		{"a letter replaced", "chack", "check"},
		{"a letter doubled", "plann", "plan"},
		{"upper case", "DEMO", "demo"},
		{"halfway between two goes to the nearer", "encdoe", "encode"},
		{"two letters of a short word are too many", "pxxn", ""},
		{"of two equally near the first in the alphabet", "xncode", "encode"},
		{"nothing near", "frobnicate", ""},
		{"nothing typed", "", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, Nearest(c.typed, commands))
		})
	}
}

func TestDistanceCountsSwapsOnce(t *testing.T) {
	assert.Equal(t, 0, distance("pilot", "pilot"))
	assert.Equal(t, 1, distance("pilot", "pliot"))
	assert.Equal(t, 3, distance("kitten", "sitting"), "the textbook example of Levenshtein's distance")
	assert.Equal(t, 4, distance("", "head"))
}
