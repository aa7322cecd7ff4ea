package picture

import (
	"strings"
	"time"

	"tallywink.example/blink"
)

// Timeline draws two periods of light as text, one character per unit, '#' lit and a space
// dark, between bars, in lines of at most width characters.
func Timeline(light []blink.Interval, unit time.Duration, width int) []string {
	if len(light) == 1 {
		return []string{map[bool]string{true: strings.Repeat("#", width), false: "(no light)"}[light[0].Lit]}
	}
	var b strings.Builder
	for range 2 {
		for _, iv := range light {
			sign := " "
			if iv.Lit {
				sign = "#"
			}
			b.WriteString(strings.Repeat(sign, int(iv.Duration/unit)))
		}
	}
	line := "|" + b.String() + "|"
	var lines []string
	for len(line) > width {
		lines, line = append(lines, line[:width]), line[width:]
	}
	return append(lines, line)
}
