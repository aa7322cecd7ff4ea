// Package face is the page's side of Tallywink: what the program does on the command
// line, for a page in a phone's browser. It does not depend on a browser: it is called by
// name with JSON, and answers with JSON. All reading, judging and wording is done by the
// packages that the command line uses.
package face

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/capture"
	"tallywink.example/blink/reading"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/trainer"
)

// Face is one page's state. It is not safe for use by several goroutines.
type Face struct {
	files map[string]File // by kind
	code  *blink.Code
	lines *lineup.Lineup
	plan  channelplan.Plan
	// amplifiers holds the first IDs of the inventory, because reading it takes a moment.
	amplifiers []string
	// Readers are made when first needed, because making one takes a moment.
	reader *answer.Reader
	unseen *answer.Reader // for marks that may begin at any group
	timed  *reading.TimedReader
	watch  *trainer.WatchReaders
	live   *capture.Live
	size   size // of the pictures that live takes
	// blue and red are the color differences of a picture.
	blue, red []uint8
	session   trainer.Session
	gate      trainer.Gate      // for the whole page, across sessions
	records   []json.RawMessage // noted since the last fetch
	// Now returns the current time.
	Now func() time.Time
}

// File is a file that was opened: its kind, its name and its text.
type File struct {
	Kind string `json:"kind"` // lineup, amps or sheet
	Name string `json:"name"` // demo for the built-in one
	Text string `json:"text,omitempty"`
}

// New makes a face without any files.
func New() *Face { return &Face{files: map[string]File{}, plan: channelplan.STD, Now: time.Now} }

// calls holds everything that a page can ask for.
var calls = map[string]func(f *Face, args []byte) (any, error){
	"open": typed((*Face).open), "system": typed((*Face).system), "decode": typed((*Face).decode),
	"check": typed((*Face).check),
	"near":  typed((*Face).near), "read": typed((*Face).read), "begin": typed((*Face).begin),
	"look":   typed((*Face).look),
	"states": typed((*Face).states), "start": typed((*Face).start), "key": typed((*Face).key),
	"view": typed((*Face).view), "records": typed((*Face).fetch),
	"expected": typed((*Face).expected), "encode": typed((*Face).encode), "standing": typed((*Face).standing),
}

// typed wraps a call so that its arguments are read into their type.
func typed[A, R any](call func(*Face, A) (R, error)) func(*Face, []byte) (any, error) {
	return func(f *Face, args []byte) (any, error) {
		var a A
		if err := json.Unmarshal(args, &a); err != nil {
			return nil, fmt.Errorf("the page's own call can't be read: %w", err)
		}
		return call(f, a)
	}
}

// failure says what is wrong with a request, in words for a person.
type failure struct {
	Error string `json:"error"`
	Hint  string `json:"hint,omitempty"`
}

// Call does what a page asks for by name, and returns the answer as JSON. If it can't be
// done, the answer has 'error' and 'hint'; Call never panics on anything that a page can
// send.
func (f *Face) Call(name string, args []byte) []byte {
	call, known := calls[name]
	if !known {
		return encoded(failure{Error: "there is no call " + name})
	}
	result, err := call(f, args)
	if err != nil {
		if e := (*fault.Error)(nil); errors.As(err, &e) {
			return encoded(failure{e.Fault(), hintOf(e)})
		}
		return encoded(failure{Error: err.Error()})
	}
	return encoded(result)
}

func encoded(v any) []byte {
	data, err := json.Marshal(v)
	if err != nil {
		panic(err) // documents of our own types can always be encoded
	}
	return data
}

// Push takes a picture from a camera: the time it was taken, in milliseconds from any
// starting point, and its pixels as red, green, blue and opacity, in the size that was
// given to begin.
func (f *Face) Push(ms float64, rgba []byte) {
	if f.live == nil {
		return
	}
	f.live.Add(time.Duration(ms*float64(time.Millisecond)), f.pictureOf(rgba))
}

