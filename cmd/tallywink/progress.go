package main

import (
	"runtime/debug"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
	"tallywink.example/trainer/progress"
)

var progressCommand = command{
	name:    "progress",
	summary: "how trainees are doing: what they misread, what is due",
	help: `  tallywink progress
  tallywink progress --trainee Ada
  tallywink progress --book monday.jsonl --book tuesday.jsonl --json
  tallywink progress --class --book ada.jsonl --book bo.jsonl

Reads the book of attempts that 'tallywink train' keeps, or several. --class
shows one line for each trainee: who is ready for a qualification run, who
passed one and until when it counts; and what the class finds hard.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var books []string
		var trainee, sheetFile, html string
		var asJSON, asCSV, class bool
		var valid int
		flags.StringVar(&trainee, "trainee", "", "only this `NAME`")
		flags.StringArrayVar(&books, "book", nil, "a book of attempts, a `FILE`; may be given several times")
		input.DeclareSheet(flags, &sheetFile)
		flags.BoolVar(&class, "class", false, "all trainees together, one line each")
		flags.IntVar(&valid, "valid-days", 365,
			"with --class, for how many `DAYS` a qualification counts; your employer decides")
		flags.BoolVar(&asCSV, "csv", false, "all attempts as CSV; with --class, a row for each trainee")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		flags.StringVar(&html, "html", "", "with --class, write a page to print to `FILE`, with learning curves")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) > 0 {
				return 0, misuse("name a book with --book, a trainee with --trainee",
					"progress takes no arguments, but you gave %q", args[0])
			}
			if class && asJSON {
				return 0, misuse("leave --class out: --json has all trainees", "--class does not go with --json")
			}
			if asJSON && asCSV {
				return 0, misuse("leave one of them out", "you gave both --json and --csv")
			}
			if html != "" && !class {
				return 0, misuse("add --class", "a page is for a whole class")
			}
			var kept []input.Named
			for _, b := range books {
				kept = append(kept, input.At("--book", b))
			}
			if err := input.MisfitsPage(html, asJSON, asCSV,
				append(kept, input.At("--sheet", sheetFile))...); err != nil {
				return 0, err
			}
			if flags.Changed("valid-days") && !class || valid < 1 || valid > 36_500 {
				return 0, misuse("it goes with --class, and 365 is the default", "--valid-days can't be %d here", valid)
			}
			code, err := input.LoadSheet(sheetFile)
			if err != nil {
				return 0, err
			}
			// Attempts are all kept. Near this much memory, garbage is collected at once: how
			// much there is at the end then does not depend on when it was collected last.
			const much = 176 << 20
			defer debug.SetMemoryLimit(debug.SetMemoryLimit(much))
			attempts, err := input.ReadBooks(books)
			if err != nil {
				return 0, err
			}
			whole := attempts
			if attempts = attempts.In(code); len(attempts.All) < len(whole.All) {
				out.Remark("tallywink progress: %s for other codes: pick one with --sheet",
					wording.Counted(len(whole.All)-len(attempts.All), "attempt is", "attempts are"))
			}
			if n := attempts.Again; n > 0 {
				out.Remark("tallywink progress: %s in there twice; each counts once",
					wording.Counted(n, "record is", "records are"))
			}
			names, own := attempts.ByTrainee()
			if trainee != "" {
				of := attempts.Of(trainee)
				if len(of) == 0 {
					input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
					return 0, misuse("the names in the book are: "+input.NamesIn(attempts),
						"there is nothing from %s in the book", trainee)
				}
				names, own = []string{trainee}, [][]progress.Attempt{of}
			}
			var standings []progress.Standing
			for i, name := range names {
				standings = append(standings, progress.Stand(name, own[i], code, time.Now()))
			}
			status := exitWell
			if len(attempts.Damaged) > 0 {
				status = exitBadNews
			}
			if class {
				all := report.Classroom{Class: progress.ClassOf(standings), ValidDays: valid, Now: time.Now()}
				if asCSV {
					input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
					_, err := out.Out.Write(all.List(out.Terminal))
					return status, err
				}
				if html != "" {
					input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
					return status, all.Page(out, html)
				}
				out.Print(all.Blocks(), nil)
				input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
				return status, nil
			}
			switch {
			case asJSON:
				return status, out.JSON(report.NewProgressDoc(standings, attempts))
			case asCSV:
				return status, report.WriteAttempts(out, attempts, trainee)
			}
			printProgress(out, standings, attempts)
			return status, nil
		}
	},
}

func printProgress(out *console.Console, standings []progress.Standing, attempts progress.Attempts) {
	if len(standings) == 0 {
		out.Print([]console.Block{console.Section("Nothing", "no attempts yet: 'tallywink train' records them.")}, nil)
	}
	for i, s := range standings {
		if i > 0 {
			out.Line("")
		}
		out.Print(report.StandingBlocks(s), nil)
	}
	input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
}
