package wording

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWrap(t *testing.T) {
	assert.Equal(t, []string{"one two", "three"}, Wrap("one two three", 9))
	assert.Equal(t, []string{"incomprehensible", "x"}, Wrap("incomprehensible x", 5))
	assert.Equal(t, []string{""}, Wrap("", 5))
}
