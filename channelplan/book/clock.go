package book

import "time"

// began is before the first book was written: no record is older.
var began = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// aheadMost is how far ahead of this machine's clock that of another may be which
// wrote in the same book.
const aheadMost = 24 * time.Hour

// Clock tells when the records of a book were written, where the clock that they
// have their times from was wrong: before there were books, or later than now. A
// record stands behind those that were written before it, so that it counts as
// written when the last one was whose time can be right; at the beginning of a
// book, before all others.
type Clock struct {
	Book   string // its path
	First  int    // the first line whose time can't be right; 0 where there is none
	Count  int    // how many there are
	last   time.Time
	latest time.Time
}

// NewClock returns the clock of a book of that name that is read from its beginning. Where now
// itself can't be, no time is too late.
func NewClock(name string, now time.Time) Clock {
	c := Clock{Book: name, last: began, latest: now.Add(aheadMost)}
	if now.Before(began) {
		c.latest = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)
	}
	return c
}

// At returns when the record in a line was written, which itself says when. It is
// to be asked of one line after the other.
func (c *Clock) At(line int, said time.Time) time.Time {
	if !said.Before(began) && !said.After(c.latest) {
		c.last = said
		return said
	}
	if c.Count == 0 {
		c.First = line
	}
	c.Count++
	return c.last
}
