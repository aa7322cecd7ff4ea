package lineup

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestEveryRuleIsComplete(t *testing.T) {
	seen := map[Rule]bool{}
	for _, r := range rules {
		assert.NotEmpty(t, r.name)
		assert.NotEmpty(t, r.asks, r.name)
		assert.NotEmpty(t, r.source, r.name)
		assert.Falsef(t, seen[r.name], "%s stands twice", r.name)
		seen[r.name] = true
	}
	assert.Len(t, rules, 24)
}

// Source: the square root law (skin effect; common practice): a quarter of the frequency
// has half of the loss, and so half of its swing.
func TestLowPlacementIsHalfTheSwing(t *testing.T) {
	assert.InDelta(t, 0.5, math.Sqrt(lowShare), 1e-12)
}

// Source: Theil 1950, Sen 1968: the line through points is found exactly, and still found
// if one of six is wrong.
func TestLineThrough(t *testing.T) {
	var points []point
	for i := range 6 {
		points = append(points, point{float64(700+6*i) * 1e6, 30 + float64(i)/10})
	}
	assert.InDelta(t, 30.25, lineThrough(points, 715e6), 1e-9)
	points[3].db = 12
	assert.InDelta(t, 30.25, lineThrough(points, 715e6), 0.06)
	assert.InDelta(t, 30, lineThrough([]point{{700e6, 30}, {700e6, 30}}, 800e6), 1e-9,
		"no slope between equal frequencies")
}

// The manual lists every rule, with what it checks and its source.
func TestRulesInManual(t *testing.T) {
	manual, err := os.ReadFile(filepath.Join("..", "..", "cmd", "tallywink", "manual", "topics", "judging.md"))
	require.NoError(t, err)
	for _, r := range rules {
		source := r.source
		if source == fromLevels {
			source = "Hranac 2006; common practice"
		}
		assert.Contains(t, string(manual), fmt.Sprintf("\n| %s | %s | %s |\n", r.name, r.asks, source))
	}
}

// A change of exactly half a dB does not count, whatever level it starts from; a change
// of six tenths does.
func TestHalfADecibel(t *testing.T) {
	for tenths := range 600 {
		a := Carrier{LevelDBmV: float64(tenths) / 10}
		assert.LessOrEqual(t, differenceDB(a, Carrier{LevelDBmV: float64(tenths+5) / 10}), alikeDB, tenths)
		assert.Greater(t, differenceDB(a, Carrier{LevelDBmV: float64(tenths+6) / 10}), alikeDB, tenths)
	}
}
