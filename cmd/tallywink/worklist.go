package main

import (
	"strings"

	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// workList writes rows for a spreadsheet. A list made from an inventory uses the same
// separator, so that the spreadsheet that wrote the inventory opens the list, too.
type workList struct {
	comma rune
	// screen reports that the list goes to a terminal, which text must not control.
	screen bool
}

// append appends a row.
func (w workList) append(to []byte, values ...string) []byte {
	for i, value := range values {
		if i > 0 {
			to = append(to, byte(w.comma))
		}
		to = w.value(to, value)
	}
	return append(to, '\n')
}

// value appends a value. Anything that a spreadsheet would take for a formula gets an
// apostrophe before it.
func (w workList) value(to []byte, value string) []byte {
	value = wording.Spreadsheet(value)
	if w.screen {
		value = console.Shown(value)
	}
	if !strings.ContainsAny(value, "\"\r\n") && !strings.ContainsRune(value, w.comma) && strings.TrimSpace(value) == value {
		return append(to, value...)
	}
	to = append(to, '"')
	to = append(to, strings.ReplaceAll(value, `"`, `""`)...)
	return append(to, '"')
}

// number writes a number the way the spreadsheet that wrote the inventory does.
func (w workList) number(text string) string {
	if w.comma != ',' {
		return strings.Replace(text, ".", ",", 1)
	}
	return text
}
