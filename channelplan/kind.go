package channelplan

import (
	"errors"
	"fmt"
	"strings"

	"tallywink.example/channelplan/wording"
)

// This file names the kinds of carrier found in a cable system.
//
// It is the one concept that the pilot code (package blink) and the channel plan (package
// channelplan) share. A lamp can name three kinds of pilot: analog, digital and
// continuous wave. A lineup distinguishes more: the order of the QAM, and OFDM blocks.
// [Kind.Family] maps a lineup's kind to a lamp's.

// Kind is the kind of a carrier. The zero Kind is no kind.
type Kind uint8

// The kinds, and what a level in dBmV means for each.
const (
	NoCarrier Kind = iota
	Analog         // NTSC visual carrier; level at sync peak
	Digital        // QAM of unstated order; average power in the channel
	CW             // continuous wave, unmodulated; level of the carrier
	QAM64          // 64-QAM; average power in the channel
	QAM256         // 256-QAM; average power in the channel
	OFDM           // OFDM block; average power per 6 MHz
	QAM1024        // 1024-QAM; average power in the channel
	QAM4096        // 4096-QAM; average power in the channel
)

var kindWords = [...]string{
	NoCarrier: "none", Analog: "analog", Digital: "digital", CW: "cw",
	QAM64: "qam64", QAM256: "qam256", OFDM: "ofdm", QAM1024: "qam1024", QAM4096: "qam4096",
}

var kindLabels = [...]string{
	NoCarrier: "no carrier", Analog: "analog", Digital: "digital (QAM)", CW: "continuous wave",
	QAM64: "64-QAM", QAM256: "256-QAM", OFDM: "OFDM", QAM1024: "1024-QAM", QAM4096: "4096-QAM",
}

// String returns the word that files and commands use: analog, digital, cw, qam64,
// qam256, qam1024, qam4096, ofdm or none.
func (k Kind) String() string {
	if int(k) >= len(kindWords) {
		return kindWords[NoCarrier]
	}
	return kindWords[k]
}

// MarshalText returns [Kind.String].
func (k Kind) MarshalText() ([]byte, error) { return []byte(k.String()), nil }

// UnmarshalText reads the words of [Kind.String], except none, and those that
// [ParsePilotKind] accepts. The error wraps [ErrCarrier].
func (k *Kind) UnmarshalText(word []byte) (err error) {
	if *k, err = ParseListedKind(string(word)); err != nil {
		*k, err = ParsePilotKind(string(word))
	}
	return err
}

// Label returns the kind as a technician writes it: '256-QAM', 'continuous wave'.
func (k Kind) Label() string {
	if int(k) >= len(kindLabels) {
		return kindLabels[NoCarrier]
	}
	return kindLabels[k]
}

// Family returns what a pilot lamp can show of the kind: every QAM is Digital; Analog and
// CW are themselves; OFDM stays OFDM, which a lamp can't show.
func (k Kind) Family() Kind {
	switch k {
	case QAM64, QAM256, QAM1024, QAM4096:
		return Digital
	}
	return k
}

// PilotKinds returns the kinds that a pilot lamp can show, in the order of their head
// digits.
func PilotKinds() [3]Kind { return [3]Kind{Analog, Digital, CW} }

// ErrCarrier is what [ParsePilotKind] and [ParseListedKind] wrap if a word does not name
// a kind.
var ErrCarrier = errors.New("unknown carrier")

// ListedKinds names the words that [ParseListedKind] reads, for messages.
const ListedKinds = "analog, qam64, qam256, qam1024, qam4096, cw or ofdm"

var (
	pilotWords = map[string]Kind{
		"analog": Analog, "digital": Digital, "qam": Digital,
		"qam64": Digital, "qam256": Digital, "qam1024": Digital, "qam4096": Digital, "cw": CW,
	}
	listedWords = map[string]Kind{
		"analog": Analog, "qam64": QAM64, "qam256": QAM256, "qam1024": QAM1024, "qam4096": QAM4096, "cw": CW,
		"ofdm": OFDM,
	}
)

// ParsePilotKind reads the kind of a pilot: analog, digital (qam, qam64 and the like
// also count as digital) or cw, in any case. The error wraps [ErrCarrier] and suggests the
// nearest word.
func ParsePilotKind(word string) (Kind, error) {
	return parseKind(word, pilotWords, "analog, digital or cw")
}

// ParseListedKind reads the kind of a carrier in a lineup: analog, qam64, qam256,
// qam1024, qam4096, cw or ofdm, in any case. The error wraps [ErrCarrier] and suggests the nearest word.
func ParseListedKind(word string) (Kind, error) {
	return parseKind(word, listedWords, ListedKinds)
}

func parseKind(word string, known map[string]Kind, list string) (Kind, error) {
	clean := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(word)), "-", "")
	if k, ok := known[clean]; ok {
		return k, nil
	}
	candidates := make([]string, 0, len(known))
	for w := range known {
		candidates = append(candidates, w)
	}
	hint := ""
	if near := wording.Nearest(clean, candidates); near != "" {
		hint = fmt.Sprintf(" (did you mean %s?)", near)
	}
	return NoCarrier, fmt.Errorf("%w %q: a carrier is %s%s", ErrCarrier, word, list, hint)
}
