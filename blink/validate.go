package blink

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"tallywink.example/channelplan/fault"
)

// Flaw is a reason why a code can't be used.
type Flaw struct {
	Part string // what is wrong: 'digits.7', 'marks.rest', 'group.2', as code sheets name it
	fault.Error
}

// The bounds of a code.
const (
	MaxGroups     = int(sourceCount) // in a frame: each carries a different source
	maxDigitMarks = 12               // in a digit
	maxUnits      = 600              // in a stretch of light or dark
	maxGroupName  = 16
	maxCodeName   = 40
	shortestUnit  = 10 * time.Millisecond
	longestUnit   = 10 * time.Second
	lastChannel   = 199
)

// Flaws returns the reasons why a code can't be used, in the order of its parts, or
// none if it can. Code that makes or reads signals may rely on what it checks.
func (c *Code) Flaws() []Flaw {
	f := &flaws{code: c}
	if n := utf8.RuneCountInString(c.Name); n > maxCodeName {
		f.add("name", "shorten it", "the code's name has %d letters, more than %d", n, maxCodeName)
	}
	f.timing()
	f.digits()
	f.groups()
	f.kinds()
	f.rhythms()
	return f.all
}

type flaws struct {
	code *Code
	all  []Flaw
}

func (f *flaws) add(part, hint, text string, args ...any) {
	f.all = append(f.all, Flaw{part, fault.Error{Text: fmt.Sprintf(text, args...), Hint: hint}})
}

func (f *flaws) timing() {
	t := f.code.Timing
	switch {
	case t.Unit < shortestUnit || t.Unit > longestUnit:
		f.add("unit_ms", fmt.Sprintf("write %d to %d", shortestUnit.Milliseconds(), longestUnit.Milliseconds()), "no eye can follow a unit of %v", t.Unit)
	case t.Unit%time.Millisecond != 0 || t.MinUnit%time.Millisecond != 0 || t.MaxUnit%time.Millisecond != 0:
		f.add("unit_ms", "write whole milliseconds", "the unit is not a whole number of milliseconds")
	case t.MinUnit < shortestUnit || t.MaxUnit > longestUnit || t.MinUnit > t.Unit || t.MaxUnit < t.Unit:
		f.add("unit_range_ms", "write the fastest and the slowest unit, with this unit in between", "the unit of %v is not between %v and %v", t.Unit, t.MinUnit, t.MaxUnit)
	}
	for _, d := range []struct {
		part  string
		units int
	}{{"marks.short", t.Short}, {"marks.long", t.Long}, {"marks.gap", t.MarkGap}, {"marks.group_gap", t.GroupGap}, {"marks.rest", t.Rest}} {
		if d.units < 1 || d.units > maxUnits {
			f.add(d.part, fmt.Sprintf("write units, from 1 to %d", maxUnits), "a length of %d units is not possible", d.units)
		}
	}
	if t.Long <= t.Short {
		f.add("marks.long", "make it longer, at least twice as long", "a long mark of %d units is no longer than a short one of %d", t.Long, t.Short)
	}
	if t.GroupGap <= t.MarkGap {
		text := fmt.Sprintf("the gap between groups, %d units, is no longer than the one between marks, %d", t.GroupGap, t.MarkGap)
		if a, b, ok := f.prefix(); ok {
			text += fmt.Sprintf(": digit %d starts with the marks of %d, so no one can tell them apart", b, a)
		}
		f.add("marks.group_gap", "make it longer, at least twice as long", "%s", text)
	}
	if t.Rest <= t.GroupGap {
		f.add("marks.rest", "make it longer, at least twice as long: it shows the reader where a frame starts", "the rest of %d units is no longer than the gap between groups, %d", t.Rest, t.GroupGap)
	}
}

// prefix returns digits a and b such that b's marks begin with a's marks.
func (f *flaws) prefix() (a, b int, ok bool) {
	for a, short := range f.code.Patterns {
		for b, long := range f.code.Patterns {
			if a != b && short != "" && strings.HasPrefix(string(long), string(short)) {
				return a, b, true
			}
		}
	}
	return 0, 0, false
}

