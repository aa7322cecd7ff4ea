package trainer

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan/book"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// TrainOptions are the options of a training session.
type TrainOptions struct {
	Trainee  string
	Material lesson.Material
	// Attempts are the trainee's earlier attempts.
	Attempts []progress.Attempt
	// Record stores an attempt permanently, before the next question is asked.
	Record func(progress.Attempt) error
	// Exam is the seed of a qualification run, or nil.
	Exam *uint64
	// Known is how often others took the same seed before.
	Known int
	// Scrolls reports whether the front end scrolls: any size of screen is enough.
	Scrolls bool
	// Still begins in still mode: nothing flashes.
	Still bool
	// Note is shown on the first screen, for example about a damaged line.
	Note string
}

// Trained is the result of a session.
type Trained struct {
	Answered, Right int
	// Attempts are the trainee's attempts, both earlier ones and those of this session.
	Attempts []progress.Attempt
	// Lateness is, for each change of the lamp, how much later than scheduled it was
	// drawn.
	Lateness []time.Duration
	// Exam is the result of a qualification run, if it was finished.
	Exam *ExamResult
	// Err is the reason why an attempt could not be recorded: the session ended there.
	Err error
}

// ExamResult is the result of a qualification run.
type ExamResult struct {
	progress.Run
	Seed    uint64
	Answers []progress.Attempt
	// Before is how often the trainee had already taken the same seed, and Known how often
	// others had, as far as the book shows.
	Before, Known int
}

// RunName returns the name of a qualification run in its records.
func RunName(seed uint64) string { return fmt.Sprintf("seed %d", seed) }

// examUnit is the lamp's unit in a qualification run: the code's own, or the fastest
// that may be shown if that is slower.
func examUnit(code *blink.Code, fastest time.Duration) time.Duration {
	return max(code.Timing.Unit, fastest)
}

// page is what the screen is showing.
type page uint8

const (
	menu     page = iota
	teaching      // how the lamp is counted, before the first question
	asking
	answered
	finished // an exam
)

// Training is a session to learn to read the lamp, or a qualification run.
type Training struct {
	options TrainOptions
	code    *blink.Code
	chooser *progress.Chooser
	random  *rand.Rand
	groups  *reading.TapGroups
	speed   progress.Speed

	page     page
	still    bool   // the timeline is drawn; the lamp does not flash
	exercise string // "" for the items that are due
	exam     []lesson.Question
	result   *ExamResult // the exam so far

	question lesson.Question
	unit     time.Duration
	entry    lesson.Entry
	feedback lesson.Feedback
	player   blink.Player
	plays    int
	helped   bool   // the code is shown instead of the choices
	beside   bool   // the code is shown with the question
	looked   bool   // it was, in this question, one way or the other
	last     string // exercise of the last question
	leaving  bool   // Esc was pressed once in a run
	taps     []reading.Tap
	begun    time.Time // the first light, or the first tap of a frame that is sent
	note     string

	// The change being drawn, to measure its lateness.
	scheduled time.Time
	shownLit  bool
	tooSmall  bool // the screen

	trained Trained
	over    bool
}

// NewTraining begins a session.
func NewTraining(o TrainOptions, now time.Time) *Training {
	t := &Training{options: o, code: o.Material.Code, trained: Trained{Attempts: slices.Clone(o.Attempts)},
		random: o.Material.Random,
		groups: reading.NewTapGroups(o.Material.Code), note: o.Note}
	t.chooser = progress.NewChooser(o.Attempts, o.Material.Code, o.Material.Random)
	t.speed = progress.SpeedOf(t.code)
	t.still = o.Still || t.neverFlashes()
	if o.Exam != nil {
		t.exam = lesson.Exam(o.Material, *o.Exam, examUnit(t.code, t.speed.Fastest))
		t.result = &ExamResult{Run: progress.Run{Name: RunName(*o.Exam), ID: fmt.Sprintf("%016x", rand.Uint64())},
			Seed: *o.Exam, Known: o.Known}
		t.result.Before = progress.TimesTaken(o.Attempts, t.result.Name)
	}
	return t
}

// neverFlashes reports whether the code flashes too fast to be shown at any speed.
func (t *Training) neverFlashes() bool { return t.speed.Fastest == 0 }

