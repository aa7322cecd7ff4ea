package blink

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// The characters for marks. A mark is one pulse.
const (
	ShortMark  = '.'
	LongMark   = '_'
	UnsureMark = '?' // a mark was seen, but its length was not certain
	UnreadMark = "*" // alone in its group: a group was seen, but its marks were not read
)

// Group is the marks of one group: [ShortMark] and [LongMark], and in a group that was
// seen rather than sent also [UnsureMark], or [UnreadMark] alone.
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
		marks += len(g)
	}
	return marks
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

// DigitOf returns the digit with the marks of the group, and reports whether there is
// one.
func (c *Code) DigitOf(g Group) (int, bool) {
	for d, p := range c.Patterns {
		if g == p {
			return d, true
		}
	}
	return 0, false
}

// DigitsOf returns the digits of a frame's groups, and reports whether all groups are
// digits. It does not verify the check digit.
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

// Words says the group in words, as you would aloud: 'a long and two shorts'.
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
// whole group that was not read. Spaces or '/' separate groups; '//' or a line end
// separates looks at the same lamp. Hyphens, dashes, bullets and ellipses are read as
// the marks they look like. The result has at least one look, and every look has at
// least one group. The error is a [*fault.Error].
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
	return nil, &fault.Error{Line: p.line, Column: p.column, Text: fmt.Sprintf("more than %d looks at one lamp", MaxLooks), Hint: "read one lamp at a time", Act: fault.ManyLamps}
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
