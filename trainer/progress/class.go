package progress

import (
	"cmp"
	"slices"
	"time"
)

// Class is how several trainees stand together.
type Class struct {
	Trainees []Standing
	// Items are sorted by how hard they are for the class, the hardest first; Confusions
	// by how frequent they are.
	Items      []ItemStanding
	Confusions []Confusion
}

// ClassOf sums up the standings of trainees.
func ClassOf(standings []Standing) Class {
	c := Class{Trainees: standings}
	items, confused := map[string]ItemStanding{}, map[Confusion]int{}
	for _, s := range standings {
		for _, m := range s.Items {
			sum := items[m.Item]
			items[m.Item] = ItemStanding{m.Item, sum.Seen + m.Seen, sum.Right + m.Right}
		}
		for _, one := range s.Confusions {
			n := one.Count
			one.Count = 0
			confused[one] += n
		}
	}
	for _, m := range items {
		c.Items = append(c.Items, m)
	}
	share := func(m ItemStanding) float64 { return float64(m.Right) / float64(max(m.Seen, 1)) }
	slices.SortFunc(c.Items, func(a, b ItemStanding) int {
		return cmp.Or(cmp.Compare(share(a), share(b)), cmp.Compare(b.Seen, a.Seen), cmp.Compare(a.Item, b.Item))
	})
	for one, n := range confused {
		one.Count = n
		c.Confusions = append(c.Confusions, one)
	}
	slices.SortFunc(c.Confusions, func(a, b Confusion) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), cmp.Compare(a.Shown, b.Shown), cmp.Compare(a.Read, b.Read))
	})
	return c
}

// Qualified returns when the trainee last passed a qualification run; the zero time if
// never.
func (s Standing) Qualified() time.Time {
	var last time.Time
	for _, r := range s.Runs {
		if r.Passed() && r.Last.After(last) {
			last = r.Last
		}
	}
	return last
}

// The readings that show that a trainee is ready for a qualification run: as many as it
// has, and as many of them right, none misread (an assumption).
const readyOf, readyRight = RunLength, PassMark

// IsReady reports whether the latest readings as in the field, of a flashing lamp, were as
// many and as good as a qualification run asks for.
func IsReady(attempts []Attempt) bool {
	of, right := 0, 0
	for _, a := range slices.Backward(attempts) {
		if a.Run != "" || a.Exercise != Field || a.Still || a.Right && (a.Early() || a.Helped) {
			continue // a right guess shows nothing, and neither does what was looked up
		}
		if of++; a.Right {
			right++
		} else if a.Read != Unsure {
			return false
		}
		if of == readyOf {
			return right >= readyRight
		}
	}
	return false
}
