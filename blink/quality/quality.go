// Package quality measures how good a counted-pulse code is: which pilots look the
// same, how many errors turn one pilot into another, how fast the lamp flashes and how
// long a frame takes.
//
// An error is one mark missed, one mark counted twice, or one mark mistaken in length.
package quality

import (
	"math"
	"slices"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
)

// Report is what was measured of a code.
type Report struct {
	Pilots int // that the code can name
	// Alike holds pairs of pilots that can't be distinguished: their frames are the same.
	// A code that can be used has none.
	Alike []Pair
	// Distance is the smallest number of groups in which two frames differ, as in Hamming
	// distance. Frames of different lengths differ at least in the extra groups of the
	// longer one. It is 0 if there is only one pilot.
	Distance int
	// Errors is the smallest number of errors that turns one pilot's frame into another's,
	// and By is such a pair. Errors is 0 if no small number of errors does.
	Errors int
	By     Pair
	// Singles is the number of single errors possible in all frames. Silent is how many of
	// them make another pilot's frame, so that nobody would know.
	Singles, Silent int
	LongestRun      int // of equal marks in a digit: people err beyond four
	// Flashes is the most flashes in any second at the unit as sent. ShownFrom is the
	// shortest unit at which everything may be shown, or 0 if there is none (WCAG 2.3.1).
	Flashes   int
	ShownFrom time.Duration
	// How long a frame takes at the unit as sent, including the rest after it.
	Shortest, Mean, Longest time.Duration
}

// Pair is two pilots: the one shown and the one read.
type Pair struct{ Shown, Read channelplan.Pilot }

// SilentShare is the share of single errors that read as another pilot's frame.
func (r Report) SilentShare() float64 { return float64(r.Silent) / float64(max(r.Singles, 1)) }

// word is a pilot's frame.
type word struct {
	pilot  channelplan.Pilot
	digits []int
	frame  blink.Frame
	places []int // of the frame's groups in the alphabet
}

// Of measures a code. The code must not have flaws.
func Of(code *blink.Code) Report {
	var words []word
	byFrame := map[string]channelplan.Pilot{}
	r := Report{Errors: never, Distance: math.MaxInt, ShownFrom: code.ShownFrom()}
	for p := range code.Pilots {
		digits, err := code.Digits(p)
		if err != nil {
			continue
		}
		frame, _ := code.Encode(p) // has its digits
		text := frame.String()
		if other, taken := byFrame[text]; taken {
			r.Alike = append(r.Alike, Pair{other, p})
		} else {
			byFrame[text] = p
		}
		words = append(words, word{pilot: p, digits: digits, frame: frame})
	}
	r.Pilots, r.LongestRun = len(words), longestRun(words)
	r.distances(words)
	for _, w := range words {
		r.singles(w, byFrame)
	}
	r.times(code, words)
	return r
}

func longestRun(words []word) int {
	longest := 0
	for _, w := range words {
		for _, g := range w.frame.Lit() {
			run := 0
			for i := range len(g) {
				if i > 0 && g[i] != g[i-1] {
					run = 0
				}
				run++
				longest = max(longest, run)
			}
		}
	}
	return longest
}

// alphabet is all groups that occur in frames, and the fewest errors that turn one into
// another, by their places.
type alphabet struct {
	groups []blink.Group
	errors [][]int
}

// newAlphabet collects the groups of all frames, and sets the words' places in them.
func newAlphabet(words []word) alphabet {
	var a alphabet
	for w := range words {
		words[w].places = make([]int, len(words[w].frame))
		for i, g := range words[w].frame {
			place := slices.Index(a.groups, g)
			if place < 0 {
				place = len(a.groups)
				a.groups = append(a.groups, g)
			}
			words[w].places[i] = place
		}
	}
	for _, from := range a.groups {
		reached := reachable(seen(from))
		row := make([]int, len(a.groups))
		for i, to := range a.groups {
			n, ok := reached[seen(to)]
			if !ok {
				n = never
			}
			row[i] = n
		}
		a.errors = append(a.errors, row)
	}
	return a
}

// seen returns the marks of a group that can be seen.
func seen(g blink.Group) string {
	if g == blink.EmptyGroup {
		return ""
	}
	return string(g)
}

