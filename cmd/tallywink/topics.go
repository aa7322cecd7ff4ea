package main

import (
	"embed"
	"io/fs"
	"path"
	"strings"
)

// The manual, a file for each topic: what is typed, what it prints, tables of columns,
// rules and limits. Its examples are compared with what the program prints.
//
//go:embed topics/*.md
var topicFiles embed.FS

// topicNames returns all topics of the manual, in order.
func topicNames() []string {
	files, err := fs.Glob(topicFiles, "topics/*.md")
	if err != nil {
		panic(err) // the pattern is a constant
	}
	var names []string
	for _, f := range files {
		names = append(names, strings.TrimSuffix(path.Base(f), ".md"))
	}
	return names
}

// topic returns a topic's text as a terminal shows it: examples are indented by four
// columns.
func topic(name string) (text string, ok bool) {
	file, err := topicFiles.ReadFile("topics/" + name + ".md")
	if err != nil {
		return "", false
	}
	var b strings.Builder
	example := false
	for line := range strings.Lines(string(file)) {
		switch {
		case strings.HasPrefix(line, "```"):
			example = !example
			continue
		case example && strings.TrimSpace(line) != "":
			b.WriteString("    ")
		case !example:
			line = strings.TrimPrefix(line, "# ")
		}
		b.WriteString(line)
	}
	return b.String(), true
}
