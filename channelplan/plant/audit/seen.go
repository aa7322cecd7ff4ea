package audit

// seen holds the line of every hash added to it, in some 16 bytes each: a map takes twice
// as much, and that would be most of an audit's memory.
//
// It is a hash table with linear probing, in shards that grow one at a time, so that only
// a small part is in memory twice while one grows.
type seen [256]shard

type shard struct {
	hashes []uint64
	lines  []uint32 // 0 if there is no hash
	count  int
}

// add adds a hash, and returns the line it was first added with, or 0. In an inventory of
// a million, the chance that two IDs have the same hash is one in thirty million.
func (s *seen) add(hash uint64, line uint32) (first uint32) {
	k := &s[hash>>56]
	if 4*k.count >= 3*len(k.hashes) {
		k.grow()
	}
	i := k.find(hash)
	if k.lines[i] != 0 {
		return k.lines[i]
	}
	k.hashes[i], k.lines[i] = hash, line
	k.count++
	return 0
}

// find returns the index where a hash is or belongs.
func (k *shard) find(hash uint64) int {
	i := int(hash & (1<<32 - 1) * uint64(len(k.hashes)) >> 32)
	for k.lines[i] != 0 && k.hashes[i] != hash {
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
	larger := shard{hashes: make([]uint64, size), lines: make([]uint32, size), count: k.count}
	for j, line := range k.lines {
		if line != 0 {
			i := larger.find(k.hashes[j])
			larger.hashes[i], larger.lines[i] = k.hashes[j], line
		}
	}
	*k = larger
}
