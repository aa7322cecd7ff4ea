package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

type bandDoc struct {
	LowHz  int64 `json:"low_hz"`
	HighHz int64 `json:"high_hz"`
}

type carrierDoc struct {
	Line        int      `json:"line"`
	Channel     *int     `json:"channel"`
	Carrier     string   `json:"carrier"`
	FrequencyHz int64    `json:"frequency_hz"`
	LowHz       int64    `json:"low_hz"`
	HighHz      int64    `json:"high_hz"`
	LevelDBmV   *float64 `json:"level_dbmv"`
	Duty        string   `json:"duty"`
	Video       *string  `json:"video"` // analog only
	Scope       string   `json:"scope"`
	Service     string   `json:"service"`
}

type lineupDoc struct {
	Schema    int              `json:"schema"`
	Name      string           `json:"name"`
	Hub       string           `json:"hub"`
	Reference string           `json:"reference,omitempty"` // the point at which the levels apply
	Plan      channelplan.Plan `json:"plan"`
	Forward   bandDoc          `json:"forward"`
	Effective *string          `json:"effective"`
	OffAir    []bandDoc        `json:"off_air"`
	Carriers  []carrierDoc     `json:"carriers"`
	Problems  []problemDoc     `json:"problems"`
	Notes     []problemDoc     `json:"notes"`
}

// NewLineupDoc returns the JSON document of a lineup.
func NewLineupDoc(l *lineup.Lineup) any {
	d := lineupDoc{Schema: answer.Schema, Name: l.Name, Hub: l.Hub, Reference: l.Reference, Plan: l.Plan,
		Forward: bandDoc(l.Forward),
		OffAir:  []bandDoc{}, Carriers: []carrierDoc{}, Problems: problemDocs(l.Problems), Notes: problemDocs(l.Notes)}
	if !l.Effective.IsZero() {
		day := l.Effective.Format(time.DateOnly)
		d.Effective = &day
	}
	for _, b := range l.OffAir {
		d.OffAir = append(d.OffAir, bandDoc(b))
	}
	for _, c := range l.Carriers {
		row := carrierDoc{Line: c.Line, Carrier: c.Kind.String(), FrequencyHz: c.FrequencyHz, LowHz: c.LowHz,
			HighHz: c.HighHz,
			Duty:   wording.Either(c.PartTime, "part-time", "continuous"), Scope: wording.Either(c.Narrowcast,
				"narrowcast",
				"broadcast"), Service: c.Service}
		if c.Channel != 0 {
			row.Channel = &c.Channel
		}
		if c.HasLevel {
			row.LevelDBmV = &c.LevelDBmV
		}
		if c.Kind == channelplan.Analog {
			video := wording.Either(c.SyncSuppressed, "sync-suppressed", "clear")
			row.Video = &video
		}
		d.Carriers = append(d.Carriers, row)
	}
	return d
}

// SummaryBlock tells what a lineup is, in a few words.
func SummaryBlock(l *lineup.Lineup) console.Block {
	text := console.Shown(answer.LineupName(l))
	if l.Hub != "" {
		text += ", " + console.Shown(l.Hub)
	}
	text += fmt.Sprintf(": %s plan, forward %s", l.Plan.Name(), l.Forward)
	if !l.Effective.IsZero() {
		text += ", effective " + l.Effective.Format(time.DateOnly)
	}
	if l.Reference != "" {
		text += ", levels at " + console.Shown(l.Reference)
	}
	counts := map[channelplan.Kind]int{}
	for _, c := range l.Carriers {
		counts[c.Kind]++
	}
	var parts []string
	for _, k := range []channelplan.Kind{channelplan.Analog, channelplan.QAM64, channelplan.QAM256,
		channelplan.QAM1024, channelplan.QAM4096, channelplan.CW, channelplan.OFDM} {
		if counts[k] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", counts[k], k.Label()))
		}
	}
	text += ". " + wording.Counted(len(l.Carriers), "carrier", "carriers")
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	return console.Section("Lineup", text+".")
}

// The characters of the drawing, each for one cell of 6 MHz.
var glyphs = map[channelplan.Kind]byte{
	channelplan.NoCarrier: '.', channelplan.Analog: 'A', channelplan.QAM64: 'd', channelplan.QAM256: 'D',
	channelplan.QAM1024: 'Q', channelplan.QAM4096: 'Q', channelplan.CW: 'C', channelplan.OFDM: '=',
}

const (
	unfitGlyph   = 'x'
	pilotGlyph   = '^'
	cwGlyph      = 'c'
	cellsPerRow  = 60 // at most
	cellsPerTick = 10
)

