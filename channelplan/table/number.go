package table

import (
	"errors"
	"strconv"
	"strings"
)

// This file reads numbers as people and instruments write them.

// ErrNumber is the error of [ParseNumber].
var ErrNumber = errors.New("not a number")

// ParseNumber reads a decimal number: 34.5, -3, +0.5, 1.2e-3. It rejects forms that only
// programmers write, such as hexadecimal digits, underscores and infinity: they would be
// typing errors. The error is [ErrNumber].
func ParseNumber(text string) (float64, error) {
	if strings.Trim(text, "0123456789+-.eE") != "" {
		return 0, ErrNumber
	}
	x, err := strconv.ParseFloat(text, 64)
	if err != nil { // also if it is too large
		return 0, ErrNumber
	}
	return x, nil
}

// DecimalPoint turns the decimal comma of a typed number into a point: 35,5. A comma with
// three digits behind it may separate thousands, so it stays, and is not a number.
func DecimalPoint(text string) string {
	whole, fraction, ok := strings.Cut(text, ",")
	if !ok || len(fraction) == 0 || len(fraction) == 3 && strings.Trim(whole, "+-0") != "" ||
		strings.ContainsAny(whole+fraction, ".,") {
		return text
	}
	return whole + "." + fraction
}

// ParseTyped is [ParseNumber] for a number that a person typed, perhaps with a decimal
// comma.
func ParseTyped(text string) (float64, error) { return ParseNumber(DecimalPoint(text)) }
