package blink

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"tallywink.example/channelplan"
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
	maxColor      = 12
	shortestUnit  = 10 * time.Millisecond
	longestUnit   = 10 * time.Second
	lastChannel   = 199
)

// partOrder is the place of a part in a code: name, durations, digits, presets, groups,
// kinds, states.
func partOrder(part string) int {
	table, _, _ := strings.Cut(part, ".")
	return slices.Index([]string{"name", "unit_ms", "unit_range_ms", "marks", "digits", "presets", "group",
		"channels", "kinds", "states", "colors"}, table)
}

// Flaws returns the reasons why a code can't be used, in the order of its parts, or
// none if it can. Code that makes or reads signals may rely on what it checks.
func (c *Code) Flaws() []Flaw {
	f := &flaws{code: c}
	if n := utf8.RuneCountInString(c.Name); n > maxCodeName {
		f.add("name", "shorten it", "the code's name has %d letters, more than %d", n, maxCodeName)
	}
	f.timing()
	f.presets()
	f.groups()
	f.kinds()
	f.digits()
	f.rhythms()
	f.colors()
	slices.SortStableFunc(f.all, func(a, b Flaw) int { return partOrder(a.Part) - partOrder(b.Part) })
	return f.all
}

type flaws struct {
	code *Code
	all  []Flaw
	seen map[string][]shaped // by shape
}

func (f *flaws) add(part, hint, text string, args ...any) {
	f.all = append(f.all, Flaw{part, fault.Error{Text: fmt.Sprintf(text, args...), Hint: hint}})
}

