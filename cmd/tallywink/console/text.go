package console

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/fatih/color"
	"tallywink.example/channelplan/wording"
)

// Block is a label with the lines next to it, each of at most [TextWidth] columns.
type Block struct {
	Label string
	Lines []string
}

// Section breaks a labeled text into lines.
func Section(label, text string) Block {
	return Block{Label: label, Lines: wording.Wrap(text, TextWidth)}
}

// Print prints blocks. paint gives, by label, the color for a text up to its first colon.
func (c *Console) Print(blocks []Block, paint map[string]*color.Color) {
	if c.Width < LineWidth {
		c.printNarrow(blocks, paint)
		return
	}
	for _, b := range blocks {
		for i, text := range b.Lines {
			label := ""
			if i == 0 {
				label = b.Label
			}
			if i == 0 {
				text = painted(text, paint[b.Label])
			}
			lead := fmt.Sprintf("%-*s", LabelWidth, label)
			if label != "" {
				lead = c.Strong.Sprint(lead)
			}
			fmt.Fprintln(c.Out, strings.TrimRight(lead+text, " "))
		}
	}
}

// painted colors a text up to its first colon.
func painted(text string, paint *color.Color) string {
	first, rest, _ := strings.Cut(text, ":")
	if paint == nil || rest == "" {
		return text
	}
	return paint.Sprint(first) + ":" + rest
}

// printNarrow is Print for a terminal narrower than LineWidth columns: labels are on
// their own lines, and text is wrapped again.
func (c *Console) printNarrow(blocks []Block, paint map[string]*color.Color) {
	const indent = "  "
	for _, b := range blocks {
		if b.Label != "" {
			fmt.Fprintln(c.Out, c.Strong.Sprint(b.Label))
		}
		for i, paragraph := range unwrapped(b.Lines, TextWidth) {
			hang := ""
			if lead, _, ok := strings.Cut(paragraph, ". "); ok && strings.Trim(lead, "0123456789") == "" {
				hang = "   " // a numbered step
			}
			if blank := len(paragraph) - len(strings.TrimLeft(paragraph, " ")); blank > 0 {
				hang = paragraph[:min(blank, 4)] // a line of a table
			}
			lines := []string{paragraph}
			if utf8.RuneCountInString(paragraph) > c.Width-len(indent) {
				lines = wording.Wrap(paragraph, c.Width-len(indent)-len(hang))
				if strings.HasPrefix(paragraph, " ") {
					lines[0] = hang + lines[0]
				}
			}
			for j, line := range lines {
				switch {
				case j > 0:
					line = hang + line
				case i == 0:
					line = painted(line, paint[b.Label])
				}
				fmt.Fprintln(c.Out, indent+line)
			}
		}
	}
}

// unwrapped joins lines that Wrap has broken at a width: exactly those whose next word
// did not fit.
func unwrapped(lines []string, width int) []string {
	var paragraphs []string
	before := 0 // width of the previous line
	for i, line := range lines {
		first, _, _ := strings.Cut(strings.TrimSpace(line), " ")
		if i > 0 && first != "" && before+1+utf8.RuneCountInString(first) > width {
			paragraphs[len(paragraphs)-1] += " " + strings.TrimSpace(line)
		} else {
			paragraphs = append(paragraphs, line)
		}
		before = utf8.RuneCountInString(line)
	}
	return paragraphs
}

// Numbered lays out steps, each with its number and with its lines indented.
func Numbered(label string, steps []string) Block {
	b := Block{Label: label}
	for i, step := range steps {
		for j, line := range wording.Wrap(Shown(step), TextWidth-3) {
			lead := "   "
			if j == 0 {
				lead = fmt.Sprintf("%d. ", i+1)
			}
			b.Lines = append(b.Lines, lead+line)
		}
	}
	return b
}

// Shown makes text from outside safe to print on a terminal: see [wording.Harmless].
func Shown(text string) string { return wording.Harmless(text) }
