package blink_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// The examples in the code's specification.
func TestExamplesOfTheSpecification(t *testing.T) {
	for _, c := range []struct {
		pilot  channelplan.Pilot
		digits []int
		frame  string
	}{
		{channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, []int{7, 1, 6, 7}, "_.. . _. _.."},
		{channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}, []int{1, 7, 3, 3}, ". _.. ... ..."},
		{channelplan.Pilot{Channel: 5, Kind: channelplan.CW}, []int{3, 0, 5, 1}, "... __ _ ."},
		{channelplan.Pilot{Channel: 109, Kind: channelplan.Digital}, []int{7, 0, 9, 1}, "_.. __ _.... ."},
	} {
		t.Run(c.pilot.String(), func(t *testing.T) {
			digits, err := blink.Tally.Digits(c.pilot)
			require.NoError(t, err)
			assert.Equal(t, c.digits, digits)
			frame, err := blink.Tally.Encode(c.pilot)
			require.NoError(t, err)
			assert.Equal(t, c.frame, frame.String())
		})
	}
}

func TestEncodeThenDecodeIsTheIdentity(t *testing.T) {
	n := 0
	for p := range blink.Tally.Pilots {
		frame, err := blink.Tally.Encode(p)
		require.NoError(t, err)
		digits, ok := blink.Tally.DigitsOf(frame)
		require.True(t, ok)
		got, err := blink.Tally.Pilot(digits)
		require.NoError(t, err)
		assert.Equal(t, p, got)
		n++
	}
	assert.Equal(t, 3*199, n)
}

func TestPilotsOutsideTheCode(t *testing.T) {
	for _, p := range []channelplan.Pilot{{Channel: 0, Kind: channelplan.Analog},
		{Channel: 200, Kind: channelplan.CW}, {Channel: -1, Kind: channelplan.Digital}} {
		_, err := blink.Tally.Encode(p)
		require.ErrorIs(t, err, blink.ErrChannel, p)
	}
	_, err := blink.Tally.Encode(channelplan.Pilot{Channel: 116, Kind: channelplan.OFDM})
	require.ErrorIs(t, err, blink.ErrKind, "the code has no word for OFDM")
}

// Source: H. M. Damm, Total anti-symmetrische Quasigruppen, Marburg 2004:
// the published example.
func TestDammPublishedExample(t *testing.T) {
	assert.Equal(t, 4, blink.Damm.Digit([]int{5, 7, 2}))
	assert.Equal(t, 0, blink.Damm.Digit([]int{5, 7, 2, 4}), "with its check digit a number comes out as 0")
}

func TestEverySingleWrongDigitAndEverySwapIsCaught(t *testing.T) {
	wrong, swaps := 0, 0
	for p := range blink.Tally.Pilots {
		digits, err := blink.Tally.Digits(p)
		require.NoError(t, err)
		for i := range digits {
			for d := range 10 {
				if d == digits[i] {
					continue
				}
				changed := append([]int(nil), digits...)
				changed[i] = d
				_, err := blink.Tally.Pilot(changed)
				require.ErrorIsf(t, err, blink.ErrCheck, "%v read as %v", digits, changed)
				wrong++
			}
			if i > 0 && digits[i] != digits[i-1] {
				swapped := append([]int(nil), digits...)
				swapped[i], swapped[i-1] = swapped[i-1], swapped[i]
				_, err := blink.Tally.Pilot(swapped)
				require.ErrorIsf(t, err, blink.ErrCheck, "%v read as %v", digits, swapped)
				swaps++
			}
		}
	}
	assert.Equal(t, 597*4*9, wrong)
	assert.Greater(t, swaps, 1000)
}