// BandBlock is the band, drawn, with what its letters mean.
func BandBlock(l *lineup.Lineup, pilots []channelplan.Pilot) console.Block {
	legend := "A analog, D 256-QAM, d 64-QAM, C cw, = OFDM, . nothing, x part-time or scrambled, c under a letter: cw in it. A letter is 6 MHz."
	if slices.ContainsFunc(l.Carriers, func(c lineup.Carrier) bool {
		return c.Kind == channelplan.QAM1024 ||
			c.Kind == channelplan.QAM4096
	}) {
		legend = strings.Replace(legend, "D 256-QAM", "Q 1024- or 4096-QAM, D 256-QAM", 1)
	}
	for _, p := range pilots {
		legend = fmt.Sprintf("^ %v. ", p) + legend
	}
	return console.Block{Label: "Band",
		Text: []console.Paragraph{console.Drawn(func(width int) []string { return drawBand(l, pilots, width) }),
			console.Text(legend)}}
}

// drawBand draws the forward passband in rows that fit a width, one letter per 6 MHz,
// with a scale in MHz above each row and pilots marked below it.
func drawBand(l *lineup.Lineup, pilots []channelplan.Pilot, width int) []string {
	cells := l.Cells()
	perRow := min(max(width/cellsPerTick, 1)*cellsPerTick, cellsPerRow)
	var lines []string
	for start := 0; start < len(cells); start += perRow {
		row := cells[start:min(start+perRow, len(cells))]
		var scale, drawn, marks strings.Builder
		for i, cell := range row {
			if i%cellsPerTick == 0 {
				fmt.Fprintf(&scale, "%-*s", cellsPerTick, channelplan.FormatMHz(cell.LowHz))
			}
			glyph := glyphs[cell.Kind]
			if cell.Unfit {
				glyph = unfitGlyph
			}
			drawn.WriteByte(glyph)
			marks.WriteByte(cellMark(cell, l, pilots))
		}
		lines = append(lines, strings.TrimRight(scale.String(), " "), drawn.String())
		if m := strings.TrimRight(marks.String(), " "); m != "" {
			lines = append(lines, m)
		}
	}
	return lines
}

func cellMark(cell lineup.Cell, l *lineup.Lineup, pilots []channelplan.Pilot) byte {
	for _, p := range pilots {
		at, ok := lineup.Locate(p, l.Plan)
		if ok && at.FrequencyHz >= cell.LowHz && at.FrequencyHz < cell.HighHz {
			return pilotGlyph
		}
	}
	if cell.CW {
		return cwGlyph
	}
	return ' '
}

// PrintProblems tells what is wrong in a lineup, line by line.
func PrintProblems(out *console.Console, l *lineup.Lineup) {
	for _, p := range l.Problems {
		out.Line("%s",
			strings.Join(wording.Wrap(fmt.Sprintf("%s:%d:%d: %s", console.Shown(l.File), p.Line, p.Column,
				wording.Sentence(console.Shown(p.Said()))), console.LineWidth), "\n  "))
	}
	for _, n := range l.Notes {
		out.Line("%s",
			strings.Join(wording.Wrap(fmt.Sprintf("note %s:%d:%d: %s", console.Shown(l.File), n.Line, n.Column,
				wording.Sentence(console.Shown(n.Said()))), console.LineWidth), "\n  "))
	}
}

// PrintCarriers lists the carriers of a lineup.
func PrintCarriers(out *console.Console, l *lineup.Lineup) {
	out.Line("")
	out.Line("%s", out.Strong.Sprint("  channel  carrier        MHz    dBmV  service"))
	for _, c := range l.Carriers {
		channel, at, level := "", channelplan.FormatMHz(c.FrequencyHz), ""
		if c.Channel != 0 {
			channel = fmt.Sprint(c.Channel)
		}
		if c.Kind == channelplan.OFDM {
			at = channelplan.FormatMHz(c.LowHz) + "-" + channelplan.FormatMHz(c.HighHz)
		}
		if c.HasLevel {
			level = fmt.Sprintf("%.1f", c.LevelDBmV)
		}
		remarks := console.Shown(c.Service)
		for _, r := range []struct {
			is   bool
			text string
		}{{c.PartTime, "part-time"}, {c.SyncSuppressed, "sync-suppressed"}, {c.Narrowcast, "narrowcast"}} {
			if r.is {
				remarks += " [" + r.text + "]"
			}
		}
		line := strings.TrimRight(fmt.Sprintf("  %7s  %-7s  %9s  %6s  %s", channel, c.Kind, at, level,
			strings.TrimSpace(remarks)), " ")
		out.Line("%s", wording.Clipped(line, console.LineWidth))
	}
}
