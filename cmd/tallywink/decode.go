package main

import (
	"os"
	"path"
	"slices"
	"strings"

	"github.com/spf13/pflag"
	"golang.org/x/term"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/trainer/progress"
)

var decodeCommand = command{
	name:    "decode",
	summary: "read a lamp: pilot, state, verdict, next step",
	help: `  tallywink decode _.. . _. _..                   one look, groups spaced
  tallywink decode _.. . _. _.. // _.. . _. _...  two looks at the same lamp
  tallywink decode _.. . x. _.. --lineup demo     a mark not sure; judge it
  tallywink decode --digits 7167                  digits read by eye
  tallywink decode --state holding --lineup demo --amps demo --amp OSR-03
  tallywink decode --each readings.txt            many lamps, one per line
  tallywink decode --trace lamp.csv               a recording of brightness
  tallywink decode --clip lamp.mp4                a video of it
  tallywink decode _.. . _. _.. --amps amps.csv --amp OSR-03 --by Ada

Write . for a short pulse and _ for a long one; a space or / between groups, //
or a new line between looks at the same lamp; x or ? for a mark that was not
sure, and * alone for a group that was not read. - and dashes count as _,
bullets as . and an ellipsis as three. A lone - reads standard input. Shells
replace ? and * by file names: quote the marks, or write x. Begin after the long
dark, or say --no-start.

With --amp the reading is noted in the field book, on this machine only, and
it says where; 'tallywink audit --book' sets it against the inventory. --no-book
notes nothing; readings at the demo's amplifiers are noted only with --book.
`,
	arrange: input.ArrangeMarks,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		d := &decoding{}
		flags.StringVar(&d.digits, "digits", "",
			"`DIGITS` read by eye, one per group, instead of marks; ? for a group not read")
		flags.StringVar(&d.state, "state", "", "the `STATE` that the rhythm showed, alone or with marks: "+input.StateList())
		flags.StringVar(&d.end, "edge-end", "",
			"the `END` of the range in state edge: low (one bar) or high (two bars)")
		flags.StringVar(&d.color, "color", "", "the `COLOR` of the light, if the lamp's code sheet names colors")
		flags.BoolVar(&d.noStart, "no-start", false, "you did not see the long dark: the marks may start at any group")
		flags.StringVar(&d.trace, "trace", "",
			"read a recording instead of marks: a `FILE` (or -) of seconds,brightness")
		flags.StringVar(&d.clip, "clip", "", "read a video: a `FILE` (or -), GIF, Y4M, or what ffmpeg reads")
		flags.StringVar(&d.at, "at", "",
			"of several lamps in a clip, the one nearest to `X,Y`, in pixels from the upper left")
		flags.StringVar(&d.trainee, "trainee", "",
			"weigh marks by how this `NAME` misreads them, from their book of attempts")
		flags.StringVar(&d.each, "each", "", "read a `FILE` (or -) of readings, one per line, and answer in JSON lines")
		d.System.Declare(flags)
		input.DeclareSheet(flags, &d.Sheet)
		d.SheetGiven = true
		d.noting.declare(flags,
			"the book, a `FILE`: with --amp where the reading is noted, with --trainee their attempts (default: in your own data folder)")
		flags.BoolVar(&d.Brief, "brief", false, "answer in one line, for the radio")
		flags.BoolVar(&d.json, "json", false, "answer as one JSON document")
		return d.run
	},
}

// decoding is the command with its flags.
type decoding struct {
	input.System
	noting
	digits, state, end, each string
	trace, clip, at, color   string
	trainee                  string
	noStart, json            bool
	piped                    bool // marks come from standard input, though nobody said so
}

