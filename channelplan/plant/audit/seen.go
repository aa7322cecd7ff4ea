package audit

import "tallywink.example/channelplan/lineup"

// seen holds the [entry] of every hash added to it, in some 16 bytes each: a map takes
// twice as much, and that would be most of an audit's memory.
//
// It is a hash table with linear probing, in shards that grow one at a time, so that only
// a small part is in memory twice while one grows.
type seen [256]shard

type shard struct {
	hashes  []uint64
	entries []entry // 0 if there is no hash
	count   int
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
	k := &s[hash>>56]
	if 4*k.count >= 3*len(k.hashes) {
		k.grow()
	}
	i := k.find(hash)
	if known = k.entries[i] != 0; !known {
		k.hashes[i] = hash
		k.count++
	}
	return &k.entries[i], known
}

// find returns the index where a hash is or belongs.
func (k *shard) find(hash uint64) int {
	i := int(hash & (1<<32 - 1) * uint64(len(k.hashes)) >> 32)
	for k.entries[i] != 0 && k.hashes[i] != hash {
		if i++; i == len(k.hashes) {
			i = 0
		}
	}
	return i
}

func (k *shard) grow() {
	const small = 8192 // below this size, empty space costs little, and growing often costs much
	size := len(k.hashes) + len(k.hashes)/4
	if len(k.hashes) < small {
		size = 2*len(k.hashes) + 64
	}
	larger := shard{hashes: make([]uint64, size), entries: make([]entry, size), count: k.count}
	for j, e := range k.entries {
		if e != 0 {
			i := larger.find(k.hashes[j])
			larger.hashes[i], larger.entries[i] = k.hashes[j], e
		}
	}
	*k = larger
}
