package main

import (
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/blink/quality"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

var sheetCommand = command{
	name:    "sheet",
	summary: "check a code sheet, and say how good the code is",
	help: `  tallywink sheet own.toml
  tallywink sheet curlew --json
  tallywink sheet tally --print > own.toml     begin one of your own

A code sheet describes a counted-pulse code, from the equipment's own
documentation: durations, digits, the groups of a frame, the rhythms of the lock
states. 'tallywink help sheets' lists all its entries. encode, decode, watch,
train and others use it with --sheet. Tally, the default, is one; curlew,
invented, is another. It lists every problem, with line, column and what to do,
and then exits 1; also where pilots can't be told apart.

An error is one mark missed, counted twice, or mistaken in length.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var asJSON, asText bool
		flags.BoolVar(&asText, "print", false, "print a built-in sheet, to start from")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) != 1 {
				return 0, misuse("for instance: tallywink sheet curlew",
					"give one code sheet, a file, or tally or curlew")
			}
			if args[0] == "" {
				return 0, misuse("for instance: tallywink sheet curlew", "the name of the sheet is empty")
			}
			if asText {
				text, ok := sheet.Text(args[0])
				if !ok {
					return 0, misuse("only tally and curlew are; for another, name its file",
						"no sheet %q is built in", args[0])
				}
				fmt.Fprint(out.Out, text)
				return exitWell, nil
			}
			code, problems, err := sheet.Open(args[0])
			if err != nil {
				return 0, err
			}
			d := newSheetDoc(args[0], problems)
			status := exitBadNews
			var r quality.Report
			if code != nil {
				r = quality.Of(code)
				d.take(code, r)
				if len(r.Alike) == 0 {
					status = exitWell
				}
			}
			if asJSON {
				return status, out.JSON(d)
			}
			out.Print(sheetBlocks(args[0], code, problems, r), nil)
			return status, nil
		}
	},
}

// maxSheetProblems is how many problems of a sheet are listed for a person.
const maxSheetProblems = 20

func sheetBlocks(name string, code *blink.Code, problems []fault.Error, r quality.Report) []console.Block {
	if code == nil {
		b := console.Block{Label: "Problems"}
		for _, p := range problems[:min(len(problems), maxSheetProblems)] {
			b.Text = append(b.Text,
				console.Text(wording.Sentence(console.Shown(fmt.Sprintf("%s:%d:%d: %s; %s", name, p.Line, p.Column,
					p.Text, hintOf(&p))))))
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
		wording.Counted(r.Apart, "group", "groups"))
	if r.Errors > 0 {
		errors = fmt.Sprintf("two frames differ in at least %s; %s can make %v out of %v.",
			wording.Counted(r.Apart, "group", "groups"), wording.Counted(r.Errors, "error", "errors"),
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

type sheetDoc struct {
	Schema   int               `json:"schema"`
	Sheet    string            `json:"sheet"`
	Name     *string           `json:"name"` // null if the sheet has problems
	Problems []sheetProblemDoc `json:"problems"`
	Quality  *qualityDoc       `json:"quality"` // null if the sheet has problems
}

func newSheetDoc(path string, problems []fault.Error) *sheetDoc {
	d := &sheetDoc{Schema: answer.Schema, Sheet: path, Problems: []sheetProblemDoc{}}
	for _, p := range problems {
		d.Problems = append(d.Problems, sheetProblemDoc{p.Line, p.Column, p.Text, hintOf(&p)})
	}
	return d
}

func (d *sheetDoc) take(code *blink.Code, r quality.Report) {
	d.Name = &code.Name
	q := &qualityDoc{Pilots: r.Pilots, Alike: []pairOfPilotsDoc{}, Apart: r.Apart, Singles: r.Singles,
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

// declareSheet declares the flag that gives the code that a lamp uses.
func declareSheet(flags *pflag.FlagSet, into *string) {
	flags.StringVar(into, "sheet", sheet.TallyName,
		"the lamp's code, a code sheet `FILE`, or tally (default) or curlew")
}

// loadSheet loads a code sheet that must be usable.
func loadSheet(path string) (*blink.Code, error) {
	if path == "-" {
		return nil, misuse("save it to a file, and name the file",
			"a code sheet must be a file, but - is standard input")
	}
	code, problems, err := sheet.Open(path)
	if err != nil || len(problems) == 0 {
		return code, err
	}
	p := problems[0]
	hint := hintOf(&p)
	if n := len(problems); n > 1 {
		hint += fmt.Sprintf("; and %s: 'tallywink sheet %s' shows all",
			wording.Counted(n-1, "more problem", "more problems"), path)
	}
	return nil, &fault.Error{File: path, Line: p.Line, Column: p.Column, Text: p.Text, Hint: hint}
}
