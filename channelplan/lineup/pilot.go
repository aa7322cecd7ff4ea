package lineup

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/carrier"
)

// Pilot is a pilot to be judged: a channel and a kind of carrier, or a cw
// carrier by its frequency alone. The zero Pilot is none.
type Pilot struct {
	Channel     int          // 0 for a cw carrier without a channel
	Kind        carrier.Kind // Analog, Digital or CW
	FrequencyHz int64        // only for a cw carrier without a channel
}

// IsZero tells whether the pilot is none.
func (p Pilot) IsZero() bool { return p == Pilot{} }

// String returns the pilot as it is spoken: '116 digital', 'cw at 439.25 MHz'.
func (p Pilot) String() string {
	if p.Channel == 0 {
		return fmt.Sprintf("%v at %s MHz", p.Kind, channelplan.FormatMHz(p.FrequencyHz))
	}
	return fmt.Sprintf("%d %v", p.Channel, p.Kind)
}

// ErrChannel is what [ParseChannel] wraps.
var ErrChannel = errors.New("no such channel")

// ParseChannel reads a channel number that some plan has, 1 to 199. The error
// wraps [ErrChannel].
func ParseChannel(text string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil {
		return 0, fmt.Errorf("%w: %q is not a channel number such as 116", ErrChannel, text)
	}
	if n < channelplan.FirstChannel || n > channelplan.LastExtended {
		return 0, fmt.Errorf("%w: %d; channels run from %d to %d", ErrChannel, n, channelplan.FirstChannel, channelplan.LastExtended)
	}
	return n, nil
}

// Located is where a plan, or a lineup that lists it, puts a pilot.
type Located struct {
	FrequencyHz int64 // visual carrier of analog, center of digital, the carrier of cw
	Band              // the channel's edges; those of a cw carrier without a channel are equal
}

// Locate returns where the plan puts a pilot, and whether it has its channel.
func Locate(p Pilot, plan channelplan.Plan) (Located, bool) {
	if p.Channel == 0 {
		return Located{p.FrequencyHz, Band{p.FrequencyHz, p.FrequencyHz}}, true
	}
	c, ok := plan.Channel(p.Channel)
	if !ok {
		return Located{}, false
	}
	return Located{planFrequency(p.Kind, c), Band{c.LowHz(), c.HighHz()}}, true
}