// Over reports whether the trainee has left.
func (t *Training) Over() bool { return t.over }

// Trained returns the result of the session so far.
func (t *Training) Trained() Trained { return t.trained }

// Work returns nil: nothing takes long here.
func (t *Training) Work(time.Time) func() func() { return nil }

// Key takes a key.
func (t *Training) Key(key rune, at time.Time) {
	if t.over {
		return // keys pressed before the screen was gone
	}
	if t.tooSmall && key != KeyEscape && key != KeyBreak {
		return // a screen that can't be seen does not take answers
	}
	if key == KeyBreak {
		t.over = true
		return
	}
	switch t.page {
	case menu:
		t.menuKey(key, at)
	case teaching:
		switch key {
		case KeyEnter:
			t.ask(at)
		case KeyEscape:
			t.back()
		}
	case asking:
		t.askingKey(key, at)
	case answered:
		t.answeredKey(key, at)
	case finished:
		if key == KeyEnter || key == KeyEscape {
			t.over = true
		}
	}
}

func (t *Training) menuKey(key rune, at time.Time) {
	exercises := lesson.Exercises(t.code)
	switch {
	case key == KeyEscape:
		t.over = true
	case key == KeyEnter:
		t.exercise = ""
		if t.exam == nil && len(t.trained.Attempts) == 0 {
			t.page, t.note = teaching, ""
			return
		}
		t.ask(at)
	case key == 'm':
		t.still = !t.still || t.neverFlashes()
	case t.exam == nil && key >= '1' && int(key-'1') < len(exercises):
		t.exercise = exercises[key-'1'].Name
		t.ask(at)
	}
}

// back goes back to the first screen.
func (t *Training) back() {
	t.player.Stop()
	t.page, t.note, t.helped = menu, "", false
}

// ask asks the next question.
func (t *Training) ask(at time.Time) {
	t.player.Stop()
	t.page, t.note, t.helped, t.leaving, t.taps, t.plays = asking, "", false, false, nil, 0
	if t.exam != nil {
		t.unit = examUnit(t.code, t.speed.Fastest)
		t.question = t.exam[len(t.result.Answers)]
	} else {
		exercise, item := t.choose(at)
		t.unit = t.speed.Unit(t.trained.Attempts, exercise.Name)
		t.question = exercise.Make(t.options.Material, item, t.unit)
	}
	t.entry = lesson.NewEntry(t.question)
	t.begun = at
	// Nobody is asked what was never shown: the code is listed until it was read.
	t.beside = t.exam == nil && t.isNew()
	t.looked, t.last = t.beside, t.question.Exercise
	if len(t.question.Light) == 0 {
		return
	}
	t.play(at)
	if !t.still {
		t.begun = t.player.Begin()
	}
}

// isNew reports whether the question is about something that the trainee never got right:
// its item or, where one item teaches the others too, its exercise. As in the field has
// all of it.
func (t *Training) isNew() bool {
	q := t.question
	alone := q.Way == lesson.ByDigit || q.Way == lesson.ByHead || q.Way == lesson.ByYesNo
	switch {
	case q.Exercise == progress.Field, !alone && q.Way != lesson.ByPilot && q.Way != lesson.ByState:
		return false
	}
	return !slices.ContainsFunc(t.trained.Attempts, func(a progress.Attempt) bool {
		return a.Right && (a.Exercise == progress.Field || a.Item == q.Item || !alone && a.Exercise == q.Exercise)
	})
}

// choose picks an exercise and one of its items. If the trainee picked an exercise it
// is from that one. Otherwise it is from all that are open: the first, and each next one
// when the one before was passed or most of its items are known. Exercises take turns:
// what is mixed is kept better than what is drilled (interleaving: Rohrer and Taylor 2007,
// from memory).
func (t *Training) choose(at time.Time) (lesson.Exercise, string) {
	of := map[string]lesson.Exercise{}
	var items, open []string
	for _, e := range lesson.Exercises(t.code) {
		if t.exercise != "" && e.Name != t.exercise {
			continue
		}
		own := e.Items()
		for _, m := range own {
			of[m] = e
		}
		open = append(open, own...)
		passed := t.exercise == "" && passedOut(t.trained.Attempts, e)
		if passed { // its other items come in frames
			own = slices.DeleteFunc(slices.Clone(own),
				func(m string) bool { _, asked := t.chooser.Due(m); return !asked })
		}
		items = append(items, own...)
		if t.exercise == "" && !passed && !t.mostlyKnown(own, at) {
			break
		}
	}
	if due := t.chooser.DueOf(items, at); len(due) > 0 {
		items = among(due, items, t.random)
	}
	if len(items) == 0 {
		items = open
	}
	others := slices.DeleteFunc(slices.Clone(items), func(m string) bool { return of[m].Name == t.last })
	if len(others) > 0 && t.random.IntN(2) == 0 {
		items = others
	}
	item := t.chooser.Next(items, at)
	return of[item], item
}

