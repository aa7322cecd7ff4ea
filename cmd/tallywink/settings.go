package main

import (
	"github.com/spf13/pflag"

	"tallywink.example/channelplan/answer"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/settings"
)

var settingsCommand = command{
	name:    "settings",
	summary: "set your lineup, amplifiers, code sheet and name once",
	help: `  tallywink settings --lineup lineup.csv --amps amps.csv --name Ada
  tallywink settings                    what is set, and where
  tallywink settings --sheet none       take one out

From then on 'tallywink decode 7167 --amp OSR-03' is enough. Any flag that you
give counts instead; a lineup and an inventory belong together, so giving one of
them leaves out both. --no-settings leaves out all.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var set settings.Settings
		var asJSON bool
		flags.StringVar(&set.Lineup, "lineup", "", "your system's lineup, a CSV `FILE`, or demo, or none")
		flags.StringVar(&set.Amps, "amps", "", "your inventory of amplifiers, a CSV `FILE`, or demo, or none")
		flags.StringVar(&set.Sheet, "sheet", "", "your lamps' code, a code sheet `FILE`, or tally or curlew, or none")
		flags.StringVar(&set.Name, "name", "", "your `NAME`, for the field book and for training, or none")
		flags.BoolVar(&asJSON, "json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) > 0 {
				return 0, misuse("name files with flags, see --help",
					"settings takes flags only, and you gave %q", args[0])
			}
			path, err := settings.Path()
			if err != nil {
				return 0, err
			}
			now, err := settings.Load()
			changed := set != settings.Settings{}
			if err != nil { // a damaged file may hold more than what is set now
				return 0, err
			}
			if changed {
				if now, err = now.With(out, set); err == nil {
					err = now.Save(path)
				}
				if err != nil {
					return 0, err
				}
			}
			if asJSON {
				return exitWell, out.JSON(struct {
					Schema int    `json:"schema"`
					File   string `json:"file"`
					settings.Settings
				}{answer.Schema, path, now})
			}
			out.Print(now.Blocks(path), nil)
			return exitWell, nil
		}
	},
}