// The specification's figure for starting at the wrong group, over the 474 pilots of
// the listed channels.
func TestRotationsThatReadAsAnotherPilot(t *testing.T) {
	rotated := 0
	for p := range blink.Tally.Pilots {
		if p.Channel > 158 {
			continue
		}
		d, err := blink.Tally.Digits(p)
		require.NoError(t, err)
		for s := 1; s < 4; s++ {
			other, err := blink.Tally.Pilot(append(append([]int(nil), d[s:]...), d[:s]...))
			if err == nil && other != p && other.Channel <= 158 {
				rotated++
				break
			}
		}
	}
	assert.Equal(t, 84, rotated)
}

func TestPilotRefuses(t *testing.T) {
	for _, c := range []struct {
		name   string
		digits []int
		want   error
	}{
		{"too few", []int{7, 1, 6}, blink.ErrLength},
		{"too many", []int{7, 1, 6, 7, 7}, blink.ErrLength},
		{"a check digit that differs", []int{7, 1, 6, 8}, blink.ErrCheck},
		{"a head that is none", []int{4, 1, 6, blink.Damm.Digit([]int{4, 1, 6})}, blink.ErrNoPilot},
		{"channel 0", []int{1, 0, 0, blink.Damm.Digit([]int{1, 0, 0})}, blink.ErrNoPilot},
		{"no digit at all", []int{7, 1, 12, 7}, blink.ErrNoPilot},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := blink.Tally.Pilot(c.digits)
			require.ErrorIs(t, err, c.want)
		})
	}
}

func TestNoRunIsLongerThanFour(t *testing.T) {
	seen := map[blink.Group]int{}
	for d, p := range blink.Tally.Patterns {
		seen[p]++
		for _, run := range []string{".....", "_____"} {
			assert.NotContains(t, string(p), run, "digit %d", d)
		}
	}
	assert.Len(t, seen, 10, "no two digits look alike")
}

func TestNotationTakesWhatPeopleType(t *testing.T) {
	const plain = "_.. . _. _.."
	for _, c := range []struct{ name, typed, want string }{
		{"as specified", "_.. . _. _..", plain},
		{"slashes", "_../././_..", "_.. . . _.."},
		{"slashes with spaces", " _.. / . / _. / _.. ", plain},
		{"hyphens", "-.. . -. -..", plain},
		{"en dashes and bullets", "–•• • –• –••", plain},
		{"em dashes and middle dots", "—·· · —· —··", plain},
		{"an ellipsis made of three periods", "_… . _ …", "_... . _ ..."},
		{"no-break spaces", "_..\u00a0.\u00a0_.\u00a0_..", plain},
		{"a byte order mark", "\ufeff_.. . _. _..", plain},
		{"unsure marks", "?.. . x. X..", "?.. . ?. ?.."},
		{"a group not read", "_.. * _. _..", "_.. * _. _.."},
		{"two looks", "_.. . _. _.. // _.. . _. _..", plain + " // " + plain},
		{"two lines, the last one ended", "_.. . _. _..\r\n_.. . _. _..\r\n", plain + " // " + plain},
		{"a repeat sign at the end", "_.. . _. _.. //", plain},
		{"three slashes", ". /// .", ". // ."},
		{"five groups", ". . . . .", ". . . . ."},
	} {
		t.Run(c.name, func(t *testing.T) {
			frames, err := blink.ParseNotation(c.typed)
			require.NoError(t, err)
			assert.Equal(t, c.want, blink.FormatFrames(frames))
		})
	}
}

func TestNotationRefuses(t *testing.T) {
	for _, c := range []struct {
		name, typed  string
		line, column int
		says         string
	}{
		{"nothing", "", 1, 1, "no marks here"},
		{"separators alone", " / // \n ", 2, 2, "no marks here"},
		{"a letter", "_.. o _. _..", 1, 5, `'o' is not a mark`},
		{"a letter on the second line", "_..\n_, .", 2, 2, `',' is not a mark`},
		{"columns are characters", "–•• 9", 1, 5, `'9' is not a mark`},
		{"a star inside a group", "_.* .", 1, 3, "whole group"},
		{"a mark after a star", "*. .", 1, 2, "whole group"},
		{"not UTF-8", "_. \xff", 1, 4, "UTF-8"},
		{"a mark cut in the middle", "_. \xef\xbc", 1, 4, "UTF-8"},
		{"too many marks", strings.Repeat(".", 65), 1, 65, "more than 64 marks"},
		{"too many looks", strings.Repeat(". // ", 65), 1, 321, "more than 64 looks"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := blink.ParseNotation(c.typed)
			var e *fault.Error
			require.ErrorAs(t, err, &e)
			assert.Equal(t, [2]int{c.line, c.column}, [2]int{e.Line, e.Column})
			assert.Contains(t, e.Text, c.says)
			assert.NotEmpty(t, e.Hint)
		})
	}
}

