package report

import (
	"fmt"
	"slices"
	"strings"

	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// workList writes rows for a spreadsheet. A list made from an inventory uses the same
// separator, so that the spreadsheet that wrote the inventory opens the list, too.
type workList struct {
	comma rune
	// bom reports that the inventory begins with a byte order mark.
	bom bool
	// screen reports that the list goes to a terminal, which text must not control.
	screen bool
}

// newWorkList makes a work list for a plant, with the same separator and byte order mark.
func newWorkList(p *plant.Plant, screen bool) workList {
	return workList{p.Comma, p.BOM, screen}
}

// mark returns what the list begins with.
func (w workList) mark() []byte {
	if w.bom && !w.screen {
		return []byte("\ufeff")
	}
	return nil
}

// ownOf returns the columns of an inventory that are its owner's own and not named like a
// column of the list: their titles and, for a row of the inventory, their values.
func ownOf(p *plant.Plant, listed []string) (titles []string, values func(row int) []string) {
	var keep []int
	for i, title := range p.OwnTitles {
		if !slices.Contains(listed, p.OwnNames[i]) {
			keep, titles = append(keep, i), append(titles, title)
		}
	}
	return titles, func(row int) []string {
		var all []string
		for _, i := range keep {
			all = append(all, p.Own[row][i])
		}
		return all
	}
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
	if !strings.ContainsAny(value, "\"\r\n") && !strings.ContainsRune(value, w.comma) &&
		strings.TrimSpace(value) == value {
		return append(to, value...)
	}
	to = append(to, '"')
	to = append(to, strings.ReplaceAll(value, `"`, `""`)...)
	return append(to, '"')
}

// bytes appends a value that is not a string yet, which for nearly all values of an
// inventory's rows saves making it one.
func (w workList) bytes(to, value []byte) []byte {
	for i, c := range value {
		letter := 'a' <= c|0x20 && c|0x20 <= 'z' || '0' <= c && c <= '9'
		if !letter && (c != ' ' || i == 0 || i == len(value)-1) {
			return w.value(to, string(value))
		}
	}
	return append(to, value...)
}

// tenths writes a number with one decimal, and never a negative zero.
func (w workList) tenths(x float64) string { return w.number(fmt.Sprintf("%.1f", nonzero(x))) }

// number writes a number the way the spreadsheet that wrote the inventory does.
func (w workList) number(text string) string {
	if w.comma != ',' {
		return strings.Replace(text, ".", ",", 1)
	}
	return text
}

// inColumns puts values in the order of their columns. It panics if a value has none.
func inColumns(columns []string, values map[string]string) []string {
	row, found := make([]string, len(columns)), 0
	for i, name := range columns {
		value, ok := values[name]
		if row[i] = value; ok {
			found++
		}
	}
	if found != len(values) {
		panic(fmt.Sprintf("values without a column: %v", values))
	}
	return row
}
