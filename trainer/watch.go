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
	Looks []blink.Frame // tapped as marks, split in the most likely way
	// Groupings are all likely ways to split these taps.
	Groupings []reading.Grouping
	Start     reading.Start    // whether the long dark before the first was seen
	End       blink.EdgeEnd    // by the bars in the long dark
	Light     []blink.Interval // tapped as changes of the light
	// Length is the time from the first tap to the last.
	Length time.Duration
	Taps   int
	// Left reports whether the person left without an answer.
	Left bool
}

// WatchReaders read what is tapped.
type WatchReaders struct {
	code           *blink.Code
	whole, partial *reading.Reader
	// light returns the reader of changes. Making it takes a moment, so it is called only
	// when it is needed, in a goroutine.
	light func() *reading.TimedReader
}

// cutShort is the chance, at each gap between groups, that the rest of a frame has not
// been tapped yet.
const cutShort = 0.2

// NewWatchReaders makes readers of a code, with a prior as in [reading.NewReader].
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
// A terminal does not report when a key is released, so the person can't follow the
// light by holding one down: a key is pressed at each change instead.
type Watching struct {
	readers    WatchReaders
	groups     *reading.TapGroups
	begun      time.Time // the first tap
	taps       []reading.Tap
	parted     *reading.Parted // the same; nil until it is needed
	changes    []time.Duration // of the light; the first one turns it on
	start      reading.Start
	bars       int
	closed     int                // groups that are complete
	ready      []reading.Grouping // these groups, to the extent that they are worth weighing
	candidates []candidate
	weighed    time.Time // when changes of the light were last weighed
	stale      bool      // there is something new to weigh
	busy       bool      // something is being weighed
	turn       int       // counts what was undone
	note       string
	over, left bool
	ended      time.Time // when the person finished
}

// NewWatching begins a session.
func NewWatching(r WatchReaders) *Watching {
	return &Watching{readers: r, groups: reading.NewTapGroups(r.code)}
}

// Over reports whether the person has finished.
func (w *Watching) Over() bool { return w.over }

// Drawn does nothing: no light is shown.
func (w *Watching) Drawn(time.Time) {}

// Work weighs what was tapped, if there is anything new.
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
			if turn == w.turn && !w.stale { // a result from before an undo is no longer valid
				w.candidates = found
			}
		}
	}
}

// glance is how often to check whether the passing of time shows more.
const glance = 200 * time.Millisecond

// View returns what to show.
func (w *Watching) View(now time.Time, width, height int) View {
	w.tick(now)
	v := View{Wake: now.Add(glance)}
	for y, r := range w.rows(now, width, height) {
		v.Rows = append(v.Rows, Row{y, 0, r.text, r.style})
	}
	return v
}

// candidate is what the lamp may be showing, with its probability.
type candidate struct {
	what        string
	probability float64
	sure        bool
}

// since returns the time since the first tap. If there was none, this is the first tap.
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
		if len(w.taps)+len(w.changes) == 0 {
			w.note = "Nothing tapped yet. Esc leaves."
			return
		}
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
	// What was weighed is no longer valid.
	w.turn++
	w.parted, w.closed, w.ready, w.candidates, w.stale = nil, 0, nil, nil, len(w.changes) > 1
}

// tick checks whether the passing of time shows more: another group is complete, or the
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

// complete returns the looks without a group that is still being tapped.
func (w *Watching) complete(now time.Time) []blink.Frame {
	p := w.part()
	return whole(p.Looks(), p.Over(now.Sub(w.begun)))
}

// part splits what was tapped so far.
func (w *Watching) part() *reading.Parted {
	if w.parted == nil {
		w.parted = w.groups.Part(slices.Clip(w.taps))
	}
	return w.parted
}

// whole returns looks without a group that is still being tapped.
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

// groupings returns the likely ways to split what was tapped, to the extent that it is
// complete and worth weighing: how certain the pauses were is part of the answer.
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

// worth returns the looks that are worth weighing. Once there is a whole frame, a first
// look that is not one was begun in its middle and is left out.
func (w *Watching) worth(looks []blink.Frame) []blink.Frame {
	frame, _ := w.readers.code.LitGroups()
	if len(looks) > 1 && len(looks[0]) < frame && slices.ContainsFunc(looks,
		func(f blink.Frame) bool { return len(f) >= frame }) {
		return looks[1:]
	}
	return looks
}