func (f *flaws) digits() {
	for d, g := range f.code.Patterns {
		part := fmt.Sprintf("digits.%d", d)
		switch {
		case g == "":
			f.add(part, "write its marks, . short and _ long", "digit %d is missing", d)
		case strings.Trim(string(g), string([]byte{ShortMark, LongMark})) != "":
			f.add(part, "write . for a short mark and _ for a long one, and nothing else", "%q are not marks", string(g))
		case len(g) > maxDigitMarks:
			f.add(part, "nobody can count that many", "digit %d has %d marks, more than %d", d, len(g), maxDigitMarks)
		}
		if first := slices.Index(f.code.Patterns[:d], g); first >= 0 && g != "" {
			f.add(part, "give each its own marks", "digits %d and %d have the same marks, %s", first, d, g)
		}
	}
}

func (f *flaws) groups() {
	c := f.code
	if n := len(c.Groups); n == 0 || n > MaxGroups {
		f.add("group", fmt.Sprintf("write the groups of a frame, from 1 to %d", MaxGroups), "a frame can't have %d groups", n)
		return
	}
	seen := map[Source]int{}
	for i, g := range c.Groups {
		part := fmt.Sprintf("group.%d", i)
		switch n := utf8.RuneCountInString(g.Name); {
		case n == 0:
			f.add(part, "give it the name that technicians use", "group %d has no name", i+1)
		case n > maxGroupName:
			f.add(part, "shorten it: it is printed below the group's marks", "the name of group %d has %d letters, more than %d", i+1, n, maxGroupName)
		}
		if before, twice := seen[g.From]; twice {
			f.add(part, "leave one of them out", "groups %d and %d both carry %v", before+1, i+1, g.From)
		}
		seen[g.From] = i
		if g.DropZero && g.From != FromHundreds && g.From != FromTens {
			f.add(part, "only hundreds and tens can lead", "a leading zero of %v can't be left out", g.From)
		}
		if g.From == FromCheck && i == 0 {
			f.add(part, "put it after what it checks", "the check digit comes before everything it checks")
		}
		if g.From == FromCheck && c.Check.Digit == nil {
			f.add(part, "name one, rule = \"damm\", \"verhoeff\", \"luhn\" or \"sum\"", "the check digit has no rule")
		}
	}
	if c.FirstChannel < 1 || c.LastChannel > lastChannel || c.FirstChannel > c.LastChannel {
		f.add("channels", fmt.Sprintf("write the first and the last, from 1 to %d", lastChannel), "channels %d to %d are not possible", c.FirstChannel, c.LastChannel)
		return
	}
	_, units := seen[FromUnits]
	_, tens := seen[FromTens]
	_, hundreds := seen[FromHundreds]
	_, kind := seen[FromKind]
	switch {
	case !units:
		f.add("group", "add a group from units", "no group carries the channel's units")
	case !tens && c.LastChannel > 9:
		f.add("group", "add a group from tens, or end the channels at 9", "no group carries the tens of channels up to %d", c.LastChannel)
	case !hundreds && c.LastChannel > 99 && (!kind || c.HundredAdds == 0):
		f.add("group", "add a group from hundreds, or say what channel 100 and above add to the kind, or end the channels at 99", "nothing sets channels 100 to %d apart from those below", c.LastChannel)
	}
	if !kind && len(c.Heads) > 1 {
		f.add("kinds", "add a group from kind, or name one kind", "no group carries the kind, but there are %d", len(c.Heads))
	}
}

func (f *flaws) kinds() {
	c := f.code
	if len(c.Heads) == 0 {
		f.add("kinds", "name analog, digital or cw, each with its digit", "there is no kind of carrier")
	}
	digits := map[int]string{}
	take := func(part string, digit int, of string) {
		switch before, taken := digits[digit]; {
		case digit < 0 || digit > 9:
			f.add(part, "write a digit, 0 to 9", "%d is not a digit for %s", digit, of)
		case taken:
			f.add(part, "give each its own digit", "%s and %s have the same digit, %d", before, of, digit)
		default:
			digits[digit] = of
		}
	}
	for i, h := range c.Heads {
		part := "kinds." + h.Kind.String()
		if slices.ContainsFunc(c.Heads[:i], func(o Head) bool { return o.Kind == h.Kind }) {
			f.add(part, "leave one of them out", "%v is named twice", h.Kind)
			continue
		}
		take(part, h.Digit, h.Kind.String())
		if c.HundredAdds != 0 && c.LastChannel > 99 {
			take("kinds.hundred_adds", h.Digit+c.HundredAdds, h.Kind.String()+" from channel 100 on")
		}
	}
}

