package blink

import (
	"fmt"
	"strings"
	"unicode/utf8"
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
func (c *Code) Encode(p Pilot) (Frame, error) {
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

// NotationError tells where written marks can't be understood.
type NotationError struct {
	Line   int    // from 1
	Column int    // in characters, from 1; one past the end where something is missing
	Text   string // what is wrong
	Hint   string // what to do
}

// Error returns line:column, what is wrong and what to do, in one line.
func (e *NotationError) Error() string {
	return fmt.Sprintf("%d:%d: %s; %s", e.Line, e.Column, e.Text, e.Hint)
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

// isBlank tells whether a character parts groups and is nothing more: spaces,
// those that don't break, and a byte order mark.
func isBlank(r rune) bool {
	return r == ' ' || r == '\t' || r == '\r' || r == '\u00a0' || r == '\ufeff'
}

// IsNotation tells whether text is made of nothing but what [ParseNotation]
// takes for marks and what parts them, and is not empty.
func IsNotation(text string) bool {
	for _, r := range text {
		if _, ok := written[r]; !ok && r != '/' && r != '\n' && !isBlank(r) {
			return false
		}
	}
	return text != ""
}

// MaxMarks is how many marks ParseNotation takes in one look, over twice the
// most that any frame has.
const MaxMarks = 64

// MaxLooks is how many looks ParseNotation takes.
const MaxLooks = 64

// ParseNotation reads written marks: '.' short, '_' long, '?' or 'x' not
// sure, '*' a whole group not read; groups apart by spaces or '/', repeats of
// the same lamp apart by '//' or a line end. Hyphens, dashes, bullets and
// ellipses are taken as the marks they look like. There is at least one look
// and no look without a group; the error is a [*NotationError].
func ParseNotation(text string) ([]Frame, error) {
	var (
		frames       []Frame
		frame        Frame
		group        strings.Builder
		marks        int
		line, column = 1, 0
	)
	endGroup := func() {
		if group.Len() > 0 {
			frame = append(frame, Group(group.String()))
			group.Reset()
		}
	}
	endFrame := func() {
		endGroup()
		if len(frame) > 0 {
			frames = append(frames, frame)
		}
		frame, marks = nil, 0
	}
	fail := func(what, hint string) ([]Frame, error) {
		return nil, &NotationError{Line: line, Column: column, Text: what, Hint: hint}
	}
	slash := false
	for i, r := range text {
		column++
		was := slash
		slash = r == '/' && !was
		switch {
		case r == utf8.RuneError && !utf8.ValidString(text[i:i+1]) && !strings.HasPrefix(text[i:], "\uFFFD"):
			return fail("this is not text in UTF-8", "type the marks with . and _")
		case r == '\n':
			endFrame()
			line, column = line+1, 0
		case r == '/' && was:
			endFrame()
		case r == '/' || isBlank(r):
			endGroup()
		default:
			m, ok := written[r]
			if !ok {
				return fail(fmt.Sprintf("%q is not a mark", r), "write . for a short pulse, _ for a long one, ? or x where not sure")
			}
			last := group.String()
			if last == UnreadMark || m == UnreadMark && last != "" {
				return fail("'*' stands for a whole group", "leave a space on either side of it")
			}
			group.WriteString(m)
			if marks += len(m); marks > MaxMarks {
				return fail(fmt.Sprintf("more than %d marks in one look", MaxMarks), "put // between repeats of the same lamp")
			}
			if len(frames) >= MaxLooks {
				return fail(fmt.Sprintf("more than %d looks at one lamp", MaxLooks), "read one lamp at a time; --each takes many")
			}
		}
	}
	endFrame()
	if len(frames) == 0 {
		column++
		return fail("there are no marks here", "type what the lamp showed, for instance _.. . _. _..")
	}
	return frames, nil
}

// ParseDigits reads digits as an eye took them from the lamp, one a group,
// such as 7167, and returns the frames whose marks they are; '?', 'x' or '*' is
// a group not read. Spaces do not matter; repeats of the same lamp stand apart
// by '//' or a line end. The error is a [*NotationError].
func (c *Code) ParseDigits(text string) ([]Frame, error) {
	const hint = "write one digit a group, for instance 7167, and x for a group not read"
	var (
		frames       []Frame
		frame        Frame
		line, column = 1, 0
	)
	endFrame := func() {
		if len(frame) > 0 {
			frames = append(frames, frame)
		}
		frame = nil
	}
	fail := func(what, hint string) ([]Frame, error) {
		return nil, &NotationError{Line: line, Column: column, Text: what, Hint: hint}
	}
	slash := false
	for _, r := range text {
		column++
		was := slash
		slash = r == '/' && !was
		switch {
		case r >= '0' && r <= '9':
			frame = append(frame, c.Patterns[r-'0'])
		case strings.ContainsRune("?xX*", r):
			frame = append(frame, Group(UnreadMark))
		case r == '\n':
			endFrame()
			line, column = line+1, 0
		case r == '/' && was:
			endFrame()
		case r == '/' || isBlank(r):
		default:
			return fail(fmt.Sprintf("%q is not a digit", r), hint)
		}
		if len(frame) > 3*len(c.Groups) {
			return fail("too many digits for one look", "put // between repeats of the same lamp")
		}
		if len(frame) > 0 && len(frames) >= MaxLooks {
			return fail(fmt.Sprintf("more than %d looks at one lamp", MaxLooks), "read one lamp at a time; --each takes many")
		}
	}
	endFrame()
	if len(frames) == 0 {
		column++
		return fail("there are no digits here", hint)
	}
	return frames, nil
}