// weigher returns a function that weighs the present taps in a goroutine of its own.
// That the light has not changed since the last tap is evidence too.
func (w *Watching) weigher(now time.Time) func() []candidate {
	if len(w.changes) > 0 {
		light, reader := w.intervals(now.Sub(w.begun)+time.Millisecond), w.readers.light
		w.weighed = now
		return func() []candidate { return weighLight(reader(), light) }
	}
	ready, start, readers := w.ready, w.start, w.readers
	return func() []candidate { return weighItems(readers, ready, start) }
}

func (w *Watching) lastTap() time.Duration {
	if len(w.taps) == 0 {
		return 0
	}
	return w.taps[len(w.taps)-1].At
}

// shownCandidates is how many candidates are shown: more than a few is 'anything'.
const shownCandidates = 5

func weighItems(r WatchReaders, ready []reading.Grouping, start reading.Start) []candidate {
	if len(ready) == 0 {
		return nil
	}
	looks := ready[0].Looks
	// A look is complete when it is over, or when it is as long as the longest frame.
	least, most := r.code.LitGroups()
	last := len(looks) - 1
	whole := len(looks[last]) >= most || slices.ContainsFunc(looks[:last],
		func(f blink.Frame) bool { return len(f) >= least })
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
	result := reader.ReadTapped(light)
	var found []candidate
	for i, c := range result.Candidates[:min(len(result.Candidates), shownCandidates)] {
		what := c.Signal.State.NameAt(c.Signal.End)
		if c.Signal.ShowsFrame() {
			what = c.Signal.Pilot.String() + ", " + what
		}
		found = append(found, candidate{what, c.Probability, i == 0 && !result.Doubtful()})
	}
	return found
}

// intervals returns the light as it was tapped, up to a time. Before the first tap all
// that is known is that it was dark.
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

// Watched returns what was tapped. If the session is not over, the person left.
func (w *Watching) Watched() Watched {
	now := w.ended
	r := Watched{Left: w.left || !w.over, Start: w.start, End: blink.EdgeEnd(w.bars),
		Taps: len(w.taps) + len(w.changes)}
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

// rows returns what to show in the given size.
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
	if long := "Backspace undo, r start over, Enter done, Esc leave"; width > len(long) {
		keys[0].text = long
	}
	if w.readers.code.Bars(blink.EndLow) == 0 { // the code has no edge state
		help = slices.Delete(help, 3, 4)
	}
	switch {
	case len(w.taps) > 0 && w.readers.code.Bars(blink.EndLow) > 0:
		help = append(help[1:2:2], row{"  x not sure   b a bar in the long dark", Plain})
	case len(w.taps)+len(w.changes) > 0:
		help = help[1:3]
	}
	// If there is little room, help gives way to what was tapped.
	if room := height - 2 - len(told) - len(keys); len(help) > room {
		help = help[:max(room, 0)]
	}
	rows := append([]row{{"WATCH THE LAMP", Strong}}, help...)
	rows = append(append(rows, keys...), row{})
	return append(rows, told...)
}

// finish says how to end: marks are sure before the long dark is over, and only that shows
// the edge.
func (w *Watching) finish() string {
	if len(w.taps) > 0 && w.bars == 0 && w.readers.code.Bars(blink.EndLow) > 0 {
		return "A bar in the long dark? b. Then Enter."
	}
	return "Press Enter to finish."
}

// toldRows returns what was tapped and what it may be.
func (w *Watching) toldRows(now time.Time, width int) []row {
	var rows []row
	switch {
	case len(w.changes) > 0:
		lit := len(w.changes)%2 == 1
		text := fmt.Sprintf("Light: %d changes, %s now", len(w.changes),
			map[bool]string{true: "lit", false: "dark"}[lit])
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
		rows = append(rows, row{fmt.Sprintf("Bars: %d, edge (%v end)", w.readers.code.Bars(blink.EdgeEnd(w.bars)),
			blink.EdgeEnd(w.bars)), Strong})
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
		rows = append(rows, row{fmt.Sprintf(" SURE: %s ", best.what), Marked}, row{w.finish(), Plain})
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
