package book

import "time"

// began is before the first book was written: no record is older.
var began = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// aheadMost is how far another machine's clock, which wrote to the same book, may be
// ahead of this one's.
const aheadMost = 24 * time.Hour

// Clock works out when the records of a book were written if the clock that stamped them
// was wrong: before there were books, or later than now. A record follows those that were
// written before it, so it counts as written when the last record before it with a
// possible time was; at the beginning of a book, before all others.
type Clock struct {
	Book   string // its path
	First  int    // the first line whose time can't be right; 0 if there is none
	Count  int    // how many such lines there are
	last   time.Time
	latest time.Time
}

// NewClock returns the clock of a book of that name, to be read from its beginning. If
// now itself is before there were books, no time counts as too late.
func NewClock(name string, now time.Time) Clock {
	c := Clock{Book: name, last: began, latest: now.Add(aheadMost)}
	if now.Before(began) {
		c.latest = time.Date(9999, 12, 31, 0, 0, 0, 0, time.UTC)
	}
	return c
}

// At returns when the record in a line was written; said is the time that the record
// itself gives. Call it for each line in order.
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
