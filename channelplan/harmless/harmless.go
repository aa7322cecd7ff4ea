// Package harmless makes text from files fit to be shown: names of systems,
// services, amplifiers and people can hold what steers a terminal, turns the
// direction of writing, hides, or breaks out of markup.
package harmless

import (
	"encoding/xml"
	"strings"
	"unicode"
)

// Text shows control characters, overrides of direction and other characters
// that are not seen as '?', and a tab as a blank. What is left is letters,
// marks, numbers, signs and blanks of any script.
func Text(text string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == '\t':
			return ' '
		case !unicode.IsGraphic(r):
			return '?'
		}
		return r
	}, text)
}

// XML is [Text], fit to stand between tags or in an attribute of XML or HTML.
func XML(text string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(Text(text))) // a builder does not fail
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
