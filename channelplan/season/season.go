// Package season computes how much the level of a pilot changes with the temperature of
// the cable before an amplifier, whether the range of the amplifier's automatic gain
// control (AGC) covers that, and where in its range the control should be today.
//
// The loss of cable increases with its temperature by 0.11 % per degree Fahrenheit,
// relative to its loss at 68 F, see [Span.LossAt], and over frequency with the square
// root (skin effect; common practice, no source). What counts is the temperature of the
// cable, not of the air: sun adds to it, burial evens it out. Passives do not follow the
// rule.
package season

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
)

// Fahrenheit is a temperature in degrees Fahrenheit.
type Fahrenheit float64

// Reference is the temperature at which losses are given: 'Coaxial Cable Attenuation
// Changes versus Temperature', technical tip.
const Reference Fahrenheit = 68

// perDegree is the change of loss per degree Fahrenheit, as a fraction: same source.
const perDegree = 0.0011

// The temperatures that are accepted: no cable has been colder or hotter.
const (
	coldest Fahrenheit = -80
	hottest Fahrenheit = 180
)

// ErrTemperature is the error that [ParseTemperature] wraps.
var ErrTemperature = errors.New("not a temperature")

// ParseTemperature reads a temperature with its unit: 95F, -10F, 35C, 35.5 C.
// The error wraps [ErrTemperature].
func ParseTemperature(text string) (Fahrenheit, error) {
	t := strings.TrimSpace(text)
	if t == "" {
		return 0, unread("it is empty", "write it like 95F or 35C")
	}
	x, unit, err := degrees(t)
	if unit == 0 {
		return 0, unread(fmt.Sprintf("%q has no unit", text), "write it like 95F or 35C")
	}
	if err != nil {
		return 0, unread(fmt.Sprintf("%q", text), "write it like 95F or 35C")
	}
	f := Fahrenheit(x)
	if unit == 'C' {
		f = Fahrenheit(x*9/5 + 32)
	}
	if f < coldest || f > hottest {
		return 0, fmt.Errorf("%w of cable: %q; it must be between %v and %v", ErrTemperature, text, coldest, hottest)
	}
	return f, nil
}

func unread(text, hint string) error {
	return &fault.Error{Text: fmt.Sprintf("%v: %s", ErrTemperature, text), Hint: hint, Err: ErrTemperature}
}

// degrees splits a text without blanks around it into a number and its unit, F or C; the
// unit is 0 if there is none.
func degrees(text string) (x float64, unit byte, err error) {
	number := text
	if n := len(text) - 1; n >= 0 && strings.ContainsRune("FfCc", rune(text[n])) {
		unit, number = strings.ToUpper(text[n:])[0], text[:n]
	}
	x, err = table.ParseTyped(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(number), "\u00b0")))
	return x, unit, err
}

// mostSwing is the largest difference of two temperatures that is accepted: more than any
// day has.
const mostSwing = 150

// ParseSwing reads a difference of two temperatures with its unit, such as 30F or 17C, and
// returns it in degrees Fahrenheit. The error wraps [ErrTemperature].
func ParseSwing(text string) (Fahrenheit, error) {
	x, unit, err := degrees(strings.TrimSpace(text))
	if err != nil || unit == 0 {
		return 0, &fault.Error{Text: fmt.Sprintf("%v difference: %q", ErrTemperature, text),
			Hint: "write it like 30F or 17C", Err: ErrTemperature}
	}
	if unit == 'C' {
		x *= 9.0 / 5
	}
	if !(x >= 0) || x > mostSwing {
		return 0, fmt.Errorf("%w difference: %q; it must be between 0 and %d F", ErrTemperature, text, mostSwing)
	}
	return Fahrenheit(x), nil
}

// String writes the temperature in both units: '95 F (35 C)'.
func (f Fahrenheit) String() string {
	return fmt.Sprintf("%.0f F (%.0f C)", float64(f), float64(f-32)*5/9)
}

// Span is a piece of cable whose loss is known at one frequency.
type Span struct {
	LossDB float64 // at [Reference], positive
	AtHz   int64   // the frequency of that loss
}

// LossAt returns a span's loss in dB at a frequency and a temperature.
func (s Span) LossAt(hz int64, t Fahrenheit) float64 {
	return s.LossDB * math.Sqrt(float64(hz)/float64(s.AtHz)) * (1 + perDegree*float64(t-Reference))
}

// farAbove is how many times the frequency of the given loss another frequency may be:
// beyond that, dielectric loss matters, and the square root law reads low.
const farAbove = 2

