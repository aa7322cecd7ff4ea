package trainer

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/gdamore/tcell/v2"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
)

// Watched is what a person tapped along with a lamp: marks, or each change of
// the light.
type Watched struct {
	Looks []blink.Frame    // tapped as marks
	Start reading.Start    // whether the long dark before the first was seen
	End   blink.EdgeEnd    // by the bars in the long dark
	Light []blink.Interval // tapped as changes of the light
	// Length is how long it was, from the first tap to the last.
	Length time.Duration
	Taps   int
	// Left tells that the person left without an answer.
	Left bool
}

// WatchReaders read what is tapped.
type WatchReaders struct {
	code           *blink.Code
	whole, partial *reading.Reader
	// light returns the reader of changes. To make it takes a moment: it is
	// asked for only when it is needed, in a goroutine.
	light func() *reading.TimedReader
}

// cutShort is the chance, at each gap between groups, that the rest of a frame
// is still to be tapped.
const cutShort = 0.2

// NewWatchReaders makes readers of a code, with a prior as
// [reading.NewReader] takes it.
func NewWatchReaders(code *blink.Code, prior func(channelplan.Pilot) float64) WatchReaders {
	unfinished := reading.Assumed
	unfinished.CutShort = cutShort
	return WatchReaders{
		code:    code,
		whole:   reading.NewReader(code, reading.Assumed, prior),
		partial: reading.NewReader(code, unfinished, prior),
		light: sync.OnceValue(func() *reading.TimedReader {
			return reading.NewTimedReader(code, reading.AssumedDurations, prior)
		}),
	}
}

// Watch runs the screen until the person is done or the context ends. The
// screen is the caller's to initialize and to close.
//
// A terminal does not tell when a key is let go, so that light can't be
// followed by holding one down: a key is pressed at each change instead.
func Watch(ctx context.Context, s tcell.Screen, r WatchReaders) Watched {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	w := newWatch(r)
	in := events(ctx, s, time.Now)
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	weighed := make(chan weighing)
	busy := false
	for {
		if w.stale && !busy {
			busy, w.stale = true, false
			weigh, turn := w.weigher(time.Now()), w.turn
			go func() {
				found := weighing{turn, weigh()}
				select {
				case weighed <- found:
				case <-ctx.Done():
				}
			}()
		}
		width, height := s.Size()
		draw(s, w.rows(time.Now(), width, height))
		select {
		case e, ok := <-in:
			if !ok {
				return Watched{Left: true}
			}
			switch event := e.event.(type) {
			case *tcell.EventResize:
				s.Sync()
			case *tcell.EventKey:
				if over := w.key(event, e.at); over {
					return w.result(e.at)
				}
			}
		case found := <-weighed:
			busy = false
			if found.turn == w.turn && !w.stale {
				w.candidates = found.candidates
			}
		case <-tick.C:
			w.tick(time.Now())
		case <-ctx.Done():
			return Watched{Left: true}
		}
	}
}

// watch is the state of the screen.
type watch struct {
	readers    WatchReaders
	groups     *reading.TapGroups
	begun      time.Time // the first tap
	taps       []reading.Tap
	changes    []time.Duration // of the light, the first one on
	start      reading.Start
	bars       int
	closed     int           // groups that are over
	ready      []blink.Frame // these groups, as far as they are worth weighing
	candidates []candidate
	weighed    time.Time // when changes of the light were weighed last
	stale      bool      // there is something new to weigh
	turn       int       // counts what was taken back
	note       string
	left       bool
}

// weighing is what was weighed, and in which turn: what was taken back since is
// no longer true.
type weighing struct {
	turn       int
	candidates []candidate
}

// candidate is what the lamp can be, with its probability.
type candidate struct {
	what        string
	probability float64
	sure        bool
}

func newWatch(r WatchReaders) *watch {
	return &watch{readers: r, groups: reading.NewTapGroups(r.code)}
}

// since returns the time since the first tap, which it is if there was none.
func (w *watch) since(at time.Time) time.Duration {
	if len(w.taps) == 0 && len(w.changes) == 0 {
		w.begun = at
	}
	return at.Sub(w.begun)
}

// maxTaps is how many taps are kept: some twenty frames.
const maxTaps = 200

// key takes a key, and tells whether the person is through.
func (w *watch) key(e *tcell.EventKey, at time.Time) (over bool) {
	w.note = ""
	switch e.Key() {
	case tcell.KeyEnter:
		return true
	case tcell.KeyEscape, tcell.KeyCtrlC:
		w.left = true
		return true
	case tcell.KeyBackspace, tcell.KeyBackspace2:
		w.undo()
	case tcell.KeyLeft:
		w.tap(blink.ShortMark, at)
	case tcell.KeyRight:
		w.tap(blink.LongMark, at)
	case tcell.KeyRune:
		switch e.Rune() {
		case '.', ',', 's':
			w.tap(blink.ShortMark, at)
		case '_', '-', 'l':
			w.tap(blink.LongMark, at)
		case '?', 'x':
			w.tap(blink.UnsureMark, at)
		case ' ':
			w.change(at)
		case 'b':
			if w.readers.code.Bars(blink.EndLow) > 0 {
				w.bars = (w.bars + 1) % 3
			}
		case 'n':
			w.start = reading.StartUnseen - w.start
			w.stale = true
		case 'r':
			turn := w.turn + 1
			*w = *newWatch(w.readers)
			w.turn = turn
		}
	}
	return false
}

