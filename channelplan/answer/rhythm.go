package answer

import (
	"slices"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// This file recognizes a rhythm that was counted as if it were a frame: the same group
// repeated, or alternating long and short flashes. The reader of marks considers only
// frames, and would find one that nearly fits.

// fewGroups is the fewest equal groups that make a rhythm.
const fewGroups = 3

// rhythmOf returns the states whose rhythm looks like what was counted, the most likely
// first; none if it does not repeat evenly, or if a look is a frame of the code.
func rhythmOf(code *blink.Code, looks []blink.Frame) []blink.State {
	var groups []string
	for _, look := range looks {
		if isFrame(code, look) {
			return nil
		}
		for _, g := range look {
			groups = append(groups, string(g))
		}
	}
	// One long run without pauses is that many single flashes.
	if len(groups) == 1 && len(groups[0]) > 2*fewGroups {
		groups = strings.Split(groups[0], "")
	}
	switch {
	case len(groups) < fewGroups:
		return nil
	case slices.ContainsFunc(groups, func(g string) bool { return !alike(g, groups[0]) }):
		if byTurns(groups) {
			return rhythmsOf(code, 2, byTurn)
		}
		return nil
	}
	return rhythmsOf(code, len(groups[0]), anyLengths)
}

// anyLengths and byTurn say which rhythms are looked for: all, or those whose flashes differ
// in length.
const (
	anyLengths = false
	byTurn     = true
)

// rhythmsOf returns the states with so many flashes in a period of their rhythm: first those
// that are dark for at least as long as they are lit, since a flash is counted and a blink
// off hardly ever is.
func rhythmsOf(code *blink.Code, flashes int, differ bool) []blink.State {
	var flashing, blinking []blink.State
	for _, s := range blink.States() {
		var lit []int
		sum := 0 // of what is lit, less what is dark
		for _, b := range code.Rhythms[s] {
			if b.Lit {
				lit, sum = append(lit, b.Units), sum+b.Units
			} else {
				sum -= b.Units
			}
		}
		switch {
		case len(lit) != flashes || len(code.Rhythms[s]) == 1, differ && lit[0] == lit[1]:
		case sum > 0:
			blinking = append(blinking, s)
		default:
			flashing = append(flashing, s)
		}
	}
	return append(flashing, blinking...)
}

// isFrame reports whether a look is, digit by digit, a frame of the code.
func isFrame(code *blink.Code, look blink.Frame) bool {
	digits, ok := code.DigitsOf(look)
	if !ok {
		return false
	}
	_, err := code.Pilot(digits)
	return err == nil
}

// alike reports whether two groups have the same marks, apart from doubtful ones.
func alike(a, b string) bool {
	if len(a) != len(b) {
		return false
	}
	for i := range len(a) {
		if a[i] != b[i] && a[i] != blink.UnsureMark && b[i] != blink.UnsureMark {
			return false
		}
	}
	return true
}

// byTurns reports whether single long and short marks alternate, at least twice.
func byTurns(groups []string) bool {
	const twice = 4
	for i, g := range groups {
		if len(g) != 1 || i >= 2 && g != groups[i-2] {
			return false
		}
	}
	return len(groups) >= twice && groups[0] != groups[1]
}

// How probable each reading of a rhythm counted as marks is: the most likely state, the
// other states, and a misread frame after all. These are assumptions.
const (
	likelyRhythm = 0.8
	otherRhythm  = 0.15
	stillFrame   = 0.05
)

// rhythmCandidates returns the states that a counted rhythm may be, followed by the
// frames that it would be otherwise.
func (a *Answer) rhythmCandidates() []CandidateDocument {
	var docs []CandidateDocument
	for i, s := range a.Rhythm {
		p := likelyRhythm
		if len(a.Rhythm) == 1 {
			p += otherRhythm
		}
		if i > 0 {
			p = otherRhythm / float64(len(a.Rhythm)-1)
		}
		docs = append(docs, CandidateDocument{State: s, Probability: Rounded(p)})
	}
	frames := listed(a.Result.Candidates, func(c reading.Candidate) CandidateDocument {
		return CandidateDocument{State: blink.Locked, Channel: &c.Pilot.Channel, Carrier: &c.Pilot.Kind,
			Probability: stillFrame * c.Probability}
	})
	return append(docs, frames...)
}
