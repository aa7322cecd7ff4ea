package channelplan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tallywink.example/channelplan/fault"
)

// Pilot is the carrier an AGC listens to: a channel and a kind of carrier, or a
// cw carrier by its frequency alone. It is what a lamp's frame names, what an
// amplifier's record says and what a lineup is asked about. The zero Pilot is none.
type Pilot struct {
	Channel     int   `json:"channel"`               // 0 for a cw carrier without a channel
	Kind        Kind  `json:"carrier"`               // Analog, Digital or CW
	FrequencyHz int64 `json:"frequency_hz,omitzero"` // only for a cw carrier without a channel
}

// IsZero reports whether the pilot is none.
func (p Pilot) IsZero() bool { return p == Pilot{} }

// String returns the pilot as it is spoken: '116 digital', 'cw at 439.25 MHz'.
func (p Pilot) String() string {
	if p.Channel == 0 {
		return fmt.Sprintf("%v at %s MHz", p.Kind, FormatMHz(p.FrequencyHz))
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
		return 0, &fault.Error{Text: fmt.Sprintf("%v: %q is not a channel number such as 116", ErrChannel, text), Act: fault.ListChannels, Err: ErrChannel}
	}
	if n < FirstChannel || n > LastExtended {
		return 0, &fault.Error{Text: fmt.Sprintf("%v: %d; channels run from %d to %d", ErrChannel, n, FirstChannel, LastExtended), Act: fault.ListChannels, Err: ErrChannel}
	}
	return n, nil
}