// An exercise is passed with this many of its latest answers right and fast, of this many
// different items (assumptions).
const passOf, passItems = 5, 4

// passedOut reports whether the latest answers in an exercise were all right and fast, and
// given without the code beside them.
func passedOut(attempts []progress.Attempt, e lesson.Exercise) bool {
	of, items := 0, map[string]bool{}
	for _, a := range slices.Backward(attempts) {
		switch {
		case a.Exercise != e.Name || a.Run != "" || a.Right && a.Helped:
			continue
		case !a.Right || !fast(a):
			return false
		}
		items[a.Item] = true
		if of++; of >= passOf && len(items) >= min(passItems, len(e.Items())) {
			return true
		}
	}
	return false
}

// fast reports whether an answer came as soon as can be expected: after what had to be
// seen, once more, and a few seconds to type it or, for a frame that is sent, to tap it
// (assumptions).
func fast(a progress.Attempt) bool {
	hands := 6 * time.Second
	if a.Exercise == progress.Sending {
		hands = 15 * time.Second
	}
	return a.TookMS <= 2*a.EnoughMS+hands.Milliseconds()
}

// among adds other items to the due ones if those are few: a trainee who has two to
// choose from guesses.
func among(due, all []string, random *rand.Rand) []string {
	const few = 4
	if len(due) >= few {
		return due
	}
	for _, i := range random.Perm(len(all)) {
		if len(due) < few && !slices.Contains(due, all[i]) {
			due = append(due, all[i])
		}
	}
	return due
}

// mostlyKnown reports whether most of the items will still be known in an hour.
func (t *Training) mostlyKnown(items []string, at time.Time) bool {
	const most, sure = 0.7, 0.8
	known := 0
	for _, m := range items {
		if t.chooser.Chance(m, at.Add(time.Hour)) >= sure {
			known++
		}
	}
	return float64(known) >= most*float64(len(items))
}

// play plays the lamp from its beginning.
func (t *Training) play(at time.Time) {
	t.plays++
	play := blink.Play{Light: t.question.Light, Once: t.question.Look.Once}
	if skip := time.Duration(t.random.Int64N(int64(time.Minute))); t.question.Look.MidFrame {
		play.Skip = skip
	}
	t.player.Play(play, at)
}

func (t *Training) askingKey(key rune, at time.Time) {
	t.note = ""
	if key != KeyEscape {
		t.leaving = false
	}
	switch {
	case key == KeyEscape && t.helped && !t.beside:
		t.helped = false
	case key == KeyEscape && t.exam != nil && !t.leaving:
		t.leaving = true
		t.note = "Leave the run? It then has no result. Esc again leaves."
	case key == KeyEscape && t.exam != nil:
		t.over = true
	case key == KeyEscape:
		t.back()
	case key == KeyEnter:
		t.answer(at)
	case key == KeyBackspace:
		t.entry.Erase()
		t.taps = t.taps[:min(len(t.taps), t.entry.Marks())]
	case key == 'r' && len(t.question.Light) > 0:
		if t.question.Look.Once {
			t.note = "One look only, this time: answer, or u for not sure."
			return
		}
		t.play(at)
	case key == '?' && t.exam != nil:
		t.note = "No help in a qualification run: answer, or u for not sure."
	case key == '?':
		t.helped = !t.helped
		t.looked = true
	case t.entry.Type(key):
		switch {
		case key == 'u':
			t.taps = nil
		case t.question.Way == lesson.BySending:
			t.tap(key, at)
		}
	}
}

