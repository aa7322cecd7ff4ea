package handout

import (
	"fmt"
	"math"
	"strings"

	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/wording"
)

// Swings draws where the gain control of each station stands through the year, in dB from
// the middle of its range: the range pale, the way between the hottest and the coldest day
// black, today a white line in it.
func Swings(stations []station.Station) *drawing.Sheet {
	const (
		width, left, right = 690.0, 170.0, 110.0
		row, top           = 18.0, 26.0
		bar                = 10.0
	)
	reach := 1.0
	for _, s := range stations {
		q := s.Question
		reach = max(reach, q.UpDB, q.DownDB, math.Abs(q.StandsAt(q.Low, s.Answer)),
			math.Abs(q.StandsAt(q.High, s.Answer)))
	}
	reach = math.Ceil(reach)
	at := func(db float64) float64 { return left + (width-left-right)*(db+reach)/(2*reach) }
	d := drawing.New("gain controls through the year", width, top+float64(len(stations))*row+8, drawing.Pixels)
	step := math.Ceil(reach / 8)
	for db := -math.Floor(reach/step) * step; db <= reach; db += step {
		d.Line(drawing.Pale, 1, 0, at(db), top-6, at(db), top+float64(len(stations))*row)
		d.Write(drawing.Words{X: at(db), Y: top - 10, Size: 10, Anchor: drawing.Middle, Text: fmt.Sprintf("%+.0f", db)})
	}
	const lastColumn = width - right + 56
	d.Write(drawing.Words{X: width - right + 8, Y: top - 10, Size: 10, Text: "dB"})
	d.Write(drawing.Words{X: lastColumn, Y: top - 10, Size: 10, Bold: true, Anchor: drawing.End, Text: "set"})
	for i, s := range stations {
		y := top + float64(i)*row
		name := wording.Clipped(s.ID, 14)
		if s.Node != "" {
			name += " (" + wording.Clipped(s.Node, 8) + ")"
		}
		d.Write(drawing.Words{X: 4, Y: y + 11, Size: 11, Text: name})
		q := s.Question
		d.Rect(at(-q.DownDB), y+2, at(q.UpDB)-at(-q.DownDB), bar, drawing.Pale, "range")
		low, high := q.StandsAt(q.Low, s.Answer), q.StandsAt(q.High, s.Answer)
		from, to := at(min(low, high)), at(max(low, high))
		d.Rect(from, y+4, max(to-from, 1), bar-4, drawing.Black, "swing")
		today := at(s.Answer.SetDB)
		d.Line(drawing.White, 2, 0, today, y+4, today, y+bar)
		d.Line(drawing.Black, 1, 0, today, y, today, y+3)
		set := fmt.Sprintf("%+.1f", s.Answer.SetDB)
		if strings.Trim(set, "+-0.") == "" {
			set = "0.0"
		}
		d.Write(drawing.Words{X: lastColumn, Y: y + 11, Size: 11, Anchor: drawing.End, Text: set})
		if !s.Answer.Covered {
			d.Write(drawing.Words{X: lastColumn + 10, Y: y + 11, Size: 11, Bold: true, Text: "short"})
		}
	}
	return d
}