func TestWhatPrintsParsesBack(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		var frames []blink.Frame
		for range 1 + random.IntN(3) {
			var f blink.Frame
			for range 1 + random.IntN(5) {
				g := "*"
				if random.IntN(8) > 0 {
					g = ""
					for range 1 + random.IntN(5) {
						g += string("._?"[random.IntN(3)])
					}
				}
				f = append(f, blink.Group(g))
			}
			frames = append(frames, f)
		}
		got, err := blink.ParseNotation(blink.FormatFrames(frames))
		require.NoError(t, err)
		require.Equal(t, frames, got)
	}
}

func TestWords(t *testing.T) {
	for g, words := range map[blink.Group]string{
		"_..": "a long and two shorts", "__": "two longs", ".": "a short", "_....": "a long and four shorts",
		"._.": "a short and a long and a short", "?.": "an unsure mark and a short", "*": "not read",
		"............": "12 shorts",
	} {
		assert.Equal(t, words, g.Words())
	}
}

func TestStateWords(t *testing.T) {
	for _, s := range blink.States() {
		got, err := blink.ParseState(" " + strings.ToUpper(s.String()))
		require.NoError(t, err)
		assert.Equal(t, s, got)
		assert.NotEmpty(t, s.Meaning())
		assert.NotEmpty(t, blink.Tally.Look(s, blink.NoEnd))
	}
	_, err := blink.ParseState("seaking")
	require.ErrorIs(t, err, blink.ErrState)
	assert.Contains(t, err.Error(), "did you mean seeking?")
	assert.Equal(t, "none", blink.State(99).String())
	_, err = blink.ParseEdgeEnd("left")
	require.ErrorIs(t, err, blink.ErrEdgeEnd)
	assert.Equal(t, "edge (low end)", blink.Edge.NameAt(blink.EndLow))
	assert.Equal(t, "edge", blink.Edge.NameAt(blink.NoEnd))
	assert.Contains(t, blink.Edge.MeaningAt(blink.EndLow), "too low")
	assert.Contains(t, blink.Edge.MeaningAt(blink.EndHigh), "too high")
	assert.Equal(t, blink.Edge.Meaning(), blink.Edge.MeaningAt(blink.NoEnd))
}

func TestFrameIntervals(t *testing.T) {
	// ... __ _ .
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 5, Kind: channelplan.CW}}
	intervals, period, err := blink.Tally.Signal(signal, 200*time.Millisecond)
	require.NoError(t, err)
	var units []string
	for _, iv := range intervals {
		sign := "-"
		if iv.Lit {
			sign = "+"
		}
		units = append(units, fmt.Sprintf("%s%d", sign, iv.Duration/(200*time.Millisecond)))
	}
	assert.Equal(t, "+1 -1 +1 -1 +1 -4 +3 -1 +3 -4 +3 -4 +1 -12", strings.Join(units, " "))
	assert.Equal(t, 40*200*time.Millisecond, period)
}

