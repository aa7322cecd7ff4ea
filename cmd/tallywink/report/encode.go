package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/picture"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// MustShow returns what an amplifier's lamp must show if all is well.
func MustShow(code *blink.Code, a lineup.Amplifier) blink.Signal {
	switch a.Mode {
	case lineup.OpenLoop:
		return blink.Signal{State: blink.Thermal}
	case lineup.HandSet:
		return blink.Signal{State: blink.Manual}
	}
	if len(code.Groups) == 0 {
		return blink.Signal{State: blink.Locked} // the lamp shows no pilot
	}
	return blink.Signal{State: blink.Locked, Pilot: a.Pilot}
}

type intervalDoc struct {
	Lit bool  `json:"lit"`
	MS  int64 `json:"ms"`
}

type encodeDoc struct {
	Schema    int                `json:"schema"`
	State     blink.State        `json:"state"`
	EdgeEnd   *blink.EdgeEnd     `json:"edge_end"`
	Pilot     *channelplan.Pilot `json:"pilot"`
	Notation  string             `json:"notation"` // empty for a state that does not show a frame
	Intervals []intervalDoc      `json:"intervals"`
	PeriodMS  int64              `json:"period_ms"` // 0 for steady and dark
}

// NewEncodeDoc returns the JSON document of a signal and its light.
func NewEncodeDoc(code *blink.Code, s blink.Signal, intervals []blink.Interval, period time.Duration) any {
	d := encodeDoc{Schema: answer.Schema, State: s.State, PeriodMS: period.Milliseconds()}
	d.EdgeEnd = answer.EdgeEnd(s.End)
	if s.ShowsFrame() {
		d.Pilot = &s.Pilot
		if frame, err := code.Encode(s.Pilot); err == nil {
			d.Notation = frame.String()
		}
	}
	for _, iv := range intervals {
		d.Intervals = append(d.Intervals, intervalDoc{iv.Lit, iv.Duration.Milliseconds()})
	}
	return d
}

// PrintSignal draws a signal and its light.
func PrintSignal(out *console.Console, code *blink.Code, s blink.Signal, intervals []blink.Interval, period,
	unit time.Duration) error {
	blocks := []console.Block{console.Section("State", answer.StateText(s.State, s.End))}
	if s.ShowsFrame() {
		frame, err := code.Encode(s.Pilot)
		if err != nil {
			return err
		}
		blocks = append(blocks,
			console.Section("Pilot", s.Pilot.String()),
			console.Block{Label: "Marks", Text: []console.Paragraph{console.Row("%-28s digits %s", frame,
				answer.SpelledDigits(code, frame))}})
	}
	blocks = append(blocks, console.Section("Lamp", code.Look(s.State, s.End)+"."),
		console.Block{Label: "Light", Text: lightText(code, s, intervals, unit)})
	if period > 0 {
		blocks = append(blocks, console.Section("Period",
			fmt.Sprintf("%.1f s at %v a unit, again and again.", period.Seconds(), unit)))
	}
	out.Print(blocks, nil)
	return nil
}

// lightText draws intervals, one character per unit, '#' for lit. Below a frame are the
// names of its groups and what comes after it.
func lightText(code *blink.Code, s blink.Signal, intervals []blink.Interval, unit time.Duration) []console.Paragraph {
	if len(intervals) == 1 {
		return []console.Paragraph{console.Text(wording.Either(intervals[0].Lit, "lit continuously", "no light"))}
	}
	frame := frameOf(code, s)
	inFrame := max(2*frame.Marks()-1, 0)
	var rest []string
	for _, iv := range intervals[inFrame:] {
		rest = append(rest, fmt.Sprintf("%s %s", wording.Counted(int(iv.Duration/unit), "unit", "units"),
			wording.Either(iv.Lit, "lit", "dark")))
	}
	if frame == nil {
		return []console.Paragraph{console.Drawn(func(width int) []string {
			// Dark is drawn too: a rhythm is told by its dark as by its light.
			var lines []string
			for line := strings.ReplaceAll(picture.Line(intervals, unit), " ", "-"); line != ""; {
				n := min(len(line), width)
				lines, line = append(lines, line[:n]), line[n:]
			}
			return lines
		}), console.Text(strings.Join(rest, ", ") + "; # is lit, - dark")}
	}
	return []console.Paragraph{
		console.Drawn(func(width int) []string { return frameLines(code, s.Pilot, frame, width) }),
		console.Text("then " + strings.Join(rest, ", ")),
	}
}

// frameOf returns the frame that a signal shows, or nil.
func frameOf(code *blink.Code, s blink.Signal) blink.Frame {
	if !s.ShowsFrame() {
		return nil
	}
	frame, err := code.Encode(s.Pilot)
	if err != nil {
		return nil
	}
	return frame
}

// frameLines draws a pilot's frame, a character a unit, with the names of its groups below it
// or, if that is wider than there is room, a line for each group.
func frameLines(code *blink.Code, p channelplan.Pilot, frame blink.Frame, width int) []string {
	light, names, wide := "", "", 0
	var groups []string
	starts, _ := code.Layout(frame)
	rules := code.Rules(p)
	for i, g := range frame {
		name, drawn := console.Shown(rules[i].Name), picture.Line(code.Light(blink.Frame{g}, code.Timing.Unit),
			code.Timing.Unit)
		names += strings.Repeat(" ", max(starts[i]-len(names), min(i, 1))) + name
		light += strings.Repeat(" ", starts[i]-len(light)) + drawn
		wide = max(wide, len(name))
		groups = append(groups, wording.Either(g == blink.EmptyGroup, "no light", drawn))
	}
	if len(light) <= width && len(names) <= width {
		return []string{light, names}
	}
	for i, light := range groups {
		groups[i] = fmt.Sprintf("%-*s  %s", wide, console.Shown(rules[i].Name), light)
	}
	return groups
}

// LongEnough repeats a rhythm until it lasts long enough to be distinguished from the
// others when its picture is shown once. One frame is enough if it is at least as long as
// those of the Tally code.
func LongEnough(state blink.State, intervals []blink.Interval) []blink.Interval {
	enough := 20 * time.Second
	if len(intervals) == 1 { // not a rhythm
		return intervals
	}
	var period time.Duration
	for _, iv := range intervals {
		period += iv.Duration
	}
	if state.ShowsFrame() {
		const frame = 6 * time.Second
		if period >= frame {
			return intervals
		}
	}
	return slices.Repeat(intervals, int((enough+period-1)/period))
}
