package handout

import (
	"fmt"
	"math"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/lineup"
)

// Pilots is a lineup with the pilots that amplifiers follow in it.
type Pilots struct {
	Label  string
	Lineup *lineup.Lineup
	Use    []Use
}

// Use is a pilot and how many amplifiers follow it.
type Use struct {
	Pilot channelplan.Pilot
	Amps  int
	Valid bool
}

// The size of a band's drawing, in pixels.
const (
	bandWidth   = 690.0
	bandLeft    = 15.0
	stripHeight = 26.0
	labelHeight = 13.0
	letterWidth = 6.2 // of a label, on average
)

// Band draws lineups one below the other on the same frequencies: analog and cw carriers
// as lines, digital ones pale, OFDM blocks gray. Each pilot is named above its place, with
// how many amplifiers follow it, and has a cross if it is not valid there.
func Band(title string, rows []Pilots) *drawing.Sheet {
	low, high := int64(math.MaxInt64), int64(0)
	for _, r := range rows {
		low, high = min(low, r.Lineup.Forward.LowHz), max(high, r.Lineup.Forward.HighHz)
		for _, c := range r.Lineup.Carriers {
			low, high = min(low, c.LowHz), max(high, c.HighHz)
		}
	}
	at := func(hz int64) float64 {
		return bandLeft + (bandWidth-2*bandLeft)*float64(hz-low)/float64(max(high-low, 1))
	}
	// Labels that would overlap stand on lines of their own.
	type label struct {
		x, place float64
		line     int
		text     string
		valid    bool
	}
	labels := make([][]label, len(rows))
	height := make([]float64, len(rows))
	for i, r := range rows {
		var ends []float64
		for _, u := range r.Use {
			where, ok := lineup.Locate(u.Pilot, r.Lineup.Plan)
			if !ok {
				continue
			}
			text := fmt.Sprintf("%v: %d", u.Pilot, u.Amps)
			half := float64(len(text)) * letterWidth / 2
			place := at((where.LowHz + where.HighHz) / 2)
			x := min(max(place, half+2), bandWidth-half-2)
			line := 0
			for line < len(ends) && ends[line] > x-half {
				line++
			}
			if line == len(ends) {
				ends = append(ends, 0)
			}
			ends[line] = x + half + letterWidth
			labels[i] = append(labels[i], label{x, place, line, text, u.Valid})
		}
		height[i] = 20 + float64(len(ends))*labelHeight + 8 + stripHeight + 12
	}
	total := 22.0
	for _, h := range height {
		total += h
	}
	d := drawing.New(title, bandWidth, total, drawing.Pixels)
	y := 0.0
	for i, r := range rows {
		d.Write(drawing.Words{X: bandLeft, Y: y + 14, Size: 12, Bold: true, Text: r.Label})
		strip := y + height[i] - stripHeight - 12
		for _, c := range r.Lineup.Carriers {
			switch x := at(c.LowHz); c.Kind {
			case channelplan.Analog, channelplan.CW:
				x = at(c.FrequencyHz)
				d.Line(drawing.Black, 1, 0, x, strip, x, strip+stripHeight)
			case channelplan.OFDM:
				d.Rect(x, strip, at(c.HighHz)-x, stripHeight, drawing.Gray, "")
			default:
				d.Rect(x, strip, max(at(c.HighHz)-x-0.5, 0.5), stripHeight, drawing.Pale, "")
			}
		}
		d.Line(drawing.Black, 1, 0, at(low), strip+stripHeight, at(high), strip+stripHeight)
		for _, l := range labels[i] {
			top := strip - 8 - labelHeight*float64(l.line)
			d.Line(drawing.Black, 2, 0, l.place, top+2, l.place, strip+stripHeight)
			if !l.valid {
				const arm = 5.0
				m := strip + stripHeight/2
				d.Line(drawing.Black, 3, 0, l.place-arm, m-arm, l.place+arm, m+arm)
				d.Line(drawing.Black, 3, 0, l.place-arm, m+arm, l.place+arm, m-arm)
			}
			d.Write(drawing.Words{X: l.x, Y: top, Size: 11, Anchor: drawing.Middle, Bold: !l.valid, Text: l.text})
		}
		y += height[i]
	}
	const every = 100_000_000
	for hz := (low + every - 1) / every * every; hz <= high; hz += every {
		d.Line(drawing.Black, 1, 0, at(hz), y-12, at(hz), y-6)
		d.Write(drawing.Words{X: at(hz), Y: y + 6, Size: 10, Anchor: drawing.Middle, Text: fmt.Sprint(hz / 1_000_000)})
	}
	d.Write(drawing.Words{X: bandWidth - bandLeft, Y: y + 18, Size: 10, Anchor: drawing.End, Text: "MHz"})
	return d
}
