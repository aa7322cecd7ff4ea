package input

import (
	"io"
	"slices"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
)

// Plant holds the flags of commands about a whole plant: its inventory, its lineup,
// and the lineup before a change.
type Plant struct {
	Amps, Lineup, Before, On string
}

// Declare declares the flags; before is what to say of the older lineup.
func (f *Plant) Declare(flags *pflag.FlagSet, before string) {
	flags.StringVar(&f.Amps, "amps", "", "the inventory of amplifiers, a CSV `FILE` (or -), or demo")
	flags.StringVar(&f.Lineup, "lineup", "", "the lineup, a CSV `FILE`, or demo, or demo-next for the next one")
	flags.StringVar(&f.Before, "before", "", before)
	flags.StringVar(&f.On, "on", "", "judge as of this `DATE`, such as 2026-11-25 (default today)")
}

// DemoArgs lets 'demo' as the only argument stand for the demo's files. If a command is
// about one file, that file may also be the argument, instead of its flag.
func DemoArgs(args []string, name string, files map[*string]string, one *string) error {
	switch {
	case len(args) == 0:
		return nil
	case len(args) == 1 && one != nil && args[0] != demo.Name && *one != "":
		return Misuse("leave one of them out", "you gave two files, %s and %s", *one, args[0])
	case len(args) == 1 && one != nil && args[0] != demo.Name:
		*one = args[0]
		return nil
	case !slices.Equal(args, []string{demo.Name}):
		return Misuse("quote a pilot, and name other files with flags: see --help",
			"%s takes demo or one file, and you gave %q", name, strings.Join(args, " "))
	}
	for into, file := range files {
		if *into == "" {
			*into = file
		}
	}
	return nil
}

// LoadBefore loads the lineup that another one replaces.
func LoadBefore(out *console.Console, path string, after *lineup.Lineup) (*lineup.Lineup, error) {
	before, err := LoadLineup(out, path)
	if err != nil {
		return nil, err
	}
	if before.Plan != after.Plan {
		return nil, Misuse("a change of plan moves every carrier: compare lineups of the same plan",
			"%s is in %s and %s in %s",
			before.File, before.Plan.Name(), after.File, after.Plan.Name())
	}
	return before, nil
}

// Lineups loads the lineups that are named. A future change is judged as of the day it
// takes effect.
func (f *Plant) Lineups(out *console.Console) (now, before *lineup.Lineup, today time.Time, err error) {
	if today, err = DayOf(f.On, f.Lineup); err != nil {
		return nil, nil, today, err
	}
	if now, err = LoadLineup(out, f.Lineup); err != nil {
		return nil, nil, today, err
	}
	if f.Before != "" {
		before, err = LoadBefore(out, f.Before, now)
		if today.Before(now.Effective) {
			today = now.Effective
		}
	}
	return now, before, today, err
}

// OpenAmps opens an inventory.
func OpenAmps(out *console.Console, path string) (io.ReadCloser, error) {
	if r, ok := demo.InventoryOf(path); ok {
		return io.NopCloser(r), nil
	}
	if path == "-" {
		return io.NopCloser(out.In), nil
	}
	return table.OpenSteady(path)
}

// SamePlan refuses an inventory that is for another channel plan.
func SamePlan(path string, has bool, plan channelplan.Plan, l *lineup.Lineup) error {
	if has && plan != l.Plan {
		return Misuse("channels have different frequencies there: give the lineup that goes with the inventory",
			"%s is an inventory for the %s plan, and %s a lineup for %s",
			NameOf(path), plan.Name(), l.File, l.Plan.Name())
	}
	return nil
}

// LoadPlant reads a whole inventory, and reports what is wrong with it.
func LoadPlant(out *console.Console, path string, l *lineup.Lineup) (*plant.Plant, *plant.Cascades, error) {
	in, err := OpenAmps(out, path)
	if err != nil {
		return nil, nil, err
	}
	defer in.Close()
	p, err := plant.ReadOwn(in, NameOf(path))
	if err != nil {
		return nil, nil, err
	}
	if len(p.Amplifiers) == 0 && p.LeftOut == 0 {
		return nil, nil, NoAmplifier(p.File)
	}
	if l != nil {
		if err := SamePlan(path, p.HasPlan, p.Plan, l); err != nil {
			return nil, nil, err
		}
	}
	c := p.Cascades()
	RemarkProblems(out, p.File, append(slices.Clone(p.Problems), c.Problems...), len(p.Problems)+len(c.Problems))
	return p, c, nil
}

// NoAmplifier is the error for an inventory without a row.
func NoAmplifier(file string) error {
	return &fault.Error{File: file, Text: "the inventory does not list any amplifiers",
		Hint: "add a row for each, below the header line"}
}

// NoNode is the error for a node that the inventory does not have.
func NoNode(node string) error {
	return Misuse("check the name against the inventory", "no amplifier is in node %q", node)
}

// maxRemarks is how many problems of a file are listed.
const maxRemarks = 20

// RemarkProblems reports what is wrong with a file that can be used anyway; count is how
// many problems there are, if more than those given.
func RemarkProblems(out *console.Console, file string, problems []fault.Error, count int) {
	for _, p := range problems[:min(len(problems), maxRemarks)] {
		out.Remark("tallywink: %s:%d:%d: %s", console.Shown(file), p.Line, p.Column, console.Shown(p.Said()))
	}
	if more := count - maxRemarks; more > 0 {
		out.Remark("  and %d more", more)
	}
}
