package progress

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// Standing is a trainee's current standing.
type Standing struct {
	Trainee    string
	Attempts   int
	Right      int
	Last       time.Time
	Items      []ItemStanding // in order of name
	Confusions []Confusion    // the most frequent first
	Days       []Day          // in order
	Due        []string       // items that are due, the least known first
	Runs       []Run          // qualification runs, in order
	// Ready reports that the latest readings in training would have passed a run.
	Ready bool
}

// Length of a qualification run in readings, and how many must be right to pass. No
// pilot may be misread, no answer may be early, and no reading may be answered twice.
const (
	RunLength = 20
	PassMark  = 19
)

// Run is a qualification run.
type Run struct {
	Name    string // the seed
	Last    time.Time
	Right   int
	Of      int // readings answered
	Misread int // pilots that were given as the answer but were others
	// Still reports whether in some reading the pulses were drawn and nothing flashed,
	// which is easier.
	Still bool
	// ID is the identity of its sitting. It is "" if the run was recorded before runs had
	// one; then its end can only be guessed.
	ID string
	// Early is how many answers came before enough of the lamp was shown to be read:
	// guesses, or known from before. Repeated is how many readings were answered twice.
	Early, Repeated int
	readings        map[int]bool
}

// Passed reports whether the run was finished and passed.
func (r Run) Passed() bool {
	return r.Of == RunLength && r.Right >= PassMark && r.Misread == 0 && r.Early == 0 && r.Repeated == 0
}

// Add takes the next attempt of the run into account.
func (r *Run) Add(a Attempt) {
	r.Of++
	r.Last, r.Still = a.Time, r.Still || a.Still
	if a.Early() {
		r.Early++
	}
	if a.Reading > 0 {
		if r.readings == nil {
			r.readings = map[int]bool{}
		}
		if r.readings[a.Reading] {
			r.Repeated++
		}
		r.readings[a.Reading] = true
	}
	switch {
	case a.Right:
		r.Right++
	case strings.Contains(a.Item, "pilot") && a.Read != Unsure:
		r.Misread++
	}
}

// Unsure is the answer of a trainee who does not know: it is wrong, but not a
// misreading.
const Unsure = "unsure"

// pause is the time after which a run without an identity counts as left: a reading
// takes half a minute (an assumption).
const pause = 30 * time.Minute

// RunsOf returns the qualification runs in attempts, in the order of their first
// answers. Records have the identity of their run, except older ones. Those runs end
// with the twentieth reading, with another seed, with a pause, or when their first
// questions come again.
func RunsOf(attempts []Attempt) []Run {
	var runs []Run
	place := map[string]int{}
	var old []Attempt // without an identity
	for _, a := range attempts {
		if a.Run != "" && a.RunID == "" {
			old = append(old, a)
		}
	}
	at, start, run := 0, 0, -1 // place in old, where its run began, and index of the run
	for _, a := range attempts {
		switch {
		case a.Run == "":
		case a.RunID != "":
			i, known := place[a.RunID]
			if !known {
				i = len(runs)
				place[a.RunID] = i
				runs = append(runs, Run{Name: a.Run, ID: a.RunID})
			}
			runs[i].Add(a)
		default:
			if run < 0 || runs[run].Name != a.Run || runs[run].Of == RunLength ||
				a.Time.Sub(runs[run].Last) > pause || again(old, start, at) {
				start, run = at, len(runs)
				runs = append(runs, Run{Name: a.Run})
			}
			runs[run].Add(a)
			at++
		}
	}
	return runs
}

// TimesTaken returns how many runs with the given name there are in attempts.
func TimesTaken(attempts []Attempt, name string) int {
	n := 0
	for _, r := range RunsOf(attempts) {
		if r.Name == name {
			n++
		}
	}
	return n
}

// again reports whether the first two questions of the run that began at start come
// again from at on.
func again(old []Attempt, start, at int) bool {
	same := func(i, k int) bool { return old[i].Item == old[k].Item && old[i].Shown == old[k].Shown }
	switch {
	case at == start || !same(at, start):
		return false
	case at == start+1 || at+1 == len(old):
		return true
	}
	return same(at+1, start+1)
}

// ItemStanding is how often an item was asked and read right.
type ItemStanding struct {
	Item  string
	Seen  int
	Right int
}

