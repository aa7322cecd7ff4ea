package handout_test

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/drawing"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/season"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/handout"
)

// shape is an element of a drawing with its attributes, and the text in it.
type shape struct {
	name string
	attr map[string]string
	text string
}

func shapes(t *testing.T, d *drawing.Sheet) []shape {
	t.Helper()
	var all []shape
	for decoder := xml.NewDecoder(strings.NewReader(d.String())); ; {
		token, err := decoder.Token()
		if err == io.EOF {
			return all
		}
		require.NoError(t, err)
		switch e := token.(type) {
		case xml.StartElement:
			s := shape{e.Name.Local, map[string]string{}, ""}
			for _, a := range e.Attr {
				s.attr[a.Name.Local] = a.Value
			}
			all = append(all, s)
		case xml.CharData:
			all[max(len(all)-1, 0)].text += string(e)
		}
	}
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	require.NoError(t, err)
	return x
}

func read(t *testing.T, rows string) (*plant.Plant, *plant.Cascades) {
	t.Helper()
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,upstream\n"+rows), "amps.csv")
	require.NoError(t, err)
	return p, p.Cascades()
}

// Every amplifier of a cascade is drawn once, to the right of the one before it; no two
// boxes overlap.
func TestCascade(t *testing.T) {
	p, c := read(t,
		"A,N,116,digital,\nB,N,116,digital,A\nC,N,116,digital,B\nD,N,116,digital,B\nE,N,116,digital,A\nF,N,116,digital,E\nZ,M,116,digital,\n")
	d, count := handout.Cascade(p, c, 0, func(int) handout.Amp { return handout.Amp{Look: handout.Bad, Note: "park"} })
	require.Equal(t, 6, count)
	type box struct{ x, y float64 }
	at := map[string]box{}
	var boxes []box
	for _, s := range shapes(t, d) {
		switch {
		case s.name == "rect" && s.attr["x"] != "0":
			boxes = append(boxes, box{number(t, s.attr["x"]), number(t, s.attr["y"])})
		case s.name == "text" && s.attr["font-weight"] == "bold":
			at[strings.TrimSpace(s.text)] = box{number(t, s.attr["x"]), number(t, s.attr["y"])}
			assert.Equal(t, "#fff", s.attr["fill"], "white on black")
		}
	}
	require.Len(t, boxes, 6)
	require.Len(t, at, 6)
	for i, a := range boxes {
		for _, b := range boxes[:i] {
			assert.True(t, a.x-b.x >= 84 || b.x-a.x >= 84 || a.y-b.y >= 32 || b.y-a.y >= 32, "%v over %v", a, b)
		}
	}
	for i, a := range p.Amplifiers {
		if up := c.Upstream[i]; up >= 0 {
			assert.Greater(t, at[a.ID].x, at[p.Amplifiers[up].ID].x, "%s is right of the one before it", a.ID)
		}
	}
}

// A cascade that no sheet of paper holds is counted and not drawn, whatever its shape.
func TestCascadeTooLarge(t *testing.T) {
	for name, up := range map[string]func(i int) string{
		"a chain": func(i int) string { return fmt.Sprintf("A%d", i-1) },
		"a star":  func(int) string { return "A0" },
	} {
		t.Run(name, func(t *testing.T) {
			var rows strings.Builder
			rows.WriteString("A0,N,116,digital,\n")
			for i := 1; i < 20_000; i++ {
				fmt.Fprintf(&rows, "A%d,N,116,digital,%s\n", i, up(i))
			}
			p, c := read(t, rows.String())
			d, count := handout.Cascade(p, c, 0, func(int) handout.Amp { return handout.Amp{} })
			assert.Nil(t, d)
			assert.Equal(t, 20_000, count)
		})
	}
}

// A pilot stands where its channel is: by the plan's frequencies, ANSI/CTA-542, channel
// 116 is 744 to 750 MHz. A pilot that is not valid has a cross.
func TestBand(t *testing.T) {
	l, err := lineup.Read(strings.NewReader("# forward: 50-1050\nchannel,carrier\n116,qam256\n"), "l.csv")
	require.NoError(t, err)
	pilot := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	crosses := map[bool]int{}
	for _, valid := range []bool{true, false} {
		d := handout.Band("band", []handout.Pilots{{Label: "now", Lineup: l,
			Use: []handout.Use{{Pilot: pilot, Amps: 7, Valid: valid}}}})
		found := false
		for _, s := range shapes(t, d) {
			if s.name == "text" && strings.TrimSpace(s.text) == "116 digital: 7" {
				found = true
			}
			if s.name == "path" && s.attr["stroke-width"] == "3" {
				crosses[valid]++
			}
			if s.name == "path" && s.attr["stroke-width"] == "2" {
				var x float64
				_, err := fmt.Sscanf(s.attr["d"], "M%f", &x)
				require.NoError(t, err)
				assert.InDelta(t, 15+660*(747.0-50)/1000, x, 0.1, "where 747 MHz is between 50 and 1050")
			}
		}
		assert.True(t, found)
	}
	assert.Equal(t, map[bool]int{false: 2}, crosses)
}

// The bar of a station goes from where its control stands on the coldest day to where it
// stands on the hottest; worked by hand from the rule of 0.11 % per degree F (see package
// season): 20 dB at its own frequency swing by 20 x 0.0011 x 120 = 2.64 dB.
func TestSwings(t *testing.T) {
	q := season.Conditions{Spans: []season.Span{{LossDB: 20, AtHz: 747_000_000}}, PilotHz: 747_000_000,
		LowHz: 54_000_000, HighHz: 1_002_000_000,
		Now: 50, Low: -10, High: 110, UpDB: 4, DownDB: 4}
	a, err := q.Answer()
	require.NoError(t, err)
	widths := map[string]float64{}
	for _, s := range shapes(t, handout.Swings([]station.Station{{Question: q, Answer: a}})) {
		if s.name == "rect" && s.attr["class"] != "" {
			widths[s.attr["class"]] = number(t, s.attr["width"])
		}
	}
	require.Len(t, widths, 2)
	assert.InDelta(t, 2.64/8, widths["swing"]/widths["range"], 1e-3)
}