// tap adds a mark to a frame that the trainee sends.
func (t *Training) tap(key rune, at time.Time) {
	mark := byte(blink.ShortMark)
	if strings.ContainsRune("_-l", key) {
		mark = blink.LongMark
	}
	if len(t.taps) == 0 {
		t.begun = at
	}
	t.taps = append(t.taps, reading.Tap{Mark: mark, At: at.Sub(t.begun)})
}

// answer takes the answer, records it, and shows feedback.
func (t *Training) answer(at time.Time) {
	if len(t.taps) > 0 {
		looks, _ := t.groups.Split(t.taps, at.Sub(t.begun)+time.Hour)
		var all blink.Frame
		for _, f := range looks {
			all = append(all, f...)
		}
		t.entry.SetSent(all)
	}
	answer, ok := t.entry.Answer()
	if !ok {
		t.note = "Type an answer first."
		return
	}
	enough := t.enough()
	if t.exam != nil && answer != progress.Unsure && at.Sub(t.begun) < enough {
		t.note = "Not yet: the lamp has not shown enough to read. Keep watching, or u for not sure."
		return
	}
	t.feedback = t.question.Judge(t.code, answer)
	if answer != t.question.Want && t.question.Way == lesson.BySending &&
		strings.ReplaceAll(answer, " ", "") == strings.ReplaceAll(t.question.Want, " ", "") {
		t.feedback.Lines = append([]string{fmt.Sprintf("The marks are right, but not the pauses: %d units between groups, %d within one.",
			t.code.Timing.GroupGap, t.code.Timing.MarkGap)}, t.feedback.Lines...)
	}
	attempt := progress.Attempt{
		Record: book.Record{Type: progress.AttemptType, Time: at}, Trainee: t.options.Trainee,
		Exercise: t.question.Exercise, Item: t.question.Item, Shown: t.question.Want, Read: answer,
		Right:  t.feedback.Right,
		TookMS: max(at.Sub(t.begun).Milliseconds(), 0), Plays: t.plays, Groups: t.question.GroupsRead(t.code, answer),
		Still: t.still && len(t.question.Light) > 0, Code: progress.CodeName(t.code), Helped: t.looked,
	}
	if len(t.question.Light) > 0 {
		attempt.UnitMS = t.unit.Milliseconds()
	}
	if answer != progress.Unsure && (t.exam != nil || len(t.question.Light) > 0) {
		attempt.EnoughMS = enough.Milliseconds()
	}
	if t.exam != nil {
		attempt.Run, attempt.RunID, attempt.Reading = t.result.Name, t.result.ID, len(t.result.Answers)+1
	}
	if err := t.options.Record(attempt); err != nil {
		t.trained.Err = err
		t.over = true
		return
	}
	t.trained.Attempts = append(t.trained.Attempts, attempt)
	t.trained.Answered++
	if attempt.Right {
		t.trained.Right++
	}
	t.chooser.Take(attempt)
	if t.exam == nil {
		t.page = answered
		t.player.Stop()
		return
	}
	t.examined(attempt)
}

// enough is how long the lamp must be watched before it can have been read: a rhythm or
// a frame once, from wherever it starts; a lamp that never changes, for as long as the
// longest rhythm might take. If the light is drawn instead of flashed, it is a second
// (an assumption).
func (t *Training) enough() time.Duration {
	if t.still || len(t.question.Light) == 0 {
		return time.Second
	}
	var period time.Duration
	for _, iv := range t.question.Light {
		period += iv.Duration
	}
	if last := t.question.Light[len(t.question.Light)-1]; !last.Lit && len(t.question.Light) > 1 {
		period -= last.Duration // no need to wait for it
	}
	return period
}

// examined continues an exam, without feedback.
func (t *Training) examined(attempt progress.Attempt) {
	e := t.result
	e.Answers = append(e.Answers, attempt)
	e.Add(attempt)
	if e.Of < len(t.exam) {
		t.ask(attempt.Time)
		return
	}
	t.page, t.trained.Exam = finished, e
	t.player.Stop()
}

func (t *Training) answeredKey(key rune, at time.Time) {
	switch {
	case key == KeyEscape:
		t.back()
	case key == KeyEnter:
		t.ask(at)
	case key == 'r' && len(t.question.Light) > 0:
		t.question.Look.Once = false // now it may be seen again
		t.play(at)
	}
}
