package book

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// A clock that starts at its epoch after a flat battery, is set, runs years ahead for a
// while, and is set back.
func TestClock(t *testing.T) {
	now := time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)
	epoch, future := time.Unix(12, 0), now.AddDate(4, 0, 0)
	c := NewClock("b", now)
	for i, step := range []struct{ said, want time.Time }{
		{epoch, began},
		{now.AddDate(0, 0, -3), now.AddDate(0, 0, -3)},
		{future, now.AddDate(0, 0, -3)},
		{epoch, now.AddDate(0, 0, -3)},
		{now.AddDate(0, 0, -9), now.AddDate(0, 0, -9)}, // a book appended to another
		{now.Add(23 * time.Hour), now.Add(23 * time.Hour)},
		{now.Add(25 * time.Hour), now.Add(23 * time.Hour)},
	} {
		assert.Equal(t, step.want, c.At(i+1, step.said), "line %d", i+1)
	}
	assert.Equal(t, 1, c.First)
	assert.Equal(t, 4, c.Count)

	c = NewClock("b", epoch) // this machine's clock is the wrong one
	assert.Equal(t, now, c.At(1, now))
	assert.Equal(t, now, c.At(2, epoch))
	assert.Equal(t, Clock{Book: "b", First: 2, Count: 1, last: c.last, latest: c.latest}, c)
}
