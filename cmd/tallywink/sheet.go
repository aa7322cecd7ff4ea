package main

import (
	"fmt"

	"github.com/spf13/pflag"

	"tallywink.example/blink/quality"
	"tallywink.example/blink/sheet"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/report"
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
			d := report.NewSheetDoc(args[0], problems)
			status := exitBadNews
			var r quality.Report
			if code != nil {
				r = quality.Of(code)
				d.Take(code, r)
				if len(r.Alike) == 0 {
					status = exitWell
				}
			}
			if asJSON {
				return status, out.JSON(d)
			}
			out.Print(report.SheetBlocks(args[0], code, problems, r), nil)
			return status, nil
		}
	},
}