// Confusion is an item that was read as another one.
type Confusion struct {
	Shown, Read string
	Count       int
}

// Day is a day of practice.
type Day struct {
	Date     time.Time // midnight
	Attempts int
	Right    int
	// Took is the median time of right answers, from the first light, or 0 if none was
	// right.
	Took time.Duration
}

// Stand works out a trainee's standing from their attempts. Digits within frames count
// as digits; the code says which they are.
func Stand(trainee string, attempts []Attempt, code *blink.Code, now time.Time) Standing {
	s := Standing{Trainee: trainee}
	items := map[string]*ItemStanding{}
	confused := map[Confusion]int{}
	took := map[int][]time.Duration{}
	for _, a := range attempts {
		s.Attempts++
		m := items[a.Item]
		if m == nil {
			m = &ItemStanding{Item: a.Item}
			items[a.Item] = m
		}
		m.Seen++
		day := dayOf(a.Time)
		if n := len(s.Days); n == 0 || dayOf(s.Days[n-1].Date) != day {
			year, month, date := a.Time.Date()
			s.Days = append(s.Days, Day{Date: time.Date(year, month, date, 0, 0, 0, 0, a.Time.Location())})
		}
		today := &s.Days[len(s.Days)-1]
		today.Attempts++
		if a.Right {
			s.Right++
			m.Right++
			today.Right++
			took[len(s.Days)-1] = append(took[len(s.Days)-1], time.Duration(a.TookMS)*time.Millisecond)
		}
		for _, c := range confusionsOf(a, code) {
			confused[c]++
		}
		if a.Time.After(s.Last) {
			s.Last = a.Time
		}
	}
	for i, all := range took {
		slices.Sort(all)
		s.Days[i].Took = all[len(all)/2]
	}
	names := make([]string, 0, len(items))
	for name, m := range items {
		names = append(names, name)
		s.Items = append(s.Items, *m)
	}
	slices.SortFunc(s.Items, func(a, b ItemStanding) int { return cmp.Compare(a.Item, b.Item) })
	slices.Sort(names)
	for c, n := range confused {
		c.Count = n
		s.Confusions = append(s.Confusions, c)
	}
	slices.SortFunc(s.Confusions, func(a, b Confusion) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Shown, b.Shown), cmp.Compare(a.Read, b.Read))
	})
	s.Runs = RunsOf(attempts)
	s.Ready = IsReady(attempts)
	s.Due = NewChooser(attempts, code, nil).DueOf(names, now)
	return s
}

// confusionsOf returns what was misread in an attempt: digits, if it was a frame.
// Frames sent wrong and unsure answers are not misreadings.
func confusionsOf(a Attempt, code *blink.Code) []Confusion {
	if a.Right || a.Exercise == Sending || a.Read == Unsure {
		return nil
	}
	if len(a.Groups) < 2 {
		return []Confusion{{Shown: a.Shown, Read: a.Read}}
	}
	var all []Confusion
	for _, g := range a.Groups {
		if g.Shown != g.Read {
			all = append(all, Confusion{Shown: digitText(code, g.Shown), Read: digitText(code, g.Read)})
		}
	}
	return all
}

// digitText returns the digit that has the marks, or else the marks.
func digitText(code *blink.Code, marks string) string {
	if d, ok := code.DigitOf(blink.Group(marks)); ok {
		return string(rune('0' + d))
	}
	return marks
}

// Sending is the exercise that is not about reading: it says nothing about how a lamp
// is read, and neither do pulses that were drawn.
const Sending = "sending"

// Field is the exercise with readings like those of a qualification run.
const Field = "field"

// HabitsOf counts what a trainee misread in groups whose answer is known. If a group
// has as many marks as were shown, those of another length were mistaken. If it has
// fewer or more, marks were missed or doubled.
func HabitsOf(attempts []Attempt) reading.Habits {
	var h reading.Habits
	for _, a := range attempts {
		if a.Exercise == Sending || a.Still {
			continue
		}
		for _, g := range a.Groups {
			h.Marks += len(g.Shown)
			switch more := len(g.Read) - len(g.Shown); {
			case more < 0:
				h.Missed -= more
			case more > 0:
				h.Doubled += more
			default:
				longs := strings.Count(g.Read, "_") - strings.Count(g.Shown, "_")
				h.Mistaken += max(longs, -longs)
			}
		}
	}
	return h
}
