package lineup

import (
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
	c, ok := l.Standing(p)
	if !ok {
		return Expected{}
	}
	return l.ExpectCarrier(c, d)
}

// ExpectCarrier is [Lineup.Expect] for a carrier of the lineup.
func (l *Lineup) ExpectCarrier(c Carrier, d Design) Expected {
	var e Expected
	if !c.HasLevel || d.LowHz <= 0 || d.HighHz <= d.LowHz {
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
	_, db, ok := l.balanceAt(hz)
	return db, ok
}

// balanceAt returns the carrier that holds a frequency, and its level as an analog
// equivalent.
func (l *Lineup) balanceAt(hz int64) (c Carrier, analogDBmV float64, ok bool) {
	for _, c := range l.Carriers {
		if hz < c.LowHz || hz > c.HighHz || !c.HasLevel {
			continue
		}
		if db, ok := analogEquivalent(&c); ok {
			return c, db, true
		}
	}
	return Carrier{}, 0, false
}

// Balance returns the carriers that the lineup has at the balance channels, low and high,
// with what the design requires of them; nil if that is not known. A digital channel there
// is lower than the design's level, which is an analog carrier's.
func (l *Lineup) Balance(d Design) []Required {
	var both []Required
	for _, hz := range []int64{d.LowHz, d.HighHz} {
		c, _, ok := l.balanceAt(hz)
		if e := l.ExpectCarrier(c, d); ok && !e.IsZero() {
			both = append(both, Required{c, e})
		}
	}
	if len(both) < 2 {
		return nil
	}
	return both
}

// Required is a carrier with what a design requires of it.
type Required struct {
	Carrier
	Expected
}

// AtMeter returns what a meter shows at the test points, or on the line if the test point
// loss is not known.
func (e Expected) AtMeter() (input, output float64) {
	return e.Input - e.TestPointDB, e.Output - e.TestPointDB
}
