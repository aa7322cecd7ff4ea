package wording

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"
)

// This file breaks text into lines, and writes numbers as people say them.

// Wrap breaks text between words into lines of at most width columns; a longer word gets
// a line of its own.
func Wrap(text string, width int) []string { return WrapBy(text, width, utf8.RuneCountInString) }

// WrapBy is [Wrap] with a function that measures how wide a text is.
func WrapBy(text string, width int, measure func(string) int) []string {
	var lines []string
	line := ""
	for word := range strings.FieldsSeq(text) {
		switch {
		case line == "":
			line = word
		case measure(line)+1+measure(word) > width:
			lines = append(lines, line)
			line = word
		default:
			line += " " + word
		}
	}
	return append(lines, line)
}

// Clipped returns text shortened to at most most letters; three periods replace what is
// cut off.
func Clipped(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most-3]) + "..."
}

// Sentence adds a period to a text, unless it already ends in punctuation.
func Sentence(text string) string {
	if strings.HasSuffix(text, "?") || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// Capital returns text with its first letter as a capital.
func Capital(text string) string {
	r, size := utf8.DecodeRuneInString(text)
	if size == 0 {
		return text
	}
	return string(unicode.ToUpper(r)) + text[size:]
}

// Counted returns a count with its noun: '1 row', '7 rows'.
func Counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Number returns a small number as a word: 'no', 'one', up to 'ten'; others in digits.
func Number(n int) string {
	small := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n >= 0 && n < len(small) {
		return small[n]
	}
	return fmt.Sprint(n)
}

// Percent writes a probability, 0 to 1, without overstating it: it never rounds up, so
// that a value that is not enough never looks like enough.
func Percent(p float64) string {
	switch {
	case p >= 0.9995:
		return "over 99.9%"
	case p >= 0.99:
		return fmt.Sprintf("%.1f%%", math.Floor(1000*p)/10)
	case p < 0.01:
		return "under 1%"
	}
	return fmt.Sprintf("%.0f%%", math.Floor(100*p))
}

// Either returns the first text if a condition holds, otherwise the second.
func Either(yes bool, first, second string) string {
	if yes {
		return first
	}
	return second
}
