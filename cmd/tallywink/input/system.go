package input

import (
	"slices"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// System holds the flags that say in which system a pilot is judged, and at which
// amplifier.
type System struct {
	Plan, Lineup, Amps, Amp, On string
	// Sheet is declared, and SheetGiven true, for commands that read lamps: see
	// [DeclareSheet].
	Sheet      string
	SheetGiven bool
	Strict     bool // cautions are bad news, too
	Brief      bool // one line is enough
}

// Asked is what the flags say about the system.
type Asked struct {
	answer.System
	Strict bool   // cautions are bad news, too
	Brief  bool   // one line, as said over the radio
	Flags  string // the flags that name system and amplifier, as typed
}

// Declare declares the flags.
func (f *System) Declare(flags *pflag.FlagSet) {
	flags.StringVar(&f.Lineup, "lineup", "", "the system's lineup, a CSV `FILE`, or demo")
	flags.StringVar(&f.Amps, "amps", "", "the inventory of amplifiers, a CSV `FILE`, or demo")
	flags.StringVar(&f.Amp, "amp", "", "the amplifier you are at, by its `ID` in the inventory")
	flags.StringVar(&f.Plan, "plan", "", "channel `PLAN`: std, irc or hrc (default: the lineup's, else std)")
	flags.StringVar(&f.On, "on", "", "judge as of this `DATE`, such as 2026-11-25 (default today)")
	flags.BoolVar(&f.Strict, "strict", false, "exit 1 for cautions and for the states edge and steady too")
}

// Load reads the files that the flags name. Problems of a lineup that can be used anyway
// are reported as remarks.
func (f *System) Load(out *console.Console) (Asked, error) {
	s := Asked{Strict: f.Strict, Brief: f.Brief}
	for _, flag := range []struct{ name, value string }{{"lineup", f.Lineup}, {"amps", f.Amps}, {"amp", f.Amp}} {
		if flag.value != "" {
			s.Flags += " --" + flag.name + " " + console.Shown(flag.value)
		}
	}
	var err error
	if f.SheetGiven {
		if s.Code, err = LoadSheet(f.Sheet); err != nil {
			return s, err
		}
	}
	if s.Today, err = f.day(); err != nil {
		return s, err
	}
	if f.Lineup != "" {
		if s.Lineup, err = LoadLineup(out, f.Lineup); err != nil {
			return s, err
		}
	}
	if s.Plan, err = f.choosePlan(s.Lineup); err != nil {
		return s, err
	}
	switch {
	case f.Amp != "" && f.Amps == "":
		return s, Misuse("add --amps FILE, or --amps demo", "--amp %s needs the inventory that lists it", f.Amp)
	case f.Amps != "" && f.Amp == "":
		return s, Misuse("add --amp ID", "--amps needs the amplifier you are at")
	case f.Amps != "":
		err = f.find(&s)
	}
	return s, err
}

// find finds the amplifier that the flags name. If the inventory gives its plan, that
// plan is used.
func (f *System) find(s *Asked) error {
	load := plant.Load
	if r, ok := demo.InventoryOf(f.Amps); ok {
		load = func(file, id string) (plant.Amplifier, *plant.Inventory, error) { return plant.Find(r, file, id) }
	}
	a, inv, err := load(f.Amps, f.Amp)
	if err != nil {
		return err
	}
	switch {
	case inv.HasPlan && s.Lineup != nil:
		err = SamePlan(f.Amps, true, inv.Plan, s.Lineup)
	case inv.HasPlan && f.Plan != "" && inv.Plan != s.Plan:
		err = Misuse("leave --plan out", "--plan says %s, but %s is an inventory for the %s plan", s.Plan.Name(),
			f.Amps, inv.Plan.Name())
	case inv.HasPlan:
		s.Plan = inv.Plan
	}
	s.Amplifier = &a.Amplifier
	return err
}

// ReadLineup reads a lineup file, or one of the demo's.
func ReadLineup(path string) (*lineup.Lineup, error) {
	switch path {
	case demo.Name:
		return demo.Lineup()
	case demo.NextName:
		return demo.Next()
	case demo.HighName:
		return demo.High()
	}
	return lineup.Load(path)
}

// LoadLineup loads a lineup that pilots can be judged by. Problems of a lineup that can be
// used anyway are reported as remarks.
func LoadLineup(out *console.Console, path string) (*lineup.Lineup, error) {
	l, err := ReadLineup(path)
	if err != nil {
		return nil, err
	}
	if l.Unfit != nil {
		return nil, l.Unfit
	}
	if n := len(l.Problems); n > 0 {
		p := l.Problems[0]
		out.Remark("tallywink: %s:%d:%d: %s", console.Shown(l.File), p.Line, p.Column, console.Shown(p.Said()))
		out.Remark("  %s; 'tallywink lineup %s' shows all",
			wording.Counted(n, "problem in this lineup", "problems in this lineup"), console.Shown(l.File))
	}
	return l, nil
}

// choosePlan returns the plan that was asked for, or the lineup's. If the two differ, one
// of them is wrong, and no answer could be trusted.
func (f *System) choosePlan(l *lineup.Lineup) (channelplan.Plan, error) {
	if f.Plan == "" {
		if l != nil {
			return l.Plan, nil
		}
		return channelplan.STD, nil
	}
	plan, err := channelplan.ParsePlan(f.Plan)
	if err != nil {
		return 0, err
	}
	if l != nil && l.Plan != plan {
		return 0, Misuse("leave --plan out, or correct the line '# plan:' in the file",
			"--plan says %s, but %s is a lineup for the %s plan", plan.Name(), l.File, l.Plan.Name())
	}
	return plan, nil
}

// day returns the day to judge as of. For the demo system it is always the demo's own
// day, so that its lineup does not get old.
func (f *System) day() (time.Time, error) {
	return DayOf(f.On, f.Lineup)
}

// DayOf returns the day that was given, else the demo's day or today.
func DayOf(on, lineupPath string) (time.Time, error) {
	if on != "" {
		return ParseDay("on", on, time.UTC)
	}
	if slices.Contains(demo.Lineups(), lineupPath) {
		return demo.Day(), nil
	}
	now := time.Now()
	return time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC), nil
}

// ParseDay reads a flag's date: the beginning of that day in a time zone.
func ParseDay(flag, text string, zone *time.Location) (time.Time, error) {
	day, err := time.ParseInLocation(time.DateOnly, text, zone)
	if err != nil {
		return day, Misuse("write it like 2026-11-25", "--%s %q is not a date", flag, text)
	}
	return day, nil
}
