// Package lineup handles a cable system's lineup, its list of carriers: it reads the
// list, says what is wrong with it, and judges whether a pilot is valid in it.
//
// [Load] reads a lineup file; [Lineup.Check] applies the rules to a pilot and returns
// findings, each with the rule's name, a severity, a sentence and its source. The rules
// also take an amplifier's record into account, as an [Amplifier] in the [Context].
//
// Levels are in dBmV at the lineup's reference point: for analog and cw, the visual
// carrier at sync peak; for QAM, the average power in the channel; for OFDM, the average
// power per 6 MHz. Frequencies are in integer hertz.
package lineup

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// Band is a piece of spectrum, LowHz up to HighHz; both are equal for a carrier without
// width.
type Band struct{ LowHz, HighHz int64 }

// IsZero reports whether the band is the zero Band.
func (b Band) IsZero() bool { return b == Band{} }

// String writes the band in megahertz: '744 to 750 MHz'.
func (b Band) String() string {
	return channelplan.FormatMHz(b.LowHz) + " to " + channelplan.FormatMHz(b.HighHz) + " MHz"
}

// Lineup is a system's carriers as listed in a file.
type Lineup struct {
	File string // the file it was read from, for messages
	Name string // the system's name, "" if the file does not say
	Hub  string // the hub's name, "" if the file does not say
	// Reference is the point at which the levels apply, in words; "" if the file does not
	// say. They are not the levels at any amplifier.
	Reference string
	Plan      channelplan.Plan // STD if the file does not say
	// Forward is the forward passband.
	Forward Band
	// Effective is the day the lineup took or takes effect, midnight UTC; the zero time
	// if the file does not say.
	Effective  time.Time
	dateUnread bool // the file gives a date, but it can't be read
	// OffAir holds the bands of strong local transmitters.
	OffAir []Band
	// Carriers are in order of frequency.
	Carriers []Carrier
	// Problems holds what is wrong with the file; rows with a problem are left out of
	// Carriers unless they can be used anyway.
	Problems []fault.Error
	// Notes holds what was ignored or assumed and is not a fault.
	Notes []fault.Error
	// LeftOut holds the rows and settings that could not be used, so that nobody is told
	// that nothing is carried where such a row says otherwise.
	LeftOut []LeftOut
	// Unfit is the reason why no pilot can be judged by this lineup, even though its
	// other problems can be listed; nil if pilots can be judged.
	Unfit *fault.Error
}

// LeftOut is a row or a setting that could not be used.
type LeftOut struct {
	Line    int
	Channel int // the row's channel; 0 if not even that could be read
	// Band is what an OFDM block of the row would cover; zero if the row has no edges, or
	// they could not be read.
	Band Band
}

// Carrier is one carrier or one OFDM block of a lineup.
type Carrier struct {
	Line    int              // in the file
	Channel int              // in the plan; 0 for an OFDM block and for a carrier outside all channels
	Kind    channelplan.Kind // not Digital: the file states the order of a QAM
	// FrequencyHz is the visual carrier of analog, the carrier of cw, and the center of
	// QAM and of an OFDM block: the listed one, or else the plan's.
	FrequencyHz int64
	// Listed reports that the file itself gave the frequency.
	Listed bool
	Band
	LevelDBmV      float64 // at the reference point; 0 if HasLevel is false
	HasLevel       bool
	PartTime       bool   // goes off the air at times
	SyncSuppressed bool   // scrambled analog video
	Narrowcast     bool   // may differ between nodes
	TestCarrier    bool   // a cw carrier for sweep or leakage tests, as its service says
	Service        string // free text
}

// String describes the carrier as a technician would: 'channel 116', 'the cw carrier at
// 439.25 MHz', 'the OFDM block 810 to 1002 MHz'.
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

// shareableHz is how much of their width two carriers may share, and how far one may
// reach outside the passband: neighbors with different offsets share 12.5 kHz by design.
const shareableHz = 100_000

// sharedHz returns how much spectrum two carriers share. A cw carrier has no width; what
// counts is how far it is inside the other, because it belongs in a channel of its own or
// at an edge.
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

// Collide reports whether two carriers can't be carried together because they share more
// than neighbors with different offsets do.
func Collide(a, b Band) bool { return sharedHz(a, b) > shareableHz }

// bandAround returns the spectrum of a carrier, given its kind and frequency.
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

// planFrequency returns where the plan puts a carrier of that kind in a channel.
func planFrequency(kind channelplan.Kind, c channelplan.Channel) int64 {
	if kind.Family() == channelplan.Digital {
		return c.CenterHz()
	}
	return c.VisualHz()
}

func (l *Lineup) sort() {
	slices.SortStableFunc(l.Carriers, func(a, b Carrier) int { return cmp.Compare(a.LowHz, b.LowHz) })
}

// InChannel returns the carrier in a channel: the one of the given family if there is
// one, else the first of any other.
func (l *Lineup) InChannel(channel int, family channelplan.Kind) (Carrier, bool) {
	var found Carrier
	ok := false
	for _, c := range l.Carriers {
		if c.Channel != channel || channel == 0 {
			continue
		}
		// Only a cw pilot finds a cw carrier at the channel's edge.
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
