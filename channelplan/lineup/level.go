package lineup

import (
	"cmp"
	"math"
	"slices"

	"tallywink.example/channelplan"
)

// How far QAM carriers are below the analog visual carrier in the same place: Hranac, The
// Power of QAM, Communications Technology, October 2006, and common practice.
const (
	QAM256BelowDB = 6
	QAM64BelowDB  = 10
)

const (
	lineReachHz   = 60_000_000 // tilt alone does not keep neighbors further away in line
	lineEachSide  = 3          // neighbors on either side
	lineNeighbors = 3          // fewer do not make a line
	lineOneSided  = 5          // at the end of the band or of a gap, more are needed
	// maxSlope is steeper than any tilt, in dB/Hz: 0.05 dB/MHz, 47 dB from 54 to 1002
	// MHz. Anything steeper comes from a neighbor that is off.
	maxSlope = 0.05e-6
)

// offLine returns how many dB the pilot's level is off the straight line through its
// neighbors' levels, positive above the line, and whether there are enough neighbors to
// say. It uses carriers of the same kind; only if there are too few does it use all
// kinds, adding back how far each kind is carried below analog.
func (x *exam) offLine() (db float64, across, ok bool) {
	if !x.listed || !x.row.HasLevel || x.row.Kind == channelplan.CW || x.row.Kind == channelplan.OFDM {
		return 0, false, false
	}
	same := func(c *Carrier) (float64, bool) { return c.LevelDBmV, c.Kind == x.row.Kind }
	if db, ok = x.offLineOf(same); ok {
		return db, false, true
	}
	db, ok = x.offLineOf(analogEquivalent)
	return db, true, ok
}

// levelMissing reports whether the pilot's level is not listed although the levels of
// others are.
func (x *exam) levelMissing() bool {
	if !x.listed || x.row.HasLevel {
		return false
	}
	known := 0
	for c := range x.others {
		if _, comparable := analogEquivalent(c); comparable && c.HasLevel {
			known++
		}
	}
	return known >= lineNeighbors
}

// analogEquivalent returns the level that an analog carrier would have in the place of
// this carrier. For 1024-QAM and 4096-QAM no rule of thumb is known.
func analogEquivalent(c *Carrier) (dBmV float64, ok bool) {
	switch c.Kind {
	case channelplan.Analog:
		return c.LevelDBmV, true
	case channelplan.QAM256:
		return c.LevelDBmV + QAM256BelowDB, true
	case channelplan.QAM64:
		return c.LevelDBmV + QAM64BelowDB, true
	}
	return 0, false
}

type point struct{ hz, db float64 }

func (x *exam) offLineOf(level func(*Carrier) (float64, bool)) (float64, bool) {
	var below, above []point
	for c := range x.others {
		db, ok := level(c)
		away := c.FrequencyHz - x.row.FrequencyHz
		switch {
		case !ok || !c.HasLevel || away > lineReachHz || away < -lineReachHz:
		case away < 0:
			below = append(below, point{float64(c.FrequencyHz), db})
		default:
			above = append(above, point{float64(c.FrequencyHz), db})
		}
	}
	// Carriers are in order of frequency: the nearest below are the last.
	each, needed := lineEachSide, lineNeighbors
	if len(below) == 0 || len(above) == 0 {
		each, needed = lineOneSided, lineOneSided
	}
	below = below[max(0, len(below)-each):]
	above = above[:min(len(above), each)]
	points := append(below, above...)
	own, _ := level(&x.row)
	if len(points) < needed {
		return 0, false
	}
	return own - lineThrough(points, float64(x.row.FrequencyHz)), true
}

// lineThrough returns the level, at a frequency, of the line through points by the median
// of slopes (Theil 1950, Sen 1968): a neighbor that is itself off does not bend it as it
// would bend a least-squares line.
func lineThrough(points []point, hz float64) float64 {
	var slopes []float64
	for i, a := range points {
		for _, b := range points[:i] {
			if a.hz != b.hz {
				slopes = append(slopes, (a.db-b.db)/(a.hz-b.hz))
			}
		}
	}
	slope := 0.0
	if len(slopes) > 0 {
		slope = min(max(median(slopes), -maxSlope), maxSlope)
	}
	at := make([]float64, len(points))
	for i, p := range points {
		at[i] = p.db + slope*(hz-p.hz)
	}
	return median(at)
}

func median(values []float64) float64 {
	slices.SortFunc(values, cmp.Compare)
	n := len(values)
	if n == 0 {
		return math.NaN()
	}
	return (values[(n-1)/2] + values[n/2]) / 2
}
