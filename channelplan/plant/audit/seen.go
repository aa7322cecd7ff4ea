package audit

// seen remembers the line of every hash it is given, in some 16 bytes each: a
// map takes twice as much, and that is most of an audit's memory.
//
// It is a hash table with linear probing, in shards that grow one by one, so
// that no more than a little is held twice while one does.
type seen [256]shard

type shard struct {
	hashes []uint64
	lines  []uint32 // 0 where there is no hash
	count  int
}

// add remembers a hash, and returns the line it was first given with, or 0. Two
// IDs have the same hash with a chance of one in thirty million in an inventory
// of a million.
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

// find returns where a hash is or belongs.
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
	const small = 8192 // up to which what is empty takes little, and growing often much
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
