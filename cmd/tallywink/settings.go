package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/spf13/pflag"

	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// settings is what commands use if nobody says otherwise, so that at a pole only the
// amplifier and the digits have to be typed.
type settings struct {
	Lineup string `toml:"lineup,omitempty" json:"lineup"`
	Amps   string `toml:"amps,omitempty" json:"amps"`
	Sheet  string `toml:"sheet,omitempty" json:"sheet"`
	Name   string `toml:"name,omitempty" json:"name"`
}

// settingsName is the name of the settings file, in the user's configuration folder.
const settingsName = "settings.toml"

func settingsPath() (string, error) {
	folder, err := os.UserConfigDir()
	if err != nil {
		return "", &fault.Error{File: settingsName, Text: "there is no folder for it: " + err.Error(),
			Hint: "set XDG_CONFIG_HOME, or give every flag"}
	}
	return filepath.Join(folder, "tallywink", settingsName), nil
}

// loadSettings reads the settings file; without one, nothing is set.
func loadSettings() (settings, error) {
	var s settings
	path, err := settingsPath()
	if err != nil {
		return s, nil // nothing can be set here
	}
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return s, nil
	}
	if err != nil {
		return s, &fault.Error{File: path, Text: "the settings can't be read: " + err.Error(),
			Hint: "check the file, or use --no-settings"}
	}
	defer f.Close()
	d := toml.NewDecoder(f)
	d.DisallowUnknownFields()
	err = d.Decode(&s)
	const hint = "correct the line, or use --no-settings; to begin anew, delete the file"
	var strict *toml.StrictMissingError
	var decode *toml.DecodeError
	switch {
	case errors.As(err, &strict) && len(strict.Errors) > 0:
		line, column := strict.Errors[0].Position()
		return s, &fault.Error{File: path, Line: line, Column: column,
			Text: fmt.Sprintf("there is no setting %q", strings.Join(strict.Errors[0].Key(), ".")), Hint: hint}
	case errors.As(err, &decode):
		line, column := decode.Position()
		return s, &fault.Error{File: path, Line: line, Column: column,
			Text: strings.TrimPrefix(decode.Error(), "toml: "), Hint: hint}
	case err != nil:
		return s, &fault.Error{File: path, Text: "the settings can't be read: " + err.Error(), Hint: hint}
	}
	return s, nil
}

// usesSettings says, for each command that uses settings, for which flags.
var usesSettings = map[string][]string{
	"decode": {"lineup", "amps", "sheet", "by"}, "watch": {"lineup", "amps", "sheet", "by"},
	"check": {"lineup", "amps"}, "amp": {"lineup", "amps", "sheet", "by"},
	"rank": {"lineup", "amps"}, "audit": {"lineup", "amps"}, "encode": {"sheet", "amps", "lineup"},
	"card":  {"lineup", "amps", "sheet"},
	"train": {"lineup", "sheet", "trainee"},
}

// The page is not among them: it would put the plant where anybody who opens it can read
// it, and nobody had asked for that.

func isDemoName(name string) bool { return slices.Contains(demo.Lineups(), name) }

