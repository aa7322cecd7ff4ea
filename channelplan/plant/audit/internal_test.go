package audit

import (
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
)

// The table of hashes is compared with a map, with hashes that collide in every part.
func TestSeenIsAMap(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	var s seen
	want := map[uint64]entry{}
	for line := entry(1); line < 200_000; line++ {
		hash := rng.Uint64()
		switch rng.IntN(4) {
		case 0:
			hash &= 0xff // one shard, one place
		case 1:
			hash |= 1<<32 - 1 // the last place of each shard
		}
		e, known := s.at(hash)
		require.Equal(t, want[hash], *e)
		require.Equal(t, want[hash] != 0, known)
		if !known {
			*e, want[hash] = line, line
		}
	}
	s = seen{}
	for _, was := range []entry{0, 7, 7} {
		e, _ := s.at(0)
		require.Equal(t, was, *e, "a hash of nothing is a hash")
		*e = 7
	}
}
