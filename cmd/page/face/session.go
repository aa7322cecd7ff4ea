package face

import (
	"fmt"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/trainer"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// rhythm is a state that is picked by how its light looks.
type rhythm struct {
	State   string       `json:"state"`
	EdgeEnd string       `json:"edge_end,omitempty"`
	Name    string       `json:"name"`
	Look    string       `json:"look"`
	Means   string       `json:"means"`
	Light   [][2]float64 `json:"light"` // one period: 1 for lit or 0 for dark, and its share of the period
}

// states returns the states that the code has a signal for, with their rhythms drawn.
func (f *Face) states(nothing) ([]rhythm, error) {
	var all []rhythm
	code := f.lamp()
	for _, signal := range code.States() {
		s, end := signal.State, signal.End
		own := code.HasRhythm(signal)
		if s == blink.Locked && !own {
			continue
		}
		r := rhythm{State: s.String(), EdgeEnd: end.String(), Name: s.NameAt(end), Look: code.Look(s, end),
			Means: s.MeaningAt(end)}
		if !own {
			for p := range code.Pilots {
				signal.Pilot = p
				break
			}
		}
		if light, period, err := code.Signal(signal, code.Timing.Unit); err == nil {
			for _, iv := range light {
				lit, share := 0.0, 1.0
				if iv.Lit {
					lit = 1
				}
				if period > 0 {
					share = float64(iv.Duration) / float64(period)
				}
				r.Light = append(r.Light, [2]float64{lit, share})
			}
		}
		all = append(all, r)
	}
	return all, nil
}

// encoding is a signal to show.
type encoding struct {
	Channel string `json:"channel"`
	Carrier string `json:"carrier"`
	State   string `json:"state"`
	EdgeEnd string `json:"edge_end"`
}

// sent is a signal in words and marks.
type sent struct {
	Says  string `json:"says"`
	Marks string `json:"marks,omitempty"`
}

func (f *Face) signal(e encoding) (blink.Signal, error) {
	var s blink.Signal
	var err error
	if s.State, s.End, err = blink.ParseStateAt(e.State, e.EdgeEnd); err != nil {
		return s, err
	}
	if e.State == "" {
		s.State = blink.Locked
	}
	if !s.State.ShowsFrame() || len(f.lamp().Groups) == 0 {
		return s, nil
	}
	if s.Pilot.Kind, err = channelplan.ParsePilotKind(e.Carrier); err != nil {
		return s, err
	}
	s.Pilot.Channel, err = channelplan.ParseChannel(e.Channel)
	return s, err
}

// shownUnit returns the unit at which a code's light may be shown; 0 means never.
func shownUnit(code *blink.Code) time.Duration {
	from := code.ShownFrom()
	if from == 0 {
		return 0
	}
	return max(code.Timing.Unit, from)
}

func (f *Face) encode(e encoding) (sent, error) {
	s, err := f.signal(e)
	if err != nil {
		return sent{}, err
	}
	if _, _, err := f.lamp().Signal(s, f.lamp().Timing.Unit); err != nil {
		return sent{}, err // the code does not have this signal
	}
	out := sent{Says: answer.StateText(s.State, s.End)}
	if s.ShowsFrame() {
		frame, err := f.lamp().Encode(s.Pilot)
		if err != nil {
			return sent{}, err
		}
		out.Says, out.Marks = fmt.Sprintf("%v. %s", s.Pilot, out.Says), frame.String()
	}
	return out, nil
}

// starting begins a session: train, qualify, watch or show.
type starting struct {
	Kind    string   `json:"kind"`
	Trainee string   `json:"trainee"`
	Book    string   `json:"book"`  // earlier attempts, as JSON lines
	Still   bool     `json:"still"` // the person does not want anything to flash
	Now     float64  `json:"now"`   // in milliseconds since 1970
	Signal  encoding `json:"signal"`
	Seed    string   `json:"seed"` // of a qualification run, from the supervisor
}

func atMillis(ms float64) time.Time { return time.UnixMicro(int64(1000 * ms)) }

func (f *Face) start(s starting) (nothing, error) {
	now := atMillis(s.Now)
	switch s.Kind {
	case "watch":
		if f.watch == nil {
			readers := trainer.NewWatchReaders(f.lamp(), answer.System{Plan: f.plan}.Prior())
			f.watch = &readers
		}
		f.session = trainer.NewWatching(*f.watch)
	case "show":
		signal, err := f.signal(s.Signal)
		if err != nil {
			return nothing{}, err
		}
		unit := shownUnit(f.lamp())
		if unit == 0 {
			return nothing{}, &fault.Error{Text: "this code flashes too fast to show", Hint: "read its marks instead"}
		}
		light, _, err := f.lamp().Signal(signal, unit)
		if err != nil {
			return nothing{}, err
		}
		if f.session, err = trainer.NewShowing(answer.SignalText(signal), light, now); err != nil {
			return nothing{}, err
		}
	case "train", "qualify":
		l := f.lines
		if l == nil {
			var err error
			if l, err = demo.Lineup(); err != nil {
				return nothing{}, err
			}
		}
		attempts, err := progress.Read(strings.NewReader(s.Book), "the book", now)
		if err != nil {
			return nothing{}, err
		}
		o := trainer.TrainOptions{Trainee: s.Trainee, Scrolls: true, Still: s.Still,
			Material: lesson.Material{Code: f.lamp(), Lineup: l, Today: f.today(),
				Random: rand.New(rand.NewPCG(uint64(now.UnixNano()), 1))},
			Attempts: attempts.In(f.lamp()).Of(s.Trainee),
			Record: func(a progress.Attempt) error {
				f.note(a)
				return nil
			}}
		if s.Kind == "qualify" {
			seed, err := strconv.ParseUint(strings.TrimSpace(s.Seed), 10, 64)
			if err != nil {
				return nothing{}, &fault.Error{Text: "a qualification run needs a seed, a number",
					Hint: "ask your supervisor for it: everyone gets the same readings with it"}
			}
			o.Exam = &seed
			names, of := attempts.In(f.lamp()).ByTrainee()
			for i, own := range of {
				if !progress.SameName(names[i], s.Trainee) {
					o.Known += progress.TimesTaken(own, trainer.RunName(seed))
				}
			}
		}
		f.session = trainer.NewTraining(o, now)
	default:
		return nothing{}, fmt.Errorf("there are no sessions of the kind %q", s.Kind)
	}
	return nothing{}, nil
}

// pressing is a key that was pressed in a session.
type pressing struct {
	Key string  `json:"key"` // a letter, or Enter, Escape, Backspace, Break
	At  float64 `json:"at"`
}

var named = map[string]rune{"Enter": trainer.KeyEnter, "Escape": trainer.KeyEscape, "Backspace": trainer.KeyBackspace,
	"Break": trainer.KeyBreak}

func (f *Face) key(p pressing) (nothing, error) {
	if f.session == nil || f.session.Over() {
		return nothing{}, nil
	}
	if key, ok := named[p.Key]; ok {
		f.session.Key(key, atMillis(p.At))
	} else if r := []rune(p.Key); len(r) == 1 {
		f.session.Key(r[0], atMillis(p.At))
	}
	return nothing{}, nil
}

// viewing requests what a session shows.
type viewing struct {
	Now     float64 `json:"now"`
	Columns int     `json:"columns"`
	Amp     string  `json:"amp"`
	Who     string  `json:"who"`
}

// view is what a session shows.
type view struct {
	Rows   []shownRow `json:"rows"`
	Lamp   *shownLamp `json:"lamp"`
	WakeMS float64    `json:"wake"` // milliseconds from now until the next view
	Over   bool       `json:"over"`
	// Letters are the keys that do something now; null if all do.
	Letters *string `json:"letters"`
	Result  *told   `json:"result"` // for a watch that ended with an answer
}

type shownRow struct {
	Text  string `json:"text"`
	Style string `json:"style"` // plain, strong or marked
}

type shownLamp struct {
	Lit    bool `json:"lit"`
	Small  bool `json:"small"`
	Dim    bool `json:"dim"`
	Glare  bool `json:"glare"`
	Second bool `json:"second"`
}

// rowsOfPage is how many rows a page has; the page scrolls.
const rowsOfPage = 100

func (f *Face) view(v viewing) (view, error) {
	if f.session == nil {
		return view{Over: true, Rows: []shownRow{}}, nil
	}
	now := atMillis(v.Now)
	if work := f.session.Work(now); work != nil {
		work()()
	}
	columns := max(v.Columns, 20)
	seen := f.gate.Pass(f.session.View(now, columns, rowsOfPage), columns, rowsOfPage, now)
	f.session.Drawn(now)
	out := view{Rows: []shownRow{}, WakeMS: float64(seen.Wake.Sub(now).Microseconds()) / 1000, Over: f.session.Over()}
	rows := seen.Rows
	if training, ok := f.session.(*trainer.Training); ok {
		for len(rows) > 0 && rows[len(rows)-1].Style == trainer.Marked {
			rows = rows[:len(rows)-1] // the list of keys: the page has buttons instead
		}
		letters := training.Letters()
		out.Letters = &letters
	}
	for _, r := range rows {
		out.Rows = append(out.Rows, shownRow{trainer.Fit(r.Text, rowsOfPage*10),
			[...]string{"plain", "strong", "marked"}[r.Style]})
	}
	if l := seen.Lamp; l != nil {
		out.Lamp = &shownLamp{l.Lit, l.Look.Small, l.Look.Dim, l.Look.Glare, l.Look.Second}
	}
	if w, ok := f.session.(*trainer.Watching); ok && out.Over {
		result, err := f.tapped(w.Watched(), v)
		if err != nil {
			return out, err
		}
		out.Result = result
	}
	if out.Over {
		f.session = nil
	}
	return out, nil
}

// tapped answers taps made along with a lamp.
func (f *Face) tapped(w trainer.Watched, v viewing) (*told, error) {
	if w.Left {
		return nil, nil
	}
	sys, err := f.at(v.Amp)
	if err != nil {
		return nil, err
	}
	var a *answer.Answer
	switch {
	case len(w.Light) > 0:
		a = answer.OfRecording(sys, answer.OfTaps(w.Light, w.Taps, w.Length, f.timedReader()))
	case len(w.Looks) > 0:
		signal := blink.Signal{End: w.End}
		if w.End != blink.NoEnd {
			signal.State = blink.Edge
		}
		a = answer.NewReader(sys, w.Start, nil).OfTapped(w.Groupings, signal)
	default:
		return nil, &fault.Error{Text: "nothing was tapped", Hint: "tap along with the lamp, then press Done"}
	}
	f.noteReading(a, v.Who)
	t := tell(a)
	return &t, nil
}

// reporting asks how well a trainee is doing.
type reporting struct {
	Trainee string  `json:"trainee"`
	Book    string  `json:"book"`
	Now     float64 `json:"now"`
}

// report says how well a trainee is doing.
type report struct {
	Lines []string `json:"lines"`
}

func (f *Face) standing(r reporting) (report, error) {
	now := atMillis(r.Now)
	attempts, err := progress.Read(strings.NewReader(r.Book), "the book", now)
	if err != nil {
		return report{}, err
	}
	own := attempts.In(f.lamp()).Of(r.Trainee)
	if len(own) == 0 {
		return report{[]string{"No answers yet."}}, nil
	}
	right := 0
	for _, a := range own {
		if a.Right {
			right++
		}
	}
	return report{[]string{fmt.Sprintf("%d answers, %.0f%% right.", len(own), 100*float64(right)/float64(len(own))),
		trainer.DueText(own, f.lamp(), now)}}, nil
}
