package audit

import "tallywink.example/channelplan/lineup"

// seen holds the [entry] of every hash added to it, in some 16 bytes each: a map takes
// twice as much, and that would be most of an audit's memory.
//
// It is a hash table with linear probing, in shards that grow one at a time, so that only
// a small part is in memory twice while one grows.
type seen struct {
	shards  [256]shard
	fetched entry // see fetch
}

type shard struct {
	slots []slot
	count int
}

// slot holds a hash, in halves so that a slot takes 12 bytes, beside what is kept with it: a
// look-up waits for memory once.
type slot struct {
	high, low uint32
	entry     entry // 0 if the slot is free
}

// entry is what is kept of an amplifier's first row: its line, what kind of row it is, and
// the verdict.
type entry uint32

// The bits above the line and the verdict.
const (
	lowRow   entry = 1 << 31 // a slope pilot's own row
	wholeRow entry = 1 << 30 // a row that gives both pilots, or needs none
	bothRows entry = 1 << 29 // the second row has been met, too

	verdictShift = 27
	mostLine     = 1<<verdictShift - 1 // a file of that many lines has more rows than are kept
)

func entryOf(o *outcome) entry {
	e := entry(min(o.line, mostLine)) | entry(o.j.Verdict())<<verdictShift
	switch a := o.j.Amplifier; {
	case o.j.ByDesign || a.Pilot.IsZero() || !a.Slope.Pilot.IsZero():
		e |= wholeRow
	case a.Role == lineup.LowPilot:
		e |= lowRow
	}
	return e
}

func (e entry) line() int { return int(e & mostLine) }

func (e entry) verdict() lineup.Verdict { return lineup.Verdict(e >> verdictShift & 3) }

// at returns the entry of a hash, to be set if it is not known yet. In an inventory of a
// million, the chance that two IDs have the same hash is one in thirty million.
func (s *seen) at(hash uint64) (e *entry, known bool) {
	k := &s.shards[hash>>56]
	if 4*k.count >= 3*len(k.slots) {
		k.grow()
	}
	t := k.find(uint32(hash>>32), uint32(hash))
	if known = t.entry != 0; !known {
		t.high, t.low = uint32(hash>>32), uint32(hash)
		k.count++
	}
	return &t.entry, known
}

// fetch reads where the hashes of some rows are or belong. The reads do not depend on each
// other, so that they wait for memory together, which at would do one after the other.
func (s *seen) fetch(rows []outcome) {
	var all entry
	for i := range rows {
		hash := rows[i].hash
		if k := &s.shards[hash>>56]; len(k.slots) > 0 {
			all |= k.slots[k.place(uint32(hash))].entry
		}
	}
	s.fetched = all
}

// place returns the index where a hash belongs.
func (k *shard) place(low uint32) int { return int(uint64(low) * uint64(len(k.slots)) >> 32) }

// find returns the slot where a hash is or belongs.
func (k *shard) find(high, low uint32) *slot {
	i := k.place(low)
	for {
		t := &k.slots[i]
		if t.entry == 0 || t.low == low && t.high == high {
			return t
		}
		if i++; i == len(k.slots) {
			i = 0
		}
	}
}

func (k *shard) grow() {
	// While a shard is small, empty space costs little, and growing often costs much.
	const tiny, small = 1024, 8192
	size := len(k.slots) + len(k.slots)/4
	switch {
	case len(k.slots) < tiny:
		size = 4*len(k.slots) + 64
	case len(k.slots) < small:
		size = 2 * len(k.slots)
	}
	larger := shard{slots: make([]slot, size), count: k.count}
	clear(larger.slots) // to read new memory before it is written costs twice as much
	for _, t := range k.slots {
		if t.entry != 0 {
			*larger.find(t.high, t.low) = t
		}
	}
	*k = larger
}