func (w *watch) tap(mark byte, at time.Time) {
	switch {
	case len(w.changes) > 0:
		w.note = "Either marks or Space: r starts over."
	case len(w.taps) == maxTaps:
		w.note = "No more can be kept: Enter or r."
	default:
		w.taps = append(w.taps, reading.Tap{Mark: mark, At: w.since(at)})
		w.tick(at)
	}
}

func (w *watch) change(at time.Time) {
	switch {
	case len(w.taps) > 0:
		w.note = "Either marks or Space: r starts over."
	case len(w.changes) == maxTaps:
		w.note = "No more can be kept: Enter or r."
	default:
		w.changes = append(w.changes, w.since(at))
		w.stale = len(w.changes) > 1
	}
}

func (w *watch) undo() {
	switch {
	case len(w.taps) > 0:
		w.taps = w.taps[:len(w.taps)-1]
	case len(w.changes) > 0:
		w.changes = w.changes[:len(w.changes)-1]
	}
	// What was weighed is no longer true.
	w.turn++
	w.closed, w.ready, w.candidates, w.stale = 0, nil, nil, len(w.changes) > 1
}

// tick looks whether time alone tells more: another group is over, or the
// light has not changed for longer.
func (w *watch) tick(now time.Time) {
	if len(w.changes) > 1 && now.Sub(w.weighed) > time.Second {
		w.stale = true
		return
	}
	looks := w.complete(now)
	if n := groupsOf(looks); n != w.closed {
		w.closed, w.ready, w.stale = n, w.worth(looks), true
	}
}

func groupsOf(looks []blink.Frame) int {
	n := 0
	for _, f := range looks {
		n += len(f)
	}
	return n
}

// complete returns the looks less a group that is still being tapped.
func (w *watch) complete(now time.Time) []blink.Frame {
	looks, closed := w.groups.Split(w.taps, now.Sub(w.begun))
	if closed || len(looks) == 0 {
		return looks
	}
	last := looks[len(looks)-1]
	if len(last) == 1 {
		return looks[:len(looks)-1]
	}
	return append(looks[:len(looks)-1:len(looks)-1], last[:len(last)-1])
}

// worth returns the looks that are worth weighing: a first one that is not a
// whole frame was begun in its middle, once there is a whole one.
func (w *watch) worth(looks []blink.Frame) []blink.Frame {
	frame, _ := w.readers.code.FrameLengths()
	if len(looks) > 1 && len(looks[0]) < frame && slices.ContainsFunc(looks, func(f blink.Frame) bool { return len(f) >= frame }) {
		return looks[1:]
	}
	return looks
}

// weigher returns what weighs the present taps, in a goroutine of its own. That
// the light has not changed since the last tap tells something too.
func (w *watch) weigher(now time.Time) func() []candidate {
	if len(w.changes) > 0 {
		light, reader := w.intervals(now.Sub(w.begun)+time.Millisecond), w.readers.light
		w.weighed = now
		return func() []candidate { return weighLight(reader(), light) }
	}
	looks, start, readers := w.ready, w.start, w.readers
	return func() []candidate { return weighMarks(readers, looks, start) }
}

func (w *watch) lastTap() time.Duration {
	if len(w.taps) == 0 {
		return 0
	}
	return w.taps[len(w.taps)-1].At
}

// shownCandidates is how many are shown: more than a few is 'anything'.
const shownCandidates = 5

func weighMarks(r WatchReaders, looks []blink.Frame, start reading.Start) []candidate {
	if len(looks) == 0 {
		return nil
	}
	// A look is whole when it is over, or when no frame is longer.
	least, most := r.code.FrameLengths()
	last := len(looks) - 1
	whole := len(looks[last]) >= most || slices.ContainsFunc(looks[:last], func(f blink.Frame) bool { return len(f) >= least })
	reader := r.whole
	if len(looks[last]) < most {
		reader = r.partial
	}
	result := reader.Read(looks, start)
	var found []candidate
	for i, c := range result.Candidates[:min(len(result.Candidates), shownCandidates)] {
		found = append(found, candidate{c.Pilot.String(), c.Probability, i == 0 && whole && !result.Doubtful()})
	}
	return found
}

