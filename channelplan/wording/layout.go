package wording

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// This file lays text out in lines, and writes numbers as people say them.

// Wrap breaks text into lines of at most width columns between words; a word
// longer than that keeps a line of its own.
func Wrap(text string, width int) []string { return WrapBy(text, width, utf8.RuneCountInString) }

// WrapBy is [Wrap] with a measure of its own for how wide a text is.
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

// Clipped is text in no more than most letters: what is cut off leaves three
// periods.
func Clipped(text string, most int) string {
	r := []rune(text)
	if len(r) <= most {
		return text
	}
	return string(r[:most-3]) + "..."
}

// Sentence ends a text with a full stop, unless it has an end of its own.
func Sentence(text string) string {
	if strings.HasSuffix(text, "?") || strings.HasSuffix(text, ".") {
		return text
	}
	return text + "."
}

// Counted is how many there are of something, in words: '1 row', '7 rows'.
func Counted(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Number is a small number as a word: 'no', 'one', up to 'ten'; others in digits.
func Number(n int) string {
	small := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"}
	if n >= 0 && n < len(small) {
		return small[n]
	}
	return fmt.Sprint(n)
}

// Percent writes a probability, 0 to 1, without pretending to more than it is: what
// is not enough must not look like enough, so it is never rounded up.
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