// The frame times the specification states: 6.4 to 11.6 s, 9.1 s on average.
func TestFrameTimes(t *testing.T) {
	shortest, longest, sum, n := time.Hour, time.Duration(0), time.Duration(0), 0
	for p := range blink.Tally.Pilots {
		if p.Channel > 158 {
			continue
		}
		_, period, err := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: p}, blink.Tally.Timing.Unit)
		require.NoError(t, err)
		shortest, longest = min(shortest, period), max(longest, period)
		sum += period
		n++
	}
	assert.Equal(t, 6400*time.Millisecond, shortest)
	assert.Equal(t, 11600*time.Millisecond, longest)
	assert.InDelta(t, 9.1, (sum / time.Duration(n)).Seconds(), 0.05)
}

func TestEdgeShowsBarsInTheRest(t *testing.T) {
	p := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	locked, _, err := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: p}, 200*time.Millisecond)
	require.NoError(t, err)
	for end, bars := range map[blink.EdgeEnd]int{blink.EndLow: 1, blink.EndHigh: 2} {
		edge, _, err := blink.Tally.Signal(blink.Signal{State: blink.Edge, End: end, Pilot: p}, 200*time.Millisecond)
		require.NoError(t, err)
		frame := len(locked) - 1
		assert.Equal(t, locked[:frame], edge[:frame], "the frame is the same")
		lit := 0
		for _, iv := range edge[frame:] {
			if iv.Lit {
				lit++
				assert.Equal(t, 1600*time.Millisecond, iv.Duration, "a bar is 8 units, no mark is")
			}
		}
		assert.Equal(t, bars, lit)
	}
}

func TestSignalRefuses(t *testing.T) {
	p := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	for _, c := range []struct {
		name   string
		signal blink.Signal
		unit   time.Duration
		want   error
	}{
		{"a unit too fast", blink.Signal{State: blink.Locked, Pilot: p}, 99 * time.Millisecond, blink.ErrUnit},
		{"a unit too slow", blink.Signal{State: blink.Locked, Pilot: p}, 401 * time.Millisecond, blink.ErrUnit},
		{"a unit of half milliseconds", blink.Signal{State: blink.Locked, Pilot: p}, 200500 * time.Microsecond, blink.ErrUnit},
		{"edge without an end", blink.Signal{State: blink.Edge, Pilot: p}, 200 * time.Millisecond, blink.ErrSignal},
		{"no pilot", blink.Signal{State: blink.Locked}, 200 * time.Millisecond, blink.ErrChannel},
		{"no state", blink.Signal{}, 200 * time.Millisecond, blink.ErrSignal},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := blink.Tally.Signal(c.signal, c.unit)
			require.ErrorIs(t, err, c.want)
		})
	}
}

// The rhythms in the code's specification, in units; '+' is lit.
func TestRhythmsOfTheSpecification(t *testing.T) {
	inUnits := func(s blink.Signal) string {
		const unit = 200 * time.Millisecond
		intervals, _, err := blink.Tally.Signal(s, unit)
		require.NoError(t, err)
		var all []string
		for _, iv := range intervals {
			all = append(all, fmt.Sprintf("%s%d", map[bool]string{true: "+", false: "-"}[iv.Lit], iv.Duration/unit))
		}
		return strings.Join(all, " ")
	}
	for state, want := range map[blink.State]string{
		blink.Manual: "+16 -4", blink.Thermal: "+12 -4 +4 -4", blink.Seeking: "+8 -8", blink.Holding: "+6 -4 +6 -18",
		blink.Fault: "+6 -4 +6 -4 +6 -18",
	} {
		assert.Equal(t, want, inUnits(blink.Signal{State: state}), state)
	}
	p := channelplan.Pilot{Channel: 11, Kind: channelplan.Analog} // . . . and its check
	frame, _ := strings.CutSuffix(inUnits(blink.Signal{State: blink.Locked, Pilot: p}), " -12")
	assert.Equal(t, frame+" -6 +8 -12", inUnits(blink.Signal{State: blink.Edge, End: blink.EndLow, Pilot: p}))
	assert.Equal(t, frame+" -6 +8 -6 +8 -12", inUnits(blink.Signal{State: blink.Edge, End: blink.EndHigh, Pilot: p}))
}

