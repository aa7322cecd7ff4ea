package main

import (
	"cmp"
	"errors"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/season"
	"tallywink.example/channelplan/table"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var seasonCommand = command{
	name:    "season",
	summary: "where to set the AGC today so that it holds all year",
	help: `  tallywink season --span-db 22@750 --pilot '116 digital' \
      --now 95F --low -10F --high 110F --range-db 8
  tallywink season --cable 1.5@750x900 --cable 1.5@750x620 \
      --pilot '116 digital' --now 18C --low -23C --high 43C \
      --range-up 5 --range-down 3
  tallywink season --amps amps.csv --now 95F --low -10F --high 110F
  tallywink season demo
  tallywink season demo --amp OSR-01

--span-db is a loss at 68 F in dB, at a frequency in MHz; --cable the loss of
100 feet in dB, at a frequency in MHz, and the length in feet; or of 100 meters
and the length in meters, with an m behind it. Give either once for every span
since the last AGC station. --amps answers for every AGC station
of an inventory with the columns span_db, span_mhz, range_up_db and
range_down_db, the worst first; spans of amplifiers without AGC before it,
along upstream, count as its own. --lineup also tells the ones whose pilot is
not valid. --amp gives the steps for one station. Temperatures are the cable's,
not the air's: sun adds, burial evens out. Passives do not follow the rule.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		s := &seasonFlags{}
		flags.StringArrayVar(&s.spans, "span-db", nil, "the loss of a span at 68 F, as `DB@MHZ`, such as 22@750")
		flags.StringArrayVar(&s.cables, "cable", nil,
			"the same as `DB@MHZxFEET`, loss per 100 feet and length, such as 1.5@750x900, or in meters, 4.9@750x270m")
		flags.StringVar(&s.pilot, "pilot", "", "the `PILOT`, such as '116 digital'")
		flags.StringVar(&s.mhz, "mhz", "", "with --pilot cw, its frequency in `MHZ`")
		flags.StringVar(&s.slope, "slope-pilot", "",
			"the second `PILOT` of an amplifier with one for gain and one for slope, such as '61 cw'")
		input.NumberVar(flags, &s.slopeDB, "slope-range-db", 0, "the slope control's whole range in `DB`, its middle halfway")
		flags.StringVar(&s.plan, "plan", "std", "channel `PLAN`: std, irc or hrc")
		flags.StringVar(&s.forward, "forward", "54-1002", "the passband, as `LOW-HIGH` in MHz")
		flags.StringVar(&s.now, "now", "", "the cable's `TEMPERATURE` now, such as 95F or 35C")
		flags.StringVar(&s.low, "low", "", "the lowest `TEMPERATURE` of the year")
		flags.StringVar(&s.high, "high", "", "the highest `TEMPERATURE` of the year")
		input.NumberVar(flags, &s.rangeDB, "range-db", 0, "the AGC's whole range in `DB`, its middle halfway")
		input.NumberVar(flags, &s.up, "range-up", 0, "or how far it can raise the gain from its middle, in `DB`")
		input.NumberVar(flags, &s.down, "range-down", 0, "and how far it can lower it, in `DB`")
		input.NumberVar(flags, &s.step, "step-db", 0.5, "the smallest step of the gain control, in `DB`; 0 for no rounding")
		flags.StringVar(&s.amps, "amps", "", "answer for an inventory of amplifiers, a CSV `FILE` (or -), or demo")
		flags.StringVar(&s.lineup, "lineup", "",
			"with --amps, the lineup that its pilots must be valid in, a CSV `FILE`, or demo")
		flags.StringVar(&s.amp, "amp", "", "with --amps, the answer and the steps for one station, its `ID`")
		flags.StringVar(&s.node, "node", "", "with --amps, only the stations at this `NODE`")
		flags.BoolVar(&s.all, "all", false, "with --amps, all stations, not the twenty worst")
		flags.BoolVar(&s.csv, "csv", false, "with --amps, a list for a spreadsheet")
		flags.StringVar(&s.html, "html", "",
			"with --amps, write a page to print and hand out to `FILE`, with a drawing")
		flags.BoolVar(&s.json, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			err := input.DemoArgs(args, "season", map[*string]string{&s.amps: demo.Name, &s.lineup: demo.Name,
				&s.now: "95F", &s.low: "-10F", &s.high: "110F"}, &s.amps)
			if err != nil {
				return 0, err
			}
			if s.amps != "" {
				return s.runStations(out, flags)
			}
			if s.all || s.csv || s.html+s.node+s.amp+s.lineup != "" {
				return 0, misuse("add --amps FILE, or leave it out",
					"--all, --amp, --node, --lineup, --csv and --html are for an inventory's stations")
			}
			return s.run(out, flags)
		}
	},
}

type seasonFlags struct {
	spans, cables                             []string
	pilot, mhz, plan, forward, now, low, high string
	rangeDB, up, down, step, slopeDB          float64
	slope                                     string
	amps, amp, lineup, node, html             string
	all, csv, json                            bool
}

func (s *seasonFlags) run(out *console.Console, flags *pflag.FlagSet) (int, error) {
	q, pilot, err := s.question(flags)
	if err != nil {
		return 0, err
	}
	a, err := q.Answer()
	switch {
	case errors.Is(err, season.ErrSpan):
		return 0, misuse("give --span-db 22@750, or --cable 1.5@750x900", "%v", err)
	case errors.Is(err, season.ErrRange) && s.rangeDB == 0 && s.up == 0 && s.down == 0:
		return 0, misuse("see the module's data sheet: --range-db 8, or --range-up and --range-down",
			"add the range of the AGC, --range-db")
	case errors.Is(err, season.ErrRange):
		return 0, misuse("give --range-db 8, or --range-up and --range-down, as on the module's data sheet", "%v", err)
	case errors.Is(err, season.ErrOrder):
		return 0, misuse("see --now, --low and --high", "%v", err)
	}
	status := exitWell
	if !a.Covered || q.SlopeShort(a) {
		status = exitBadNews
	}
	if s.json {
		return status, out.JSON(report.NewSeasonDoc(q, a, pilot))
	}
	out.Print(report.SeasonBlocks(q, a, pilot), nil)
	return status, nil
}

// question builds the question from the flags.
func (s *seasonFlags) question(flags *pflag.FlagSet) (season.Conditions, channelplan.Pilot, error) {
	q := season.Conditions{StepDB: s.step}
	var p channelplan.Pilot
	for _, text := range s.spans {
		db, hz, err := input.LossAt("--span-db", text, text)
		if err != nil {
			return q, p, err
		}
		q.Spans = append(q.Spans, season.Span{LossDB: db, AtHz: hz})
	}
	for _, text := range s.cables {
		loss, length, ok := strings.Cut(text, "x")
		// The loss is per 100 of whatever the length is in, feet or meters.
		units, err := table.ParseTyped(strings.TrimSuffix(strings.TrimSuffix(length, "ft"), "m"))
		if !ok || err != nil || !(units > 0) || units > 1e6 {
			return q, p,
				misuse("write it like 1.5@750x900: dB per 100 feet, MHz, feet; or like 4.9@750x270m: dB per 100 meters, MHz, meters",
					"--cable can't be %q", text)
		}
		db, hz, err := input.LossAt("--cable", text, loss)
		if err != nil {
			return q, p, err
		}
		q.Spans = append(q.Spans, season.Span{LossDB: db * units / 100, AtHz: hz})
	}
	plan, err := channelplan.ParsePlan(s.plan)
	if err != nil {
		return q, p, err
	}
	if s.pilot == "" {
		return q, p, misuse("for instance --pilot '116 digital'", "say which pilot the AGC follows")
	}
	if p, err = input.PilotArgs([]string{s.pilot}, s.mhz, "for instance --pilot '116 digital'"); err != nil {
		return q, p, err
	}
	located, ok := lineup.Locate(p, plan)
	if !ok {
		return q, p, misuse("'tallywink plan' lists all channels", "the %s plan has no channel %d",
			plan.Name(), p.Channel)
	}
	q.PilotHz = located.FrequencyHz
	pass, err := s.passband()
	if err != nil {
		return q, p, err
	}
	q.LowHz, q.HighHz = pass.LowHz, pass.HighHz
	if q.PilotHz < pass.LowHz || q.PilotHz > pass.HighHz {
		return q, p, misuse("see --forward", "the pilot at %s MHz is outside the passband, %v",
			channelplan.FormatMHz(q.PilotHz), pass)
	}
	if q.Now, q.Low, q.High, err = s.temperatures(); err != nil {
		return q, p, err
	}
	if s.slope != "" {
		slope, err := input.PilotArgs([]string{s.slope}, "", "for instance --slope-pilot '61 cw'")
		if err != nil {
			return q, p, err
		}
		at, ok := lineup.Locate(slope, plan)
		if !ok || at.FrequencyHz >= q.PilotHz || at.FrequencyHz < pass.LowHz {
			return q, p, misuse("name another pilot in the passband, lower than the main one",
				"--slope-pilot can't be %v", slope)
		}
		q.SlopeHz, q.SlopeUpDB, q.SlopeDownDB = at.FrequencyHz, s.slopeDB/2, s.slopeDB/2
	} else if flags.Changed("slope-range-db") {
		return q, p, misuse("add --slope-pilot, or leave it out", "--slope-range-db is for a slope pilot")
	}
	held, err := s.heldRange(flags)
	q.UpDB, q.DownDB = held.UpDB, held.DownDB
	return q, p, err
}

func (s *seasonFlags) passband() (lineup.Band, error) {
	b, err := lineup.ParseBand(s.forward)
	if err != nil {
		return b, misuse("write it like 54-1002", "--forward can't be %q", s.forward)
	}
	return b, nil
}

func (s *seasonFlags) temperatures() (now, low, high season.Fahrenheit, err error) {
	for _, t := range []struct {
		flag, text string
		into       *season.Fahrenheit
	}{{"now", s.now, &now}, {"low", s.low, &low}, {"high", s.high, &high}} {
		if t.text == "" {
			return 0, 0, 0, misuse("write it with its unit, such as 95F or 35C", "--%s is missing", t.flag)
		}
		if *t.into, err = season.ParseTemperature(t.text); err != nil {
			f := fault.Of(err)
			return 0, 0, 0, misuse(cmp.Or(f.Hint, "use the cable's temperature, not the air's"), "--%s: %s", t.flag, f.Text)
		}
	}
	return now, low, high, nil
}

// heldRange returns the AGC's range, and checks the step of the controls.
func (s *seasonFlags) heldRange(flags *pflag.FlagSet) (lineup.Range, error) {
	r := lineup.Range{UpDB: s.up, DownDB: s.down}
	up, down := flags.Changed("range-up"), flags.Changed("range-down")
	whole, sides := flags.Changed("range-db"), up || down
	if up != down {
		return r, misuse("give --range-up and --range-down, or --range-db", "you gave only one side of the range")
	}
	if whole && sides {
		return r, misuse("give one or the other", "you gave both --range-db and --range-up or --range-down")
	}
	if whole {
		r = lineup.Range{UpDB: s.rangeDB / 2, DownDB: s.rangeDB / 2}
	}
	if !(s.step >= 0) || s.step > 10 {
		return r, misuse("0.5 is usual", "--step-db can't be %g", s.step)
	}
	return r, nil
}
