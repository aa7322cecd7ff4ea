package picture

import (
	"strings"
	"time"

	"tallywink.example/blink"
)

// Line draws light as text, one character per unit: '#' lit, a space dark.
func Line(light []blink.Interval, unit time.Duration) string {
	var b strings.Builder
	for _, iv := range light {
		sign := " "
		if iv.Lit {
			sign = "#"
		}
		b.WriteString(strings.Repeat(sign, int(iv.Duration/unit)))
	}
	return b.String()
}

// Timeline draws two periods of light as [Line] does, between bars, in lines of at most width characters.
func Timeline(light []blink.Interval, unit time.Duration, width int) []string {
	if len(light) == 1 {
		return []string{map[bool]string{true: strings.Repeat("#", width), false: "(no light)"}[light[0].Lit]}
	}
	line := "|" + strings.Repeat(Line(light, unit), 2) + "|"
	var lines []string
	for len(line) > width {
		lines, line = append(lines, line[:width]), line[width:]
	}
	return append(lines, line)
}
