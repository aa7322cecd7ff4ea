package lesson

import (
	"fmt"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink/sheet"
	"tallywink.example/trainer/progress"
)

// Lamps with other codes can be learned too: every mark of every exercise makes questions that
// the right keys answer right, and a qualification run has its twenty readings. The sheets are
// invented: presets, states alone, zero without light, kinds by marks, colors.
func TestEveryMarkOfInventedSheets(t *testing.T) {
	sheets, err := filepath.Glob("../../testdata/sheets/*.toml")
	require.NoError(t, err)
	require.Len(t, sheets, 5)
	for _, path := range sheets {
		code, problems, err := sheet.Open(path)
		require.NoError(t, err)
		require.Empty(t, problems)
		asked := 0
		for _, e := range Exercises(code) {
			for _, mark := range e.Items() {
				for seed := range uint64(3) {
					m := material(t, seed)
					m.Code = code
					q := e.Make(m, mark, code.Timing.MaxUnit)
					name := fmt.Sprintf("%s: %s, %s, seed %d", code.Name, e.Name, mark, seed)
					require.NotEmpty(t, q.Ask, name)
					require.NotEmpty(t, q.Why, name)
					entry := NewEntry(q)
					for _, key := range typedOn(code, q) {
						require.True(t, entry.Type(key), "%s: key %c", name, key)
					}
					if q.Way == BySending {
						entry.SetSent(q.Frame)
					}
					answer, ok := entry.Answer()
					require.True(t, ok, name)
					require.Equal(t, q.Want, answer, name)
					assert.True(t, q.Judge(code, answer).Right, name)
					asked++
				}
			}
		}
		assert.Greater(t, asked, 20, code.Name)
		m := material(t, 1)
		m.Code = code
		run := Exam(m, 7, code.Timing.MaxUnit)
		require.Len(t, run, progress.RunLength, code.Name)
		assert.Equal(t, len(code.States()), len(slices.Compact(slices.Sorted(statesIn(run)))), code.Name)
	}
}

// statesIn calls yield with the right answers of questions about states.
func statesIn(run []Question) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		for _, q := range run {
			if q.Way == ByState && !yield(q.Want) {
				return
			}
		}
	}
}
