package main

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
	"tallywink.example/trainer"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

var trainCommand = command{
	name:    "train",
	summary: "learn to read the lamp, in this terminal",
	help: `  tallywink train
  tallywink train --trainee Ada --lineup demo
  tallywink train --qualify --seed 7 --trainee Ada --svg ada.svg

A lamp flashes, never more than three times in any second; m on the first screen
is still mode, for anyone who must not watch flashing light. Enter practices
what is due: what you misread comes sooner, what you know comes back after days.
Each answer is written to a book on this machine and goes nowhere else.

--qualify is a run of 20 readings without feedback, the same for everyone with
the same --seed and lineup: you pass with 19 right and no pilot misread.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		t := &training{}
		flags.StringVar(&t.trainee, "trainee", "", "the `NAME` to keep the answers under (default: your login)")
		flags.StringVar(&t.book, "book", "", "keep the answers in this `FILE` (default: in your own data folder)")
		flags.StringVar(&t.lineup, "lineup", demo.Name, "take pilots from this lineup, a CSV `FILE`, or demo")
		input.DeclareSheet(flags, &t.sheet)
		flags.BoolVar(&t.qualify, "qualify", false, "a qualification run: 20 readings without feedback")
		flags.Uint64Var(&t.seed, "seed", 0, "the same questions for the same `NUMBER` (default: new ones each time)")
		flags.StringVar(&t.svg, "svg", "", "write the result of a qualification run to this `FILE`, a page to print")
		flags.BoolVar(&t.json, "json", false, "give the result as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) > 0 {
				return 0, misuse("leave it out", "train takes no arguments, but you gave %q", args[0])
			}
			if t.svg != "" && !t.qualify {
				return 0, misuse("add --qualify, or leave --svg out", "--svg is only for a qualification run")
			}
			t.seeded, t.named = flags.Changed("seed"), flags.Changed("trainee")
			return t.run(out)
		}
	},
}

type training struct {
	trainee, book, lineup, sheet, svg string
	seed                              uint64
	qualify, json, seeded, named      bool
}

func (t *training) run(out *console.Console) (int, error) {
	if !t.seeded {
		t.seed = uint64(time.Now().UnixNano()) % 10_000
	}
	if t.trainee == "" { // neither given nor set
		t.trainee = loginName()
	}
	switch {
	case strings.TrimSpace(t.trainee) != "":
	case t.named:
		return 0, misuse("any name will do; the default is your login", "--trainee is empty")
	default:
		return 0, misuse("add --trainee NAME, any you like", "this machine does not say who you are")
	}
	if len(t.trainee) > 200 {
		return 0, misuse("use a nickname", "--trainee is too long for a name")
	}
	system := input.System{Lineup: t.lineup, Sheet: t.sheet, SheetGiven: true}
	sys, err := system.Load(out)
	if err != nil {
		return 0, err
	}
	b, err := input.OpenBook(t.book, input.AttemptsBook)
	if err != nil {
		return 0, err
	}
	if err := input.DistinctFiles([]input.Named{input.At("--svg", t.svg)}, input.At("the book", b.Path),
		input.At("--lineup", t.lineup),
		input.At("--sheet", t.sheet)); err != nil {
		return 0, err
	}
	attempts, err := input.ReadAttempts(b)
	if err == nil {
		err = b.Check()
	}
	if err == nil {
		err = t.checkPage()
	}
	if err != nil {
		return 0, err
	}
	options := trainer.TrainOptions{
		Trainee: t.trainee,
		Material: lesson.Material{Code: sys.Lamp(), Lineup: sys.Lineup, Today: sys.Today,
			Random: rand.New(rand.NewPCG(t.seed, 1))},
		Attempts: attempts.In(sys.Lamp()).Of(t.trainee),
	}
	kept := input.KeptBook{Book: b}
	options.Record = kept.Append
	if t.qualify {
		options.Exam = &t.seed
		names, of := attempts.In(sys.Lamp()).ByTrainee()
		for i, own := range of {
			if !progress.SameName(names[i], t.trainee) {
				options.Known += progress.TimesTaken(own, trainer.RunName(t.seed))
			}
		}
		if options.Known > 0 {
			options.Note = fmt.Sprintf("Others took seed %d before, in this book: its questions may be known. Another --seed is safer.",
				t.seed)
		}
	}
	if n := len(attempts.Damaged); n > 0 {
		options.Note = fmt.Sprintf("%s of your book can't be read (line %d); nothing there is changed.",
			wording.Counted(n, "line", "lines"), attempts.Damaged[0].Line)
	}
	input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
	session := trainer.NewTraining(options, time.Now())
	if err := onScreen(out, session); err != nil {
		return 0, err
	}
	done := session.Trained()
	if kept.Changed {
		out.Remark("tallywink train: %s was deleted or replaced while you trained; the answers after that are in the new file",
			console.Shown(b.Path))
	}
	if done.Err != nil {
		return 0, done.Err
	}
	status, err := t.tell(out, done, b, sys.Lamp())
	if err != nil || t.svg == "" || done.Exam == nil {
		return status, err
	}
	// Print the result first: it must not be lost along with a page that can't be
	// written.
	if err := out.Flush(); err != nil {
		return 0, err
	}
	o, err := console.Render(t.svg, func(w io.Writer) error {
		return trainer.WriteReport(w, sys.Lamp(), t.trainee,
			done.Exam)
	})
	if err == nil {
		err = o.Write()
	}
	return status, err
}

// checkPage reports before the first question what would prevent writing the page after
// the last one.
func (t *training) checkPage() error {
	if t.svg == "" {
		return nil
	}
	if info, err := os.Stat(t.svg); err == nil && info.IsDir() {
		return misuse("name a file in it", "--svg %s is a folder", t.svg)
	}
	if info, err := os.Stat(filepath.Dir(t.svg)); err != nil || !info.IsDir() {
		return misuse("make it first, or choose another", "--svg %s: that folder does not exist", t.svg)
	}
	return nil
}

// tell reports the result of a session. A qualification run that was not passed, or not
// finished, is bad news.
func (t *training) tell(out *console.Console, done trainer.Trained, b book.Book, code *blink.Code) (int, error) {
	status := exitWell
	if t.qualify && (done.Exam == nil || !done.Exam.Passed()) {
		status = exitBadNews
	}
	if t.json {
		return status, out.JSON(report.NewTrainedDoc(t.trainee, done, b.Path))
	}
	out.Print(report.TrainedBlocks(t.trainee, done, t.qualify, b.Path, code), nil)
	return status, nil
}
