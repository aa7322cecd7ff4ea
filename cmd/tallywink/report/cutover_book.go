package report

import (
	"fmt"
	"strings"
	"time"

	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/cmd/tallywink/console"
)

// doneBlocks say how far the work has come, and at which amplifiers the lamp shows something
// that the plan does not expect.
func (w WorkPlan) doneBlocks() []console.Block {
	if !w.Followed {
		return nil
	}
	var moved, parked, locked, read int
	var last time.Time
	var odd, half []string
	for _, s := range w.Steps {
		if s.Action < cutover.Early || s.SeenAt.IsZero() {
			continue
		}
		read++
		if s.SeenAt.After(last) {
			last = s.SeenAt
		}
		switch {
		case !s.Unconfirmed.IsZero():
			half = append(half, fmt.Sprintf("%s (%v)", s.ID, s.Unconfirmed))
			if s.Action == cutover.Early {
				moved++
			} else {
				locked++
			}
		case s.Surprise != "":
			odd = append(odd, fmt.Sprintf("%s (%s)", s.ID, s.Surprise))
		case s.Action == cutover.Early && s.Stage == cutover.Moved:
			moved++
		case s.Stage == cutover.Moved:
			locked++
		case s.Action != cutover.Early && s.Stage == cutover.Parked:
			parked++
		}
	}
	if read == 0 {
		return []console.Block{console.Section("Done", "nothing yet, by the book: none of these amplifiers was read.")}
	}
	var done []string
	if n := w.Count[cutover.Early]; n > 0 {
		done = append(done, fmt.Sprintf("%d of %d moved early", moved, n))
	}
	if n := w.Count[cutover.Park] + w.Count[cutover.Strand]; n > 0 {
		done = append(done, fmt.Sprintf("of %d to park, %d parked and %d locked again", n, parked, locked))
	}
	blocks := []console.Block{console.Section("Done",
		fmt.Sprintf("%s. The book has readings of %d of them, the last on %s. The rest is planned below.",
			strings.Join(done, "; "), read, last.Local().Format(field.Minute)))}
	if len(half) > 0 {
		blocks = append(blocks, console.Section("Confirm",
			console.Shown("the lamp names one of two new pilots. Make sure that the other one was set, too, at "+
				strings.Join(half, ", ")+".")))
	}
	if len(odd) > 0 {
		const most = 8
		more := ""
		if len(odd) > most {
			more = fmt.Sprintf(" and %d more", len(odd)-most)
		}
		blocks = append(blocks, console.Section("Look",
			console.Shown("the lamp shows something else at "+
				strings.Join(odd[:min(len(odd), most)],
					", ")+more+": read it again before you change anything there.")))
	}
	return blocks
}

// doneIn says what was done of a visit in a phase, and when its lamp was read; "" if nothing.
func doneIn(phase string, s cutover.Step) string {
	what := ""
	switch {
	case phase == "early" && s.Stage == cutover.Moved:
		what = "moved"
	case phase == "park" && s.Stage != cutover.Waiting:
		what = "parked"
	case phase == "lock" && s.Stage == cutover.Moved:
		what = "locked"
	default:
		return ""
	}
	return what + ", read " + s.SeenAt.Local().Format(field.Minute)
}