// apply sets flags that nobody gave. A lineup and an inventory belong together: neither
// is set if one of them, or an older lineup, was given. An inventory is set only where an
// amplifier or a node is named or all of them are meant. It returns the values that it
// set.
func (s settings) apply(command string, flags *pflag.FlagSet, args []string) (used []string, err error) {
	given := func(name string) bool { f := flags.Lookup(name); return f != nil && f.Changed }
	takesFile := command == "rank" || command == "audit" || command == "card"
	own := !given("lineup") && !given("amps") && !given("before") && !(takesFile && len(args) > 0)
	isDemo := slices.ContainsFunc(args, isDemoName)
	for _, name := range []string{"lineup", "amps", "before"} {
		isDemo = isDemo || given(name) && isDemoName(flags.Lookup(name).Value.String())
	}
	hasAmp := flags.Lookup("amp") != nil && command != "amp"
	for _, name := range usesSettings[command] {
		value := map[string]string{"lineup": s.Lineup, "amps": s.Amps, "sheet": s.Sheet, "by": s.Name,
			"trainee": s.Name}[name]
		switch {
		case value == "" || given(name):
			continue
		case (name == "lineup" || name == "amps") && !own:
			continue
		case (name == "amps" || name == "by") && hasAmp && !given("amp") && !given("node"):
			continue
		case name == "by" && (given("no-book") || given("each") || given("trainee")):
			continue
		case name == "sheet" && isDemo: // its lamps speak Tally
			continue
		case name == "lineup" && command == "encode" && !given("amp"): // it only judges an amplifier's pilot
			continue
		case name == "amps" && given("pilot"): // a card for named pilots
			continue
		case name == "lineup" && given("qualify"): // the same readings for everyone with a seed
			continue
		}
		// Set does not mark it as given: a command may ask whether it was.
		if f := flags.Lookup(name); f != nil {
			if err := f.Value.Set(value); err != nil {
				return used, err
			}
			used = append(used, value)
		}
	}
	return used, nil
}

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
		var set settings
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
			path, err := settingsPath()
			if err != nil {
				return 0, err
			}
			now, err := loadSettings()
			changed := set != settings{}
			if err != nil { // a damaged file may hold more than what is set now
				return 0, err
			}
			if changed {
				if now, err = now.with(out, set); err == nil {
					err = now.save(path)
				}
				if err != nil {
					return 0, err
				}
			}
			if asJSON {
				return exitWell, out.JSON(struct {
					Schema int    `json:"schema"`
					File   string `json:"file"`
					settings
				}{answer.Schema, path, now})
			}
			out.Print(now.blocks(path), nil)
			return exitWell, nil
		}
	},
}

// with returns the settings with those that were given, each checked. Files are kept with
// their whole path, since commands run in other folders.
func (s settings) with(out *console.Console, given settings) (settings, error) {
	const none = "none"
	for _, v := range []struct {
		given string
		into  *string
		check func(path string) error
		// builtIn are the names that are no files.
		builtIn []string
	}{
		{given.Lineup, &s.Lineup, func(path string) error { _, err := loadFit(out, path); return err },
			demo.Lineups()},
		{given.Amps, &s.Amps, func(path string) error {
			in, err := openAmps(out, path)
			if err != nil {
				return err
			}
			defer in.Close()
			_, err = plant.Begin(in, path)
			return err
		}, demo.Inventories()},
		{given.Sheet, &s.Sheet, func(path string) error { _, err := loadSheet(path); return err },
			[]string{sheet.TallyName, sheet.CurlewName}},
		{given.Name, &s.Name, nil, nil},
	} {
		switch {
		case v.given == "":
		case v.given == none:
			*v.into = ""
		case v.given == "-":
			return s, misuse("name a file", "a setting must be a file, but - is standard input")
		case v.check == nil:
			*v.into = v.given
		default:
			if err := v.check(v.given); err != nil {
				return s, err
			}
			*v.into = v.given
			if !slices.Contains(v.builtIn, v.given) {
				whole, err := filepath.Abs(v.given)
				if err != nil {
					return s, err
				}
				*v.into = whole
			}
		}
	}
	return s, nil
}

// save writes the settings file, in a folder that its owner alone can read.
func (s settings) save(path string) error {
	text, err := toml.Marshal(s)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return &fault.Error{File: path, Text: "the settings can't be written: " + err.Error(), Hint: "check the folder"}
	}
	return console.File{Path: path, Data: text}.Write()
}

func (s settings) blocks(path string) []console.Block {
	var blocks []console.Block
	for _, v := range []struct{ label, value string }{{"Lineup", s.Lineup}, {"Amps", s.Amps}, {"Sheet", s.Sheet},
		{"Name", s.Name}} {
		blocks = append(blocks, console.Section(v.label,
			console.Shown(wording.Either(v.value == "", "not set", v.value))))
	}
	return append(blocks, console.Section("File", console.Shown(path)))
}