func (d *decoding) run(out *console.Console, args []string) (int, error) {
	args = d.understand(out, args)
	told, err := d.told(args)
	if err != nil {
		return 0, err
	}
	if flag := d.recorded(); flag != "" && (len(args) > 0 || d.digits != "" || d.each != "" || d.state != "" ||
		d.end != "" || d.noStart) {
		return 0,
			misuse("give one or the other",
				"%s reads the lamp itself; it does not go with marks, digits, a state or --no-start", flag)
	}
	if d.trace != "" && d.clip != "" {
		return 0, misuse("give one or the other", "you gave both --trace and --clip")
	}
	if d.trainee != "" && d.recorded() != "" {
		return 0, misuse("leave it out", "--trainee is for marks that someone counted, and %s reads the lamp itself",
			d.recorded())
	}
	if d.book != "" && d.trainee == "" && d.Amp == "" {
		return 0, misuse("add --amp ID or --trainee NAME",
			"--book is for readings at an amplifier, or a trainee's attempts")
	}
	if d.Brief && (d.json || d.each != "") {
		return 0, misuse("leave it out", "--brief does not go with --json and --each")
	}
	if err := d.noting.check(d.Amp); err != nil {
		return 0, err
	}
	if d.each != "" && (d.by != "" || d.book != "" && d.trainee == "") {
		return 0, misuse("leave it out", "--each notes nothing, so it does not go with --by or --book")
	}
	if d.at != "" && d.clip == "" {
		return 0, misuse("leave it out", "--at is a place in a clip, but there is no --clip")
	}
	if d.each != "" && (len(args) > 0 || d.digits != "") {
		return 0, misuse("give one or the other", "--each takes its readings from %s, but you gave marks too", d.each)
	}
	sys, err := d.Load(out)
	if err != nil {
		return 0, err
	}
	if err := input.CheckState(sys.Lamp(), told); err != nil {
		return 0, err
	}
	if sys.Color, err = input.CheckColor(sys.Lamp(), d.color, told.State); err != nil {
		return 0, err
	}
	switch {
	case d.trace != "":
		return d.fromTrace(out, sys)
	case d.clip != "":
		return d.fromClip(out, sys)
	}
	observer, err := d.observer(out, sys.Lamp())
	if err != nil {
		return 0, err
	}
	start := reading.StartSeen
	if d.noStart {
		start = reading.StartUnseen
	}
	reader := answer.NewReader(sys.System, start, observer)
	if d.each != "" {
		return answerEach(out, reader, sys, d.each, told)
	}
	looks, err := d.looks(out, sys.Lamp(), args)
	if err != nil {
		return 0, err
	}
	return d.tellAndNote(out, reader.Of(looks, told), sys, d.Amps, d.json)
}

// The endings of the names of files that --clip and --trace read.
var (
	clipEndings  = []string{".gif", ".y4m", ".mp4", ".m4v", ".mov", ".webm", ".mkv", ".avi", ".3gp"}
	traceEndings = []string{".csv", ".tsv"}
)

// understand takes arguments that are clearly not marks for what they are: digits, a
// state, a clip or a trace by the ending of its name; and if there are none, what is
// piped in. It returns the arguments that are left.
func (d *decoding) understand(out *console.Console, args []string) []string {
	if d.recorded() == "" && d.each == "" {
		if args = d.stateAmong(args); len(args) == 0 && d.state != "" {
			return nil
		}
	}
	typed := strings.Join(args, "")
	ending := strings.ToLower(path.Ext(typed))
	switch {
	case d.recorded() != "" || d.each != "":
	case len(args) == 0 && d.digits == "" && d.state == "" && d.end == "":
		if in, ok := out.In.(*os.File); ok && !term.IsTerminal(int(in.Fd())) {
			d.piped = true
		}
	case input.IsDigits(typed):
		// '7 1 6 7' is a frame, one digit at a time, and so is '--digits 7 1 6 7'; '7167 7168'
		// are two looks.
		if single := !slices.ContainsFunc(args, func(a string) bool { return len(a) > 1 && a != "//" }); single &&
			len(d.digits) <= 1 {
			d.digits += typed
			return nil
		}
		if d.digits == "" {
			d.digits = strings.Join(slices.DeleteFunc(slices.Clone(args), func(a string) bool { return a == "//" }),
				"//")
			return nil
		}
	case len(args) == 1 && d.digits == "" && d.state == "" && slices.Contains(clipEndings, ending):
		d.clip = typed
		return nil
	case len(args) == 1 && d.digits == "" && d.state == "" && slices.Contains(traceEndings, ending):
		d.trace = typed
		return nil
	}
	return args
}

