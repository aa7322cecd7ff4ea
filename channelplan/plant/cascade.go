package plant

import (
	"fmt"
	"strings"

	"tallywink.example/channelplan/fault"
)

// Cascades says how the amplifiers of a plant are connected. Amplifiers are given by
// their index in [Plant.Amplifiers].
type Cascades struct {
	// Order has every amplifier after the one before it in its cascade: cascade by
	// cascade, otherwise in the order of the file.
	Order []int
	// Upstream is the amplifier before each; -1 if there is none, if the inventory does
	// not list it, or if a loop was opened there.
	Upstream []int
	// Downstream holds the amplifiers right after each, in the order of the file.
	Downstream [][]int
	// Depth is how many amplifiers are before each.
	Depth []int
	// Problems holds upstream amplifiers that the inventory does not list, and loops,
	// each reported once.
	Problems []fault.Error
}

// Cascades follows the cascades upstream from every amplifier.
func (p *Plant) Cascades() *Cascades {
	n := len(p.Amplifiers)
	c := &Cascades{Upstream: make([]int, n), Downstream: make([][]int, n), Depth: make([]int, n),
		Order: make([]int, 0, n)}
	for i, a := range p.Amplifiers {
		c.Upstream[i] = -1
		if a.Upstream == "" {
			continue
		}
		up, ok := p.Find(a.Upstream)
		if !ok {
			c.Problems = append(c.Problems, fault.Error{Line: a.Line, Column: 1,
				Text: fmt.Sprintf("%s is fed by %s, which the inventory does not list (or its row can't be read)",
					a.ID, a.Upstream),
				Hint: "correct the upstream column"})
			continue
		}
		c.Upstream[i] = up
	}
	c.openRings(p)
	for i, up := range c.Upstream {
		if up >= 0 {
			c.Downstream[up] = append(c.Downstream[up], i)
		}
	}
	for i, up := range c.Upstream {
		if up < 0 {
			c.walk(i)
		}
	}
	return c
}

// openRings finds amplifiers that feed each other in a loop, and makes the first of each
// loop the head of a cascade.
func (c *Cascades) openRings(p *Plant) {
	const fresh, onPath, done = 0, 1, 2
	seen := make([]uint8, len(c.Upstream))
	for start := range c.Upstream {
		var path []int
		i := start
		for ; i >= 0 && seen[i] == fresh; i = c.Upstream[i] {
			seen[i] = onPath
			path = append(path, i)
		}
		if i >= 0 && seen[i] == onPath {
			first := i
			ring := []int{i}
			for j := c.Upstream[i]; j != i; j = c.Upstream[j] {
				ring = append(ring, j)
				first = min(first, j)
			}
			c.Problems = append(c.Problems, fault.Error{Line: p.Amplifiers[first].Line, Column: 1,
				Text: ringText(p, c.Upstream, first, len(ring)), Hint: "correct the upstream column of one"})
			c.Upstream[first] = -1
		}
		for _, j := range path {
			seen[j] = done
		}
	}
}

func ringText(p *Plant, upstream []int, first, size int) string {
	const few = 6
	names := []string{p.Amplifiers[first].ID}
	for i := upstream[first]; i != first && len(names) < few; i = upstream[i] {
		names = append(names, p.Amplifiers[i].ID)
	}
	if size > few {
		names = append(names, "...")
	}
	names = append(names, p.Amplifiers[first].ID)
	return fmt.Sprintf("a loop of %d: each is fed by the next, %s", size, strings.Join(names, ", "))
}

// walk puts a cascade in order, without recursion: a file can make one as long as it
// likes.
func (c *Cascades) walk(head int) {
	stack := []int{head}
	for len(stack) > 0 {
		i := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		c.Order = append(c.Order, i)
		for k := len(c.Downstream[i]) - 1; k >= 0; k-- {
			next := c.Downstream[i][k]
			c.Depth[next] = c.Depth[i] + 1
			stack = append(stack, next)
		}
	}
}
