package main

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/blink/picture"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
	"tallywink.example/trainer"
)

var encodeCommand = command{
	name:    "encode",
	summary: "what the lamp shows for a pilot or a state",
	help: `  tallywink encode 116 digital
  tallywink encode 116 digital --state edge --edge-end low
  tallywink encode --state holding
  tallywink encode --amp OSR-03 --amps amps.csv
  tallywink encode 73 analog --unit 250ms --json
  tallywink encode 116 digital --gif lamp.gif --svg timeline.svg
  tallywink encode 116 digital --show

The states locked (the default) and edge show a pilot's frame; the others have a
rhythm of their own and take no pilot.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var (
			state, end       string
			gifFile, svgFile string
			sheetFile        string
			asJSON, show     bool
			at               ampFlags
			unit             time.Duration
		)
		flags.StringVar(&state, "state", "locked", "the `STATE` to show: "+input.StateList())
		flags.StringVar(&at.amp, "amp", "", "what this amplifier must show, by its `ID` in the inventory")
		flags.StringVar(&at.amps, "amps", "", "the inventory of amplifiers, a CSV `FILE`, or demo")
		flags.StringVar(&at.lineup, "lineup", "",
			"with --amp, the lineup that its pilot must be valid in, a CSV `FILE`, or demo")
		flags.StringVar(&end, "edge-end", "", "the `END` of the range in state edge: low or high")
		input.DurationVar(flags, &unit, "unit", 0, time.Millisecond,
			"the `LENGTH` of a unit, such as 250ms (default: the code's, 200ms in Tally)")
		input.DeclareSheet(flags, &sheetFile)
		flags.StringVar(&gifFile, "gif", "", "write an animated picture of the lamp to this `FILE`; it flashes")
		flags.StringVar(&svgFile, "svg", "", "write a still timeline of the pulses to this `FILE`")
		flags.BoolVar(&show, "show", false, "play the lamp in this terminal, in real time; it flashes")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			code, err := input.LoadSheet(sheetFile)
			if err != nil {
				return 0, err
			}
			s, record := blink.Signal{}, ""
			if at.amp != "" || at.amps != "" && flags.Changed("amps") {
				s, record, err = at.signal(out, code, args, flags.Changed("state") || end != "")
			} else {
				s, err = input.SignalArgs(code, args, state, end)
			}
			if err != nil {
				return 0, err
			}
			t := code.Timing
			if !flags.Changed("unit") {
				unit = t.Unit
			}
			intervals, period, err := code.Signal(s, unit)
			if errors.Is(err, blink.ErrUnit) {
				return 0, misuse(fmt.Sprintf("a unit is %v to %v in whole milliseconds, %v as sent", t.MinUnit,
					t.MaxUnit, t.Unit), "--unit %v is out of range", unit)
			}
			if err != nil {
				return 0, err
			}
			switch {
			case asJSON && show:
				return 0, misuse("leave one of them out", "--json is for programs and --show for people")
			case gifFile == "-" || svgFile == "-":
				return 0, misuse("name a file", "a picture goes to a file, but - is standard output")
			case show:
				err = checkShow(out, code, intervals, unit)
			}
			if err == nil {
				err = input.DistinctFiles([]input.Named{input.At("--gif", gifFile), input.At("--svg", svgFile)},
					input.At("--sheet", sheetFile),
					input.At("--amps", at.amps))
			}
			if err == nil {
				err = writePictures(gifFile, svgFile, code, s, intervals, unit)
			}
			if err != nil {
				return 0, err
			}
			if asJSON {
				return exitWell, out.JSON(report.NewEncodeDoc(code, s, intervals, period))
			}
			if record != "" {
				out.Print([]console.Block{console.Section("Record", record)}, nil)
			}
			if err := report.PrintSignal(out, code, s, intervals, period, unit); err != nil || !show {
				return exitWell, err
			}
			if err := out.Flush(); err != nil {
				return 0, err
			}
			showing, err := trainer.NewShowing(answer.SignalText(s), intervals, time.Now())
			if err != nil {
				return 0, err
			}
			return exitWell, onScreen(out, showing)
		}
	},
}

// writePictures writes the requested pictures: all are drawn before any is written.
func writePictures(gifFile, svgFile string, code *blink.Code, s blink.Signal, intervals []blink.Interval,
	unit time.Duration) error {
	var outputs []console.File
	if gifFile != "" {
		o, err := console.Render(gifFile, func(w io.Writer) error {
			return picture.WriteGIF(w,
				report.LongEnough(s.State, intervals))
		})
		switch {
		case errors.Is(err, blink.ErrFlashes):
			return misuse(slowerUnit(code),
				"at --unit %v the picture would flash more than %d times in a second", unit, blink.MaxFlashes)
		case errors.Is(err, picture.ErrStep):
			return misuse("use a multiple of it, such as 200ms",
				"GIF counts time in steps of %v, and --unit %v does not fit", picture.GIFStep, unit)
		case err != nil:
			return err
		}
		outputs = append(outputs, o)
	}
	if svgFile != "" {
		o, err := console.Render(svgFile, func(w io.Writer) error { return picture.WriteSVG(w, code, s, unit) })
		if err != nil {
			return err
		}
		outputs = append(outputs, o)
	}
	for _, o := range outputs {
		if err := o.Write(); err != nil {
			return err
		}
	}
	return nil
}

// ampFlags name an amplifier.
type ampFlags struct{ amps, amp, lineup string }

// signal returns what the amplifier's lamp shows if all is as on record, and what is to be
// said about that.
func (f ampFlags) signal(out *console.Console, code *blink.Code, args []string, other bool) (blink.Signal,
	string, error) {
	switch {
	case len(args) > 0 || other:
		return blink.Signal{}, "", misuse("leave one of them out",
			"--amp says what the lamp shows, so it does not go with a pilot or a state")
	case f.amp == "":
		return blink.Signal{}, "", misuse("add --amp ID", "--amps needs the amplifier")
	case f.amps == "":
		return blink.Signal{}, "", misuse("add --amps FILE, or --amps demo, or set it once with 'tallywink settings'",
			"--amp %s needs the inventory that lists it", f.amp)
	}
	flags := input.System{Amps: f.amps, Amp: f.amp, Lineup: f.lineup}
	s, err := flags.Load(out)
	if err != nil {
		return blink.Signal{}, "", err
	}
	shows := report.MustShow(code, *s.Amplifier)
	id := console.Shown(s.Amplifier.ID)
	switch {
	case s.Amplifier.Mode != lineup.AGC:
		return shows, fmt.Sprintf("%s is %v by design.", id, s.Amplifier.Mode), nil
	case s.Lineup == nil:
		return shows, fmt.Sprintf("%s is on record for %v. Add --lineup to see if that is still valid.", id,
			s.Amplifier.Pilot), nil
	}
	own := s.Amplifier.Pilot
	r := s.Judge(own)
	switch {
	case r.Undecided():
		return shows, fmt.Sprintf("%s is on record for %v. A row of %s can't be read: get it fixed to see if that is valid.",
			id, own, wording.Harmless(answer.LineupName(s.Lineup))), nil
	case r.Verdict == lineup.Unusable:
		return shows,
			fmt.Sprintf("%s is on record for %v, which is not valid in %s (%s): it needs another pilot. It should not show this.",
				id, own, wording.Harmless(answer.LineupName(s.Lineup)), r.Findings[0].Rule), nil
	}
	return shows, fmt.Sprintf("%s is on record for %v, which is usable.", id, own), nil
}

// checkShow returns an error if the lamp can't be played.
func checkShow(out *console.Console, code *blink.Code, intervals []blink.Interval, unit time.Duration) error {
	if !out.Terminal {
		return misuse("run it in a terminal; --svg draws it to a file", "--show needs a terminal to play in")
	}
	if blink.CheckShown(intervals) != nil {
		return misuse(slowerUnit(code),
			"at --unit %v the lamp would flash more than %d times in a second", unit, blink.MaxFlashes)
	}
	return nil
}

// slowerUnit says what the shortest unit is at which a code may be shown.
func slowerUnit(code *blink.Code) string {
	if unit := code.ShownFrom(); unit > 0 {
		return fmt.Sprintf("use a unit of %v or longer; --svg draws it without flashing", unit)
	}
	return "this code flashes too fast at any unit; --svg draws it"
}
