package wording_test

import (
	"tallywink.example/channelplan/wording"

	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWrap(t *testing.T) {
	assert.Equal(t, []string{"one two", "three"}, wording.Wrap("one two three", 9))
	assert.Equal(t, []string{"incomprehensible", "x"}, wording.Wrap("incomprehensible x", 5))
	assert.Equal(t, []string{""}, wording.Wrap("", 5))
}