// distances finds the two pilots that are easiest to mistake for each other.
func (r *Report) distances(words []word) {
	letters := newAlphabet(words)
	for i, a := range words {
		for j, b := range words {
			if i == j {
				continue
			}
			if len(a.digits) == len(b.digits) {
				differ := 0
				for k := range a.digits {
					if a.digits[k] != b.digits[k] {
						differ++
					}
				}
				r.Distance = min(r.Distance, differ)
			} else {
				r.Distance = min(r.Distance, max(len(a.digits)-len(b.digits), len(b.digits)-len(a.digits)))
			}
			if n := letters.frameErrors(a, b); n < r.Errors {
				r.Errors, r.By = n, Pair{a.pilot, b.pilot}
			}
		}
	}
	if len(words) < 2 {
		r.Distance = 0
	}
	if r.Errors >= never {
		r.Errors = 0
	}
}

// never is more errors than any search looks for.
const never = 1 << 20

// mostErrors is how many errors in one group the search looks for.
const mostErrors = 3

// reachable returns what marks can become by errors, and the fewest errors that takes,
// up to mostErrors.
func reachable(from string) map[string]int {
	reached, frontier := map[string]int{from: 0}, []string{from}
	for n := 1; n <= mostErrors; n++ {
		var more []string
		for _, s := range frontier {
			for one := range oneError(s) {
				if _, seen := reached[one]; !seen {
					reached[one] = n
					more = append(more, one)
				}
			}
		}
		frontier = more
	}
	return reached
}

// oneError calls yield with the result of each single error in marks.
func oneError(marks string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for i := range len(marks) {
			other := string(blink.LongMark)
			if marks[i] == blink.LongMark {
				other = string(blink.ShortMark)
			}
			missed, twice, mistaken := marks[:i]+marks[i+1:], marks[:i+1]+marks[i:], marks[:i]+other+marks[i+1:]
			if !yield(missed) || !yield(twice) || !yield(mistaken) {
				return
			}
		}
	}
}

// frameErrors returns the fewest errors that turn a's frame into b's. A group is lost
// if all its marks are missed; a group never appears from nothing.
func (l alphabet) frameErrors(a, b word) int {
	n, m := len(a.digits), len(b.digits)
	if n < m {
		return never
	}
	before := make([]int, m+1)
	for j := range before {
		before[j] = never
	}
	before[0] = 0
	for i := 1; i <= n; i++ {
		row := make([]int, m+1)
		lost := len(seen(a.frame[i-1]))
		for j := range row {
			row[j] = before[j] + lost
			if j > 0 {
				row[j] = min(row[j], before[j-1]+l.errors[a.places[i-1]][b.places[j-1]])
			}
		}
		before = row
	}
	return min(before[m], never)
}

// singles counts every single error in a frame.
func (r *Report) singles(w word, byFrame map[string]channelplan.Pilot) {
	for k, g := range w.frame {
		for marks := range oneError(seen(g)) {
			r.Singles++
			read := slices.Clone(w.frame)
			read[k] = blink.Group(marks)
			names := func() bool {
				other, ok := byFrame[read.String()]
				return ok && other != w.pilot
			}
			if marks == "" { // the group was missed: its place stays dark, or is not noticed
				read[k] = blink.EmptyGroup
				if names() {
					r.Silent++
					continue
				}
				read = slices.Delete(read, k, k+1)
			}
			if names() {
				r.Silent++
			}
		}
	}
}

// times measures how long frames take, and how often the lamp flashes.
func (r *Report) times(code *blink.Code, words []word) {
	sum := time.Duration(0)
	for _, w := range words {
		intervals, period, err := code.Signal(blink.Signal{State: blink.Locked, Pilot: w.pilot}, code.Timing.Unit)
		if err != nil {
			continue
		}
		if r.Shortest == 0 || period < r.Shortest {
			r.Shortest = period
		}
		r.Longest = max(r.Longest, period)
		sum += period
		r.Flashes = max(r.Flashes, blink.PeakFlashes(intervals))
	}
	if len(words) > 0 {
		r.Mean = (sum / time.Duration(len(words))).Round(time.Millisecond)
	}
	for s := range code.Signals {
		if s.State == blink.Locked {
			continue // already measured
		}
		if intervals, _, err := code.Signal(s, code.Timing.Unit); err == nil {
			r.Flashes = max(r.Flashes, blink.PeakFlashes(intervals))
		}
	}
}
