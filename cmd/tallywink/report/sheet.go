package report

import (
	"fmt"
	"strings"

	"tallywink.example/blink"
	"tallywink.example/blink/quality"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// maxSheetProblems is how many problems of a sheet are listed for a person.
const maxSheetProblems = 20

// SheetBlocks tells what a code sheet says, and how well its code can be read.
func SheetBlocks(name string, code *blink.Code, problems []fault.Error, r quality.Report) []console.Block {
	if code == nil {
		b := console.Block{Label: "Problems"}
		for _, p := range problems[:min(len(problems), maxSheetProblems)] {
			b.Text = append(b.Text,
				console.Text(wording.Sentence(console.Shown(fmt.Sprintf("%s:%d:%d: %s; %s", name, p.Line, p.Column,
					p.Text, input.HintOf(&p))))))
		}
		if more := len(problems) - maxSheetProblems; more > 0 {
			b.Text = append(b.Text, console.Row("and %d more", more))
		}
		return []console.Block{b}
	}
	shownAt := fmt.Sprintf("shown at a unit of %v or longer.", r.ShownFrom)
	if r.ShownFrom == 0 {
		shownAt = "too fast to show flashing at any unit it has; lamps can still be read."
	}
	flashes := console.Section("Flashes",
		fmt.Sprintf("up to %d in a second as sent; the limit is %d (WCAG 2.3.1): %s", r.Flashes,
			blink.MaxFlashes, shownAt))
	if len(code.Groups) == 0 {
		var states []string
		for _, s := range code.States() {
			states = append(states, s.State.NameAt(s.End))
		}
		return []console.Block{console.Section("Code",
			fmt.Sprintf("%s: no pilots, only states: %s. A unit of %v.", console.Shown(code.Name),
				strings.Join(states, ", "), code.Timing.Unit)), flashes}
	}
	least, most := code.FrameLengths()
	groups := wording.Counted(most, "group", "groups")
	if least != most {
		groups = fmt.Sprintf("%d to %s", least, groups)
	}
	var names []string
	for _, g := range code.Groups {
		names = append(names, console.Shown(g.Name))
	}
	blocks := []console.Block{
		console.Section("Code", fmt.Sprintf("%s: %s, frames of %s (%s), a unit of %v.", console.Shown(code.Name),
			wording.Counted(r.Pilots, "pilot", "pilots"), groups, strings.Join(names, ", "), code.Timing.Unit)),
		console.Section("Frame",
			fmt.Sprintf("%.1f to %.1f s, %.1f s on average, rest included; runs of %d equal marks at most; beyond four, people miscount.",
				r.Shortest.Seconds(), r.Longest.Seconds(), r.Mean.Seconds(), r.LongestRun)),
	}
	apart := console.Section("Alike", "none: every pilot has a frame of its own.")
	if n := len(r.Alike); n > 0 {
		apart = console.Section("Alike", fmt.Sprintf("%s of pilots can't be told apart, for instance %v and %v.",
			wording.Counted(n, "pair", "pairs"), r.Alike[0].Shown, r.Alike[0].Read))
	}
	errors := fmt.Sprintf("two frames differ in at least %s; it takes more errors than this looks for to make another pilot.",
		wording.Counted(r.Distance, "group", "groups"))
	if r.Errors > 0 {
		errors = fmt.Sprintf("two frames differ in at least %s; %s can make %v out of %v.",
			wording.Counted(r.Distance, "group", "groups"), wording.Counted(r.Errors, "error", "errors"),
			r.By.Read, r.By.Shown)
	}
	return append(blocks, apart, console.Section("Errors", errors),
		console.Section("Silent", fmt.Sprintf("%.2f%% of single errors read as another pilot (%d of %d).",
			100*r.SilentShare(), r.Silent, r.Singles)), flashes)
}

type sheetProblemDoc struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Text   string `json:"text"`
	Hint   string `json:"hint"`
}

type pairOfPilotsDoc struct {
	Shown channelplan.Pilot `json:"shown"`
	Read  channelplan.Pilot `json:"read"`
}

type qualityDoc struct {
	Pilots      int               `json:"pilots"`
	Alike       []pairOfPilotsDoc `json:"alike"`  // pairs that can't be distinguished
	Apart       int               `json:"apart"`  // number of groups in which any two frames differ at least
	Errors      *int              `json:"errors"` // the fewest errors that turn one pilot into another; null if more than were tried
	Singles     int               `json:"single_errors"`
	Silent      int               `json:"silent"` // how many of these read as another pilot
	LongestRun  int               `json:"longest_run"`
	Flashes     int               `json:"flashes"`       // the most in a second, as sent
	ShownFromMS *int64            `json:"shown_from_ms"` // null if it may never be shown
	ShortestMS  int64             `json:"shortest_ms"`
	MeanMS      int64             `json:"mean_ms"`
	LongestMS   int64             `json:"longest_ms"`
}

type SheetDoc struct {
	Schema   int               `json:"schema"`
	Sheet    string            `json:"sheet"`
	Name     *string           `json:"name"` // null if the sheet has problems
	Problems []sheetProblemDoc `json:"problems"`
	Quality  *qualityDoc       `json:"quality"` // null if the sheet has problems
}

// NewSheetDoc starts the JSON document of a code sheet with the problems found in it.
func NewSheetDoc(path string, problems []fault.Error) *SheetDoc {
	d := &SheetDoc{Schema: answer.Schema, Sheet: path, Problems: []sheetProblemDoc{}}
	for _, p := range problems {
		d.Problems = append(d.Problems, sheetProblemDoc{p.Line, p.Column, p.Text, input.HintOf(&p)})
	}
	return d
}

// Take adds the code, if the sheet has one, and how well it can be read.
func (d *SheetDoc) Take(code *blink.Code, r quality.Report) {
	d.Name = &code.Name
	q := &qualityDoc{Pilots: r.Pilots, Alike: []pairOfPilotsDoc{}, Apart: r.Distance, Singles: r.Singles,
		Silent: r.Silent, LongestRun: r.LongestRun, Flashes: r.Flashes,
		ShortestMS: r.Shortest.Milliseconds(), MeanMS: r.Mean.Milliseconds(), LongestMS: r.Longest.Milliseconds()}
	for _, p := range r.Alike {
		q.Alike = append(q.Alike, pairOfPilotsDoc{p.Shown, p.Read})
	}
	if r.Errors > 0 {
		q.Errors = &r.Errors
	}
	if ms := r.ShownFrom.Milliseconds(); ms > 0 {
		q.ShownFromMS = &ms
	}
	d.Quality = q
}
