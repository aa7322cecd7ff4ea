// Package lineup is a cable system's carriers: reads the list, says what is
// wrong with it, and judges whether a pilot is valid in it.
//
// [Load] reads a lineup file; [Lineup.Check] applies the rules to a
// pilot and returns findings, each with the rule's name, a severity, a
// sentence and its source. [FindAmplifier] fetches one amplifier's record from
// an inventory, which the rules take into account.
//
// Levels are dBmV at the lineup's reference point: analog and cw, the visual
// carrier at sync peak; QAM, average power in the channel; OFDM, average
// power per 6 MHz. Frequencies are integer hertz.
package lineup

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
)

// Band is a stretch of spectrum, LowHz up to HighHz; both are equal for a
// carrier without width.
type Band struct{ LowHz, HighHz int64 }

// IsZero reports whether the band is none.
func (b Band) IsZero() bool { return b == Band{} }

// String writes the band in megahertz: '744 to 750 MHz'.
func (b Band) String() string {
	return channelplan.FormatMHz(b.LowHz) + " to " + channelplan.FormatMHz(b.HighHz) + " MHz"
}

// Lineup is a system's carriers as a file lists them.
type Lineup struct {
	File string // where it was read from, for messages
	Name string // the system's, "" where the file does not say
	Hub  string // likewise
	// Reference is the point at which its levels are read, in words; "" where it does not
	// say. They are those of no amplifier.
	Reference string
	Plan      channelplan.Plan // STD where the file does not say
	// Forward is the forward passband.
	Forward Band
	// Effective is the day the lineup took or takes effect, midnight UTC; the
	// zero time where the file does not say.
	Effective  time.Time
	dateUnread bool // the file does say, but not as a date
	// OffAir are the bands of strong local transmitters.
	OffAir []Band
	// Carriers stand in order of frequency.
	Carriers []Carrier
	// Problems are what is wrong with the file; rows with a problem are left
	// out of Carriers unless they can be used all the same.
	Problems []table.Problem
	// Notes are what was ignored or assumed and is no fault.
	Notes []table.Problem
	// LeftOut are the rows and settings that could not be used, lest anybody be told that
	// nothing is carried where such a row says what is.
	LeftOut []LeftOut
	// Unfit is why no pilot can be judged by this lineup, though its other
	// problems can be told; nil where one can.
	Unfit *fault.Error
}

// LeftOut is a row or a setting that could not be used.
type LeftOut struct {
	Line    int
	Channel int // the row's; 0 where even that could not be read
}

// Carrier is one carrier or one OFDM block of a lineup.
type Carrier struct {
	Line    int              // in the file
	Channel int              // in the plan; 0 for an OFDM block and for a carrier that is in no channel
	Kind    channelplan.Kind // Analog, QAM64, QAM256, CW or OFDM
	// FrequencyHz is the visual carrier of analog, the carrier of cw, the
	// center of QAM and of an OFDM block: the listed one, or the plan's.
	FrequencyHz int64
	// Listed tells that the file itself gave the frequency.
	Listed bool
	Band
	LevelDBmV      float64 // at the reference point; 0 where HasLevel is false
	HasLevel       bool
	PartTime       bool   // leaves the air
	SyncSuppressed bool   // scrambled analog video
	Narrowcast     bool   // may differ from node to node
	Service        string // free text
}

// String names the carrier as a technician would: 'channel 116',
// 'the cw carrier at 439.25 MHz', 'the OFDM block 810 to 1002 MHz'.
func (c Carrier) String() string {
	switch {
	case c.Kind == channelplan.OFDM:
		return "the OFDM block " + c.Band.String()
	case c.Kind == channelplan.CW:
		return "the cw carrier at " + channelplan.FormatMHz(c.FrequencyHz) + " MHz"
	case c.Channel != 0:
		return fmt.Sprintf("channel %d", c.Channel)
	}
	return fmt.Sprintf("the %s carrier at %s MHz", c.Kind, channelplan.FormatMHz(c.FrequencyHz))
}

// shareableHz is how much of their width two carriers may share, and how far
// one may reach out of the passband: neighbors with different offsets share
// 12.5 kHz by design.
const shareableHz = 100_000

// sharedHz returns how much spectrum two carriers share. A cw carrier has no
// width; it counts as far as it stands inside the other, since it belongs in
// a channel of its own or at an edge.
func sharedHz(a, b Band) int64 {
	if a.LowHz == a.HighHz || b.LowHz == b.HighHz {
		point, wide := a, b
		if b.LowHz == b.HighHz {
			point, wide = b, a
		}
		return max(0, min(point.LowHz-wide.LowHz, wide.HighHz-point.LowHz))
	}
	return max(0, min(a.HighHz, b.HighHz)-max(a.LowHz, b.LowHz))
}

// Collide reports whether two carriers can't be carried together: they share
// more than neighbors with different offsets do.
func Collide(a, b Band) bool { return sharedHz(a, b) > shareableHz }

// bandAround returns the spectrum of a carrier of a kind at a frequency.
func bandAround(kind channelplan.Kind, hz int64) Band {
	switch kind.Family() {
	case channelplan.CW:
		return Band{hz, hz}
	case channelplan.Digital:
		return Band{hz - channelplan.ChannelWidthHz/2, hz + channelplan.ChannelWidthHz/2}
	}
	low := hz - channelplan.VisualAboveLowHz
	return Band{low, low + channelplan.ChannelWidthHz}
}

// planFrequency returns where the plan puts a carrier of a kind in a channel.
func planFrequency(kind channelplan.Kind, c channelplan.Channel) int64 {
	if kind.Family() == channelplan.Digital {
		return c.CenterHz()
	}
	return c.VisualHz()
}

func (l *Lineup) sort() {
	slices.SortStableFunc(l.Carriers, func(a, b Carrier) int { return cmp.Compare(a.LowHz, b.LowHz) })
}

// InChannel returns the carrier in a channel: of the family asked for, if
// there is one, else the first of any other.
func (l *Lineup) InChannel(channel int, family channelplan.Kind) (Carrier, bool) {
	var found Carrier
	ok := false
	for _, c := range l.Carriers {
		if c.Channel != channel || channel == 0 {
			continue
		}
		// A cw carrier at the channel's edge is found by a cw pilot only.
		if c.Kind == channelplan.CW && family != channelplan.CW && !c.ownsChannel(l.Plan) {
			continue
		}
		if c.Kind.Family() == family {
			return c, true
		}
		if !ok {
			found, ok = c, true
		}
	}
	return found, ok
}
