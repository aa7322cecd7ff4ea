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
// It keeps a model of the trainee. Each item has a firmness, a time that scales the
// forgetting curve. Practice makes the item firmer by a factor of its own, and more so
// the more was forgotten. How large that factor is for this trainee is not known:
// several values are kept, each with its own firmness, weighted by how well they
// predicted the answers (Bayes' rule). The model also tracks how many of the item's
// recent answers were right: an item that was never read right is not known, however
// often it was asked. The next item is one that would be forgotten by tomorrow and is
// no longer fresh. What it was mistaken for comes soon after, and no item comes twice
// in a row.
type Chooser struct {
	items  map[string]*knowledge
	code   *blink.Code
	last   string
	random *rand.Rand
}

// knowledge is the model's estimate of how well a trainee knows an item.
type knowledge struct {
	ways     [len(stickings)]hypothesis
	at       time.Time // last asked; zero if never
	confused bool      // since then it was given as the answer when another item was shown
	trust    float64   // how far recent answers were right: 0 until one was right
	schedule Schedule
	repeated int // the day of the last repetition that the schedule counts
	day      int // of the latest answers
	seen     int // on that day
	right    int
}

// hypothesis is one hypothesis about how well an item sticks.
type hypothesis struct {
	weight float64 // its probability
	firm   float64 // minutes that scale the forgetting curve
}

// stickings are the factors by which a practiced item may become firmer.
var stickings = [...]float64{1.3, 1.6, 2, 2.5, 3, 3.6}

// Assumptions of the model: how firm an item is after it was seen once, in minutes; the
// chance of guessing what is not remembered; and how much practice teaches when
// everything is still fresh.
const (
	firmAtFirst = 2.0
	guessed     = 0.1
	freshGain   = 0.15
)

// NewChooser makes a chooser that knows a trainee's earlier attempts at a code. If items
// need practice equally, the random source decides.
func NewChooser(attempts []Attempt, code *blink.Code, random *rand.Rand) *Chooser {
	c := &Chooser{items: map[string]*knowledge{}, code: code, random: random}
	for _, a := range attempts {
		c.Take(a)
	}
	c.last = ""
	return c
}

// DigitItem is the item of practicing a digit.
func DigitItem(d int) string { return fmt.Sprintf("digit %d", d) }

// digitItem returns what practices a group of a frame; "" if it is not a digit.
func (c *Chooser) digitItem(group string) string {
	if d, ok := c.code.DigitOf(blink.Group(group)); ok {
		return DigitItem(d)
	}
	return ""
}

// Take takes an attempt into account. The groups of a frame that was read count for their
// digits, too; those of one that was sent do not: they were not read.
func (c *Chooser) Take(a Attempt) {
	if a.Helped && a.Right {
		c.Helped(a.Item, a.Time)
		return
	}
	for _, g := range a.Groups {
		shown, read := c.digitItem(g.Shown), c.digitItem(g.Read)
		if a.Exercise != Sending && shown != "" && shown != a.Item && (g.Shown == g.Read || read != "") {
			c.Record(shown, read, g.Shown == g.Read, a.Time)
		}
	}
	c.Record(a.Item, confusedItem(a), a.Right, a.Time)
}

// confusedItem returns the item for which an answer would have been right: items of one
// exercise differ only in their last word.
func confusedItem(a Attempt) string {
	if a.Right || len(a.Item) <= len(a.Shown) || a.Item[len(a.Item)-len(a.Shown):] != a.Shown {
		return ""
	}
	return a.Item[:len(a.Item)-len(a.Shown)] + a.Read
}

// Record takes an answer into account: the item shown, the item that it was mistaken
// for, or "", and the time.
func (c *Chooser) Record(item, takenFor string, right bool, at time.Time) {
	k := c.of(item)
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
		c.last = item
		return
	}
	if takenFor != "" && takenFor != item {
		c.of(takenFor).confused = true
	}
	c.last = item
}

// Helped takes into account that an item was answered right with the code beside it: that
// teaches as much as seeing the right answer after an error, and shows nothing about what
// was known.
func (c *Chooser) Helped(item string, at time.Time) {
	k := c.of(item)
	for i := range k.ways {
		w := &k.ways[i]
		if k.at.IsZero() {
			w.weight, w.firm = 1.0/float64(len(k.ways)), firmAtFirst
		} else {
			kept := Retention(at.Sub(k.at).Minutes() / w.firm)
			w.firm *= 1 + (stickings[i]-1)*(1-kept+freshGain)/2
		}
	}
	k.at, c.last = at, item
}

// answered reweighs the hypotheses by an answer, and makes the item firmer.
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

// chance returns how likely the item is to be remembered at a time, assuming that what
// is shown after an error is learned as in the model.
func (k *knowledge) chance(at time.Time) float64 {
	sum := 0.0
	for _, w := range k.ways {
		sum += w.weight * Retention(at.Sub(k.at).Minutes()/w.firm)
	}
	return sum
}

func (c *Chooser) of(item string) *knowledge {
	k := c.items[item]
	if k == nil {
		k = &knowledge{}
		c.items[item] = k
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

// Due returns the day, as [time.Time], on which an item comes back, and reports whether
// that is known, which it is once the item was asked. It is the schedule's day, or an
// earlier one if the item is not firm enough to last that long.
func (c *Chooser) Due(item string) (time.Time, bool) {
	k := c.items[item]
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

// enough is the chance of being remembered below which an item comes back, even before
// its day.
const enough = 0.9

// trusted is the trust below which an item is due, whatever its day.
const trusted = 0.5

// longestInterval is the most days until an item comes back.
const longestInterval = 180

// IsDue reports whether an item should be practiced at a time: it is new, or its day has
// come.
func (c *Chooser) IsDue(item string, now time.Time) bool {
	due, ok := c.Due(item)
	return !ok || dayOf(due) <= dayOf(now)
}

// Chance estimates how likely an item is to be remembered at a time, from 0 to
// 1.
func (c *Chooser) Chance(item string, now time.Time) float64 {
	k := c.items[item]
	if k == nil || k.at.IsZero() {
		return 0
	}
	return k.trust * k.chance(now)
}

// Next returns which of the items to ask. There must be at least one.
func (c *Chooser) Next(items []string, now time.Time) string {
	const (
		notDue   = 0.5 // relative to one that is due
		confused = 0.15
		fresh    = 0.05
		jitter   = 0.01
	)
	best, most := items[0], -1.0
	for _, item := range items {
		if len(items) > 1 && item == c.last {
			continue
		}
		// Prefer an item that would be forgotten by tomorrow, but is not so fresh that asking
		// for it would not teach anything.
		k := c.items[item]
		need := 1 + fresh
		if k != nil && !k.at.IsZero() {
			need = (1 - k.chance(now.AddDate(0, 0, 1))) * (fresh + 1 - k.chance(now))
		}
		if k != nil && k.confused {
			need += confused
		}
		if !c.IsDue(item, now) {
			need *= notDue
		}
		if need += jitter * c.random.Float64(); need > most {
			best, most = item, need
		}
	}
	return best
}

// DueOf returns those of the items that are due, the least known first.
func (c *Chooser) DueOf(items []string, now time.Time) []string {
	due := slices.DeleteFunc(slices.Clone(items), func(m string) bool { return !c.IsDue(m, now) })
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
