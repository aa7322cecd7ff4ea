package channelplan

// Holding returns the channel that holds a frequency, and whether there is one. If
// neighbors with different offsets share a few kilohertz (STD 42 and 43, for example), it
// returns the lower of the two.
func (p Plan) Holding(hz int64) (Channel, bool) {
	var found Channel
	for _, s := range p.table() {
		low := s.firstHz - VisualAboveLowHz
		if hz < low {
			continue
		}
		n := int((hz - low) / s.stepHz)
		if n > s.last-s.first {
			n = s.last - s.first
		}
		// HRC channels are 300 Hz further apart than they are wide, so hz may be in the
		// gap above channel n.
		c := Channel{plan: p, number: uint8(s.first + n), visualHz: s.firstHz + int64(n)*s.stepHz}
		if c.Holds(hz) && (found.number == 0 || c.visualHz < found.visualHz) {
			found = c
		}
	}
	return found, found.number != 0
}

// Nearest returns the channel nearest to a frequency: the one that holds it, or the one
// whose edge is closest, and the lower one if two are equally close.
func (p Plan) Nearest(hz int64) Channel {
	if c, ok := p.Holding(hz); ok {
		return c
	}
	var best Channel
	for _, s := range p.table() {
		// Within a stretch, the nearest channel is next to the place where hz would be.
		at := int((hz - (s.firstHz - VisualAboveLowHz)) / s.stepHz)
		for n := at - 1; n <= at+1; n++ {
			k := min(max(n, 0), s.last-s.first)
			c := Channel{plan: p, number: uint8(s.first + k), visualHz: s.firstHz + int64(k)*s.stepHz}
			if best.number == 0 || c.DistanceHz(hz) < best.DistanceHz(hz) ||
				c.DistanceHz(hz) == best.DistanceHz(hz) && c.visualHz < best.visualHz {
				best = c
			}
		}
	}
	return best
}

// Place says where a frequency is in a plan.
type Place uint8

// The possible places of a frequency.
const (
	InChannel       Place = iota // a channel holds it
	BelowPlan                    // below the lowest channel
	AbovePlan                    // above the highest channel, the extension included
	BetweenChannels              // in a gap of the plan
)

// Why says why no channel holds a frequency at that place; "" if one does.
func (w Place) Why() string {
	switch w {
	case BelowPlan:
		return "it is below the lowest channel"
	case AbovePlan:
		return "it is above the highest channel"
	case BetweenChannels:
		return "it is in a gap between two channels"
	}
	return ""
}

// Find returns the channel that holds hz, or else the nearest one, and the place of hz,
// which says which of the two it is and why no channel holds it.
func (p Plan) Find(hz int64) (Channel, Place) {
	if c, ok := p.Holding(hz); ok {
		return c, InChannel
	}
	nearest := p.Nearest(hz)
	lowest, highest := nearest, nearest
	for c := range p.Channels {
		if c.visualHz < lowest.visualHz {
			lowest = c
		}
		if c.visualHz > highest.visualHz {
			highest = c
		}
	}
	switch {
	case hz < lowest.LowHz():
		return nearest, BelowPlan
	case hz >= highest.HighHz():
		return nearest, AbovePlan
	}
	return nearest, BetweenChannels
}
