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
