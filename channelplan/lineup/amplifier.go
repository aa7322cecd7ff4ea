package lineup

import (
	"fmt"
	"slices"
	"strings"

	"tallywink.example/channelplan"
)

// Mode is how an amplifier is meant to hold its level.
type Mode uint8

// The modes.
const (
	AGC      Mode = iota // controlled by its pilot
	OpenLoop             // temperature compensation, no pilot
	HandSet              // set by hand
	modeCount
)

var modeWords = [modeCount]string{"agc", "thermal", "manual"}

// String returns agc, thermal or manual, or "" for an invalid mode.
func (m Mode) String() string {
	if m >= modeCount {
		return ""
	}
	return modeWords[m]
}

// MarshalText returns [Mode.String].
func (m Mode) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// ParseMode reads agc, thermal or manual, in any case; the empty string is AGC.
func ParseMode(word string) (Mode, error) {
	i, err := oneOf(modeWords[:], "mode", word)
	return Mode(i), err
}

func oneOf(words []string, what, word string) (int, error) {
	if word == "" {
		return 0, nil
	}
	i := slices.IndexFunc(words, func(w string) bool { return strings.EqualFold(w, word) })
	if i < 0 {
		return 0, fmt.Errorf("%s %q is not one of %s", what, word, strings.Join(words, ", "))
	}
	return i, nil
}

// Amplifier is an amplifier's record in an inventory: the parts that matter when a pilot
// is judged.
type Amplifier struct {
	Line  int               // its line in the file
	ID    string            // as written in the inventory
	Node  string            // "" if the record does not say
	Pilot channelplan.Pilot // the pilot on record; zero if there is none
	Spare channelplan.Pilot // the spare pilot on record; zero if there is none
	Mode  Mode
	// Passband is the amplifier's own; zero if the record does not say.
	Passband Band
	Upstream string // the ID of the amplifier before it
	// Range is how far its AGC can raise and lower the gain.
	Range Range
	Role  Role // which pilot of the cascade it follows
	// Slope is the second pilot of an amplifier that has one for gain and one for slope;
	// zero if it has one pilot.
	Slope SlopePilot
	// Detector is what its AGC can follow; zero if the record does not say.
	Detector Detector
	// Design is what it is set up to; zero if the record does not say.
	Design Design
}

// On returns the amplifier as if p were its only pilot on record, so that p can be judged
// as its own. With the zero Pilot, any pilot counts as its own.
func (a Amplifier) On(p channelplan.Pilot) Amplifier {
	a.Pilot, a.Spare, a.Slope = p, channelplan.Pilot{}, SlopePilot{}
	return a
}

// SlopePilot is the second pilot of an amplifier with two: Amplifier.Pilot controls its
// gain, and this one, lower in the band, its slope (common practice, no source).
type SlopePilot struct {
	Pilot channelplan.Pilot
	// Range is how far the slope control can raise and lower the level at this pilot
	// against the level at the main one; zero if the record does not say.
	Range Range
	// Detector is what the slope pilot's detector can follow; zero if the record does not
	// say. That of the main pilot says nothing about it.
	Detector Detector
}

// AtSlope returns the amplifier as its slope pilot sees it, so that this pilot can be
// judged as one of its own; ok is false if it has one pilot only, or none by design.
func (a Amplifier) AtSlope() (at Amplifier, ok bool) {
	if a.Slope.Pilot.IsZero() || a.Mode != AGC {
		return Amplifier{}, false
	}
	at = a.On(a.Slope.Pilot)
	at.Role, at.Range, at.Detector = LowPilot, a.Slope.Range, a.Slope.Detector
	return at, true
}

// Range is how far an AGC can move the gain from the middle of its range, in dB, both
// positive. The zero Range means not known.
type Range struct{ UpDB, DownDB float64 }

// IsZero reports whether the range is not known.
func (r Range) IsZero() bool { return r == Range{} }

// Role is which of a system's pilots an amplifier follows.
type Role uint8

// The roles.
const (
	MainPilot  Role = iota // the usual one, high in the band
	LowPilot               // the lower of two, for slope: see SlopePilot
	SparePilot             // the one in reserve
	roleCount
)

var roleWords = [roleCount]string{"main", "low", "spare"}

// String returns main, low or spare, or "" for an invalid role.
func (r Role) String() string {
	if r >= roleCount {
		return ""
	}
	return roleWords[r]
}

// ParseRole reads main, low or spare, in any case; the empty string is MainPilot.
func ParseRole(word string) (Role, error) {
	i, err := oneOf(roleWords[:], "role", word)
	return Role(i), err
}
