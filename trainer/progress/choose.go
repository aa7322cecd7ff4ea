package progress

import (
	"math/rand/v2"
	"slices"
	"sort"
	"time"
)

// Chooser chooses what a trainee is asked next.
//
// It keeps a model of the trainee: each mark has a firmness, a time that
// scales the forgetting curve. Practice makes it firmer by a factor that is
// the mark's own, the more so the more was forgotten. How large that factor is
// for this trainee is not known: several are held possible, each with its
// own firmness, and weighed by how well they foretold the answers (Bayes'
// rule). Beside that stands how far its answers were right of late: what was never read
// right is not known, however often it was asked. The mark is asked next that would be forgotten by tomorrow and is no
// longer fresh; what it was taken for comes soon after, and nothing comes
// twice in a row.
type Chooser struct {
	marks  map[string]*knowledge
	last   string
	random *rand.Rand
}

// knowledge is what is known of a trainee's knowledge of a mark.
type knowledge struct {
	ways     [len(stickings)]hypothesis
	at       time.Time // last asked; zero: never
	confused bool      // it was answered where another was shown, since
	trust    float64   // how far its answers were right of late: 0 until one was
	schedule Schedule
	day      int // of the last answers
	seen     int // on that day
	right    int
}

// hypothesis is one hypothesis of how a mark sticks.
type hypothesis struct {
	weight float64 // its probability
	firm   float64 // minutes that scale the forgetting curve
}

// stickings are the factors by which a practised mark may grow firmer.
var stickings = [...]float64{1.3, 1.6, 2, 2.5, 3, 3.6}

// Assumptions of the model: how firm a mark is when it was seen once, in
// minutes; the chance to guess what is not remembered; and how much practice
// teaches where all is still fresh.
const (
	firmAtFirst = 2.0
	guessed     = 0.1
	freshGain   = 0.15
)

// NewChooser makes a chooser that knows a trainee's earlier attempts. Where
// marks need practice alike the random source decides.
func NewChooser(attempts []Attempt, random *rand.Rand) *Chooser {
	c := &Chooser{marks: map[string]*knowledge{}, random: random}
	for _, a := range attempts {
		c.Take(a)
	}
	c.last = ""
	return c
}

// Take takes an attempt into account.
func (c *Chooser) Take(a Attempt) { c.Record(a.Mark, confusedMark(a), a.Right, a.Time) }

// confusedMark is the mark that an answer would have been right for: marks of
// one exercise differ in their last word alone.
func confusedMark(a Attempt) string {
	if a.Right || len(a.Mark) <= len(a.Shown) || a.Mark[len(a.Mark)-len(a.Shown):] != a.Shown {
		return ""
	}
	return a.Mark[:len(a.Mark)-len(a.Shown)] + a.Read
}

// Record takes an answer into account: the mark shown, the mark that it was
// taken for, or none, and when.
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

// answered weighs the hypotheses by an answer, and makes the mark firmer.
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
			// A slip of the finger must not refute anything for good.
			w.weight *= max(1-chance, 0.02)
			gain = 1 + (gain-1)/2 // the right answer is shown, which teaches too
		}
		w.firm *= gain
		sum += w.weight
	}
	for i := range k.ways {
		k.ways[i].weight /= sum
	}
	k.at = at
}

// chance is how likely the mark is to be remembered at a time, if what is shown after an
// error is learned as the model has it.
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

// closeDay makes a repetition of a day's answers.
func (k *knowledge) closeDay() {
	if k.seen > 0 {
		k.schedule = k.schedule.After(gradeOf(k.right, k.seen))
	}
	k.seen, k.right = 0, 0
}

// Due returns the day, as [time.Time], on which a mark comes back, and whether
// that is known: it was asked before. It is the schedule's day, or an earlier
// one where the mark is not firm enough to last so long.
func (c *Chooser) Due(mark string) (time.Time, bool) {
	k := c.marks[mark]
	if k == nil || k.at.IsZero() {
		return time.Time{}, false
	}
	if k.trust < trusted { // it was never right, or is not any more
		return k.at, true
	}
	return k.due(), true
}

// due is the day of the schedule, or an earlier one.
func (k *knowledge) due() time.Time {
	now := *k
	now.closeDay()
	days := min(max(now.schedule.IntervalDays, 1), longestInterval)
	days = sort.Search(days-1, func(n int) bool { return k.chance(k.at.AddDate(0, 0, n+2)) < enough }) + 1
	return k.at.AddDate(0, 0, days)
}

// enough is the chance of being remembered under which a mark comes back, also
// before its day.
const enough = 0.9

// trusted is the trust below which a mark is due, whatever its day.
const trusted = 0.5

// longestInterval is after how many days a mark comes back at the latest.
const longestInterval = 180

// IsDue reports whether a mark is to be practised at a time: it is new, or its
// day has come.
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

// Next returns which of some marks to ask, of which there is at least one.
func (c *Chooser) Next(marks []string, now time.Time) string {
	const (
		notDue   = 0.5 // of the need of one that is due
		confused = 0.15
		fresh    = 0.05
		jitter   = 0.01
	)
	best, most := marks[0], -1.0
	for _, mark := range marks {
		if len(marks) > 1 && mark == c.last {
			continue
		}
		// What would be forgotten by tomorrow, and is not so fresh that asking
		// would teach nothing.
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

// DueOf returns those of some marks that are due, the least known first.
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
