// Package settings is what commands use if nobody says otherwise: the lineup, the inventory,
// the code sheet and the name that a user sets once. [Load] reads them, and [Settings.Apply]
// puts them in place of flags that were not given.
package settings

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
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
)

// Settings is what commands use if nobody says otherwise, so that at a pole only the
// amplifier and the digits have to be typed.
type Settings struct {
	Lineup string `toml:"lineup,omitempty" json:"lineup"`
	Amps   string `toml:"amps,omitempty" json:"amps"`
	Sheet  string `toml:"sheet,omitempty" json:"sheet"`
	Name   string `toml:"name,omitempty" json:"name"`
}

// fileName is the name of the settings file, in the user's configuration folder.
const fileName = "settings.toml"

func Path() (string, error) {
	folder, err := os.UserConfigDir()
	if err != nil {
		return "", &fault.Error{File: fileName, Text: "there is no folder for it: " + err.Error(),
			Hint: "set XDG_CONFIG_HOME, or give every flag"}
	}
	return filepath.Join(folder, "tallywink", fileName), nil
}

// Load reads the settings file; without one, nothing is set.
func Load() (Settings, error) {
	var s Settings
	path, err := Path()
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

// uses says, for each command that uses settings, for which flags.
var uses = map[string][]string{
	"decode": {"lineup", "amps", "sheet", "by"}, "watch": {"lineup", "amps", "sheet", "by"},
	"check": {"lineup", "amps"}, "amp": {"lineup", "amps", "sheet", "by"},
	"rank": {"lineup", "amps"}, "audit": {"lineup", "amps"}, "encode": {"sheet", "amps", "lineup"},
	"card":  {"lineup", "amps", "sheet"},
	"train": {"lineup", "sheet", "trainee"},
}

// Used reports whether a command uses settings.
func Used(command string) bool { return uses[command] != nil }

// The page is not among them: it would put the plant where anybody who opens it can read
// it, and nobody had asked for that.

func isDemoName(name string) bool { return slices.Contains(demo.Lineups(), name) }

// Apply sets flags that nobody gave. A lineup and an inventory belong together: neither
// is set if one of them, or an older lineup, was given. An inventory is set only where an
// amplifier or a node is named or all of them are meant. It returns the values that it
// set.
func (s Settings) Apply(command string, flags *pflag.FlagSet, args []string) (used []string, err error) {
	given := func(name string) bool { f := flags.Lookup(name); return f != nil && f.Changed }
	takesFile := command == "rank" || command == "audit" || command == "card"
	own := !given("lineup") && !given("amps") && !given("before") && !(takesFile && len(args) > 0)
	isDemo := slices.ContainsFunc(args, isDemoName)
	for _, name := range []string{"lineup", "amps", "before"} {
		isDemo = isDemo || given(name) && isDemoName(flags.Lookup(name).Value.String())
	}
	hasAmp := flags.Lookup("amp") != nil && command != "amp"
	for _, name := range uses[command] {
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

// With returns the settings with those that were given, each checked. Files are kept with
// their whole path, since commands run in other folders.
func (s Settings) With(out *console.Console, given Settings) (Settings, error) {
	const none = "none"
	for _, v := range []struct {
		given string
		into  *string
		check func(path string) error
		// builtIn are the names that are no files.
		builtIn []string
	}{
		{given.Lineup, &s.Lineup, func(path string) error { _, err := input.LoadLineup(out, path); return err },
			demo.Lineups()},
		{given.Amps, &s.Amps, func(path string) error {
			in, err := input.OpenAmps(out, path)
			if err != nil {
				return err
			}
			defer in.Close()
			_, err = plant.Begin(in, path)
			return err
		}, demo.Inventories()},
		{given.Sheet, &s.Sheet, func(path string) error { _, err := input.LoadSheet(path); return err },
			[]string{sheet.TallyName, sheet.CurlewName}},
		{given.Name, &s.Name, nil, nil},
	} {
		switch {
		case v.given == "":
		case v.given == none:
			*v.into = ""
		case v.given == "-":
			return s, input.Misuse("name a file", "a setting must be a file, but - is standard input")
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

// Save writes the settings file, in a folder that its owner alone can read.
func (s Settings) Save(path string) error {
	text, err := toml.Marshal(s)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return &fault.Error{File: path, Text: "the settings can't be written: " + err.Error(), Hint: "check the folder"}
	}
	return console.File{Path: path, Data: text}.Write()
}

func (s Settings) Blocks(path string) []console.Block {
	var blocks []console.Block
	for _, v := range []struct{ label, value string }{{"Lineup", s.Lineup}, {"Amps", s.Amps}, {"Sheet", s.Sheet},
		{"Name", s.Name}} {
		blocks = append(blocks, console.Section(v.label,
			console.Shown(wording.Either(v.value == "", "not set", v.value))))
	}
	return append(blocks, console.Section("File", console.Shown(path)))
}
