package progress

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
	"time"

	"tallywink.example/blink"
)

// Chooser chooses what a trainee is asked next.
//
// It keeps a model of the trainee. Each mark has a firmness, a time that scales the
// forgetting curve. Practice makes the mark firmer by a factor of its own, and more so
// the more was forgotten. How large that factor is for this trainee is not known:
// several values are kept, each with its own firmness, weighted by how well they
// predicted the answers (Bayes' rule). The model also tracks how many of the mark's
// recent answers were right: a mark that was never read right is not known, however
// often it was asked. The next mark is one that would be forgotten by tomorrow and is
// no longer fresh. What it was mistaken for comes soon after, and no mark comes twice
// in a row.
type Chooser struct {
	marks  map[string]*knowledge
	code   *blink.Code
	last   string
	random *rand.Rand
}

// knowledge is the model's estimate of how well a trainee knows a mark.
type knowledge struct {
	ways     [len(stickings)]hypothesis
	at       time.Time // last asked; zero if never
	confused bool      // since then it was given as the answer when another mark was shown
	trust    float64   // how far recent answers were right: 0 until one was right
	schedule Schedule
	repeated int // the day of the last repetition that the schedule counts
	day      int // of the latest answers
	seen     int // on that day
	right    int
}

// hypothesis is one hypothesis about how well a mark sticks.
type hypothesis struct {
	weight float64 // its probability
	firm   float64 // minutes that scale the forgetting curve
}

// stickings are the factors by which a practiced mark may become firmer.
var stickings = [...]float64{1.3, 1.6, 2, 2.5, 3, 3.6}

// Assumptions of the model: how firm a mark is after it was seen once, in minutes; the
// chance of guessing what is not remembered; and how much practice teaches when
// everything is still fresh.
const (
	firmAtFirst = 2.0
	guessed     = 0.1
	freshGain   = 0.15
)

// NewChooser makes a chooser that knows a trainee's earlier attempts at a code. If marks
// need practice equally, the random source decides.
func NewChooser(attempts []Attempt, code *blink.Code, random *rand.Rand) *Chooser {
	c := &Chooser{marks: map[string]*knowledge{}, code: code, random: random}
	for _, a := range attempts {
		c.Take(a)
	}
	c.last = ""
	return c
}

// DigitMark is the mark of practicing a digit.
func DigitMark(d int) string { return fmt.Sprintf("digit %d", d) }

// digitMark returns what practices a group of a frame; "" if it is not a digit.
func (c *Chooser) digitMark(group string) string {
	if d, ok := c.code.DigitOf(blink.Group(group)); ok {
		return DigitMark(d)
	}
	return ""
}

// Take takes an attempt into account. The groups of a frame that was read count for their
// digits, too; those of one that was sent do not: they were not read.
func (c *Chooser) Take(a Attempt) {
	if a.Helped && a.Right {
		c.Helped(a.Mark, a.Time)
		return
	}
	for _, g := range a.Groups {
		shown, read := c.digitMark(g.Shown), c.digitMark(g.Read)
		if a.Exercise != Sending && shown != "" && shown != a.Mark && (g.Shown == g.Read || read != "") {
			c.Record(shown, read, g.Shown == g.Read, a.Time)
		}
	}
	c.Record(a.Mark, confusedMark(a), a.Right, a.Time)
}

// confusedMark returns the mark for which an answer would have been right: marks of one
// exercise differ only in their last word.
func confusedMark(a Attempt) string {
	if a.Right || len(a.Mark) <= len(a.Shown) || a.Mark[len(a.Mark)-len(a.Shown):] != a.Shown {
		return ""
	}
	return a.Mark[:len(a.Mark)-len(a.Shown)] + a.Read
}

// Record takes an answer into account: the mark shown, the mark that it was mistaken
// for, or "", and the time.
func (c *Chooser) Record(mark, takenFor string, right bool, at time.Time) {
	k := c.of(mark)
	if day := dayOf(at); day != k.day {
		k.closeDay()
		k.day = day
	}
	k.seen++
	k.answered(right, at)
	if right {
		k.right++
		k.confused = false
		if k.trust == 0 {
			k.trust = 1
		}
		k.trust += (1 - k.trust) / 2
	} else {
		k.trust /= 2
	}
	if right {
		c.last = mark
		return
	}
	if takenFor != "" && takenFor != mark {
		c.of(takenFor).confused = true
	}
	c.last = mark
}

// Helped takes into account that a mark was answered right with the code beside it: that
// teaches as much as seeing the right answer after an error, and shows nothing about what
// was known.
func (c *Chooser) Helped(mark string, at time.Time) {
	k := c.of(mark)
	for i := range k.ways {
		w := &k.ways[i]
		if k.at.IsZero() {
			w.weight, w.firm = 1.0/float64(len(k.ways)), firmAtFirst
		} else {
			kept := Retention(at.Sub(k.at).Minutes() / w.firm)
			w.firm *= 1 + (stickings[i]-1)*(1-kept+freshGain)/2
		}
	}
	k.at, c.last = at, mark
}