// Conditions is what an answer for a station depends on.
type Conditions struct {
	Spans          []Span // since the last AGC station
	PilotHz        int64
	LowHz, HighHz  int64 // the passband's edges
	Now, Low, High Fahrenheit
	// UpDB and DownDB are how far the control can raise and lower the gain from the
	// middle of its range.
	UpDB, DownDB float64
	// StepDB is the step in which the control can be set; 0 means no rounding.
	StepDB float64
	// SlopeHz is where the slope pilot is, for an amplifier that follows one for gain and
	// one for slope; 0 if there is one pilot. SlopeUpDB and SlopeDownDB are how far the
	// slope control reaches from its middle, as a difference of the levels at both pilots;
	// both are 0 if that is not known.
	SlopeHz                int64
	SlopeUpDB, SlopeDownDB float64
}

// Answer is what a station does over the seasons. Levels are relative to today's; losses
// are at the pilot.
type Answer struct {
	LossNowDB, LossLowDB, LossHighDB float64
	// LowDB and HighDB are how far the pilot's level at the input is above (positive) or
	// below today's, at the low and at the high temperature.
	LowDB, HighDB float64
	// SwingDB is the difference between the two; SwingLowDB and SwingHighDB are the same
	// at the passband's edges.
	SwingDB, SwingLowDB, SwingHighDB float64
	// Covered reports that the control's range is at least the swing.
	Covered bool
	// OffsetDB is the loss today less the mean of the losses at the two extremes: how far
	// above (positive, a hot day) or below the middle of the seasons' swing the control
	// should be. SetDB is where it should be, from the middle of its range, rounded to
	// what can be set: the same as OffsetDB unless the range reaches further to one side.
	// It is not rounded if the range only just covers the swing and rounding would spoil
	// that.
	OffsetDB, SetDB float64
	// RoomUpDB and RoomDownDB are what is left of the range at the high and at the low
	// temperature, with the control at SetDB today. A negative value is how much is
	// missing.
	RoomUpDB, RoomDownDB float64
	// Slope is about the slope control; zero if there is none.
	Slope Slope
	// Beyond reports that the pilot or an edge is far above the frequency at which a loss
	// was given, where the square root law reads low.
	Beyond bool
}

// Slope is what the slope control of an amplifier with two pilots does over the seasons:
// the loss of cable at the higher pilot swings more than at the lower one, and the control
// makes up for the difference.
type Slope struct {
	// SwingDB is how far the difference of the losses at both pilots changes over the
	// year, and OffsetDB how far above its mean it is today.
	SwingDB, OffsetDB float64
	// Covered reports that the control's range is at least the swing; it means nothing if
	// the range is not known.
	Covered bool
	// SetDB is where the control should be today, from the middle of its range, limited to
	// its range: positive is for more cable. It means nothing if the range is not known.
	SetDB float64
}

// HasSlope reports whether there is a slope pilot.
func (q Conditions) HasSlope() bool { return q.SlopeHz > 0 }

// SlopeRangeKnown reports whether the range of the slope control is known.
func (q Conditions) SlopeRangeKnown() bool { return q.SlopeUpDB+q.SlopeDownDB > 0 }

// SlopeShort reports whether there is a slope control and its range is known not to cover
// the swing.
func (q Conditions) SlopeShort(a Answer) bool {
	return q.HasSlope() && q.SlopeRangeKnown() && !a.Slope.Covered
}

// slope answers for the slope control.
func (q Conditions) slope() Slope {
	if !q.HasSlope() {
		return Slope{}
	}
	sign := 1.0
	if q.SlopeHz > q.PilotHz {
		sign = -1
	}
	difference := func(t Fahrenheit) float64 { return sign * (q.loss(q.PilotHz, t) - q.loss(q.SlopeHz, t)) }
	low, high := difference(q.Low), difference(q.High)
	s := Slope{SwingDB: high - low, OffsetDB: difference(q.Now) - (low+high)/2}
	s.Covered = q.SlopeUpDB+q.SlopeDownDB >= s.SwingDB
	set := (q.SlopeUpDB-q.SlopeDownDB)/2 + s.OffsetDB
	if q.StepDB > 0 {
		set = math.Round(set/q.StepDB) * q.StepDB
	}
	s.SetDB = min(max(set, -q.SlopeDownDB), q.SlopeUpDB)
	return s
}

// The reasons why a question can't be answered.
var (
	ErrSpan  = errors.New("no usable cable loss")
	ErrOrder = errors.New("the temperatures are out of order")
	ErrRange = errors.New("no usable AGC range")
)

