package lineup

import (
	"fmt"

	"tallywink.example/channelplan"
)

// Design is what an amplifier is set up to, by its record. Levels are those of an analog
// visual carrier at two frequencies, the low and the high balance channel ('analog
// equivalent'; common practice, no source): other carriers are above or below the line
// through them by as much as the lineup lists them. The zero Design means not known.
type Design struct {
	LowHz, HighHz int64 // the balance channels' frequencies
	Input, Output Balance
	// TestPointDB is how far below the level on the line a test point shows a carrier,
	// usually 20 or 30 dB; 0 means not known.
	TestPointDB float64
	// Pad and Equalizer are what is fitted, in the record's own words.
	Pad, Equalizer string
}

// Balance is a pair of levels at the balance channels, in dBmV.
type Balance struct {
	LowDBmV, HighDBmV float64
	Known             bool
}

// Expected is what the design requires of an amplifier at one carrier.
type Expected struct {
	Input, Output           float64 // dBmV on the line
	InputKnown, OutputKnown bool
	TestPointDB             float64 // 0 if not known
}

// IsZero reports whether nothing is expected.
func (e Expected) IsZero() bool { return !e.InputKnown && !e.OutputKnown }

// Expect returns the levels that an amplifier's design requires at a pilot, as the lineup
// carries it: the straight line between the balance channels (tilt is set so that it is
// one; common practice, no source), plus however far the lineup lists the pilot above or
// below the line between its own carriers at the balance channels, as analog equivalents.
// The result is unknown if the lineup does not list these levels: a guess must not be
// used to balance an amplifier.
func (l *Lineup) Expect(p channelplan.Pilot, d Design) Expected {
	var e Expected
	c, ok := l.Standing(p)
	if !ok || !c.HasLevel || d.LowHz <= 0 || d.HighHz <= d.LowHz {
		return e
	}
	low, ok := l.analogAt(d.LowHz)
	high, ok2 := l.analogAt(d.HighHz)
	if !ok || !ok2 {
		return e
	}
	share := float64(c.FrequencyHz-d.LowHz) / float64(d.HighHz-d.LowHz)
	off := c.LevelDBmV - (low + share*(high-low))
	at := func(b Balance) float64 { return b.LowDBmV + share*(b.HighDBmV-b.LowDBmV) + off }
	if d.Input.Known {
		e.Input, e.InputKnown = at(d.Input), true
	}
	if d.Output.Known {
		e.Output, e.OutputKnown = at(d.Output), true
	}
	e.TestPointDB = d.TestPointDB
	return e
}

// analogAt returns the level of the carrier that holds a frequency, as an analog
// equivalent.
func (l *Lineup) analogAt(hz int64) (float64, bool) {
	for _, c := range l.Carriers {
		if hz < c.LowHz || hz > c.HighHz || !c.HasLevel {
			continue
		}
		if db, ok := analogEquivalent(c); ok {
			return db, true
		}
	}
	return 0, false
}

// Words says what a meter should show, at which test point, and at which carrier.
func (e Expected) Words(p string) string {
	if e.IsZero() {
		return ""
	}
	side := func(name string, level float64) string {
		if e.TestPointDB == 0 {
			return fmt.Sprintf("%.1f dBmV on the line at the %s", level, name)
		}
		return fmt.Sprintf("%.1f dBmV at the %s test point (%.1f on the line, less %g dB)", level-e.TestPointDB, name, level, e.TestPointDB)
	}
	switch {
	case e.InputKnown && e.OutputKnown:
		return fmt.Sprintf("by design the meter shows %s %s, and %s.", p, side("input", e.Input), side("output", e.Output))
	case e.InputKnown:
		return fmt.Sprintf("by design the meter shows %s %s.", p, side("input", e.Input))
	}
	return fmt.Sprintf("by design the meter shows %s %s.", p, side("output", e.Output))
}
