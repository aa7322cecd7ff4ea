package wording

import (
	"slices"
	"strings"
)

// This file finds the known word that a mistyped one was meant to be.

// Nearest returns the word of known that is nearest to typed, or "" where
// none is near enough to be worth suggesting: more than one letter would have
// to change, and more than a third of all. Case does not count. Of words equally near,
// the first in alphabetical order is returned, so that the answer does not
// depend on the order of known.
func Nearest(typed string, known []string) string {
	typed = strings.ToLower(typed)
	best, bestDistance := "", 0
	for _, word := range slices.Sorted(slices.Values(known)) {
		d := distance(typed, strings.ToLower(word))
		if d > max(1, len(word)/3) || d >= len(word) {
			continue
		}
		if best == "" || d < bestDistance {
			best, bestDistance = word, d
		}
	}
	return best
}

// distance is the optimal string alignment distance of a and b in runes: the
// number of letters to insert, drop, replace or swap with their neighbor.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	// A long word is never near a command or a column: save the square.
	if len(x) > 2*len(y)+2 || len(y) > 2*len(x)+2 {
		return max(len(x), len(y))
	}
	rows := [3][]int{}
	for i := range rows {
		rows[i] = make([]int, len(y)+1)
	}
	for j := range rows[0] {
		rows[0][j] = j
	}
	for i := 1; i <= len(x); i++ {
		now, last, before := rows[i%3], rows[(i+2)%3], rows[(i+1)%3]
		now[0] = i
		for j := 1; j <= len(y); j++ {
			cost := 1
			if x[i-1] == y[j-1] {
				cost = 0
			}
			now[j] = min(last[j]+1, now[j-1]+1, last[j-1]+cost)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				now[j] = min(now[j], before[j-2]+1)
			}
		}
	}
	return rows[len(x)%3][len(y)]
}
