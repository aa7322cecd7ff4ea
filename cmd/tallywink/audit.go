package main

import (
	"context"
	"fmt"
	"os/signal"
	"runtime/debug"
	"slices"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/audit"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
	"tallywink.example/cmd/tallywink/screen"
)

var auditCommand = command{
	name:    "audit",
	summary: "check every amplifier in the plant against a lineup",
	help: `  tallywink audit demo                  the demo's plant, before its change
  tallywink audit --amps amps.csv --lineup lineup.csv
  tallywink audit --amps amps.csv --lineup new.csv --before old.csv
  tallywink audit --amps amps.csv --lineup new.csv --csv > work.csv
  tallywink audit --amps amps.csv --book readings.jsonl
  tallywink audit demo --node N16

One line for each amplifier that needs attention, then how many there are, by
cause and by node. With --before it also says what happens to each pilot: lost,
another kind of carrier, another level and the step that the AGC will follow
('+4.0 dB, out of range': counted from its middle), its neighbors, its
spare. The step depends on the detector. Amplifiers in cascade on one pilot
do not add up their steps: the first uses up range, and every output has the
error.

--book compares field readings with the inventory: wrong pilot, not
locked, never visited. It also follows the column upstream to find where a
fault is, between the last locked amplifier and the first that is holding.

An inventory is a CSV file, amp,node,channel,carrier and more:
'tallywink help plants' has the columns.
Exit status 1 if an amplifier is unusable or a row can't be read.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		a := &auditing{}
		a.Declare(flags, "what happens to pilots since this older lineup, a CSV `FILE`, or demo")
		flags.StringVar(&a.book, "book", "", "compare field readings, a book `FILE`, with the inventory")
		flags.StringVar(&a.since, "since", "", "with --book, only readings from this `DATE` on, such as 2026-11-25")
		flags.StringVar(&a.node, "node", "", "only the amplifiers of this `NODE`")
		flags.BoolVar(&a.all, "all", false, "list the healthy amplifiers too")
		flags.BoolVar(&a.lost, "unusable", false, "only amplifiers whose pilot is not usable")
		flags.BoolVar(&a.strict, "strict", false, "exit 1 for cautions too")
		flags.BoolVar(&a.csv, "csv", false, "a work list for a spreadsheet, with all columns of the inventory")
		flags.BoolVar(&a.json, "json", false, "answer in JSON lines, a summary last")
		input.HTMLVar(flags, &a.html)
		return a.run
	},
}

// auditing is the command with its flags.
type auditing struct {
	input.Plant
	book, since, node, html      string
	all, lost, strict, csv, json bool
}

func (a *auditing) run(out *console.Console, args []string) (int, error) {
	if a.book != "" {
		if err := input.DemoArgs(args, "audit", map[*string]string{&a.Amps: demo.Name, &a.Lineup: demo.Name},
			&a.Amps); err != nil {
			return 0, err
		}
		return a.runBook(out)
	}
	if a.since != "" {
		return 0, misuse("add --book FILE, or leave it out", "--since is only for field readings")
	}
	err := input.DemoArgs(args, "audit", map[*string]string{&a.Amps: demo.Name, &a.Lineup: demo.NextName,
		&a.Before: demo.Name}, &a.Amps)
	if err != nil {
		return 0, err
	}
	switch {
	case a.Amps == "":
		return 0, misuse("add --amps FILE, or try 'tallywink audit demo'", "an audit needs an inventory of amplifiers")
	case a.Lineup == "":
		return 0, misuse("add --lineup FILE, or --lineup demo to try it", "an audit needs a lineup")
	case a.json && a.csv:
		return 0, misuse("leave one of them out", "you gave both --json and --csv")
	case a.html != "" && a.Amps == "-":
		return 0, misuse("save the inventory in a file",
			"a page reads the inventory twice, so it can't come from standard input")
	case a.all && a.lost:
		return 0, misuse("leave one of them out", "you gave both --all and --unusable")
	}
	if err := a.fitsPage(); err != nil {
		return 0, err
	}
	now, before, today, err := a.Lineups(out)
	if err != nil {
		return 0, err
	}
	in, err := input.OpenAmps(out, a.Amps)
	if err != nil {
		return 0, err
	}
	defer in.Close()
	inv, err := plant.Begin(in, input.NameOf(a.Amps))
	if err != nil {
		return 0, err
	}
	if err := input.SamePlan(a.Amps, inv.HasPlan, inv.Plan, now); err != nil {
		return 0, err
	}
	ctx, stop := signal.NotifyContext(context.Background(), screen.StopSignals...)
	defer stop()
	to := console.BesideBar{Out: out, Bar: console.NewBar(out, "auditing", in)}
	w, head := a.writer(out, inv, now)
	w.Progress = func(lines int) { to.Show(wording.Counted(lines, "line", "lines")) }
	if _, err := to.Write(head); err != nil {
		return 0, fmt.Errorf("the output can't be written: %w", err)
	}
	// There is little garbage, and collecting it took a quarter of the time: collect only
	// when much memory is in use.
	const often, much = 400, 128 << 20
	defer debug.SetGCPercent(debug.SetGCPercent(often))
	defer debug.SetMemoryLimit(debug.SetMemoryLimit(much))
	summary, err := audit.Run(ctx, inv, audit.Request{Lineup: now, Before: before, Today: today, Node: a.node}, w, to)
	to.Clear()
	if audit.Interrupted(err) {
		out.Remark("tallywink audit: stopped after line %d; all lines written are complete", summary.Lines)
		return exitInterrupted, nil
	}
	if err != nil {
		return 0, err
	}
	if a.node != "" && summary.Amps == 0 {
		return 0, input.NoNode(a.node)
	}
	if summary.Amps == 0 && summary.LeftOut == 0 {
		return 0, input.NoAmplifier(inv.File)
	}
	told := report.JudgedBy{Now: now, Before: before}
	if told.Today, err = input.DayOf(a.On, a.Lineup); err != nil {
		return 0, err
	}
	concerns := now.Concerns(today)
	careful := summary.WithCare > 0 || slices.ContainsFunc(concerns,
		func(f lineup.Finding) bool { return f.Severity == lineup.Caution })
	status := exitWell
	if summary.Unusable > 0 || summary.LeftOut > 0 || a.strict && careful {
		status = exitBadNews
	}
	if a.json {
		return status, out.JSONLine(report.NewAuditSummaryDoc(summary, concerns))
	}
	if a.html != "" {
		p, c, err := input.LoadPlant(out, a.Amps, now)
		if err != nil {
			return 0, err
		}
		return status, report.AuditPage(out, a.html, p, c, a.node, now, before, told.Blocks(summary, concerns))
	}
	input.RemarkProblems(out, inv.File, summary.Problems, summary.Told)
	if a.csv {
		return status, nil
	}
	out.Print(told.Blocks(summary, concerns), nil)
	return status, nil
}

// writer returns how to write the answer, and the header that comes before it.
func (a *auditing) writer(out *console.Console, inv *plant.Inventory, now *lineup.Lineup) (w audit.Writer,
	head []byte) {
	w.All = a.all
	if a.lost {
		w.Only = func(j *audit.Judgement) bool { return j.Verdict() == lineup.Unusable }
	}
	switch {
	case a.html != "":
		w = discard()
	case a.json:
		form := report.NewAuditJSON(inv, now)
		w.Judged, w.Row, w.Problem = form.Judged, form.Row, form.Problem
	case a.csv:
		form := report.NewAuditCSV(inv, out.Terminal)
		w.Judged, w.Row = form.Judged, form.Row
		head = form.Head()
	default:
		w.Judged, w.Row = report.AuditText, report.AuditLine
		head = []byte("amp      node pilot       verdict  why\n")
	}
	return w, head
}

// exitInterrupted is the exit status after Ctrl-C, the same as in shells.
const exitInterrupted = 130

// discard judges every row and writes nothing: a page needs the summary alone.
func discard() audit.Writer {
	return audit.Writer{
		Judged: func(*audit.Judgement) []byte { return nil },
		Row:    func(to []byte, _ *plant.Row, _ *audit.Judgement) []byte { return to },
	}
}