// Every character that is read as a mark.
func TestEveryWrittenMark(t *testing.T) {
	for marks, written := range map[string]string{
		".": ".·•∙⋅●‧．", "..": "‥", "...": "…", "_": "_-‐‑‒–—―−＿－", "?": "?xX？", "*": "*",
	} {
		for _, r := range written {
			frames, err := blink.ParseNotation(string(r))
			require.NoError(t, err, string(r))
			assert.Equal(t, marks, blink.FormatFrames(frames), string(r))
			assert.True(t, blink.IsNotation(string(r)))
		}
	}
	assert.True(t, blink.IsNotation("-.. . -. -..\n-../././.\t\u00a0."))
	assert.False(t, blink.IsNotation(""))
	assert.False(t, blink.IsNotation("_..o"))
}

func TestParseDigits(t *testing.T) {
	for typed, want := range map[string]string{
		"7167": "_.. . _. _..", "7 1 6 7": "_.. . _. _..", "7/1/6/7": "_.. . _. _..", "71x7": "_.. . * _..",
		"7?*X":       "_.. * * *",
		"7167//7168": "_.. . _. _.. // _.. . _. _...", "\ufeff71\r\n05\n": "_.. . // __ _",
		"0123456789": "__ . .. ... .... _ _. _.. _... _....",
	} {
		frames, err := blink.Tally.ParseDigits(typed)
		require.NoError(t, err, typed)
		assert.Equal(t, want, blink.FormatFrames(frames), typed)
	}
	for _, c := range []struct {
		typed        string
		line, column int
		says         string
	}{
		{"", 1, 1, "no digits"}, {" // ", 1, 5, "no digits"}, {"71\n6o", 2, 2, "'o' is not a digit"},
		{"1234567890123", 1, 13, "too many digits"},
		{strings.Repeat("7//", 65), 1, 193, "more than 64 looks"},
	} {
		_, err := blink.Tally.ParseDigits(c.typed)
		var e *fault.Error
		require.ErrorAs(t, err, &e, c.typed)
		assert.Equal(t, [2]int{c.line, c.column}, [2]int{e.Line, e.Column}, c.typed)
		assert.Contains(t, e.Text, c.says)
	}
}

// Anything the API lets a caller ask for is answered or refused, and never panics.
func TestOddValuesAreRefused(t *testing.T) {
	_, _, err := blink.Tally.Signal(blink.Signal{State: blink.Edge, End: blink.EdgeEnd(7),
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}, 200*time.Millisecond)
	require.ErrorIs(t, err, blink.ErrSignal)
	assert.Empty(t, blink.EdgeEnd(7).String())
	assert.Equal(t, blink.Damm.Digit([]int{5, 7, 2}), blink.Damm.Digit([]int{15, -3, 2}), "only the last decimal counts")
	noCheck := &blink.Code{Patterns: blink.Tally.Patterns,
		Groups: []blink.GroupRule{{Name: "units", From: blink.FromUnits}},
		Heads:  blink.Tally.Heads, FirstChannel: 1, LastChannel: 9}
	p, err := noCheck.Pilot([]int{4})
	require.NoError(t, err)
	assert.Equal(t, 4, p.Channel)
	_, err = noCheck.Pilot([]int{-1})
	require.ErrorIs(t, err, blink.ErrNoPilot)
}

func TestSteadyAndDark(t *testing.T) {
	for _, s := range []blink.State{blink.Steady, blink.Dark} {
		intervals, period, err := blink.Tally.Signal(blink.Signal{State: s}, 200*time.Millisecond)
		require.NoError(t, err)
		assert.Equal(t, []blink.Interval{{s == blink.Steady, 10 * time.Second}}, intervals)
		assert.Zero(t, period)
		assert.Zero(t, blink.PeakFlashes(intervals))
	}
}

