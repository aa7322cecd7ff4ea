// Package manual holds the manual: a text for each topic, laid out for a terminal, and the
// manual page, which is made of the topics and of the commands' help.
package manual

import (
	"embed"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// Files has a file for each topic, topics/NAME.md: what is typed, what it prints, tables of columns,
// rules and limits. Its examples are compared with what the program prints.
//
//go:embed topics/*.md
var Files embed.FS

// Names returns all topics of the manual, in order.
func Names() []string {
	files, err := fs.Glob(Files, "topics/*.md")
	if err != nil {
		panic(err) // the pattern is a constant
	}
	var names []string
	for _, f := range files {
		names = append(names, strings.TrimSuffix(path.Base(f), ".md"))
	}
	return names
}

// Topic returns a topic's text as a terminal shows it: paragraphs wrapped, tables in
// columns, examples indented by four columns.
func Topic(name string) (text string, ok bool) {
	file, err := Files.ReadFile("topics/" + name + ".md")
	if err != nil {
		return "", false
	}
	var l topicLayout
	example := false
	for line := range strings.Lines(string(file)) {
		line = strings.TrimRight(line, "\n")
		row, isRow := strings.CutPrefix(line, "|")
		switch {
		case strings.HasPrefix(line, "```"):
			l.end()
			example = !example
		case example && line != "":
			l.line("    " + line)
		case example || line == "" || strings.HasPrefix(line, "    "):
			l.end()
			l.line(line)
		case isRow:
			l.row(row)
		default:
			l.words(strings.TrimPrefix(line, "# "))
		}
	}
	l.end()
	return l.String(), true
}

// topicLayout lays out a topic: it collects a paragraph or a table until it ends.
type topicLayout struct {
	strings.Builder
	paragraph []string
	lead      string // of the paragraph: '- ' or '1. ' of a list
	rows      [][]string
}

func (l *topicLayout) line(text string) { l.WriteString(text + "\n") }

func (l *topicLayout) row(text string) {
	cells := strings.Split(strings.TrimRight(strings.TrimSpace(text), "|"), "|")
	for i := range cells {
		cells[i] = strings.TrimSpace(cells[i])
	}
	l.rows = append(l.rows, cells)
}

var listLead = regexp.MustCompile(`^(- |[0-9]\. )`)

func (l *topicLayout) words(text string) {
	if lead := listLead.FindString(text); lead != "" {
		l.end()
		l.lead, text = lead, strings.TrimPrefix(text, lead)
	}
	l.paragraph = append(l.paragraph, strings.TrimSpace(text))
}

// end writes what was collected.
func (l *topicLayout) end() {
	for _, laid := range tableLines(l.rows) {
		l.line("  " + laid)
	}
	if len(l.paragraph) > 0 {
		for i, wrapped := range wording.Wrap(strings.Join(l.paragraph, " "), console.LineWidth-len(l.lead)) {
			lead := l.lead
			if i > 0 {
				lead = strings.Repeat(" ", len(lead))
			}
			l.line(lead + wrapped)
		}
	}
	l.paragraph, l.lead, l.rows = nil, "", nil
}

// tableLines lays out the rows of a table: columns as wide as their widest cell, up to a
// limit, and the last one wrapped into what room is left. The row of dashes below the head
// is left out.
func tableLines(rows [][]string) []string {
	const most, indent = 26, 2
	if len(rows) < 2 {
		return nil
	}
	rows = append(slices.Clone(rows[:1]), rows[2:]...)
	last := len(rows[0]) - 1
	left := 0
	widths := make([]int, last)
	for i := range widths {
		for _, row := range rows {
			if i < len(row) {
				widths[i] = min(max(widths[i], utf8.RuneCountInString(row[i])), most)
			}
		}
		left += widths[i] + 2
	}
	var lines []string
	for _, row := range rows {
		cells := make([][]string, last+1)
		height := 1
		for i := range min(len(row), last+1) {
			width := console.LineWidth - indent - left
			if i < last {
				width = widths[i]
			}
			cells[i] = wording.Wrap(row[i], width)
			height = max(height, len(cells[i]))
		}
		for n := range height {
			line := ""
			for i, cell := range cells {
				text := ""
				if n < len(cell) {
					text = cell[n]
				}
				if i < last {
					text += strings.Repeat(" ", max(widths[i]+2-utf8.RuneCountInString(text), 0))
				}
				line += text
			}
			lines = append(lines, strings.TrimRight(line, " "))
		}
	}
	return lines
}
