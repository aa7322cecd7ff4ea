package main

import (
	"slices"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/channelplan/answer"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/trainer"
)

var watchCommand = command{
	name:    "watch",
	summary: "tap along with a lamp and see its pilot and state",
	help: `  tallywink watch
  tallywink watch --lineup demo --amps demo --amp OSR-03
  tallywink watch --json > reading.json

Tap . for a short pulse and _ for a long one, when each is over; your own pauses
separate the groups. Or press Space each time the light goes on or off, right
up to Enter: that reads every state's rhythm too. Enter prints the answer, as
decode does.

A terminal does not see when you let go of a key, so you can't hold one down for
as long as the light is on. Over a slow connection tap times are off: count,
and let decode read the marks. Stand safely before you look at the screen.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var system input.System
		var notes noting
		var asJSON bool
		system.Declare(flags)
		input.DeclareSheet(flags, &system.Sheet)
		system.SheetGiven = true
		notes.declare(flags, "with --amp, note the reading in this book, a `FILE` (default: in your own data folder)")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) > 0 {
				return 0, misuse("leave it out; decode reads marks that are typed",
					"watch takes no marks, but you gave %q", args[0])
			}
			if notes.book != "" && system.Amp == "" {
				return 0, misuse("add --amp ID", "--book is for readings at an amplifier")
			}
			if err := notes.check(system.Amp); err != nil {
				return 0, err
			}
			sys, err := system.Load(out)
			if err != nil {
				return 0, err
			}
			w := trainer.NewWatching(trainer.NewWatchReaders(sys.Lamp(), sys.Prior()))
			if err := onScreen(out, w); err != nil {
				return 0, err
			}
			a, err := watchedAnswer(sys, w.Watched())
			if err != nil {
				return 0, err
			}
			return notes.tellAndNote(out, a, sys, system.Amps, asJSON)
		}
	},
}

// watchedAnswer answers what was tapped.
func watchedAnswer(sys input.Asked, w trainer.Watched) (*answer.Answer, error) {
	switch {
	case w.Left:
		return nil, misuse("next time, press Enter to get one", "you left without an answer")
	case len(w.Light) > 0:
		return answer.OfRecording(sys.System, answer.OfTaps(w.Light, w.Taps, w.Length, sys.TimedReader())), nil
	case slices.ContainsFunc(w.Looks, func(f blink.Frame) bool { return f.Marks() > blink.MaxMarks }):
		return nil, misuse("tap one lamp, from one long dark to the next",
			"more than %d marks were tapped without a long dark", blink.MaxMarks)
	case len(w.Looks) > 0:
		told := blink.Signal{End: w.End}
		if w.End != blink.NoEnd {
			told.State = blink.Edge
		}
		return answer.NewReader(sys.System, w.Start, nil).OfTapped(w.Groupings, told), nil
	}
	return nil, misuse("tap . and _ along with the lamp, then Enter", "nothing was tapped")
}
