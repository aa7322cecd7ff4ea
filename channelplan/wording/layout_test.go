package wording_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"tallywink.example/channelplan/wording"
)

func TestWrap(t *testing.T) {
	assert.Equal(t, []string{"one two", "three"}, wording.Wrap("one two three", 9))
	assert.Equal(t, []string{"incomprehensible", "x"}, wording.Wrap("incomprehensible x", 5))
	assert.Equal(t, []string{""}, wording.Wrap("", 5))
}
