// Package wording lays out text and makes text from files safe to show: names of systems,
// services, amplifiers and people can contain characters that control a terminal, change
// the writing direction, are invisible, or break out of markup.
package wording

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf16"
)

// Harmless replaces control characters, direction overrides and other invisible
// characters by '?', and a tab by a space. What is left is letters, marks, numbers,
// symbols and spaces of any script.
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

// plain reports whether a text is shown as it is: printable ASCII, as nearly all text is.
func plain[T ~string | ~[]byte](text T) bool {
	for i := range len(text) {
		if text[i] < ' ' || text[i] > '~' {
			return false
		}
	}
	return true
}

// AppendHarmless is [Harmless] for many texts: plain text is copied as it is.
func AppendHarmless(to, text []byte) []byte {
	if plain(text) {
		return append(to, text...)
	}
	return append(to, Harmless(string(text))...)
}

// hidden reports whether a character has a control function or is invisible, including
// those with Unicode's property Default_Ignorable_Code_Point and the Braille blank.
func hidden(r rune) bool {
	const brailleBlank = '\u2800'
	return !unicode.IsGraphic(r) || r == brailleBlank ||
		unicode.In(r, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector)
}

// HarmlessJSON writes the hidden characters of a JSON document as escapes: it means the
// same to a program, and has no effect on a terminal.
func HarmlessJSON(document []byte) []byte {
	plain := 0 // most documents are plain to their end, and can be long
	for plain < len(document) && document[plain] < 0x7f {
		plain++
	}
	if !bytes.ContainsFunc(document[plain:], escaped) {
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

// escaped reports whether a character of a document is hidden; those below a space are
// the document's own line ends.
func escaped(r rune) bool { return r > ' ' && hidden(r) }

// XML is [Harmless], made safe for use between tags or in an attribute of XML or HTML.
func XML(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(Harmless(text))) // a Builder does not fail
	return b.String()
}

// Spreadsheet puts an apostrophe before text that a spreadsheet would take for a formula;
// a negative number is not one. The rest of the text stays as it is. [Unescaped] takes
// the apostrophe off again, which is why text that looks as if it had one gets another.
func Spreadsheet(value string) string {
	if !formula(value) {
		return value
	}
	if rest := value[1:]; value[0] == '-' && rest != "" && strings.Trim(rest, "0123456789.,") == "" {
		return value
	}
	return "'" + value
}

// formula reports whether text is a formula for a spreadsheet, perhaps with apostrophes
// before it.
func formula(value string) bool {
	bare := strings.TrimLeft(value, "'")
	return bare != "" && strings.ContainsRune("=+-@\t\r", rune(bare[0]))
}

// Unescaped returns the text for which [Spreadsheet] wrote a value.
func Unescaped(value string) string {
	if strings.HasPrefix(value, "'") && formula(value) {
		return value[1:]
	}
	return value
}