func (f *flaws) rhythms() {
	c := f.code
	shapes := map[string]State{}
	if f.sendable() {
		f.frames(shapes)
	}
	for s, beats := range c.Rhythms {
		if len(beats) == 0 {
			continue
		}
		part := "states." + State(s).String()
		if f.beats(part, beats, true) {
			shape := shapeOf(beats)
			switch before, twice := shapes[shape]; {
			case twice && before == Locked:
				f.add(part, "give it a rhythm that is not a frame's", "%v has the rhythm of a pilot's frame, except for its speed", State(s))
			case twice:
				f.add(part, "give each its own", "%v and %v have the same rhythm, except for its speed", before, State(s))
			}
			shapes[shape] = State(s)
		}
	}
	low, high := c.EdgeRests[EndLow], c.EdgeRests[EndHigh]
	if (len(low) == 0) != (len(high) == 0) {
		f.add("states.edge_low", "give both or neither", "only one end of the range has a signal")
	}
	for _, end := range []EdgeEnd{EndLow, EndHigh} {
		part, beats := "states.edge_"+end.String(), c.EdgeRests[end]
		if len(beats) > 0 && beats[0].Units <= c.Timing.GroupGap {
			f.add(part, "start it with a longer dark: what comes next would be taken for a group", "it starts with %d units of dark, no longer than the gap between groups, %d", beats[0].Units, c.Timing.GroupGap)
		}
		for _, b := range beats {
			if b.Lit && b.Units <= c.Timing.Long {
				f.add(part, "make its bars longer, at least twice as long: one could be taken for a mark", "a bar of %d units is no longer than a long mark, %d", b.Units, c.Timing.Long)
				break
			}
		}
		if len(beats) > 0 && f.beats(part, beats, false) && beats[len(beats)-1].Units <= c.Timing.GroupGap {
			f.add(part, "end it with a longer dark", "it ends with %d units of dark, no longer than the gap between groups", beats[len(beats)-1].Units)
		}
	}
	if len(low) > 0 && c.Bars(EndLow) == c.Bars(EndHigh) {
		f.add("states.edge_high", "give one end more bars than the other", "both ends of the range have %d bars", c.Bars(EndLow))
	}
}

// sendable reports whether frames can be made at all.
func (f *flaws) sendable() bool {
	return !slices.ContainsFunc(f.all, func(flaw Flaw) bool { return !strings.HasPrefix(flaw.Part, "states.") })
}

// frames adds the shapes of frames that are no longer than a state's rhythm.
func (f *flaws) frames(shapes map[string]State) {
	longest := 0
	for _, beats := range f.code.Rhythms {
		longest = max(longest, len(beats))
	}
	for p := range f.code.Pilots {
		frame, err := f.code.Encode(p)
		marks := 0
		for _, g := range frame {
			marks += 2 * len(g)
		}
		if err == nil && marks <= longest {
			shapes[shapeOf(append(f.code.beats(frame), Beat{false, f.code.Timing.Rest}))] = Locked
		}
	}
}

// beats checks that stretches alternate and that each has a valid length. A period
// begins lit and ends dark; a rest begins and ends dark.
func (f *flaws) beats(part string, beats []Beat, lit bool) bool {
	even := len(beats)%2 == 0
	switch {
	case lit && !even:
		f.add(part, "alternate lit and dark, starting lit and ending dark", "a rhythm of %d stretches does not end dark", len(beats))
		return false
	case !lit && (even || len(beats) < 3):
		f.add(part, "write dark, lit, dark, ...: it takes the place of the rest", "a rest of %d stretches does not start and end dark", len(beats))
		return false
	case len(beats) > 24:
		f.add(part, "nobody can count that many", "there are %d stretches, more than 24", len(beats))
		return false
	}
	for _, b := range beats {
		if b.Units < 1 || b.Units > maxUnits {
			f.add(part, fmt.Sprintf("write units, from 1 to %d", maxUnits), "a length of %d units is not possible", b.Units)
			return false
		}
	}
	for i, b := range beats {
		if b.Lit != ((i%2 == 0) == lit) {
			f.add(part, "alternate lit and dark", "two stretches in a row are both lit or both dark")
			return false
		}
	}
	return true
}

// shapeOf returns the shape of a rhythm, regardless of its speed and where it begins.
func shapeOf(beats []Beat) string {
	divisor := 0
	for _, b := range beats {
		divisor = gcd(divisor, b.Units)
	}
	least := ""
	for start := 0; start < len(beats); start += 2 {
		shape := ""
		for i := range beats {
			shape += fmt.Sprintf("%d ", beats[(start+i)%len(beats)].Units/max(divisor, 1))
		}
		if least == "" || shape < least {
			least = shape
		}
	}
	return least
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
