// Package blink implements the Tally code: a lamp shows, in counted pulses, which pilot
// an amplifier's automatic gain control follows and what state it is in.
//
// A frame is four groups of pulses: head, tens, units, check. A group is one digit in
// bi-quinary, as on an abacus: a long pulse counts five, a short pulse counts one, and
// zero is ten, two longs. The head gives the kind of carrier and whether the channel is
// 100 or more. Tens and units are the last two digits of the channel. The check digit,
// by Damm's rule, catches every single wrong digit and every swap of neighbors. Channel
// 116 digital has head 7, digits 1 and 6, and check 7:
//
//	_.. . _. _..
//
// A lamp that does not show a frame shows a lock state with its own rhythm: see
// [State].
//
// The code is a value, [Tally]. Another code is another value, for example one that
// package sheet reads from a file: it has its own marks, groups and rhythms.
// [Code.Flaws] returns what is wrong with such a value. [Code.Encode] returns marks and
// [Code.Signal] timed intervals; [Code.Pilot] reads digits strictly. To read what a
// person saw, mistakes included, use package blink/reading.
//
// The package has no clock and no I/O. Its limit on flashing light, [CheckShown], is
// for callers that show what it computes.
package blink

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"time"

	"tallywink.example/channelplan"
)

// Source says which digit of the pilot a group of a frame carries.
type Source uint8

// The sources.
const (
	FromKind     Source = iota // the digit of the carrier's kind, see Code.Heads
	FromTens                   // the channel's tens
	FromUnits                  // the channel's units
	FromCheck                  // the check digit over all groups before it
	FromHundreds               // the channel's hundreds
	sourceCount
)

var sourceWords = [sourceCount]string{"kind", "tens", "units", "check", "hundreds"}

// String returns kind, hundreds, tens, units or check.
func (s Source) String() string {
	if s >= sourceCount {
		return ""
	}
	return sourceWords[s]
}

// ParseSource reads the word of a source, and reports whether there is such a source.
func ParseSource(word string) (Source, bool) {
	i := slices.Index(sourceWords[:], word)
	return Source(max(i, 0)), i >= 0
}

// GroupRule is one group of a code's frame.
type GroupRule struct {
	Name string // what a technician calls it
	From Source
	// DropZero means that a leading zero of the channel is not sent and its group is left
	// out. Frames then differ in length.
	DropZero bool
	// Marks are the group's own marks by digit, empty for a digit that it does not have. If
	// all are empty, the group shows digits as the code does.
	Marks [10]Group
}

// leadingZero reports whether the group would carry a zero that leads a number.
func (g GroupRule) leadingZero(number int) bool {
	return g.From == FromHundreds && number < 100 || g.From == FromTens && number < 10
}

// hasOwnMarks reports whether the group has marks of its own.
func (g GroupRule) hasOwnMarks() bool { return g.Marks != [10]Group{} }

// Preset is a pilot that a lamp names by a number of its own instead of by the channel.
type Preset struct {
	Number int // 1 to 199
	Pilot  channelplan.Pilot
}

// Head is the digit that stands for a kind of carrier.
type Head struct {
	Kind  channelplan.Kind
	Digit int // 0 to 9
}

// Timing holds a code's durations, in units except for the unit fields themselves.
type Timing struct {
	Unit     time.Duration // the unit as sent
	MinUnit  time.Duration // the fastest and slowest unit to compute or decode
	MaxUnit  time.Duration
	Short    int // a short mark, lit
	Long     int // a long mark, lit
	MarkGap  int // dark between the marks of a group
	GroupGap int // dark between groups
	Rest     int // dark after a frame
}

// Beat is one stretch of a rhythm, lit or dark, in units.
type Beat struct {
	Lit   bool
	Units int // 1 or more
}

// Code is a counted-pulse code as a value. The encoder and the reader know nothing else
// about a code.
type Code struct {
	Name     string // what it is called
	Timing   Timing
	Patterns [10]Group   // the marks of each digit, empty for one that no frame has
	Groups   []GroupRule // the groups of a frame, in order
	Heads    []Head      // the kinds of carrier it can name
	// HundredAdds is added to the head digit if the channel is 100 or more.
	HundredAdds  int
	Check        CheckRule // used only if a group is FromCheck
	FirstChannel int       // the channels it can name
	LastChannel  int
	// Presets, if there are any, are all pilots that the code can name. Then the digits of a
	// frame are those of a preset's number, not of the channel.
	Presets []Preset
	// Rhythms holds one period of each state that has its own rhythm, or a single lit beat if
	// the lamp is always lit in that state. It is nil for states that show only the frame,
	// for those that the lamp does not show, and for Steady and Dark.
	Rhythms [stateCount][]Beat
	// EdgeRests holds what is sent instead of the rest after a frame when the state is
	// edge, by end of the range. In a code without frames it is the whole rhythm.
	EdgeRests [endCount][]Beat
	// Colors holds the color of the light in each state, as a technician says it; empty where
	// it does not matter. States that show a frame have the color of the frame.
	Colors [stateCount]string
}

