// Package harmless makes text from files fit to be shown: names of systems,
// services, amplifiers and people can hold what steers a terminal, turns the
// direction of writing, hides, or breaks out of markup.
package wording

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf16"
)

// Harmless shows control characters, overrides of direction and other characters
// that are not seen as '?', and a tab as a blank. What is left is letters,
// marks, numbers, signs and blanks of any script.
func Harmless(text string) string {
	if plain(text) {
		return text
	}
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case hidden(r):
			return '?'
		}
		return r
	}, text)
}

// plain reports whether a text is seen as it is: printable ASCII, as nearly all is.
func plain[T ~string | ~[]byte](text T) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] > '~' {
			return false
		}
	}
	return true
}

// AppendHarmless is [Harmless] for many texts: what is plain is copied as it is.
func AppendHarmless(to, text []byte) []byte {
	if plain(text) {
		return append(to, text...)
	}
	return append(to, Harmless(string(text))...)
}

// hidden reports whether a character steers, or is not seen: those of Unicode's
// property Default_Ignorable_Code_Point and the blank of Braille, too.
func hidden(r rune) bool {
	const brailleBlank = '\u2800'
	return !unicode.IsGraphic(r) || r == brailleBlank || unicode.In(r, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}

// HarmlessJSON writes what is hidden in a JSON document as escapes: it says the same to a
// program, and nothing to a terminal.
func HarmlessJSON(document []byte) []byte {
	if !bytes.ContainsFunc(document, escaped) {
		return document
	}
	var b bytes.Buffer
	for _, r := range string(document) {
		if !escaped(r) {
			b.WriteRune(r)
			continue
		}
		for _, unit := range utf16.Encode([]rune{r}) {
			fmt.Fprintf(&b, `\u%04x`, unit)
		}
	}
	return b.Bytes()
}

// escaped reports whether a character of a document is hidden: below a blank are its
// own line ends.
func escaped(r rune) bool { return r > ' ' && hidden(r) }

// XML is [Harmless], fit to stand between tags or in an attribute of XML or HTML.
func XML(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(Harmless(text))) // a builder does not fail
	return b.String()
}

// Spreadsheet puts an apostrophe before what a spreadsheet would take for a
// formula; a number is none. The rest of the text stays as it is.
func Spreadsheet(value string) string {
	if value == "" || !strings.ContainsRune("=+-@\t\r", rune(value[0])) {
		return value
	}
	if rest := value[1:]; value[0] == '-' && rest != "" && strings.Trim(rest, "0123456789.,") == "" {
		return value
	}
	return "'" + value
}