// pictureOf converts pixels to brightness and color differences, by the matrix of ITU-R
// BT.601 in 256ths, at full range: 0.299 red, 0.587 green, 0.114 blue, and 0.5 / 0.886 of
// what blue, 0.5 / 0.701 of what red exceeds that. The brightness takes the place of rgba.
func (f *Face) pictureOf(rgba []byte) capture.Picture {
	width, height := f.size.Width, f.size.Height
	f.blue, f.red = f.blue[:0], f.red[:0]
	for y := 0; y < height && 4*width*height <= len(rgba); y += 2 {
		for x := 0; x < width; x += 2 {
			var r, g, b, n int
			for _, i := range [4]int{y*width + x, y*width + min(x+1, width-1), min(y+1, height-1)*width + x,
				min(y+1, height-1)*width + min(x+1, width-1)} {
				r, g, b, n = r+int(rgba[4*i]), g+int(rgba[4*i+1]), b+int(rgba[4*i+2]), n+256
			}
			f.blue = append(f.blue, uint8(min(max(128+(-43*r-85*g+128*b)/n, 0), 255)))
			f.red = append(f.red, uint8(min(max(128+(128*r-107*g-21*b)/n, 0), 255)))
		}
	}
	gray := rgba[:len(rgba)/4]
	for i := range gray {
		gray[i] = uint8((77*uint32(rgba[4*i]) + 150*uint32(rgba[4*i+1]) + 29*uint32(rgba[4*i+2])) >> 8)
	}
	return capture.Picture{Luma: gray, BlueDifference: f.blue, RedDifference: f.red}
}

type nothing struct{}

// opened is the result of opening a file.
type opened struct {
	Name     string   `json:"name"`
	Says     string   `json:"says"`
	Problems []string `json:"problems,omitempty"`
}

// mostProblems is how many problems of a file are shown.
const mostProblems = 20

// open replaces the file of the same kind; without a name it just removes that file. If
// the new file can't be used, the previous one stays.
func (f *Face) open(file File) (opened, error) {
	before := f.files[file.Kind]
	if file.Name == "" {
		delete(f.files, file.Kind)
	} else {
		f.files[file.Kind] = file
	}
	o, err := f.load(file)
	if err != nil {
		f.files[file.Kind] = before
		if before.Name == "" {
			delete(f.files, file.Kind)
		}
		return o, err
	}
	f.reader, f.unseen, f.timed, f.watch = nil, nil, nil, nil
	return o, nil
}

func (f *Face) load(file File) (opened, error) {
	o := opened{Name: file.Name, Says: "None is open."}
	switch file.Kind {
	case "lineup":
		return o, f.loadLineup(file, &o)
	case "sheet":
		code := sheet.Tally()
		if file.Name != "" {
			var problems []fault.Error
			if code, problems = sheet.Parse([]byte(file.Text)); len(problems) > 0 {
				problems[0].File = file.Name
				return o, &problems[0]
			}
			o.Says = fmt.Sprintf("The code %s.", code.Name)
		}
		f.code = code
	case "amps":
		if file.Name == "" {
			f.amplifiers = nil
			return o, nil
		}
		p, err := plant.Read(f.inventory(), file.Name)
		if err != nil {
			return o, err
		}
		o.Says = fmt.Sprintf("%d amplifiers.", len(p.Amplifiers))
		o.Problems = problemsOf(file.Name, p.Problems)
		f.amplifiers = nil
		for _, a := range p.Amplifiers[:min(len(p.Amplifiers), mostAmplifiers)] {
			f.amplifiers = append(f.amplifiers, a.ID)
		}
	default:
		return o, fmt.Errorf("there are no files of the kind %q", file.Kind)
	}
	return o, nil
}

func (f *Face) loadLineup(file File, o *opened) error {
	if file.Name == "" {
		f.lines, f.plan = nil, channelplan.STD
		return nil
	}
	var l *lineup.Lineup
	var err error
	if file.Name == demo.Name && file.Text == "" {
		l, err = demo.Lineup()
	} else {
		l, err = lineup.Read(strings.NewReader(file.Text), file.Name)
	}
	if err == nil && l.Unfit != nil {
		err = l.Unfit
	}
	if err != nil {
		return err
	}
	f.lines, f.plan = l, l.Plan
	o.Says = fmt.Sprintf("%s: %d carriers, %s plan.", answer.LineupName(l), len(l.Carriers), l.Plan.Name())
	o.Problems = problemsOf(file.Name, l.Problems)
	return nil
}