func (f *flaws) timing() {
	t := f.code.Timing
	switch {
	case t.Unit < shortestUnit || t.Unit > longestUnit:
		f.add("unit_ms", fmt.Sprintf("write %d to %d", shortestUnit.Milliseconds(), longestUnit.Milliseconds()),
			"no eye can follow a unit of %v", t.Unit)
	case t.Unit%time.Millisecond != 0 || t.MinUnit%time.Millisecond != 0 || t.MaxUnit%time.Millisecond != 0:
		f.add("unit_ms", "write whole milliseconds", "the unit is not a whole number of milliseconds")
	case t.MinUnit < shortestUnit || t.MaxUnit > longestUnit || t.MinUnit > t.Unit || t.MaxUnit < t.Unit:
		f.add("unit_range_ms", "write the fastest and the slowest unit, with this unit in between",
			"the unit of %v is not between %v and %v", t.Unit, t.MinUnit, t.MaxUnit)
	}
	for _, d := range []struct {
		part  string
		units int
	}{{"marks.short", t.Short}, {"marks.long", t.Long}, {"marks.gap", t.MarkGap}, {"marks.group_gap", t.GroupGap},
		{"marks.rest", t.Rest}} {
		if (d.units < 1 || d.units > maxUnits) && len(f.code.Groups) > 0 {
			f.add(d.part, fmt.Sprintf("write units, from 1 to %d", maxUnits),
				"a length of %d units is not possible", d.units)
		}
	}
	if len(f.code.Groups) == 0 {
		return // no marks, only rhythms
	}
	if t.Long <= t.Short {
		f.add("marks.long", "make it longer, at least twice as long",
			"a long mark of %d units is no longer than a short one of %d", t.Long, t.Short)
	}
	if t.GroupGap <= t.MarkGap {
		text := fmt.Sprintf("the gap between groups, %d units, is no longer than the one between marks, %d",
			t.GroupGap, t.MarkGap)
		if a, b, ok := f.prefix(); ok {
			text += fmt.Sprintf(": digit %d starts with the marks of %d, so no one can tell them apart", b, a)
		}
		f.add("marks.group_gap", "make it longer, at least twice as long", "%s", text)
	}
	if t.Rest <= t.GroupGap {
		f.add("marks.rest", "make it longer, at least twice as long: it shows the reader where a frame starts",
			"the rest of %d units is no longer than the gap between groups, %d", t.Rest, t.GroupGap)
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

// digits checks the marks of the digits that the code's frames need.
func (f *flaws) digits() {
	c := f.code
	needed := f.needed()
	f.marks(-1, c.Patterns, needed[0])
	for i, g := range c.Groups {
		if g.hasOwnMarks() {
			f.marks(i, g.Marks, needed[i+1])
		}
	}
	if !f.sendable() || len(c.Groups) == 0 {
		return
	}
	for p := range c.Pilots {
		frame, err := c.Encode(p)
		if err != nil {
			continue
		}
		if frame.Marks() == 0 {
			f.add("digits.0", "give zero some light", "%v would show no light at all", p)
			return
		}
		lit, _, _ := c.beats(frame)
		for _, b := range lit {
			if !b.Lit && b.Units >= c.Timing.Rest && c.Timing.GroupGap < c.Timing.Rest {
				f.add("marks.rest", fmt.Sprintf("make it longer than %d units", b.Units),
					"in the frame of %v it is dark for %d units where zeros show no light, as long as the rest", p,
					b.Units)
				return
			}
		}
	}
}

// needed returns which digits the frames need: first of the code's own digits, then of each
// group. As long as groups or channels have flaws, that is not known: all ten.
func (f *flaws) needed() [][10]bool {
	c := f.code
	needed := make([][10]bool, len(c.Groups)+1)
	take := func(group, digit int) {
		if c.Groups[group].hasOwnMarks() {
			needed[group+1][digit] = true
		} else {
			needed[0][digit] = true
		}
	}
	for p := range c.Pilots {
		if !f.sendable() {
			break
		}
		digits, err := c.Digits(p)
		if err != nil {
			continue
		}
		for i, rule := range c.Rules(p) {
			take(slices.Index(c.Groups, rule), digits[i])
		}
	}
	if !f.sendable() {
		needed[0] = [10]bool{true, true, true, true, true, true, true, true, true, true}
	}
	return needed
}

// marks checks the marks of the code's digits, or those of a group of its own if it is not
// -1.
func (f *flaws) marks(group int, marks [10]Group, needed [10]bool) {
	for d, g := range marks {
		at, of := fmt.Sprintf("digits.%d", d), fmt.Sprintf("digit %d", d)
		if group >= 0 {
			at = fmt.Sprintf("group.%d", group)
			of = fmt.Sprintf("digit %d of the group %s", d, f.code.Groups[group].Name)
		}
		switch {
		case g == "" && needed[d]:
			f.add(at, "write its marks, . short and _ long", "%s is missing", of)
		case g == EmptyGroup && d != 0:
			f.add(at, "write its marks, . short and _ long; only zero can be no light", "%s shows no light", of)
		case g == "", g == EmptyGroup:
		case strings.Trim(string(g), string([]byte{ShortMark, LongMark})) != "":
			f.add(at, "write . for a short mark and _ for a long one, and nothing else", "%q are not marks", string(g))
		case len(g) > maxDigitMarks:
			f.add(at, "nobody can count that many", "%s has %d marks, more than %d", of, len(g), maxDigitMarks)
		}
		if first := slices.Index(marks[:d], g); first >= 0 && g != "" {
			f.add(at, "give each its own marks", "digits %d and %d have the same marks, %s", first, d, g)
		}
	}
}

// presets checks the numbers and the pilots of presets.
func (f *flaws) presets() {
	numbers, pilots := map[int]bool{}, map[channelplan.Pilot]int{}
	for _, p := range f.code.Presets {
		part := fmt.Sprintf("presets.%d", p.Number)
		if p.Number < 1 || p.Number > lastChannel {
			f.add(part, fmt.Sprintf("write 1 to %d", lastChannel), "a preset can't have the number %d", p.Number)
		}
		if numbers[p.Number] {
			f.add(part, "leave one of them out", "there are two presets %d", p.Number)
		}
		if first, twice := pilots[p.Pilot]; twice {
			f.add(part, "leave one of them out: a reading names the pilot, not the preset",
				"presets %d and %d are both %v", first, p.Number, p.Pilot)
		}
		numbers[p.Number], pilots[p.Pilot] = true, p.Number
	}
}

func (f *flaws) groups() {
	c := f.code
	if n := len(c.Groups); n > MaxGroups || n == 0 && len(c.Rhythms[Locked]) == 0 {
		f.add("group",
			fmt.Sprintf("write the groups of a frame, from 1 to %d; or, if the lamp shows no frame, [states] with locked",
				MaxGroups), "a frame can't have %d groups", n)
		return
	}
	if len(c.Groups) == 0 {
		return // it shows states alone
	}
	seen := map[Source]int{}
	for i, g := range c.Groups {
		part := fmt.Sprintf("group.%d", i)
		switch n := utf8.RuneCountInString(g.Name); {
		case n == 0:
			f.add(part, "give it the name that technicians use", "group %d has no name", i+1)
		case n > maxGroupName:
			f.add(part, "shorten it: it is printed below the group's marks",
				"the name of group %d has %d letters, more than %d", i+1, n, maxGroupName)
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
	_, last := c.numbers()
	what := "channels"
	if len(c.Presets) > 0 {
		what = "presets"
	} else if c.FirstChannel < 1 || c.LastChannel > lastChannel || c.FirstChannel > c.LastChannel {
		f.add("channels", fmt.Sprintf("write the first and the last, from 1 to %d", lastChannel),
			"channels %d to %d are not possible", c.FirstChannel, c.LastChannel)
		return
	}
	_, units := seen[FromUnits]
	_, tens := seen[FromTens]
	_, hundreds := seen[FromHundreds]
	_, kind := seen[FromKind]
	switch {
	case !units:
		f.add("group", "add a group from units", "no group carries the units of %s", what)
	case !tens && last > 9:
		f.add("group", fmt.Sprintf("add a group from tens, or end the %s at 9", what),
			"no group carries the tens of %s up to %d", what, last)
	case !hundreds && last > 99 && (!kind || c.HundredAdds == 0):
		f.add("group",
			fmt.Sprintf("add a group from hundreds, or say what %s 100 and above add to the kind, or end them at 99",
				what), "nothing sets %s 100 to %d apart from those below", what, last)
	}
	if !kind && len(c.Heads) > 1 && len(c.Presets) == 0 {
		f.add("kinds", "add a group from kind, or name one kind", "no group carries the kind, but there are %d",
			len(c.Heads))
	}
}

func (f *flaws) kinds() {
	c := f.code
	if _, named := c.Group(FromKind); len(c.Heads) == 0 && len(c.Groups) > 0 && (named || len(c.Presets) == 0) {
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
		if _, last := c.numbers(); c.HundredAdds != 0 && last > 99 {
			take("kinds.hundred_adds", h.Digit+c.HundredAdds, h.Kind.String()+" from channel 100 on")
		}
	}
}

func (f *flaws) rhythms() {
	c := f.code
	f.seen = map[string][]shaped{}
	if f.sendable() {
		f.frames()
	}
	always := NoState
	for i, beats := range c.Rhythms {
		s := State(i)
		part := "states." + s.String()
		switch {
		case len(beats) == 0:
		case len(beats) == 1 && always != NoState:
			f.add(part, "give each its own", "%v and %v are both always lit", always, s)
		case len(beats) == 1:
			always = s
		case s == Edge && len(c.EdgeRests[EndLow]) > 0:
			f.add(part, "leave it out", "edge has a rhythm, and a signal for each end of the range as well")
		default:
			f.rhythm(part, s.String(), c.ColorOf(s), beats)
		}
	}
	low, high := c.EdgeRests[EndLow], c.EdgeRests[EndHigh]
	switch {
	case (len(low) == 0) != (len(high) == 0):
		f.add("states.edge_low", "give both or neither", "only one end of the range has a signal")
	case len(c.Groups) > 0:
		f.bars()
	default:
		for _, end := range []EdgeEnd{EndLow, EndHigh} {
			if beats := c.EdgeRests[end]; len(beats) > 0 {
				f.rhythm("states.edge_"+end.String(), "edge_"+end.String(), c.ColorOf(Edge), beats)
			}
		}
	}
}

// colors checks the words for colors.
func (f *flaws) colors() {
	for _, s := range States() {
		color := f.code.Colors[s]
		if strings.Trim(color, "abcdefghijklmnopqrstuvwxyz") != "" || len(color) > maxColor {
			f.add("colors."+s.String(), fmt.Sprintf("write one word in small letters, at most %d, such as green",
				maxColor), "%q is not a color", color)
		}
	}
}

// shaped is something that the lamp shows, with the speed at which it has its shape.
type shaped struct {
	name  string // of a state; "" for a pilot's frame
	color string
	units int // what all its lengths are multiples of
}

// speedsApart is how much farther apart than the slowest and the fastest unit the speeds of
// two rhythms of one shape must be: people and amplifiers do not keep time exactly.
const speedsApart = 1.5

// rhythm checks a rhythm, and that no other has the same shape at a speed that could be
// taken for its own.
func (f *flaws) rhythm(part, name, color string, beats []Beat) {
	if !f.beats(part, beats, true) {
		return
	}
	t := f.code.Timing
	need := 1.0
	if t.MinUnit > 0 {
		need = speedsApart * float64(t.MaxUnit) / float64(t.MinUnit)
	}
	shape, units := shapeOf(beats)
	for _, other := range f.seen[shape] {
		if ratio := float64(max(units, other.units)) / float64(min(units, other.units)); ratio >= need ||
			color != "" && other.color != "" && color != other.color {
			continue // speed or color tells them apart
		}
		if other.name == "" {
			f.add(part, "give it a rhythm that is not a frame's",
				"%s has the rhythm of a pilot's frame, except for its speed", name)
		} else {
			f.add(part,
				fmt.Sprintf("give each its own, or make one at least %.1f times as fast (a narrower unit_range_ms lets them be closer), or say under [colors] how they differ",
					need), "%s and %s have the same rhythm, except for its speed", other.name, name)
		}
		break
	}
	f.seen[shape] = append(f.seen[shape], shaped{name, color, units})
}

// bars checks what is sent instead of the rest in state edge.
func (f *flaws) bars() {
	c := f.code
	for _, end := range []EdgeEnd{EndLow, EndHigh} {
		part, beats := "states.edge_"+end.String(), c.EdgeRests[end]
		if len(beats) > 0 && beats[0].Units <= c.Timing.GroupGap {
			f.add(part, "start it with a longer dark: what comes next would be taken for a group",
				"it starts with %d units of dark, no longer than the gap between groups, %d", beats[0].Units,
				c.Timing.GroupGap)
		}
		for _, b := range beats {
			if b.Lit && b.Units <= c.Timing.Long {
				f.add(part, "make its bars longer, at least twice as long: one could be taken for a mark",
					"a bar of %d units is no longer than a long mark, %d", b.Units, c.Timing.Long)
				break
			}
		}
		if len(beats) > 0 && f.beats(part, beats, false) && beats[len(beats)-1].Units <= c.Timing.GroupGap {
			f.add(part, "end it with a longer dark",
				"it ends with %d units of dark, no longer than the gap between groups", beats[len(beats)-1].Units)
		}
	}
	if len(c.EdgeRests[EndLow]) > 0 && c.Bars(EndLow) == c.Bars(EndHigh) {
		f.add("states.edge_high", "give one end more bars than the other", "both ends of the range have %d bars",
			c.Bars(EndLow))
	}
}

// sendable reports whether frames can be made at all.
func (f *flaws) sendable() bool {
	return !slices.ContainsFunc(f.all, func(flaw Flaw) bool { return !strings.HasPrefix(flaw.Part, "states.") })
}

// frames adds the shapes of frames that are no longer than a state's rhythm.
func (f *flaws) frames() {
	longest := 0
	for _, beats := range f.code.Rhythms {
		longest = max(longest, len(beats))
	}
	for p := range f.code.Pilots {
		frame, err := f.code.Encode(p)
		if err != nil || 2*frame.Marks() > longest {
			continue
		}
		lit, before, after := f.code.beats(frame)
		shape, units := shapeOf(append(lit, Beat{false, before + f.code.Timing.Rest + after}))
		f.seen[shape] = append(f.seen[shape], shaped{color: f.code.ColorOf(Locked), units: units})
	}
}

// beats checks that stretches alternate and that each has a valid length. A period
// begins lit and ends dark; a rest begins and ends dark.
func (f *flaws) beats(part string, beats []Beat, lit bool) bool {
	even := len(beats)%2 == 0
	switch {
	case lit && !even:
		f.add(part, "alternate lit and dark, starting lit and ending dark",
			"a rhythm of %d stretches does not end dark", len(beats))
		return false
	case !lit && (even || len(beats) < 3):
		f.add(part, "write dark, lit, dark, ...: it takes the place of the rest",
			"a rest of %d stretches does not start and end dark", len(beats))
		return false
	case len(beats) > 24:
		f.add(part, "nobody can count that many", "there are %d stretches, more than 24", len(beats))
		return false
	}
	for _, b := range beats {
		if b.Units < 1 || b.Units > maxUnits {
			f.add(part, fmt.Sprintf("write units, from 1 to %d", maxUnits),
				"a length of %d units is not possible", b.Units)
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

// shapeOf returns the shape of a rhythm, regardless of its speed and where it begins, and
// what all its lengths are multiples of.
func shapeOf(beats []Beat) (least string, divisor int) {
	for _, b := range beats {
		divisor = gcd(divisor, b.Units)
	}
	for start := 0; start < len(beats); start += 2 {
		shape := ""
		for i := range beats {
			shape += fmt.Sprintf("%d ", beats[(start+i)%len(beats)].Units/max(divisor, 1))
		}
		if least == "" || shape < least {
			least = shape
		}
	}
	return least, divisor
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}
