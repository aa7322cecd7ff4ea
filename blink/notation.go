package blink

import (
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// The characters for marks. A mark is one pulse.
const (
	ShortMark  = '.'
	LongMark   = '_'
	UnsureMark = '?' // a mark was seen, but its length was not certain
	UnreadMark = "*" // alone in its group: a group was seen, but its marks were not read
	// EmptyGroup is a whole group that shows no light: some codes show zero so. Its place is
	// told by the dark alone, which is longer by a gap between groups.
	EmptyGroup = "0"
)

// Group is the marks of one group: [ShortMark] and [LongMark], and in a group that was
// seen rather than sent also [UnsureMark], or [UnreadMark] alone. [EmptyGroup] has none.
type Group string

// Frame is the groups of one frame, as sent or as seen.
type Frame []Group

// String returns the frame with a space between groups.
func (f Frame) String() string {
	groups := make([]string, len(f))
	for i, g := range f {
		groups[i] = string(g)
	}
	return strings.Join(groups, " ")
}

// Marks returns the number of marks in all groups.
func (f Frame) Marks() int {
	marks := 0
	for _, g := range f {
		if g != EmptyGroup {
			marks += len(g)
		}
	}
	return marks
}

// Lit returns the groups that show light.
func (f Frame) Lit() Frame {
	return slices.DeleteFunc(slices.Clone(f), func(g Group) bool { return g == EmptyGroup })
}

// FormatFrames writes looks at the same lamp with '//' between them. [ParseNotation]
// reads them back.
func FormatFrames(frames []Frame) string {
	looks := make([]string, len(frames))
	for i, f := range frames {
		looks[i] = f.String()
	}
	return strings.Join(looks, " // ")
}

// Layout returns where each group of a frame begins and how long it takes, in units since
// the first group began. A group that shows no light takes none.
func (c *Code) Layout(f Frame) (starts, lengths []int) {
	at := 0
	for i, g := range f {
		if i > 0 {
			at += c.Timing.GroupGap
		}
		lit, _, _ := c.beats(Frame{g})
		length := 0
		for _, b := range lit {
			length += b.Units
		}
		starts, lengths = append(starts, at), append(lengths, length)
		at += length
	}
	return starts, lengths
}

// Encode returns the frame of a pilot. The errors are those of [Code.Digits].
func (c *Code) Encode(p channelplan.Pilot) (Frame, error) {
	digits, err := c.Digits(p)
	if err != nil {
		return nil, err
	}
	frame := make(Frame, len(digits))
	for i, g := range c.Rules(p) {
		frame[i] = c.MarksOf(g, digits[i])
	}
	return frame, nil
}

// ShownDigits returns the digits that the code has marks for, apart from groups with marks of
// their own.
func (c *Code) ShownDigits() []int {
	var digits []int
	for d, g := range c.Patterns {
		if g != "" {
			digits = append(digits, d)
		}
	}
	return digits
}

// HasLong reports whether any digit has a long mark.
func (c *Code) HasLong() bool {
	for _, rule := range append([]GroupRule{{Marks: c.Patterns}}, c.Groups...) {
		if slices.ContainsFunc(rule.Marks[:], func(g Group) bool { return strings.ContainsRune(string(g), LongMark) }) {
			return true
		}
	}
	return false
}

// DigitOf returns the digit with the marks of the group, and reports whether there is
// one. Groups with marks of their own come after the code's digits: if it matters which
// group it is, use [Code.DigitsOf].
func (c *Code) DigitOf(g Group) (int, bool) {
	if g == "" {
		return 0, false
	}
	for _, rule := range append([]GroupRule{{}}, c.Groups...) {
		if d, ok := c.digitIn(rule, g); ok {
			return d, true
		}
	}
	return 0, false
}

// DigitsOf returns the digits of a frame's groups, and reports whether all groups are
// digits. It does not verify the check digit. In a frame of another length than the
// code's, a group may have the marks of any group.
func (c *Code) DigitsOf(f Frame) ([]int, bool) {
	rules := c.rulesFor(len(f))
	digits := make([]int, len(f))
	for i, g := range f {
		d, ok := c.DigitOf(g)
		if rules != nil {
			d, ok = c.digitIn(rules[i], g)
		}
		if !ok {
			return nil, false
		}
		digits[i] = d
	}
	return digits, true
}

// digitIn returns the digit with the marks in a group of a frame.
func (c *Code) digitIn(rule GroupRule, g Group) (int, bool) {
	for d := range 10 {
		if g != "" && c.MarksOf(rule, d) == g {
			return d, true
		}
	}
	return 0, false
}

// rulesFor returns the groups of the code's frames of a length; nil if no frame has it.
func (c *Code) rulesFor(length int) []GroupRule {
	first, last := c.numbers()
	for _, number := range []int{last, 99, 9, first} {
		if number < first || number > last {
			continue
		}
		if rules := c.rulesOf(number); len(rules) == length {
			return rules
		}
	}
	return nil
}

// Words says the group in words, as you would aloud: 'a long and two shorts'.
func (g Group) Words() string {
	switch g {
	case UnreadMark:
		return "not read"
	case EmptyGroup:
		return "no light"
	}
	var runs []string
	for rest := string(g); rest != ""; {
		n := len(rest) - len(strings.TrimLeft(rest, rest[:1]))
		runs = append(runs, count(n, markNames[rest[0]]))
		rest = rest[n:]
	}
	return strings.Join(runs, " and ")
}

var markNames = map[byte]string{ShortMark: "short", LongMark: "long", UnsureMark: "unsure mark"}

func count(n int, name string) string {
	switch {
	case n == 1 && name == "unsure mark":
		return "an unsure mark"
	case n == 1:
		return "a " + name
	}
	return wording.Number(n) + " " + name + "s"
}

// written maps every character that is read as marks to those marks. People type
// whatever their keyboard has, and phones replace three periods with an ellipsis. An em
// dash is one long mark, though a phone may have made it from two; the check digit
// shows which.
var written = map[rune]string{
	'.': ".", '·': ".", '•': ".", '∙': ".", '⋅': ".", '●': ".", '‧': ".", '．': ".",
	'‥': "..", '…': "...",
	'_': "_", '-': "_", '‐': "_", '‑': "_", '‒': "_", '–': "_", '—': "_", '―': "_", '−': "_", '＿': "_", '－': "_",
	'?': "?", 'x': "?", 'X': "?", '？': "?",
	'*': "*",
	'0': "0",
}

// isBlank reports whether a character only separates groups: spaces, non-breaking
// spaces and a byte order mark.
func isBlank(r rune) bool {
	return r == ' ' || r == '\t' || r == '\r' || r == '\u00a0' || r == '\ufeff'
}

// IsNotation reports whether text is not empty and consists only of marks and
// separators that [ParseNotation] reads.
func IsNotation(text string) bool {
	for _, r := range text {
		if _, ok := written[r]; !ok && r != '/' && r != '\n' && !isBlank(r) {
			return false
		}
	}
	return text != ""
}

// MaxMarks is how many marks ParseNotation accepts in one look: more than twice the
// most in a frame of the Tally code, and more than in a frame of any code.
const MaxMarks = 64

// MaxLooks is how many looks ParseNotation accepts.
const MaxLooks = 64

// ParseNotation reads written marks: '.' short, '_' long, '?' or 'x' unsure, '*' a
// whole group that was not read, '0' a whole group that shows no light. Spaces or '/'
// separate groups; '//' or a line end separates looks at the same lamp. Hyphens,
// dashes, bullets and ellipses are read as the marks they look like. The result has at
// least one look, and every look has at least one group. The error is a [*fault.Error].
func ParseNotation(text string) ([]Frame, error) {
	p := newLookParser()
	var group strings.Builder
	marks := 0
	endGroup := func() {
		if group.Len() > 0 {
			p.frame = append(p.frame, Group(group.String()))
			group.Reset()
		}
	}
	for i, r := range text {
		switch p.next(r) {
		case endsGroup:
			endGroup()
			continue
		case endsFrame:
			endGroup()
			p.endFrame(r)
			marks = 0
			continue
		}
		m, ok := written[r]
		last := group.String()
		switch {
		case r == utf8.RuneError && !utf8.ValidString(text[i:i+1]) && !strings.HasPrefix(text[i:], "\uFFFD"):
			return p.fail("this is not text in UTF-8", "type the marks with . and _")
		case !ok:
			return p.fail(fmt.Sprintf("%q is not a mark", r),
				"write . for a short pulse, _ for a long one, ? or x if not sure")
		case last == UnreadMark || m == UnreadMark && last != "":
			return p.fail("'*' stands for a whole group", "leave a space on either side of it")
		case last == EmptyGroup || m == EmptyGroup && last != "":
			return p.fail("'0' stands for a whole group that shows no light",
				"leave a space on either side of it, or give digits")
		}
		group.WriteString(m)
		if marks += len(m); marks > MaxMarks {
			return p.fail(fmt.Sprintf("more than %d marks in one look", MaxMarks), putSlashes)
		}
		if p.tooMany() {
			return p.failTooMany()
		}
	}
	endGroup()
	return p.finish("there are no marks here", "type what the lamp showed, for instance _.. . _. _..")
}

// lookParser splits the text about one lamp into looks and keeps track of the place.
type lookParser struct {
	frames       []Frame
	frame        Frame
	line, column int
	slash        bool // the previous character was the first of two
}

func newLookParser() *lookParser { return &lookParser{line: 1} }

// What a character ends.
type separator uint8

const (
	endsNothing separator = iota
	endsGroup
	endsFrame
)

// next steps to the next character and returns what it ends.
func (p *lookParser) next(r rune) separator {
	p.column++
	second := r == '/' && p.slash
	p.slash = r == '/' && !second
	switch {
	case r == '\n' || second:
		return endsFrame
	case r == '/' || isBlank(r):
		return endsGroup
	}
	return endsNothing
}

// endFrame ends a look at a character that ends one.
func (p *lookParser) endFrame(r rune) {
	if len(p.frame) > 0 {
		p.frames = append(p.frames, p.frame)
	}
	p.frame = nil
	if r == '\n' {
		p.line, p.column = p.line+1, 0
	}
}

const putSlashes = "put // between repeats of the same lamp"

// tooMany reports whether a look has begun beyond the last one accepted.
func (p *lookParser) tooMany() bool { return len(p.frames) >= MaxLooks }

func (p *lookParser) failTooMany() ([]Frame, error) {
	return nil, &fault.Error{Line: p.line, Column: p.column,
		Text: fmt.Sprintf("more than %d looks at one lamp", MaxLooks), Hint: "read one lamp at a time",
		Act: fault.ManyLamps}
}

func (p *lookParser) fail(what, hint string) ([]Frame, error) {
	return nil, &fault.Error{Line: p.line, Column: p.column, Text: what, Hint: hint}
}

// finish returns the looks, or the error if there are none.
func (p *lookParser) finish(none, hint string) ([]Frame, error) {
	p.endFrame(0)
	if len(p.frames) == 0 {
		p.column++
		return p.fail(none, hint)
	}
	return p.frames, nil
}

// ParseDigits reads digits as a person read them from the lamp, one per group, such as
// 7167, and returns the frames with their marks. '?', 'x' or '*' is a group that was
// not read. Spaces do not matter; '//' or a line end separates looks at the same lamp.
// The error is a [*fault.Error].
func (c *Code) ParseDigits(text string) ([]Frame, error) {
	const hint = "write one digit per group, for instance 7167, and x for a group not read"
	p := newLookParser()
	for _, r := range text {
		switch p.next(r) {
		case endsGroup:
			continue
		case endsFrame:
			p.endFrame(r)
			continue
		}
		switch {
		case r >= '0' && r <= '9':
			p.frame = append(p.frame, Group(r)) // its marks depend on its place
		case strings.ContainsRune("?xX*", r):
			p.frame = append(p.frame, UnreadMark)
		default:
			return p.fail(fmt.Sprintf("%q is not a digit", r), hint)
		}
		if len(p.frame) > 3*max(len(c.Groups), 1) {
			return p.fail("too many digits for one look", putSlashes)
		}
		if p.tooMany() {
			return p.failTooMany()
		}
	}
	looks, err := p.finish("there are no digits here", hint)
	if err != nil {
		return nil, err
	}
	for _, look := range looks {
		rules := c.rulesFor(len(look))
		for i, g := range look {
			if g == UnreadMark {
				continue
			}
			var rule GroupRule // the code's digits
			if rules != nil {
				rule = rules[i]
			}
			if look[i] = c.MarksOf(rule, int(g[0]-'0')); look[i] != "" {
				continue
			}
			if rule.Name == "" {
				return nil, &fault.Error{Text: fmt.Sprintf("the code %s has no digit %s", c.Name, g),
					Hint: "type the marks instead, . short and _ long"}
			}
			return nil, &fault.Error{Text: fmt.Sprintf("the group %s has no digit %s", rule.Name, g),
				Hint: "count it again, or write x for it"}
		}
	}
	return looks, nil
}