// problemsOf says where and what is wrong with a file, for its first problems.
func problemsOf(file string, all []fault.Error) []string {
	var says []string
	for _, p := range all[:min(len(all), mostProblems)] {
		says = append(says, fault.In(file, &p, "").Error())
	}
	return says
}

// inventory returns a reader of the inventory that is open.
func (f *Face) inventory() io.Reader {
	file := f.files["amps"]
	if file.Name == demo.Name && file.Text == "" {
		return demo.Inventory()
	}
	return strings.NewReader(file.Text)
}

// lamp returns the code that lamps use.
func (f *Face) lamp() *blink.Code {
	if f.code == nil {
		return sheet.Tally()
	}
	return f.code
}

// at returns what is known of the system at an amplifier; "" means no amplifier.
func (f *Face) at(amp string) (answer.System, error) {
	s := answer.System{Code: f.lamp(), Plan: f.plan, Lineup: f.lines, Today: f.today()}
	amp = strings.TrimSpace(amp)
	if amp == "" {
		return s, nil
	}
	file, open := f.files["amps"]
	if !open {
		return s, &fault.Error{Text: fmt.Sprintf("there is no list of amplifiers to find %s in", amp),
			Hint: "open the inventory under Files, or leave the amplifier out"}
	}
	a, inv, err := plant.Find(f.inventory(), file.Name, amp)
	if err != nil {
		return s, err
	}
	if inv.HasPlan && s.Lineup != nil && inv.Plan != s.Plan {
		return s, &fault.Error{Text: fmt.Sprintf("%s is an inventory for the %s plan, but the lineup is for %s",
			file.Name, inv.Plan.Name(), s.Plan.Name()), Hint: "open the lineup that goes with it"}
	}
	if inv.HasPlan {
		s.Plan = inv.Plan
	}
	s.Amplifier = &a.Amplifier
	return s, nil
}

// today returns the day to judge as of: for the demo, the demo's own day.
func (f *Face) today() time.Time {
	if f.files["lineup"].Name == demo.Name {
		return demo.Day()
	}
	now := f.Now()
	return time.Date(now.Year(), now.Month(), now.Day(), 0, 0, 0, 0, time.UTC)
}

// known lists what is open.
type known struct {
	Files      []File   `json:"files"` // without their text
	Lineup     string   `json:"lineup"`
	Code       string   `json:"code"`
	Amplifiers []string `json:"amplifiers"` // suggestions for the field in which one is typed
}

// mostAmplifiers is how many amplifiers a page suggests while one is typed.
const mostAmplifiers = 2000

func (f *Face) system(nothing) (known, error) {
	k := known{Files: []File{}, Code: f.lamp().Name, Amplifiers: append([]string{}, f.amplifiers...)}
	for _, kind := range []string{"lineup", "amps", "sheet"} {
		if file, ok := f.files[kind]; ok {
			k.Files = append(k.Files, File{Kind: kind, Name: file.Name})
		}
	}
	if f.lines != nil {
		k.Lineup = answer.LineupName(f.lines)
	}
	return k, nil
}

// acts says how to do on the page what a hint or a step asks for: it ends the sentence.
var acts = map[fault.Act]string{
	fault.BuiltIn:      ", or open the demo under Files",
	fault.BuiltInSheet: ", or leave the Tally code",
	fault.ManyLamps:    "; press New for the next",
	fault.ShowProblems: "; see the Files page for what is wrong",
	fault.PartLooks:    ": type // between them",
	fault.BeginAtHead:  ", with 'Long dark not seen' off",
	fault.PickLamp:     ": tap it in the picture",
	fault.TellState:    ": pick it below",
	fault.GiveColor:    ": pick the state below",
	fault.GiveLineup:   " (open it under Files)",
	fault.ShowSetting:  " See 'Set a pilot' below",
}

func hintOf(e *fault.Error) string { return e.HintAnd(acts[e.Act]) }

func stepOf(s answer.Step) string { return s.With(acts[s.Act]) }
