package wording

import (
	"slices"
	"strings"
)

// This file finds the known word that a mistyped word was meant to be.

// Nearest returns the word of known that is nearest to typed, or "" if none is near
// enough to suggest: more than one letter, and more than a third of all letters, would
// have to change. Case does not matter. If several words are equally near, it returns the
// first in alphabetical order, so that the answer does not depend on the order of known.
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

// distance returns the optimal string alignment distance of a and b in runes: how many
// letters must be inserted, dropped, replaced or swapped with their neighbor.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	// A long word is never near a command or a column name: skip the quadratic work.
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
