package answer

import (
	"slices"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// This file knows a rhythm that somebody counted as if it were a frame: the same group
// again and again, or a long and a short flash by turns. The reader of marks weighs
// frames alone, and would find one that nearly fits.

// fewGroups of one kind are no rhythm yet.
const fewGroups = 3

// rhythmOf returns the states whose rhythm looks as it was counted, the likeliest first;
// none where it is not evenly repeated, or where a look is a frame of the code.
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
	// One long run without pauses is so many flashes.
	if len(groups) == 1 && len(groups[0]) > 2*fewGroups {
		groups = strings.Split(groups[0], "")
	}
	switch {
	case len(groups) < fewGroups:
		return nil
	case slices.ContainsFunc(groups, func(g string) bool { return !alike(g, groups[0]) }):
		if byTurns(groups) {
			return shown(code, blink.Thermal)
		}
		return nil
	}
	switch len(groups[0]) {
	case 1:
		return shown(code, blink.Seeking, blink.Manual)
	case 2:
		return shown(code, blink.Holding, blink.Thermal)
	case 3:
		return shown(code, blink.Fault)
	}
	return nil
}

// isFrame reports whether a look is, digit by digit, a frame of the code.
func isFrame(code *blink.Code, look blink.Frame) bool {
	var digits []int
	for _, g := range look {
		d, ok := code.DigitOf(g)
		if !ok {
			return false
		}
		digits = append(digits, d)
	}
	_, err := code.Pilot(digits)
	return err == nil
}

// alike reports whether two groups have the same marks, as far as they were sure.
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

// byTurns reports whether single long and short marks take turns, twice at least.
func byTurns(groups []string) bool {
	const twice = 4
	for i, g := range groups {
		if len(g) != 1 || i >= 2 && g != groups[i-2] {
			return false
		}
	}
	return len(groups) >= twice && groups[0] != groups[1]
}

// shown are those of some states that the code has a rhythm for.
func shown(code *blink.Code, states ...blink.State) []blink.State {
	return slices.DeleteFunc(states, func(s blink.State) bool { return code.Brief(s) == "" })
}

// What a rhythm that was counted as marks is held to be: the likeliest state, the
// others, and a frame that was misread after all. They are assumptions.
const (
	likelyRhythm = 0.8
	otherRhythm  = 0.15
	stillFrame   = 0.05
)

// rhythmCandidates are the states that a counted rhythm may be, and behind them the
// frames that it would be else.
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
		return CandidateDocument{State: blink.Locked, Channel: &c.Pilot.Channel, Carrier: &c.Pilot.Kind, Probability: stillFrame * c.Probability}
	})
	return append(docs, frames...)
}
