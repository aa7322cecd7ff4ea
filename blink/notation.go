package blink

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// A mark is one pulse as it is written down.
const (
	ShortMark  = '.'
	LongMark   = '_'
	UnsureMark = '?' // a mark was seen, its length was not sure
	UnreadMark = "*" // alone in its group: a group was there, its marks were not read
)

// Group is the marks of one group, in [ShortMark], [LongMark] and, where it
// was seen and not sent, [UnsureMark], or [UnreadMark] alone.
type Group string

// Frame is the groups of one frame, as sent or as seen.
type Frame []Group

// String writes the frame with its groups apart by a space.
func (f Frame) String() string {
	groups := make([]string, len(f))
	for i, g := range f {
		groups[i] = string(g)
	}
	return strings.Join(groups, " ")
}

// Marks is how many marks there are in all groups.
func (f Frame) Marks() int {
	marks := 0
	for _, g := range f {
		marks += len(g)
	}
	return marks
}

// FormatFrames writes looks at the same lamp apart by '//'. [ParseNotation]
// reads them back.
func FormatFrames(frames []Frame) string {
	looks := make([]string, len(frames))
	for i, f := range frames {
		looks[i] = f.String()
	}
	return strings.Join(looks, " // ")
}

// Encode returns the frame of a pilot. The errors are those of [Code.Digits].
func (c *Code) Encode(p channelplan.Pilot) (Frame, error) {
	digits, err := c.Digits(p)
	if err != nil {
		return nil, err
	}
	frame := make(Frame, len(digits))
	for i, d := range digits {
		frame[i] = c.Patterns[d]
	}
	return frame, nil
}

// DigitOf returns the digit whose marks the group is, and whether there is
// one.
func (c *Code) DigitOf(g Group) (int, bool) {
	for d, p := range c.Patterns {
		if g == p {
			return d, true
		}
	}
	return 0, false
}

// DigitsOf returns the digits that a frame's groups are, and whether all of
// them are digits. It does not check them.
func (c *Code) DigitsOf(f Frame) ([]int, bool) {
	digits := make([]int, len(f))
	for i, g := range f {
		d, ok := c.DigitOf(g)
		if !ok {
			return nil, false
		}
		digits[i] = d
	}
	return digits, true
}

// Words says the group as one would aloud: 'a long and two shorts'.
func (g Group) Words() string {
	if g == UnreadMark {
		return "not read"
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
	small := []string{"no", "a", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	switch {
	case n == 1 && name == "unsure mark":
		return "an unsure mark"
	case n == 1:
		return "a " + name
	case n < len(small):
		return small[n] + " " + name + "s"
	}
	return fmt.Sprintf("%d %ss", n, name)
}

// written maps every character taken for marks to the marks it stands for.
// People write with what their keyboard gives, and phones replace three
// periods by an ellipsis. An em dash is one long mark, though a phone may
// have made it of two: the check digit tells.
var written = map[rune]string{
	'.': ".", '·': ".", '•': ".", '∙': ".", '⋅': ".", '●': ".", '‧': ".", '．': ".",
	'‥': "..", '…': "...",
	'_': "_", '-': "_", '‐': "_", '‑': "_", '‒': "_", '–': "_", '—': "_", '―': "_", '−': "_", '＿': "_", '－': "_",
	'?': "?", 'x': "?", 'X': "?", '？': "?",
	'*': "*",
}

// isBlank reports whether a character parts groups and is nothing more: spaces,
// those that don't break, and a byte order mark.
func isBlank(r rune) bool {
	return r == ' ' || r == '\t' || r == '\r' || r == '\u00a0' || r == '\ufeff'
}

// IsNotation reports whether text is made of nothing but what [ParseNotation]
// takes for marks and what parts them, and is not empty.
func IsNotation(text string) bool {
	for _, r := range text {
		if _, ok := written[r]; !ok && r != '/' && r != '\n' && !isBlank(r) {
			return false
		}
	}
	return text != ""
}

// MaxMarks is how many marks ParseNotation takes in one look: over twice the most
// that a frame of the Tally code has, and more than any code's.
const MaxMarks = 64

// MaxLooks is how many looks ParseNotation takes.
const MaxLooks = 64

// ParseNotation reads written marks: '.' short, '_' long, '?' or 'x' not
// sure, '*' a whole group not read; groups apart by spaces or '/', repeats of
// the same lamp apart by '//' or a line end. Hyphens, dashes, bullets and
// ellipses are taken as the marks they look like. There is at least one look
// and no look without a group; the error is a [*fault.Error].
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
			return p.fail(fmt.Sprintf("%q is not a mark", r), "write . for a short pulse, _ for a long one, ? or x if not sure")
		case last == UnreadMark || m == UnreadMark && last != "":
			return p.fail("'*' stands for a whole group", "leave a space on either side of it")
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

// lookParser parts what is written of one lamp into looks, and knows the place.
type lookParser struct {
	frames       []Frame
	frame        Frame
	line, column int
	slash        bool // the character before was the first of two
}

func newLookParser() *lookParser { return &lookParser{line: 1} }

// What a character ends.
type separator uint8

const (
	endsNothing separator = iota
	endsGroup
	endsFrame
)

// next steps to the next character and tells what it ends.
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

// endFrame ends a look at a character that does.
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

// tooMany reports whether a look has begun beyond the last that is taken.
func (p *lookParser) tooMany() bool { return len(p.frames) >= MaxLooks }

func (p *lookParser) failTooMany() ([]Frame, error) {
	return nil, &fault.Error{Line: p.line, Column: p.column, Text: fmt.Sprintf("more than %d looks at one lamp", MaxLooks), Hint: "read one lamp at a time", Act: fault.ManyLamps}
}

func (p *lookParser) fail(what, hint string) ([]Frame, error) {
	return nil, &fault.Error{Line: p.line, Column: p.column, Text: what, Hint: hint}
}

// finish returns the looks, or the error for none.
func (p *lookParser) finish(none, hint string) ([]Frame, error) {
	p.endFrame(0)
	if len(p.frames) == 0 {
		p.column++
		return p.fail(none, hint)
	}
	return p.frames, nil
}

// ParseDigits reads digits as an eye took them from the lamp, one a group,
// such as 7167, and returns the frames whose marks they are; '?', 'x' or '*' is
// a group not read. Spaces do not matter; repeats of the same lamp stand apart
// by '//' or a line end. The error is a [*fault.Error].
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
			p.frame = append(p.frame, c.Patterns[r-'0'])
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
	return p.finish("there are no digits here", hint)
}
