package reading

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// CheckDigit is what the check digits of looks show about an answer.
type CheckDigit uint8

// The possible results of a check digit.
const (
	Unread  CheckDigit = iota // no look has a digit in every group
	Agrees                    // a look spells a pilot, and it is the best candidate
	Differs                   // a look has a digit in every group, but they are not those of the best candidate
)

// String returns agrees, differs or unread.
func (c CheckDigit) String() string {
	switch c {
	case Agrees:
		return "agrees"
	case Differs:
		return "differs"
	}
	return "unread"
}

// CheckDigit reports whether a look, read strictly, spells the best candidate. If the
// start was not seen, the look may begin at any group.
func (r *Reader) CheckDigit(looks []blink.Frame, start Start, result Result) CheckDigit {
	check := Unread
	for _, look := range looks {
		digits, ok := r.code.DigitsOf(look)
		if _, err := r.code.Pilot(digits); !ok || errors.Is(err, blink.ErrLength) {
			continue
		}
		for range digits {
			if p, err := r.code.Pilot(digits); err == nil && p == result.Best().Pilot {
				return Agrees
			}
			if start == StartSeen {
				break
			}
			digits = append(digits[1:], digits[0])
		}
		check = Differs
	}
	return check
}

// Named returns the pilots that looks name without doubt when each is read alone, every
// pilot once. More than one pilot means that the looks contradict each other: they are
// not of one lamp, or the lamp changed its channel in between.
func (r *Reader) Named(looks []blink.Frame, start Start) []channelplan.Pilot {
	var named []channelplan.Pilot
	for _, look := range looks {
		result := r.Read([]blink.Frame{look}, start)
		if p := result.Best().Pilot; !result.Doubtful() && !slices.Contains(named, p) {
			named = append(named, p)
		}
	}
	return named
}

// Difference is a group in which the likely candidates differ.
type Difference struct {
	Group   string // its name
	Place   string // its place: first, second, third, last; "" if it varies from frame to frame
	Options []Option
	bits    float64
}

// Option is what a group may have shown, and the pilots with those marks in their
// frames.
type Option struct {
	Marks       blink.Group // "" if there is no such group
	Pilots      []channelplan.Pilot
	Probability float64 // of all these pilots together
}

// Differences returns the groups in which the likely candidates differ, the most informative
// first: that is the group to count again on a second look. If only one candidate is
// likely, it returns the groups in which looks differ from its frame.
func (r *Reader) Differences(looks []blink.Frame, result Result) []Difference {
	likely := result.Likely()
	if len(likely) == 1 {
		return r.differing(looks, likely[0])
	}
	var all []Difference
	for g, rule := range r.code.Groups {
		a := Difference{Group: rule.Name, Place: r.place(g)}
		for _, c := range likely {
			frame, err := r.code.Encode(c.Pilot)
			if err != nil {
				continue
			}
			marks := blink.Group("")
			if k := slices.Index(r.code.Rules(c.Pilot), rule); k >= 0 {
				marks = frame[k]
			}
			i := slices.IndexFunc(a.Options, func(o Option) bool { return o.Marks == marks })
			if i < 0 {
				i = len(a.Options)
				a.Options = append(a.Options, Option{Marks: marks})
			}
			a.Options[i].Pilots = append(a.Options[i].Pilots, c.Pilot)
			a.Options[i].Probability += c.Probability
		}
		if len(a.Options) > 1 {
			a.bits = information(a.Options)
			all = append(all, a)
		}
	}
	slices.SortStableFunc(all, func(a, b Difference) int { return cmp.Compare(b.bits, a.bits) })
	return all
}

// differing returns the groups of a candidate that some look shows otherwise. It
// compares only looks with as many groups as a frame.
func (r *Reader) differing(looks []blink.Frame, c Candidate) []Difference {
	frame, err := r.code.Encode(c.Pilot)
	if err != nil {
		return nil
	}
	var all []Difference
	for g, rule := range r.code.Rules(c.Pilot) {
		otherwise := func(look blink.Frame) bool { return len(look) == len(frame) && look[g] != frame[g] }
		if slices.ContainsFunc(looks, otherwise) {
			all = append(all, Difference{Group: rule.Name, Place: r.place(slices.Index(r.code.Groups, rule)),
				Options: []Option{{frame[g], []channelplan.Pilot{c.Pilot}, c.Probability}}})
		}
	}
	return all
}

// maxLikely is how many candidates a doubtful answer shows: nobody can compare more
// than that with a lamp.
const maxLikely = 3

// Likely returns the candidates worth showing: those with at least a thirtieth of the
// best one's probability, and at most three.
func (r Result) Likely() []Candidate {
	var likely []Candidate
	for _, c := range r.Candidates {
		if len(likely) < maxLikely && c.Probability >= r.Best().Probability/30 {
			likely = append(likely, c)
		}
	}
	return likely
}

// information returns how many bits you learn, on average, from finding out which
// option is true.
func information(options []Option) float64 {
	sum := 0.0
	for _, o := range options {
		sum += o.Probability
	}
	bits := 0.0
	for _, o := range options {
		p := o.Probability / sum
		bits -= p * math.Log2(p)
	}
	return bits
}

// place returns the place of a group of the code in its frames, if it is the same in
// all frames.
func (r *Reader) place(group int) string {
	if least, most := r.code.FrameLengths(); least != most {
		return ""
	}
	return place(group, len(r.code.Groups))
}

func place(group, groups int) string {
	words := []string{"first", "second", "third", "fourth", "fifth", "sixth"}
	switch {
	case group == groups-1:
		return "last"
	case group < len(words):
		return words[group]
	}
	return fmt.Sprintf("%dth", group+1)
}

// String says what to look for: 'Count the last group (check) again: two
// shorts is 31 digital, three shorts is 31 analog.'
func (a Difference) String() string {
	options := make([]string, len(a.Options))
	for i, o := range a.Options {
		pilots := make([]string, len(o.Pilots))
		for j, p := range o.Pilots {
			pilots[j] = p.String()
		}
		marks := o.Marks.Words()
		if o.Marks == "" {
			marks = "no such group"
		}
		options[i] = marks + " is " + strings.Join(pilots, " or ")
	}
	if a.Place == "" {
		return fmt.Sprintf("Count the %s group again: %s.", a.Group, strings.Join(options, ", "))
	}
	return fmt.Sprintf("Count the %s group (%s) again: %s.", a.Place, a.Group, strings.Join(options, ", "))
}