// ColorOf returns the color of the light in a state; "" if the code does not say. Edge has
// the color of Locked unless it has one of its own.
func (c *Code) ColorOf(s State) string {
	if s == Edge && c.Colors[Edge] == "" {
		s = Locked
	}
	return c.Colors[s.valid()]
}

// AllColors returns the colors that the code names, each once, in the order of the states.
func (c *Code) AllColors() []string {
	var all []string
	for _, s := range States() {
		if color := c.Colors[s]; color != "" && !slices.Contains(all, color) {
			all = append(all, color)
		}
	}
	return all
}

// Tally is the Tally code.
var Tally = &Code{
	Name: "Tally",
	// 1:3 is the ratio of Morse's dot and dash, ITU-R M.1677-1. The gaps are wider than
	// Morse's, since the reader counts instead of listening.
	Timing: Timing{
		Unit: 200 * time.Millisecond, MinUnit: 100 * time.Millisecond, MaxUnit: 400 * time.Millisecond,
		Short: 1, Long: 3, MarkGap: 1, GroupGap: 4, Rest: 12,
	},
	// No run of equal marks is longer than four: beyond that people err
	// (Kaufman et al. 1949; in sequence, Anobile et al. 2019).
	Patterns: [10]Group{"__", ".", "..", "...", "....", "_", "_.", "_..", "_...", "_...."},
	Groups: []GroupRule{
		{Name: "head", From: FromKind}, {Name: "tens", From: FromTens}, {Name: "units", From: FromUnits},
		{Name: "check", From: FromCheck},
	},
	// 4 and 9 are reserved for an OFDM pilot; 0 and 5 are not heads.
	Heads:        []Head{{channelplan.Analog, 1}, {channelplan.Digital, 2}, {channelplan.CW, 3}},
	HundredAdds:  5,
	Check:        Damm,
	FirstChannel: 1,
	LastChannel:  199,
	// Named and classed like lights at sea, IHO Dictionary S-32. They differ in proportion
	// alone, so a reader need not know the unit.
	Rhythms: [stateCount][]Beat{
		Manual:  {{true, 16}, {false, 4}},
		Thermal: {{true, 12}, {false, 4}, {true, 4}, {false, 4}},
		Seeking: {{true, 8}, {false, 8}},
		Holding: {{true, 6}, {false, 4}, {true, 6}, {false, 18}},
		Fault:   {{true, 6}, {false, 4}, {true, 6}, {false, 4}, {true, 6}, {false, 18}},
	},
	EdgeRests: [endCount][]Beat{
		EndLow:  {{false, 6}, {true, 8}, {false, 12}},
		EndHigh: {{false, 6}, {true, 8}, {false, 6}, {true, 8}, {false, 12}},
	},
}

// Errors for digits or a pilot that a code does not have.
var (
	ErrChannel = errors.New("no such channel in the code")
	ErrKind    = errors.New("no such carrier in the code")
	ErrLength  = errors.New("wrong number of digits")
	ErrCheck   = errors.New("the check digit differs")
	ErrNoPilot = errors.New("the digits do not name a pilot")
)

// number returns what a frame says of a pilot: its channel, or the number of its preset.
// It is 0 if no preset has the pilot.
func (c *Code) number(p channelplan.Pilot) int {
	if len(c.Presets) == 0 {
		return p.Channel
	}
	i := slices.IndexFunc(c.Presets, func(preset Preset) bool { return preset.Pilot == p })
	if i < 0 {
		return 0
	}
	return c.Presets[i].Number
}

// numbers returns the lowest and the highest number that a frame can carry.
func (c *Code) numbers() (first, last int) {
	if len(c.Presets) == 0 {
		return c.FirstChannel, c.LastChannel
	}
	first = c.Presets[0].Number
	for _, p := range c.Presets {
		first, last = min(first, p.Number), max(last, p.Number)
	}
	return first, last
}

// Rules returns the groups of a pilot's frame, in order: the code's groups without
// those that carry a leading zero that is not sent.
func (c *Code) Rules(p channelplan.Pilot) []GroupRule { return c.rulesOf(c.number(p)) }

func (c *Code) rulesOf(number int) []GroupRule {
	rules := make([]GroupRule, 0, len(c.Groups))
	for _, g := range c.Groups {
		if !g.DropZero || !g.leadingZero(number) {
			rules = append(rules, g)
		}
	}
	return rules
}

// MarksOf returns the marks of a digit in a group: "" if the group does not have it.
func (c *Code) MarksOf(g GroupRule, digit int) Group {
	if g.hasOwnMarks() {
		return g.Marks[digit]
	}
	return c.Patterns[digit]
}

// Checks reports whether frames have a check digit.
func (c *Code) Checks() bool {
	_, checks := c.Group(FromCheck)
	return checks
}

// Group returns the group that carries a source; ok reports whether there is one.
func (c *Code) Group(from Source) (rule GroupRule, ok bool) {
	i := slices.IndexFunc(c.Groups, func(g GroupRule) bool { return g.From == from })
	if i < 0 {
		return GroupRule{}, false
	}
	return c.Groups[i], true
}

