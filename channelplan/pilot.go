package channelplan

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"tallywink.example/channelplan/fault"
)

// Pilot is the carrier that an AGC follows: a channel and a kind of carrier, or the
// frequency of a cw carrier alone. A lamp's frame names a pilot, an amplifier's record
// lists one, and a lineup judges one. The zero Pilot means none.
type Pilot struct {
	Channel     int   `json:"channel"`               // 0 for a cw carrier without a channel
	Kind        Kind  `json:"carrier"`               // Analog, Digital or CW
	FrequencyHz int64 `json:"frequency_hz,omitzero"` // only for a cw carrier without a channel
}

// IsZero reports whether p is the zero Pilot.
func (p Pilot) IsZero() bool { return p == Pilot{} }

// String returns the pilot as it is said aloud: '116 digital', 'cw at 439.25 MHz'.
func (p Pilot) String() string {
	if p.Channel == 0 {
		return fmt.Sprintf("%v at %s MHz", p.Kind, FormatMHz(p.FrequencyHz))
	}
	return fmt.Sprintf("%d %v", p.Channel, p.Kind)
}

// ErrChannel is the error that [ParseChannel] wraps.
var ErrChannel = errors.New("no such channel")

// ParseChannel reads a channel number that exists in some plan, 1 to 199. The error wraps
// [ErrChannel].
func ParseChannel(text string) (int, error) {
	n, err := strconv.Atoi(strings.TrimSpace(text))
	if err != nil {
		return 0, &fault.Error{Text: fmt.Sprintf("%v: %q is not a channel number such as 116", ErrChannel, text),
			Act: fault.ListChannels, Err: ErrChannel}
	}
	if n < FirstChannel || n > LastExtended {
		return 0, &fault.Error{Text: fmt.Sprintf("%v: %d", ErrChannel, n),
			Hint: fmt.Sprintf("channels run from %d to %d", FirstChannel, LastExtended), Act: fault.ListChannels,
			Err: ErrChannel}
	}
	return n, nil
}
