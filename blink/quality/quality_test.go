package quality

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
)

// toy is Tally with other digits, groups and check rule. It has analog pilots only, on
// channels 1 to last.
func toy(t *testing.T, patterns [10]blink.Group, last int, check *blink.CheckRule, from ...blink.Source) *blink.Code {
	t.Helper()
	code := *blink.Tally
	code.Patterns, code.Heads, code.HundredAdds = patterns, code.Heads[:1], 0
	code.FirstChannel, code.LastChannel = 1, last
	code.Groups = nil
	for i, f := range from {
		code.Groups = append(code.Groups, blink.GroupRule{Name: fmt.Sprint("g", i), From: f})
	}
	if check != nil {
		code.Check = *check
	}
	require.Empty(t, code.Flaws())
	return &code
}

// counted returns digits written as that many shorts; zero is ten.
func counted() (p [10]blink.Group) {
	for d := range p {
		p[d] = blink.Group(strings.Repeat(".", (d+9)%10+1))
	}
	return p
}

// One group of n shorts for channel n, 1 to 9, worked by hand. A frame of n marks has
// 3n single errors, 135 in all. Each of n missed marks makes n-1, another channel
// except for n = 1: 2+...+9 = 44. Each of n doubled marks makes n+1, except for n = 9:
// 1+...+8 = 36. A mistaken length makes no other channel. 80 of 135 are silent.
func TestHandWorkedCounting(t *testing.T) {
	r := Of(toy(t, counted(), 9, nil, blink.FromUnits))
	assert.Equal(t, 9, r.Pilots)
	assert.Equal(t, 135, r.Singles)
	assert.Equal(t, 80, r.Silent)
	assert.InDelta(t, 80.0/135, r.SilentShare(), 1e-12)
	assert.Equal(t, 1, r.Errors)
	assert.Equal(t, 1, r.Distance)
	assert.Equal(t, 9, r.LongestRun) // no frame has a zero, ten marks
	assert.Empty(t, r.Alike)
}

// The minimum distance of a code is 1 without a check digit, 2 with a parity check
// (Hamming, Error Detecting and Error Correcting Codes, Bell System Technical Journal
// 29, 1950; Lin and Costello, Error Control Coding, chapter 3: from memory) and 2 with
// Damm's digit, which catches every single wrong digit (Damm 2004).
func TestMinimumDistanceOfCheckedDigits(t *testing.T) {
	for name, c := range map[string]struct {
		check *blink.CheckRule
		want  int
	}{"none": {nil, 1}, "sum": {&blink.Sum, 2}, "damm": {&blink.Damm, 2}, "verhoeff": {&blink.Verhoeff, 2},
		"luhn": {&blink.Luhn, 2}} {
		from := []blink.Source{blink.FromTens, blink.FromUnits}
		if c.check != nil {
			from = append(from, blink.FromCheck)
		}
		r := Of(toy(t, blink.Tally.Patterns, 99, c.check, from...))
		assert.Equal(t, c.want, r.Distance, name)
		assert.Equal(t, c.check == nil, r.Silent > 0, name)
	}
}

// Two long marks in five: any two digits differ in two marks, the distance of a
// constant-weight code (Hamming, Coding and Information Theory, 1980, on 2-out-of-5
// codes: from memory). So no single error turns one digit into another.
func TestTwoOutOfFive(t *testing.T) {
	code, problems, err := sheet.Open(sheet.CurlewName)
	require.NoError(t, err)
	require.Empty(t, problems)
	for a := range 10 {
		reached := reachable(string(code.Patterns[a]))
		for b := range 10 {
			if n, ok := reached[string(code.Patterns[b])]; a != b && ok {
				require.GreaterOrEqual(t, n, 2)
			}
		}
	}
	r := Of(code)
	assert.Equal(t, 2, r.Errors)
	assert.Zero(t, r.Silent)
	assert.Equal(t, 3, r.LongestRun)
	assert.Positive(t, r.ShownFrom)
}

// What the code's specification says about Tally: runs of four at most, a check digit
// that catches every single wrong digit, and 6.4 to 11.6 s per frame with channels 1 to
// 158.
func TestTally(t *testing.T) {
	code := *sheet.Tally()
	code.LastChannel = 158
	r := Of(&code)
	assert.Equal(t, 474, r.Pilots)
	assert.Equal(t, 2, r.Distance)
	assert.Equal(t, 2, r.Errors)
	assert.Zero(t, r.Silent)
	assert.Equal(t, 4, r.LongestRun)
	assert.Equal(t, 6400*time.Millisecond, r.Shortest)
	assert.Equal(t, 11600*time.Millisecond, r.Longest)
	assert.InDelta(t, 9.1, r.Mean.Seconds(), 0.05)
	assert.LessOrEqual(t, r.Flashes, blink.MaxFlashes)
	assert.Equal(t, 180*time.Millisecond, r.ShownFrom)
}

func TestAlike(t *testing.T) {
	code := toy(t, counted(), 9, nil, blink.FromUnits)
	code.Heads = []blink.Head{{Kind: channelplan.Analog, Digit: 1},
		{Kind: channelplan.CW, Digit: 3}} // and no group shows which
	r := Of(code)
	require.Len(t, r.Alike, 9)
	assert.Equal(t, Pair{channelplan.Pilot{Channel: 1, Kind: channelplan.Analog},
		channelplan.Pilot{Channel: 1, Kind: channelplan.CW}}, r.Alike[0])
}

// Worked by hand: what one and two errors make of a short mark.
func TestReachable(t *testing.T) {
	reached := reachable(".")
	for marks, n := range map[string]int{".": 0, "": 1, "..": 1, "_": 1, "...": 2, "._": 2, "_.": 2, "__": 2,
		"....": 3, "_._": 4, "._.": 3} {
		got, ok := reached[marks]
		if n > mostErrors {
			assert.False(t, ok, marks)
			continue
		}
		assert.Equal(t, n, got, marks)
	}
}