func weighLight(reader *reading.TimedReader, light []blink.Interval) []candidate {
	result := reader.Read(light)
	var found []candidate
	for i, c := range result.Candidates[:min(len(result.Candidates), shownCandidates)] {
		what := c.Signal.State.NameAt(c.Signal.End)
		if c.Signal.State.ShowsFrame() {
			what = c.Signal.Pilot.String() + ", " + what
		}
		found = append(found, candidate{what, c.Probability, i == 0 && !result.Doubtful()})
	}
	return found
}

// intervals returns the light as it was tapped, up to a time. That it was dark
// before is all that is known of it.
func (w *watch) intervals(until time.Duration) []blink.Interval {
	light := []blink.Interval{{Duration: time.Millisecond}}
	for i, at := range w.changes {
		end := until
		if i < len(w.changes)-1 {
			end = w.changes[i+1]
		}
		light = append(light, blink.Interval{Lit: i%2 == 0, Duration: end - at})
	}
	return light
}

// result is what was tapped up to now.
func (w *watch) result(now time.Time) Watched {
	r := Watched{Left: w.left, Start: w.start, End: blink.EdgeEnd(w.bars), Taps: len(w.taps) + len(w.changes)}
	switch {
	case w.left:
	case len(w.changes) > 0:
		r.Length = now.Sub(w.begun)
		r.Light = w.intervals(r.Length)
	case len(w.taps) > 0:
		looks, _ := w.groups.Split(w.taps, now.Sub(w.begun)+time.Hour)
		r.Looks, r.Length = w.worth(looks), w.lastTap()
	}
	return r
}

// rows are what is to be seen, in a size.
func (w *watch) rows(now time.Time, width, height int) []row {
	told := w.toldRows(now, width)
	help := []row{
		{"Wait for the long dark, then tap along:", plain},
		{"  .  a short pulse    _  a long one", plain},
		{"  or Space at each change, until Enter", plain},
		{"  b  edge: low end, high end, neither", plain},
		{"  n  the long dark was not seen", plain},
		{"  x  a pulse, its length not sure", plain},
	}
	keys := []row{{"Backspace undo, r over, Enter done, Esc", plain}}
	if w.readers.code.Bars(blink.EndLow) == 0 { // the code has no edge
		help = slices.Delete(help, 3, 4)
	}
	if len(w.taps)+len(w.changes) > 0 {
		help = help[1:3]
	}
	// Where there is little room, help gives way to what was tapped.
	if room := height - 2 - len(told) - len(keys); len(help) > room {
		help = help[:max(room, 0)]
	}
	rows := append([]row{{"WATCH THE LAMP", strong}}, help...)
	rows = append(append(rows, keys...), row{})
	return append(rows, told...)
}

// toldRows are what was tapped and what it can be.
func (w *watch) toldRows(now time.Time, width int) []row {
	var rows []row
	switch {
	case len(w.changes) > 0:
		lit := len(w.changes)%2 == 1
		text := fmt.Sprintf("Light: %d changes, %s now", len(w.changes), map[bool]string{true: "lit", false: "dark"}[lit])
		rows = append(rows, row{text, strong})
	case len(w.taps) > 0:
		looks, closed := w.groups.Split(w.taps, now.Sub(w.begun))
		text := blink.FormatFrames(looks)
		if !closed {
			text += "~" // more may come
		}
		lines := wrapped(text, max(width-7, 8))
		const most = 3
		for i, line := range lines[max(len(lines)-most, 0):] {
			label := "       "
			if i == 0 {
				label = "Marks: "
			}
			rows = append(rows, row{label + line, strong})
		}
	default:
		return []row{{"Nothing tapped yet.", plain}}
	}
	if w.bars > 0 {
		rows = append(rows, row{fmt.Sprintf("Bars: %d, edge (%v end)", w.readers.code.Bars(blink.EdgeEnd(w.bars)), blink.EdgeEnd(w.bars)), strong})
	}
	if w.note != "" {
		rows = append(rows, row{w.note, plain})
	}
	if w.start == reading.StartUnseen {
		rows = append(rows, row{"The long dark before was not seen.", plain})
	}
	if len(w.candidates) == 0 {
		return append(rows, row{"Too little to tell.", plain})
	}
	if best := w.candidates[0]; best.sure {
		rows = append(rows, row{fmt.Sprintf(" SURE: %s ", best.what), marked}, row{"Enter is done.", plain})
	} else {
		rows = append(rows, row{"Not sure yet. It can be:", plain})
	}
	for _, c := range w.candidates {
		if c.probability >= 0.02 {
			bar := strings.Repeat("#", int(c.probability*8+0.5))
			rows = append(rows, row{fmt.Sprintf("%3.0f%% %-8s %s", 100*c.probability, bar, c.what), plain})
		}
	}
	if w.candidates[0].probability < 0.02 {
		rows = append(rows, row{"  anything: tap more", plain})
	}
	return rows
}
