package lineup

import (
	"errors"
	"fmt"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// Detector is what an AGC's detector can follow, by its record. The zero Detector means
// not known.
type Detector struct {
	kinds uint8 // bits by channelplan.Kind
	// Power reports that it measures the power in its channel, so that it follows whatever
	// it can follow there, one kind or another; otherwise it locks on its kind of carrier
	// alone.
	Power bool
	// Band is what its filter can be set to; zero if that is not limited.
	Band Band
}

// Known reports whether anything is on record.
func (d Detector) Known() bool { return d.kinds != 0 }

// Follows reports whether it can follow a kind of carrier, as a lineup lists it.
func (d Detector) Follows(k channelplan.Kind) bool { return d.kinds&(1<<k.Family()) != 0 }

// detectorKinds are the words for kinds in a description of a detector.
var detectorKinds = []struct {
	word string
	kind channelplan.Kind
}{{"analog", channelplan.Analog}, {"digital", channelplan.Digital}, {"cw", channelplan.CW}, {"ofdm", channelplan.OFDM}}

// ParseDetector reads a description such as 'digital ofdm power 54-870': the kinds of
// carrier that the detector can follow (analog, digital, cw, ofdm), the word power if it
// measures the power in its channel, and the frequencies in MHz to which it can be set, if
// those are limited.
func ParseDetector(text string) (Detector, error) {
	var d Detector
words:
	for _, word := range strings.FieldsFunc(strings.ToLower(text),
		func(r rune) bool { return r == ' ' || r == '\t' || r == '+' || r == '/' }) {
		for _, k := range detectorKinds {
			if word == k.word {
				d.kinds |= 1 << k.kind.Family()
				continue words
			}
		}
		if word == "power" {
			d.Power = true
			continue
		}
		band, err := ParseBand(word)
		if err != nil || !d.Band.IsZero() {
			return Detector{},
				&fault.Error{Text: fmt.Sprintf("%q is not part of a detector", word),
					Hint: "write its kinds (analog, digital, cw, ofdm), power if it measures power, and its MHz, such as 54-870"}
		}
		d.Band = band
	}
	if !d.Known() {
		return Detector{}, errors.New("a detector needs the kinds that it follows: analog, digital, cw, ofdm")
	}
	return d, nil
}

// String returns the description that [ParseDetector] reads.
func (d Detector) String() string {
	var words []string
	for _, k := range detectorKinds {
		if d.Follows(k.kind) {
			words = append(words, k.word)
		}
	}
	if d.Power {
		words = append(words, "power")
	}
	if !d.Band.IsZero() {
		words = append(words, channelplan.FormatMHz(d.Band.LowHz)+"-"+channelplan.FormatMHz(d.Band.HighHz))
	}
	return strings.Join(words, " ")
}