// A page says what the blocks say, keeps what is typed in it harmless, and names nothing
// outside itself.
func TestPage(t *testing.T) {
	p := handout.New("<b>plan</b>", "from a.csv & b.csv")
	p.Write([]console.Block{
		console.Section("Say", "<script>x()</script>\x1b[2J"),
		console.Numbered("Do", []string{"first", "second"}),
		{Text: []console.Paragraph{console.Row("a   b"),
			console.Drawn(func(int) []string { return []string{"# #", "###"} })}},
	})
	d := drawing.New("d", 10, 10, drawing.Pixels)
	p.Draw("Look", d, "how to read it")
	var b bytes.Buffer
	_, err := p.WriteTo(&b)
	require.NoError(t, err)
	text := b.String()
	for _, bad := range []string{"<script", "<b>plan", "\x1b", "src=", "href=", "url("} {
		assert.NotContains(t, text, bad)
	}
	for _, good := range []string{"default-src 'none'", "&lt;script&gt;", "a.csv &amp; b.csv", "<h2>Say</h2>",
		"first", "second", "<pre>a   b</pre>", "# #", "<h2>Look</h2>", d.String(), "how to read it"} {
		assert.Contains(t, text, good)
	}
}

// A day's point stands where its share and its date put it, between the lines of its row.
func TestCurves(t *testing.T) {
	day := func(n int) time.Time { return time.Date(2026, 11, n, 0, 0, 0, 0, time.UTC) }
	d := handout.Curves([]handout.Curve{
		{Name: "Ada", Note: "ready", Days: []handout.Share{{Day: day(1), Right: 0}, {Day: day(6), Right: 0.5},
			{Day: day(11), Right: 1}}},
		{Name: "<Bo>", Days: []handout.Share{{Day: day(11), Right: 0.25}}},
	})
	var x, y []float64
	text := ""
	for _, s := range shapes(t, d) {
		if s.name == "rect" && s.attr["class"] == "day" {
			x, y = append(x, number(t, s.attr["x"])), append(y, number(t, s.attr["y"]))
		}
		text += s.text
	}
	require.Len(t, x, 4)
	assert.InDelta(t, x[1]-x[0], x[2]-x[1], 0.01)
	assert.InDelta(t, y[0]-y[1], y[1]-y[2], 0.01)
	assert.Greater(t, y[0], y[2], "more is higher")
	assert.InDelta(t, x[2], x[3], 0.01, "the same day")
	assert.InDelta(t, 0.75*(y[0]-y[2]), y[3]-(y[2]+46), 0.01, "a quarter, in the next row")
	for _, part := range []string{"Ada", "<Bo>", "ready", "2026-11-01", "2026-11-11", "2 trainees"} {
		assert.Contains(t, text, part)
	}
}

// Work stands where its hours are: a bar's left and right end are on the scale, bars of a
// crew do not overlap, crews stand one below the other, and the change is a dashed line.
func TestNights(t *testing.T) {
	at := func(hour, minute int) time.Time { return time.Date(2026, 12, 8, hour, minute, 0, 0, time.UTC) }
	d := handout.Nights([]handout.Night{{Begin: at(22, 0), End: at(28, 0), Change: at(26, 0), Crews: []handout.Crew{
		{Name: "crew 1", Work: []handout.Work{
			{Begin: at(22, 0), End: at(23, 0), Place: "N01", What: "early", Look: handout.Care},
			{Begin: at(23, 0), End: at(25, 30), Place: "A node with a long name", What: "park", Look: handout.Bad}}},
		{Name: "crew 2", Work: []handout.Work{
			{Begin: at(27, 0), End: at(28, 0), Place: "N02", What: "lock", Look: handout.Well}}}}}})
	type bar struct{ x, y, width float64 }
	bars := map[string]bar{}
	var texts []string
	dashed := 0.0
	for _, s := range shapes(t, d) {
		if when, ok := strings.CutPrefix(s.attr["class"], "work "); ok {
			bars[when] = bar{number(t, s.attr["x"]), number(t, s.attr["y"]), number(t, s.attr["width"])}
		}
		if s.attr["stroke-dasharray"] != "" {
			_, err := fmt.Sscanf(s.attr["d"], "M%f", &dashed)
			require.NoError(t, err)
		}
		texts = append(texts, strings.TrimSpace(s.text))
	}
	require.Len(t, bars, 3)
	hour := bars["23:00"].x - bars["22:00"].x
	assert.InDelta(t, 4*hour, dashed-bars["22:00"].x, 0.1)
	assert.InDelta(t, 5*hour, bars["03:00"].x-bars["22:00"].x, 0.1)
	assert.InDelta(t, hour, bars["22:00"].width, 1.01, "but for the gap between two")
	assert.InDelta(t, 2.5*hour, bars["23:00"].width, 1.01)
	assert.LessOrEqual(t, bars["22:00"].x+bars["22:00"].width, bars["23:00"].x)
	assert.Equal(t, bars["22:00"].y, bars["23:00"].y)
	assert.Greater(t, bars["03:00"].y, bars["22:00"].y)
	for _, want := range []string{"Tue 2026-12-08", "change 02:00", "N01 early", "A node with a long name park", "N02 lock"} {
		assert.Contains(t, texts, want)
	}
}
