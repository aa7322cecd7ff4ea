package progress

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
)

// Standing is how a trainee stands.
type Standing struct {
	Trainee    string
	Attempts   int
	Right      int
	Last       time.Time
	Marks      []MarkStanding // in order of name
	Confusions []Confusion    // the most frequent first
	Days       []Day          // in order
	Due        []string       // marks that are due, the least known first
	Runs       []Run          // qualification runs, in order
}

// A qualification run has so many readings, is passed with so many right, and
// with no pilot misread.
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
	Misread int // pilots that were named and were others
	// Still tells that in some reading the pulses were drawn and nothing
	// flashed: that is easier.
	Still bool
}

// Passed reports whether the run was finished and passed.
func (r Run) Passed() bool { return r.Of == RunLength && r.Right >= PassMark && r.Misread == 0 }

// Add takes the next attempt of the run into account.
func (r *Run) Add(a Attempt) {
	r.Of++
	r.Last, r.Still = a.Time, r.Still || a.Still
	switch {
	case a.Right:
		r.Right++
	case strings.Contains(a.Mark, "pilot") && a.Read != Unsure:
		r.Misread++
	}
}

// Unsure is the answer of who does not know: wrong, but nothing was misread.
const Unsure = "unsure"

// RunsOf returns the qualification runs in attempts.
func RunsOf(attempts []Attempt) []Run {
	var runs []Run
	for _, a := range attempts {
		if a.Run == "" {
			continue
		}
		n := len(runs)
		if n == 0 || runs[n-1].Name != a.Run || runs[n-1].Of == RunLength {
			runs = append(runs, Run{Name: a.Run})
			n++
		}
		runs[n-1].Add(a)
	}
	return runs
}

// MarkStanding is how often a mark was asked for and read right.
type MarkStanding struct {
	Mark  string
	Seen  int
	Right int
}

// Confusion is something that was read as something else.
type Confusion struct {
	Shown, Read string
	Count       int
}

// Day is a day of practice.
type Day struct {
	Date     time.Time // midnight
	Attempts int
	Right    int
	// Took is the median time of right answers, from the first light; 0 where
	// none was right.
	Took time.Duration
}

// Stand puts a trainee's attempts together. Digits of whole frames count as
// digits: a code says which they are.
func Stand(trainee string, attempts []Attempt, code *blink.Code, now time.Time) Standing {
	s := Standing{Trainee: trainee}
	marks := map[string]*MarkStanding{}
	confused := map[Confusion]int{}
	took := map[int][]time.Duration{}
	for _, a := range attempts {
		s.Attempts++
		m := marks[a.Mark]
		if m == nil {
			m = &MarkStanding{Mark: a.Mark}
			marks[a.Mark] = m
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
	names := make([]string, 0, len(marks))
	for name, m := range marks {
		names = append(names, name)
		s.Marks = append(s.Marks, *m)
	}
	slices.SortFunc(s.Marks, func(a, b MarkStanding) int { return cmp.Compare(a.Mark, b.Mark) })
	slices.Sort(names)
	for c, n := range confused {
		c.Count = n
		s.Confusions = append(s.Confusions, c)
	}
	slices.SortFunc(s.Confusions, func(a, b Confusion) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Shown, b.Shown), cmp.Compare(a.Read, b.Read))
	})
	s.Runs = RunsOf(attempts)
	s.Due = NewChooser(attempts, nil).DueOf(names, now)
	return s
}

// confusionsOf returns what was misread in an attempt: digits, where it was a
// frame. What was sent wrong was not misread, nor what was not sure.
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

// digitText is the digit that marks are, or the marks.
func digitText(code *blink.Code, marks string) string {
	if d, ok := code.DigitOf(blink.Group(marks)); ok {
		return string(rune('0' + d))
	}
	return marks
}

// Sending is the exercise that is not reading: it tells nothing of how a lamp
// is read. Nor do pulses that were drawn.
const Sending = "sending"

// HabitsOf counts what a trainee misread in groups whose answer is known. Of a
// group with as many marks as were shown, those of another length are
// mistaken; of one with fewer or more, marks were missed or doubled.
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
