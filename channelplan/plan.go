// Package channelplan is the North American cable channel plan, ANSI/CTA-542: it converts
// channel numbers to frequencies and back, for the standard (STD), the incrementally
// related (IRC) and the harmonically related (HRC) version.
//
// Ask a [Plan] for a [Channel] by number ([Plan.Channel]) or by frequency
// ([Plan.Holding], [Plan.Nearest], [Plan.Find]), and the channel for its carriers and
// edges. [Aeronautical] is the rule of 47 CFR 76.612 that explains the odd offsets in the
// table.
//
// Frequencies are integer hertz. Everything here is arithmetic on small values: no I/O,
// no allocation, and the only failure is 'there is no such channel'.
package channelplan

import (
	"errors"
	"fmt"
	"strings"
)

// Plan is one of the three versions of the channel plan. The zero Plan is
// STD.
type Plan uint8

// The plans.
const (
	STD Plan = iota // standard: 6 MHz channels, some of them with an offset of their own
	IRC             // incrementally related: visual carriers on one comb, 6n + 1.2625 MHz
	HRC             // harmonically related: visual carriers at multiples of 6.0003 MHz
)

// Plans returns all plans.
func Plans() [3]Plan { return [3]Plan{STD, IRC, HRC} }

var planWords = [...]string{STD: "std", IRC: "irc", HRC: "hrc"}

// String returns std, irc or hrc.
func (p Plan) String() string {
	if int(p) >= len(planWords) {
		return fmt.Sprintf("plan(%d)", uint8(p))
	}
	return planWords[p]
}

// MarshalText returns [Plan.String].
func (p Plan) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// Name returns the plan's name as it is written in text: STD, IRC or HRC.
func (p Plan) Name() string { return strings.ToUpper(p.String()) }

// ErrUnknownPlan is the error that [ParsePlan] wraps.
var ErrUnknownPlan = errors.New("unknown plan")

// ParsePlan reads std, irc or hrc, in any case.
func ParsePlan(word string) (Plan, error) {
	for p, w := range planWords {
		if strings.EqualFold(strings.TrimSpace(word), w) {
			return Plan(p), nil
		}
	}
	return 0, fmt.Errorf("%w %q: a plan is std, irc or hrc", ErrUnknownPlan, word)
}

// Channel numbers. ANSI/CTA-542 ends at LastListed; up to LastExtended the plan is
// continued by its own rule, because plants go to 1218 MHz and beyond.
const (
	FirstChannel = 1
	LastListed   = 158
	LastExtended = 199
)

// Widths and distances within a channel, from ANSI/CTA-542 and the NTSC
// standard.
const (
	ChannelWidthHz   = 6_000_000
	VisualAboveLowHz = 1_250_000 // visual carrier above the lower edge
	AuralOffsetHz    = 4_500_000 // aural carrier above the visual
	ChromaOffsetHz   = 3_579_545 // chroma subcarrier above the visual
	CenterOffsetHz   = 1_750_000 // QAM center above the visual
)

// CombHz is the fundamental of the HRC comb.
const CombHz = 6_000_300

// stretch is a run of consecutive channel numbers at consecutive frequencies.
type stretch struct {
	first, last int
	firstHz     int64 // visual carrier of the first channel
	stepHz      int64
}

// The tables of ANSI/CTA-542, in order of channel number. Offsets of a few kilohertz come
// from the aeronautical rule: see aeronautical.go; TestOffsetsFollowFromTheRule derives
// each of them from it.
var (
	stdTable = [...]stretch{
		{2, 4, 55_250_000, 6_000_000},
		{5, 6, 77_250_000, 6_000_000},
		{7, 13, 175_250_000, 6_000_000},
		{14, 16, 121_262_500, 6_000_000},
		{17, 22, 139_250_000, 6_000_000},
		{23, 24, 217_250_000, 6_000_000},
		{25, 41, 229_262_500, 6_000_000},
		{42, 42, 331_275_000, 6_000_000},
		{43, 53, 337_262_500, 6_000_000},
		{54, 94, 403_250_000, 6_000_000},
		{95, 97, 91_250_000, 6_000_000},
		{98, 99, 109_275_000, 6_000_000},
		{100, LastExtended, 649_250_000, 6_000_000},
	}
	ircTable = [...]stretch{
		{1, 1, 73_262_500, 6_000_000},
		{2, 4, 55_262_500, 6_000_000},
		{5, 6, 79_262_500, 6_000_000},
		{7, 13, 175_262_500, 6_000_000},
		{14, 22, 121_262_500, 6_000_000},
		{23, 41, 217_262_500, 6_000_000},
		{42, 42, 331_275_000, 6_000_000},
		{43, 94, 337_262_500, 6_000_000},
		{95, 97, 91_262_500, 6_000_000},
		{98, 99, 109_275_000, 6_000_000},
		{100, LastExtended, 649_262_500, 6_000_000},
	}
	hrcTable = [...]stretch{
		{1, 1, 12 * CombHz, CombHz},
		{2, 4, 9 * CombHz, CombHz},
		{5, 6, 13 * CombHz, CombHz},
		{7, 13, 29 * CombHz, CombHz},
		{14, 22, 20 * CombHz, CombHz},
		{23, 41, 36 * CombHz, CombHz},
		// Sources differ: dtv-scan-tables and libhdhomerun leave 42, 98 and 99 on the
		// comb; 47 CFR 76.612 does not exempt the comb there.
		{42, 42, 330_025_000, CombHz},
		{43, 94, 56 * CombHz, CombHz},
		{95, 97, 15 * CombHz, CombHz},
		{98, 98, 108_025_000, CombHz},
		{99, 99, 114_025_000, CombHz},
		{100, LastExtended, 108 * CombHz, CombHz},
	}
)

func (p Plan) table() []stretch {
	switch p {
	case STD:
		return stdTable[:]
	case IRC:
		return ircTable[:]
	case HRC:
		return hrcTable[:]
	}
	return nil
}

// Channel returns the channel with that number, and whether the plan has one: numbers go
// from 1 to 199, and STD does not have a channel 1.
func (p Plan) Channel(number int) (Channel, bool) {
	for _, s := range p.table() {
		if number >= s.first && number <= s.last {
			return Channel{plan: p, number: uint8(number), visualHz: s.firstHz + int64(number-s.first)*s.stepHz}, true
		}
	}
	return Channel{}, false
}

// Channels calls yield with every channel of the plan in order of number, including the
// extension, until yield returns false. Use it in a range loop.
func (p Plan) Channels(yield func(Channel) bool) {
	for n := FirstChannel; n <= LastExtended; n++ {
		if c, ok := p.Channel(n); ok && !yield(c) {
			return
		}
	}
}