// stateAmong takes a state, and the end of the range that follows it, out of the arguments:
// 'decode holding', 'decode 7167 edge low'.
func (d *decoding) stateAmong(args []string) []string {
	if d.state != "" {
		return args
	}
	args = slices.Clone(args)
	i := slices.IndexFunc(args, func(a string) bool {
		s, err := blink.ParseState(a)
		return err == nil &&
			s != blink.NoState
	})
	if i < 0 {
		return args
	}
	d.state = args[i]
	args = slices.Delete(args, i, i+1)
	if strings.EqualFold(d.state, blink.Edge.String()) && d.end == "" && i < len(args) {
		if end, err := blink.ParseEdgeEnd(args[i]); err == nil && end != blink.NoEnd {
			d.end = args[i]
			args = slices.Delete(args, i, i+1)
		}
	}
	return args
}

func errNothingToRead() error {
	return misuse("type what the lamp showed, for instance: tallywink decode _.. . _. _..", "there is nothing to read")
}

// recorded returns the flag that gives a recording, if any.
func (d *decoding) recorded() string {
	switch {
	case d.trace != "":
		return "--trace"
	case d.clip != "":
		return "--clip"
	}
	return ""
}

// observer returns who counted the marks; nil if that is not given.
func (d *decoding) observer(out *console.Console, code *blink.Code) (*answer.Observer, error) {
	if d.trainee == "" {
		return nil, nil
	}
	attempts, err := input.ReadBooks([]string{d.book})
	if err != nil {
		return nil, err
	}
	input.RemarkBooks(out, attempts.Damaged, attempts.Clocks...)
	own := attempts.In(code).Of(d.trainee)
	if len(own) == 0 {
		return nil, misuse("the names in it are: "+input.NamesIn(attempts),
			"there is nothing from %s in the book of attempts", d.trainee)
	}
	return &answer.Observer{Name: d.trainee, Habits: progress.HabitsOf(own)}, nil
}

// told returns the signal that the state flags give, with the marks or instead of them.
func (d *decoding) told(args []string) (blink.Signal, error) {
	var s blink.Signal
	var err error
	if s.State, s.End, err = blink.ParseStateAt(d.state, d.end); err != nil {
		return s, err
	}
	if s.End != blink.NoEnd && s.State == blink.NoState {
		s.State = blink.Edge
	}
	if s.End != blink.NoEnd && s.State != blink.Edge {
		return s, misuse("leave it out, or say --state edge",
			"--edge-end goes with the state edge, not with %v", s.State)
	}
	if s.State == blink.NoState && len(args) == 0 && d.digits == "" && d.each == "" && d.recorded() == "" && !d.piped {
		return s, errNothingToRead()
	}
	if d.digits != "" && len(args) > 0 {
		return s, misuse("give one or the other", "you gave both marks and --digits")
	}
	return s, nil
}

func (d *decoding) looks(out *console.Console, code *blink.Code, args []string) ([]blink.Frame, error) {
	switch {
	case d.digits != "":
		looks, err := code.ParseDigits(d.digits)
		return looks, fault.In("digits", err, "")
	case len(args) > 0:
		return input.ReadMarks(out, args)
	case d.piped:
		text, err := input.ReadAll(out.In)
		if err == nil && strings.TrimSpace(text) == "" {
			err = errNothingToRead()
		}
		if err != nil {
			return nil, err
		}
		if bare := strings.Join(strings.Fields(text), ""); input.IsDigits(bare) {
			looks, err := code.ParseDigits(bare)
			return looks, fault.In("stdin", err, "")
		}
		return input.StdinMarks(text)
	}
	return nil, nil
}