// answered reweighs the hypotheses by an answer, and makes the mark firmer.
func (k *knowledge) answered(right bool, at time.Time) {
	sum := 0.0
	for i := range k.ways {
		w := &k.ways[i]
		if k.at.IsZero() {
			w.weight, w.firm = 1.0/float64(len(k.ways)), firmAtFirst
		}
		kept := 0.0
		if !k.at.IsZero() {
			kept = Retention(at.Sub(k.at).Minutes() / w.firm)
		}
		chance := guessed + (1-guessed)*kept
		gain := 1 + (stickings[i]-1)*(1-kept+freshGain)
		if right {
			w.weight *= chance
		} else {
			// A slip of the finger must not rule out a hypothesis for good.
			w.weight *= max(1-chance, 0.02)
			gain = 1 + (gain-1)/2 // the right answer is shown, which also teaches
		}
		w.firm *= gain
		sum += w.weight
	}
	for i := range k.ways {
		k.ways[i].weight /= sum
	}
	k.at = at
}

// chance returns how likely the mark is to be remembered at a time, assuming that what
// is shown after an error is learned as in the model.
func (k *knowledge) chance(at time.Time) float64 {
	sum := 0.0
	for _, w := range k.ways {
		sum += w.weight * Retention(at.Sub(k.at).Minutes()/w.firm)
	}
	return sum
}

func (c *Chooser) of(mark string) *knowledge {
	k := c.marks[mark]
	if k == nil {
		k = &knowledge{}
		c.marks[mark] = k
	}
	return k
}

// closeDay counts the answers of a day as one repetition. Practice before the schedule's
// day does not count, unless it failed: SM-2 is about repetitions that are due.
func (k *knowledge) closeDay() {
	if k.seen > 0 {
		grade := gradeOf(k.right, k.seen)
		if due := k.repeated + k.schedule.IntervalDays; k.schedule.Easiness == 0 || k.day >= due ||
			grade < passingGrade {
			k.schedule, k.repeated = k.schedule.After(grade), k.day
		}
	}
	k.seen, k.right = 0, 0
}

// Due returns the day, as [time.Time], on which a mark comes back, and reports whether
// that is known, which it is once the mark was asked. It is the schedule's day, or an
// earlier one if the mark is not firm enough to last that long.
func (c *Chooser) Due(mark string) (time.Time, bool) {
	k := c.marks[mark]
	if k == nil || k.at.IsZero() {
		return time.Time{}, false
	}
	if k.trust < trusted { // it was never right, or is no longer
		return k.at, true
	}
	return k.due(), true
}

// due returns the day of the schedule, or an earlier one.
func (k *knowledge) due() time.Time {
	now := *k
	now.closeDay()
	days := min(max(now.repeated+now.schedule.IntervalDays-now.day, 1), longestInterval)
	days = sort.Search(days-1, func(n int) bool { return k.chance(k.at.AddDate(0, 0, n+2)) < enough }) + 1
	return k.at.AddDate(0, 0, days)
}

// enough is the chance of being remembered below which a mark comes back, even before
// its day.
const enough = 0.9

// trusted is the trust below which a mark is due, whatever its day.
const trusted = 0.5

// longestInterval is the most days until a mark comes back.
const longestInterval = 180

// IsDue reports whether a mark should be practiced at a time: it is new, or its day has
// come.
func (c *Chooser) IsDue(mark string, now time.Time) bool {
	due, ok := c.Due(mark)
	return !ok || dayOf(due) <= dayOf(now)
}

// Chance estimates how likely a mark is to be remembered at a time, from 0 to
// 1.
func (c *Chooser) Chance(mark string, now time.Time) float64 {
	k := c.marks[mark]
	if k == nil || k.at.IsZero() {
		return 0
	}
	return k.trust * k.chance(now)
}

// Next returns which of the marks to ask. There must be at least one.
func (c *Chooser) Next(marks []string, now time.Time) string {
	const (
		notDue   = 0.5 // relative to one that is due
		confused = 0.15
		fresh    = 0.05
		jitter   = 0.01
	)
	best, most := marks[0], -1.0
	for _, mark := range marks {
		if len(marks) > 1 && mark == c.last {
			continue
		}
		// Prefer a mark that would be forgotten by tomorrow, but is not so fresh that asking
		// for it would not teach anything.
		k := c.marks[mark]
		need := 1 + fresh
		if k != nil && !k.at.IsZero() {
			need = (1 - k.chance(now.AddDate(0, 0, 1))) * (fresh + 1 - k.chance(now))
		}
		if k != nil && k.confused {
			need += confused
		}
		if !c.IsDue(mark, now) {
			need *= notDue
		}
		if need += jitter * c.random.Float64(); need > most {
			best, most = mark, need
		}
	}
	return best
}

// DueOf returns those of the marks that are due, the least known first.
func (c *Chooser) DueOf(marks []string, now time.Time) []string {
	due := slices.DeleteFunc(slices.Clone(marks), func(m string) bool { return !c.IsDue(m, now) })
	slices.SortStableFunc(due, func(a, b string) int {
		switch x, y := c.Chance(a, now), c.Chance(b, now); {
		case x < y:
			return -1
		case x > y:
			return 1
		}
		return 0
	})
	return due
}