// Answer computes the answer. The error wraps [ErrSpan], [ErrOrder] or [ErrRange].
func (q Conditions) Answer() (Answer, error) {
	if len(q.Spans) == 0 {
		return Answer{}, fmt.Errorf("%w: give the loss of the cable since the last AGC station", ErrSpan)
	}
	for _, s := range q.Spans {
		if !(s.LossDB > 0) || s.LossDB > 1000 || s.AtHz <= 0 {
			return Answer{}, fmt.Errorf("%w: %g dB at %g MHz", ErrSpan, s.LossDB, float64(s.AtHz)/1e6)
		}
	}
	if err := q.CheckOrder(); err != nil {
		return Answer{}, err
	}
	if !(q.SlopeUpDB >= 0) || !(q.SlopeDownDB >= 0) || q.SlopeUpDB+q.SlopeDownDB > 100 {
		return Answer{}, fmt.Errorf("%w: %g dB up and %g dB down for slope", ErrRange, q.SlopeUpDB, q.SlopeDownDB)
	}
	if !(q.UpDB >= 0) || !(q.DownDB >= 0) || !(q.UpDB+q.DownDB > 0) || q.UpDB+q.DownDB > 100 {
		return Answer{}, fmt.Errorf("%w: %g dB up and %g dB down", ErrRange, q.UpDB, q.DownDB)
	}
	swing := func(hz int64) float64 { return q.loss(hz, q.High) - q.loss(hz, q.Low) }
	a := Answer{
		LossNowDB: q.loss(q.PilotHz, q.Now), LossLowDB: q.loss(q.PilotHz, q.Low), LossHighDB: q.loss(q.PilotHz, q.High),
		SwingDB: swing(q.PilotHz), SwingLowDB: swing(q.LowHz), SwingHighDB: swing(q.HighHz),
	}
	a.LowDB, a.HighDB = a.LossNowDB-a.LossLowDB, a.LossNowDB-a.LossHighDB
	a.OffsetDB = a.LossNowDB - (a.LossLowDB+a.LossHighDB)/2
	a.Covered = q.UpDB+q.DownDB >= a.SwingDB
	a.Slope = q.slope()
	q.place(&a, q.AskedDB(a))
	if q.StepDB > 0 {
		exact := a.SetDB
		q.place(&a, math.Round(exact/q.StepDB)*q.StepDB)
		if a.Covered && min(a.RoomUpDB, a.RoomDownDB) < 0 {
			// The range only just covers the swing, and the nearest step would spoil
			// that: keep the exact figure.
			q.place(&a, exact)
		}
	}
	for _, s := range q.Spans {
		a.Beyond = a.Beyond || max(q.PilotHz, q.HighHz) > farAbove*s.AtHz
	}
	return a, nil
}

// SumDB returns the loss of all spans at 68 F, each at its own frequency.
func (q Conditions) SumDB() float64 {
	sum := 0.0
	for _, s := range q.Spans {
		sum += s.LossDB
	}
	return sum
}

// CheckOrder checks only the temperatures. The error wraps [ErrOrder].
func (q Conditions) CheckOrder() error {
	if !(q.Low < q.High) || q.Now < q.Low || q.Now > q.High {
		return fmt.Errorf("%w: the low one must be below the high one and today's between; they are %v, %v and %v",
			ErrOrder, q.Low, q.High, q.Now)
	}
	return nil
}

// AskedDB returns where the control should be today going by the seasons alone, in dB
// from the middle of its range; the range may end before that.
func (q Conditions) AskedDB(a Answer) float64 { return (q.UpDB-q.DownDB)/2 + a.OffsetDB }

// place sets where the control is today, limited to its range.
func (q Conditions) place(a *Answer, setDB float64) {
	setDB = min(max(setDB, -q.DownDB), q.UpDB)
	a.SetDB = setDB
	a.RoomUpDB = q.UpDB - (setDB - a.HighDB)
	a.RoomDownDB = q.DownDB + (setDB - a.LowDB)
}

// ReserveDB is how much of a range set-up and drift take, at most: 1 to 2 dB (common
// practice, no source). A range that has less to spare covers the swing on paper only.
const ReserveDB = 2.0

// SpareDB returns how much larger the range is than the swing; a negative value is how
// much is missing.
func (q Conditions) SpareDB(a Answer) float64 { return q.UpDB + q.DownDB - a.SwingDB }

// Tight reports whether a range covers the swing, but has less than [ReserveDB] to spare.
func (q Conditions) Tight(a Answer) bool { return a.Covered && q.SpareDB(a) < ReserveDB }

// StandsAt returns where the control is at a temperature, in dB from the middle of its
// range, if it is at SetDB today.
func (q Conditions) StandsAt(t Fahrenheit, a Answer) float64 {
	return a.SetDB + q.loss(q.PilotHz, t) - a.LossNowDB
}

// loss returns the loss of all spans.
func (q Conditions) loss(hz int64, t Fahrenheit) float64 {
	sum := 0.0
	for _, s := range q.Spans {
		sum += s.LossAt(hz, t)
	}
	return sum
}