// FrameLengths returns the smallest and the largest number of groups in a frame.
func (c *Code) FrameLengths() (least, most int) {
	first, last := c.numbers()
	return len(c.rulesOf(first)), len(c.rulesOf(last))
}

// LitGroups returns the smallest and the largest number of groups that show light in a frame:
// as [Code.FrameLengths], unless zeros show none.
func (c *Code) LitGroups() (least, most int) {
	for p := range c.Pilots {
		frame, err := c.Encode(p)
		if err != nil {
			continue
		}
		n := len(frame.Lit())
		if most == 0 || n < least {
			least = n
		}
		most = max(most, n)
	}
	return least, most
}

// Digits returns the digits of a pilot's frame, one for each group of
// [Code.Rules]. The error wraps [ErrChannel] or [ErrKind].
func (c *Code) Digits(p channelplan.Pilot) ([]int, error) {
	number := c.number(p)
	switch {
	case len(c.Groups) == 0:
		return nil, fmt.Errorf("%w: the lamp of the code %s shows no pilot", ErrChannel, c.Name)
	case len(c.Presets) > 0 && number == 0:
		return nil, fmt.Errorf("%w: no preset is %v", ErrChannel, p)
	case len(c.Presets) == 0 && (p.Channel < c.FirstChannel || p.Channel > c.LastChannel):
		return nil, fmt.Errorf("%w: %d; channels run from %d to %d", ErrChannel, p.Channel, c.FirstChannel,
			c.LastChannel)
	}
	i := slices.IndexFunc(c.Heads, func(h Head) bool { return h.Kind == p.Kind })
	_, hasKind := c.Group(FromKind)
	if i < 0 && (hasKind || len(c.Presets) == 0) {
		return nil, fmt.Errorf("%w: %v", ErrKind, p.Kind)
	}
	head := 0
	if i >= 0 {
		head = c.Heads[i].Digit
	}
	if number >= 100 {
		head += c.HundredAdds
	}
	digits := make([]int, 0, len(c.Groups))
	for _, g := range c.rulesOf(number) {
		switch g.From {
		case FromKind:
			digits = append(digits, head)
		case FromHundreds:
			digits = append(digits, number/100%10)
		case FromTens:
			digits = append(digits, number/10%10)
		case FromUnits:
			digits = append(digits, number%10)
		case FromCheck:
			digits = append(digits, c.Check.Digit(digits))
		}
	}
	return digits, nil
}

// Pilots calls yield with every pilot the code can name, in order of kind and channel,
// until yield returns false. Use it with range.
func (c *Code) Pilots(yield func(channelplan.Pilot) bool) {
	if len(c.Groups) == 0 {
		return
	}
	if len(c.Presets) > 0 {
		presets := slices.SortedFunc(slices.Values(c.Presets), func(a, b Preset) int {
			return cmp.Or(cmp.Compare(a.Pilot.Kind, b.Pilot.Kind), cmp.Compare(a.Pilot.Channel, b.Pilot.Channel))
		})
		for _, preset := range presets {
			if !yield(preset.Pilot) {
				return
			}
		}
		return
	}
	for _, h := range c.Heads {
		for n := c.FirstChannel; n <= c.LastChannel; n++ {
			if !yield(channelplan.Pilot{Channel: n, Kind: h.Kind}) {
				return
			}
		}
	}
}

// Kinds returns the kinds of carrier that the code can name, in their own order.
func (c *Code) Kinds() []channelplan.Kind {
	var kinds []channelplan.Kind
	for p := range c.Pilots {
		if !slices.Contains(kinds, p.Kind) {
			kinds = append(kinds, p.Kind)
		}
	}
	return kinds
}

// Pilot returns the pilot that a frame's digits name, one digit per group. It is
// strict: the error wraps [ErrLength], [ErrCheck] or [ErrNoPilot].
func (c *Code) Pilot(digits []int) (channelplan.Pilot, error) {
	for _, d := range digits {
		if d < 0 || d > 9 {
			return channelplan.Pilot{}, fmt.Errorf("%w: %d is not a digit", ErrNoPilot, d)
		}
	}
	var rules []GroupRule // of a frame of that length
	for p := range c.Pilots {
		own, err := c.Digits(p)
		if err != nil || len(own) != len(digits) {
			continue
		}
		if slices.Equal(own, digits) {
			return p, nil
		}
		rules = c.Rules(p)
	}
	if rules == nil {
		least, most := c.FrameLengths()
		has := fmt.Sprint(most)
		if least != most {
			has = fmt.Sprintf("%d to %d", least, most)
		}
		return channelplan.Pilot{}, fmt.Errorf("%w: %d; a frame has %s", ErrLength, len(digits), has)
	}
	i := slices.IndexFunc(rules, func(g GroupRule) bool { return g.From == FromCheck })
	if i >= 0 {
		if want := c.Check.Digit(digits[:i]); digits[i] != want {
			return channelplan.Pilot{}, fmt.Errorf("%w: it is %d and should be %d", ErrCheck, digits[i], want)
		}
	}
	return channelplan.Pilot{}, fmt.Errorf("%w: %v", ErrNoPilot, digits)
}
