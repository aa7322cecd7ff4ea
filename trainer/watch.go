package trainer

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
)

// Watched is what a person tapped along with a lamp: marks, or each change of
// the light.
type Watched struct {
	Looks []blink.Frame // tapped as marks, parted in the likeliest way
	// Groupings are all likely ways to part these taps.
	Groupings []reading.Grouping
	Start     reading.Start    // whether the long dark before the first was seen
	End       blink.EdgeEnd    // by the bars in the long dark
	Light     []blink.Interval // tapped as changes of the light
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

// Watching is a session of tapping along with a lamp in the field.
//
// A terminal does not tell when a key is let go, so that light can't be
// followed by holding one down: a key is pressed at each change instead.
type Watching struct {
	readers    WatchReaders
	groups     *reading.TapGroups
	begun      time.Time // the first tap
	taps       []reading.Tap
	parted     *reading.Parted // the same; nil until it is asked for
	changes    []time.Duration // of the light, the first one on
	start      reading.Start
	bars       int
	closed     int                // groups that are over
	ready      []reading.Grouping // these groups, as far as they are worth weighing
	candidates []candidate
	weighed    time.Time // when changes of the light were weighed last
	stale      bool      // there is something new to weigh
	busy       bool      // something is being weighed
	turn       int       // counts what was taken back
	note       string
	over, left bool
	ended      time.Time // when the person was through
}

// NewWatching begins a session.
func NewWatching(r WatchReaders) *Watching {
	return &Watching{readers: r, groups: reading.NewTapGroups(r.code)}
}

// Over reports whether the person is through.
func (w *Watching) Over() bool { return w.over }

// Drawn does nothing: no light is shown.
func (w *Watching) Drawn(time.Time) {}

// Work weighs what was tapped, as far as it is new.
func (w *Watching) Work(now time.Time) func() func() {
	if !w.stale || w.busy {
		return nil
	}
	w.busy, w.stale = true, false
	weigh, turn := w.weigher(now), w.turn
	return func() func() {
		found := weigh()
		return func() {
			w.busy = false
			if turn == w.turn && !w.stale { // what was taken back since is no longer true
				w.candidates = found
			}
		}
	}
}

// glance is how often it is looked whether time alone tells more.
const glance = 200 * time.Millisecond

// View returns what is to be seen.
func (w *Watching) View(now time.Time, width, height int) View {
	w.tick(now)
	v := View{Wake: now.Add(glance)}
	for y, r := range w.rows(now, width, height) {
		v.Rows = append(v.Rows, Row{y, 0, r.text, r.style})
	}
	return v
}

// candidate is what the lamp can be, with its probability.
type candidate struct {
	what        string
	probability float64
	sure        bool
}

// since returns the time since the first tap, which it is if there was none.
func (w *Watching) since(at time.Time) time.Duration {
	if len(w.taps) == 0 && len(w.changes) == 0 {
		w.begun = at
	}
	return at.Sub(w.begun)
}

// maxTaps is how many taps are kept: some twenty frames.
const maxTaps = 200

// Key takes a key.
func (w *Watching) Key(key rune, at time.Time) {
	w.note = ""
	switch key {
	case KeyEnter:
		w.over, w.ended = true, at
	case KeyEscape, KeyBreak:
		w.over, w.left = true, true
	case KeyBackspace:
		w.undo()
	case KeyLeft, '.', ',', 's':
		w.tap(blink.ShortMark, at)
	case KeyRight, '_', '-', 'l':
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
		*w = Watching{readers: w.readers, groups: w.groups, busy: w.busy, turn: w.turn + 1}
	}
}

func (w *Watching) tap(mark byte, at time.Time) {
	switch {
	case len(w.changes) > 0:
		w.note = "Marks or Space, not both: r restarts."
	case len(w.taps) == maxTaps:
		w.note = "No room for more: Enter or r."
	default:
		w.taps = append(w.taps, reading.Tap{Mark: mark, At: w.since(at)})
		w.parted = nil
		w.tick(at)
	}
}

func (w *Watching) change(at time.Time) {
	switch {
	case len(w.taps) > 0:
		w.note = "Marks or Space, not both: r restarts."
	case len(w.changes) == maxTaps:
		w.note = "No room for more: Enter or r."
	default:
		w.changes = append(w.changes, w.since(at))
		w.stale = len(w.changes) > 1
	}
}

func (w *Watching) undo() {
	switch {
	case len(w.taps) > 0:
		w.taps = w.taps[:len(w.taps)-1]
	case len(w.changes) > 0:
		w.changes = w.changes[:len(w.changes)-1]
	}
	// What was weighed is no longer true.
	w.turn++
	w.parted, w.closed, w.ready, w.candidates, w.stale = nil, 0, nil, nil, len(w.changes) > 1
}

// tick looks whether time alone tells more: another group is over, or the
// light has not changed for longer.
func (w *Watching) tick(now time.Time) {
	if len(w.changes) > 1 && now.Sub(w.weighed) > time.Second {
		w.stale = true
		return
	}
	if n := groupsOf(w.complete(now)); n != w.closed {
		w.closed, w.ready, w.stale = n, w.groupings(now), true
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
func (w *Watching) complete(now time.Time) []blink.Frame {
	p := w.part()
	return whole(p.Looks(), p.Over(now.Sub(w.begun)))
}

// part parts what was tapped up to now.
func (w *Watching) part() *reading.Parted {
	if w.parted == nil {
		w.parted = w.groups.Part(slices.Clip(w.taps))
	}
	return w.parted
}

// whole is looks less a group that is still being tapped.
func whole(looks []blink.Frame, closed bool) []blink.Frame {
	if closed || len(looks) == 0 {
		return looks
	}
	last := looks[len(looks)-1]
	if len(last) == 1 {
		return looks[:len(looks)-1]
	}
	return append(looks[:len(looks)-1:len(looks)-1], last[:len(last)-1])
}

// groupings are the likely ways to part what was tapped, as far as it is over and worth
// weighing: how sure the pauses were is part of the answer.
func (w *Watching) groupings(now time.Time) []reading.Grouping {
	p := w.part()
	closed := p.Over(now.Sub(w.begun))
	var ready []reading.Grouping
	for _, g := range p.Groupings() {
		if g.Looks = w.worth(whole(g.Looks, closed)); len(g.Looks) > 0 {
			ready = append(ready, g)
		}
	}
	return ready
}

// worth returns the looks that are worth weighing: a first one that is not a
// whole frame was begun in its middle, once there is a whole one.
func (w *Watching) worth(looks []blink.Frame) []blink.Frame {
	frame, _ := w.readers.code.FrameLengths()
	if len(looks) > 1 && len(looks[0]) < frame && slices.ContainsFunc(looks, func(f blink.Frame) bool { return len(f) >= frame }) {
		return looks[1:]
	}
	return looks
}

// weigher returns what weighs the present taps, in a goroutine of its own. That
// the light has not changed since the last tap tells something too.
func (w *Watching) weigher(now time.Time) func() []candidate {
	if len(w.changes) > 0 {
		light, reader := w.intervals(now.Sub(w.begun)+time.Millisecond), w.readers.light
		w.weighed = now
		return func() []candidate { return weighLight(reader(), light) }
	}
	ready, start, readers := w.ready, w.start, w.readers
	return func() []candidate { return weighMarks(readers, ready, start) }
}

func (w *Watching) lastTap() time.Duration {
	if len(w.taps) == 0 {
		return 0
	}
	return w.taps[len(w.taps)-1].At
}

// shownCandidates is how many are shown: more than a few is 'anything'.
const shownCandidates = 5

func weighMarks(r WatchReaders, ready []reading.Grouping, start reading.Start) []candidate {
	if len(ready) == 0 {
		return nil
	}
	looks := ready[0].Looks
	// A look is whole when it is over, or when no frame is longer.
	least, most := r.code.FrameLengths()
	last := len(looks) - 1
	whole := len(looks[last]) >= most || slices.ContainsFunc(looks[:last], func(f blink.Frame) bool { return len(f) >= least })
	reader := r.whole
	if len(looks[last]) < most {
		reader = r.partial
	}
	result := reader.ReadGroupings(ready, start)
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
func (w *Watching) intervals(until time.Duration) []blink.Interval {
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

// Watched returns what was tapped. Where the session is not over, it was left.
func (w *Watching) Watched() Watched {
	now := w.ended
	r := Watched{Left: w.left || !w.over, Start: w.start, End: blink.EdgeEnd(w.bars), Taps: len(w.taps) + len(w.changes)}
	switch {
	case r.Left:
	case len(w.changes) > 0:
		r.Length = now.Sub(w.begun)
		r.Light = w.intervals(r.Length)
	case len(w.taps) > 0:
		r.Groupings, r.Length = w.groupings(now.Add(time.Hour)), w.lastTap()
		if len(r.Groupings) > 0 {
			r.Looks = r.Groupings[0].Looks
		}
	}
	return r
}

// rows are what is to be seen, in a size.
func (w *Watching) rows(now time.Time, width, height int) []row {
	told := w.toldRows(now, width)
	help := []row{
		{"Wait for the long dark, then tap along:", Plain},
		{"  .  a short pulse    _  a long one", Plain},
		{"  or Space at each change, until Enter", Plain},
		{"  b  edge: low end, high end, neither", Plain},
		{"  n  you did not see the long dark", Plain},
		{"  x  a pulse, length not sure", Plain},
	}
	keys := []row{{"Backspace undo, r over, Enter done, Esc", Plain}}
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
	rows := append([]row{{"WATCH THE LAMP", Strong}}, help...)
	rows = append(append(rows, keys...), row{})
	return append(rows, told...)
}

// toldRows are what was tapped and what it can be.
func (w *Watching) toldRows(now time.Time, width int) []row {
	var rows []row
	switch {
	case len(w.changes) > 0:
		lit := len(w.changes)%2 == 1
		text := fmt.Sprintf("Light: %d changes, %s now", len(w.changes), map[bool]string{true: "lit", false: "dark"}[lit])
		rows = append(rows, row{text, Strong})
	case len(w.taps) > 0:
		looks, closed := w.part().Looks(), w.part().Over(now.Sub(w.begun))
		text := blink.FormatFrames(looks)
		if !closed {
			text += "~" // more may come
		}
		lines := wrapped(text, max(width-7, 8))
		const most = 3
		for i, l := range lines[max(len(lines)-most, 0):] {
			label := "       "
			if i == 0 {
				label = "Marks: "
			}
			rows = append(rows, row{label + l, Strong})
		}
	default:
		return []row{{"Nothing tapped yet.", Plain}}
	}
	if w.bars > 0 {
		rows = append(rows, row{fmt.Sprintf("Bars: %d, edge (%v end)", w.readers.code.Bars(blink.EdgeEnd(w.bars)), blink.EdgeEnd(w.bars)), Strong})
	}
	if w.note != "" {
		rows = append(rows, row{w.note, Plain})
	}
	if w.start == reading.StartUnseen {
		rows = append(rows, row{"You did not see the long dark before.", Plain})
	}
	if len(w.candidates) == 0 {
		return append(rows, row{"Too little to tell.", Plain})
	}
	if best := w.candidates[0]; best.sure {
		rows = append(rows, row{fmt.Sprintf(" SURE: %s ", best.what), Marked}, row{"Press Enter to finish.", Plain})
	} else {
		rows = append(rows, row{"Not sure yet. It could be:", Plain})
	}
	for _, c := range w.candidates {
		if c.probability >= 0.02 {
			bar := strings.Repeat("#", int(c.probability*8+0.5))
			rows = append(rows, row{fmt.Sprintf("%3.0f%% %-8s %s", 100*c.probability, bar, c.what), Plain})
		}
	}
	if w.candidates[0].probability < 0.02 {
		rows = append(rows, row{"  anything: tap more", Plain})
	}
	return rows
}
