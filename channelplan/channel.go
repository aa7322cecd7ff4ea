package channelplan

import "fmt"

// Channel is one channel of a plan. Channels come from a [Plan]; the zero Channel is not
// a channel: its number is 0 and its frequencies mean nothing.
type Channel struct {
	plan     Plan
	number   uint8
	visualHz int64
}

// Plan returns the plan that the channel belongs to.
func (c Channel) Plan() Plan { return c.plan }

// Number returns the channel's number, 1 to 199.
func (c Channel) Number() int { return int(c.number) }

// Extension reports whether the channel is beyond the 158 that ANSI/CTA-542 lists, where
// the plan is continued by the same rule.
func (c Channel) Extension() bool { return c.number > LastListed }

// VisualHz returns the NTSC visual carrier.
func (c Channel) VisualHz() int64 { return c.visualHz }

// AuralHz returns the NTSC aural carrier, 4.5 MHz above the visual.
func (c Channel) AuralHz() int64 { return c.visualHz + AuralOffsetHz }

// ChromaHz returns the NTSC color subcarrier, 3.579545 MHz above the visual.
func (c Channel) ChromaHz() int64 { return c.visualHz + ChromaOffsetHz }

// CenterHz returns the center of a QAM carrier: the middle of the channel.
//
// If the visual carrier is offset, some sources move the QAM center with it and others
// leave it, a difference of 12.5 or 25 kHz. This function moves it; treat a center within
// [CenterToleranceHz] as the channel's.
func (c Channel) CenterHz() int64 { return c.visualHz + CenterOffsetHz }

// CenterToleranceHz is how far a QAM center may be from CenterHz and still be that
// channel's.
const CenterToleranceHz = 50_000

// LowHz returns the channel's lower edge.
func (c Channel) LowHz() int64 { return c.visualHz - VisualAboveLowHz }

// HighHz returns the channel's upper edge, which does not belong to the channel.
func (c Channel) HighHz() int64 { return c.LowHz() + ChannelWidthHz }

// Holds reports whether hz is in the channel: from its lower edge up to, but not
// including, its upper edge.
func (c Channel) Holds(hz int64) bool { return hz >= c.LowHz() && hz < c.HighHz() }

// DistanceHz returns how far hz is outside the channel's edges, 0 if it is inside or on
// one of them.
func (c Channel) DistanceHz(hz int64) int64 {
	return max(c.LowHz()-hz, hz-c.HighHz(), 0)
}

// String returns the channel as text, for instance 'channel 116 (STD)'.
func (c Channel) String() string { return fmt.Sprintf("channel %d (%s)", c.number, c.plan.Name()) }