// signals yields every signal the code can send.
func signals(yield func(blink.Signal) bool) {
	for _, s := range blink.States() {
		if !s.ShowsFrame() {
			if !yield(blink.Signal{State: s}) {
				return
			}
			continue
		}
		for p := range blink.Tally.Pilots {
			ends := []blink.EdgeEnd{blink.NoEnd}
			if s == blink.Edge {
				ends = []blink.EdgeEnd{blink.EndLow, blink.EndHigh}
			}
			for _, e := range ends {
				if !yield(blink.Signal{State: s, End: e, Pilot: p}) {
					return
				}
			}
		}
	}
}

func TestNeighboringIntervalsDiffer(t *testing.T) {
	for s := range signals {
		intervals, period, err := blink.Tally.Signal(s, blink.Tally.Timing.Unit)
		require.NoError(t, err)
		var sum time.Duration
		for i, iv := range intervals {
			require.Positive(t, iv.Duration)
			sum += iv.Duration
			if period > 0 {
				require.NotEqual(t, iv.Lit, intervals[(i+1)%len(intervals)].Lit, "%v", s)
			}
		}
		if period > 0 {
			require.Equal(t, period, sum)
		}
	}
}

// What each rule promises, over all three-digit numbers: it catches every single wrong
// digit, and every swap of neighbors except the ones it is known to miss. Worked
// examples: Damm 2004, 572 has 4; Luhn 7992739871 has 3 and Verhoeff 236 has 3 (both
// from memory).
func TestCheckRules(t *testing.T) {
	assert.Equal(t, 4, blink.Damm.Digit([]int{5, 7, 2}))
	assert.Equal(t, 3, blink.Luhn.Digit([]int{7, 9, 9, 2, 7, 3, 9, 8, 7, 1}))
	assert.Equal(t, 3, blink.Verhoeff.Digit([]int{2, 3, 6}))
	for _, rule := range blink.CheckRules() {
		swapsLost := map[[2]int]bool{}
		for n := range 1000 {
			digits := []int{n / 100, n / 10 % 10, n % 10}
			own := rule.Digit(digits)
			require.GreaterOrEqual(t, own, 0)
			require.LessOrEqual(t, own, 9)
			for i := range digits {
				for d := range 10 {
					wrong := slices.Clone(digits)
					if wrong[i] = d; d != digits[i] {
						require.NotEqual(t, own, rule.Digit(wrong), "%s: %v and %v", rule.Name, digits, wrong)
					}
				}
			}
			for i := range 2 {
				swapped := slices.Clone(digits)
				swapped[i], swapped[i+1] = swapped[i+1], swapped[i]
				if digits[i] != digits[i+1] && rule.Digit(swapped) == own {
					swapsLost[[2]int{min(digits[i], digits[i+1]), max(digits[i], digits[i+1])}] = true
				}
			}
		}
		switch rule.Name {
		case "damm", "verhoeff":
			assert.Empty(t, swapsLost, rule.Name)
		case "luhn":
			assert.Equal(t, map[[2]int]bool{{0, 9}: true}, swapsLost)
		case "sum":
			assert.Len(t, swapsLost, 45, "a sum sees no swap")
		}
	}
}

// A frame's light is what a lamp locked on its pilot shows before the rest.
func TestLight(t *testing.T) {
	const unit = 250 * time.Millisecond
	p := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	frame, err := blink.Tally.Encode(p)
	require.NoError(t, err)
	signal, _, err := blink.Tally.Signal(blink.Signal{State: blink.Locked, Pilot: p}, unit)
	require.NoError(t, err)
	assert.Equal(t, signal[:len(signal)-1], blink.Tally.Light(frame, unit))
	assert.Equal(t, []blink.Interval{{true, 3 * unit}, {false, unit}, {true, unit}},
		blink.Tally.Light(blink.Frame{"_."}, unit))
	kind, ok := blink.Tally.Group(blink.FromKind)
	assert.True(t, ok)
	assert.Equal(t, blink.FromKind, kind.From)
	_, ok = blink.Tally.Group(blink.FromHundreds)
	assert.False(t, ok, "the Tally code has none")
}
