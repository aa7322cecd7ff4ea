package sheet

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
)

// The program's Tally code is the sheet, and the sheet matches what package blink has
// in Go.
func TestTallyIsItsSheet(t *testing.T) {
	got, want := *Tally(), *blink.Tally
	assert.Equal(t, want.Check.Name, got.Check.Name)
	got.Check, want.Check = blink.CheckRule{}, blink.CheckRule{}
	assert.Equal(t, want, got)
	assert.Empty(t, blink.Tally.Flaws())
}

// The second built-in sheet: two long marks in five, no leading zero, and the kind
// last.
func TestCurlew(t *testing.T) {
	code, problems, err := Open(CurlewName)
	require.NoError(t, err)
	require.Empty(t, problems)
	for pilot, want := range map[channelplan.Pilot]string{
		{Channel: 7, Kind: channelplan.Analog}:    "..__. _._..",
		{Channel: 73, Kind: channelplan.CW}:       "..__. _..._ _..._",
		{Channel: 116, Kind: channelplan.Digital}: "_._.. _._.. ._.._ _.._.",
		{Channel: 100, Kind: channelplan.Digital}: "_._.. __... __... _.._.",
	} {
		frame, err := code.Encode(pilot)
		require.NoError(t, err)
		assert.Equal(t, want, frame.String())
		digits, ok := code.DigitsOf(frame)
		require.True(t, ok)
		back, err := code.Pilot(digits)
		require.NoError(t, err)
		assert.Equal(t, pilot, back)
	}
	least, most := code.FrameLengths()
	assert.Equal(t, [2]int{2, 4}, [2]int{least, most})
	assert.Equal(t, "lit, with two blinks off close together, again and again", code.Look(blink.Thermal, blink.NoEnd))
	assert.Equal(t, "four flashes", code.Brief(blink.Fault))
	assert.Equal(t, "the frame, and three bars of light in its long dark", code.Look(blink.Edge, blink.EndHigh))
	_, err = code.Pilot([]int{1, 2, 3, 4, 5})
	require.ErrorIs(t, err, blink.ErrLength)
}

// What can be wrong with a sheet, one at a time: where, what, and what to do.
func TestProblems(t *testing.T) {
	whole := string(tallyTOML)
	replaced := func(old, new string) string {
		t.Helper()
		require.Equal(t, 1, strings.Count(whole, old), old)
		return strings.Replace(whole, old, new, 1)
	}
	for name, c := range map[string]struct{ sheet, want string }{
		"a digit is missing": {replaced(`7 = "_.."`+"\n", ""), `14:2 digit 7 is missing; write its marks`},
		"two digits are alike": {replaced(`7 = "_.."`, `7 = "_."`),
			`22:1 digits 6 and 7 have the same marks, _.; give each its own marks`},
		"marks that are none": {replaced(`7 = "_.."`, `7 = "-.."`),
			`22:1 "-.." are not marks; write . for a short`},
		"a number for marks": {replaced(`7 = "_.."`, `7 = 7`), `22:1 digits.7 is not text; put it in quotes`},
		"too many marks": {replaced(`7 = "_.."`, `7 = "............."`),
			`22:1 digit 7 has 13 marks, more than 12`},
		"a prefix ambiguity": {replaced("group_gap = 4 ", "group_gap = 1 "),
			`11:1 the gap between groups, 1 units, is no longer than the one between marks, 1: digit 2 starts with the marks of 1, so no one can tell them apart`},
		"a gap too short": {replaced("gap = 1           #", "gap = 6           #"),
			`11:1 the gap between groups, 4 units, is no longer than the one between marks, 6`},
		"a negative duration": {replaced("rest = 12", "rest = -12"), `12:1 a length of -12 units is not possible`},
		"a unit of nothing":   {replaced("unit_ms = 200 ", "unit_ms = 0 "), `4:1 no eye can follow a unit of 0s`},
		"a unit out of its range": {replaced("[100, 400]", "[300, 400]"),
			`5:1 the unit of 200ms is not between 300ms and 400ms`},
		"a long one too short": {replaced("long = 3", "long = 1"),
			`9:1 a long mark of 1 units is no longer than a short one of 1`},
		"a group from nothing": {replaced(`from = "tens"`, `from = "thousands"`),
			`42:1 a group can't be from "thousands"; write kind, hundreds, tens, units or check`},
		"a group without from": {replaced(`from = "tens"`, ``),
			`40:3 the group does not say where its digit comes from`},
		"a rule that is none": {replaced(`rule = "damm"`, `rule = "crc"`),
			`51:1 there is no check rule "crc"; write damm, verhoeff, luhn, sum`},
		"a check without rule": {replaced(`rule = "damm"`, ``), `48:3 the check digit has no rule`},
		"a group twice":        {replaced(`from = "units"`, `from = "tens"`), `44:3 groups 2 and 3 both carry tens`},
		"a rhythm that is odd": {replaced("manual = [16, 4]", "manual = [16, 4, 1]"),
			`54:1 a rhythm of 3 stretches does not end dark`},
		"rhythms alike": {replaced("seeking = [8, 8]", "seeking = [32, 8]"),
			`56:1 manual and seeking have the same rhythm, except for its speed`},
		"a bar too few": {replaced("edge_high = [6, 8, 6, 8, 12]", "edge_high = [6, 8, 14]"),
			`60:1 both ends of the range have 1 bars`},
		"one end alone": {replaced("edge_high = [6, 8, 6, 8, 12]", ""),
			`only one end of the range has a signal`},
		"channels out of bounds": {replaced("last = 199", "last = 400"), `28:1 channels 1 to 400 are not possible`},
		"no hundreds": {replaced("hundred_adds = 5", "# hundred_adds = 5"),
			`nothing sets channels 100 to 199 apart from those below`},
		"kinds alike": {replaced("hundred_adds = 5", "hundred_adds = 1"),
			`analog from channel 100 on and digital have the same digit, 2`},
		"a word misspelt": {replaced("group_gap", "group_gip"),
			`11:1 marks.group_gip is not an entry of a code sheet; did you mean marks.group_gap?`},
		"a word twice":  {replaced("long = 3", "short = 3"), `9:1 marks.short is given twice`},
		"a table twice": {whole + "\n[marks]\n", `[marks] is there twice;`},
		"one group in brackets": {replaced("[[group]]         #", "[group]           #"),
			`"group" does not belong in these brackets; write [[group]]`},
		"an open quote": {replaced(`7 = "_.."`, `7 = "_..`), `22:9 this`},
		"a bar like a group": {replaced("edge_low = [6, 8, 12]", "edge_low = [4, 8, 12]"),
			`59:1 it starts with 4 units of dark, no longer than the gap between groups, 4`},
		"a bar like a mark": {replaced("edge_low = [6, 8, 12]", "edge_low = [6, 3, 12]"),
			`59:1 a bar of 3 units is no longer than a long mark, 3`},
		"a rhythm like a frame": {strings.NewReplacer(`name = "head"`+"\nfrom = \"kind\"\n\n[[group]]\n", "",
			`name = "tens"`+"\nfrom = \"tens\"\n\n[[group]]\n", "",
			"\n[[group]]\nname = \"check\"\nfrom = \"check\"    # over all groups before it\nrule = \"damm\"\n", "",
			"digital = 2\ncw = 3\nhundred_adds = 5  # to that digit, from channel 100 on\n", "", "last = 199",
			"last = 9", "seeking = [8, 8]", "seeking = [2, 24]").Replace(whole),
			`seeking has the rhythm of a pilot's frame, except for its speed; give it a rhythm that is not a frame's`},
		"a name too long": {replaced(`name = "head"`, `name = "a head that is far too long"`),
			`36:3 the name of group 1 has 27 letters, more than 16`},
		"a byte order mark": {"\ufeff" + replaced("rest = 12 ", "rest = 1 "), `12:1 the rest of 1 units`},
		"a table in one line": {replaced("[marks] ", "marks = {short = 1}\n[marks] "),
			`7:1 marks is all on one line; write [marks]`},
		"out of range": {replaced("rest = 12 ", "rest = 99999999999999999999 "),
			`12:1 marks.rest is 99999999999999999999, out of range`},
		"no rest": {replaced("rest = 12 ", "# rest = 12 "),
			`7:2 marks.rest is missing; write under [marks] how long it is dark after a frame`},
		"no long mark": {replaced("long = 3 ", "# long = 3 "), `7:2 marks.long is missing`},
		"no unit":      {replaced("unit_ms = 200 ", "# unit_ms = 200 "), `unit_ms is missing`},
		"no name":      {replaced(`name = "Tally"`, ""), `1:1 the code has no name`},
		"no light but zero": {replaced(`7 = "_.."`, `7 = ""`),
			`22:1 digit 7 shows no light; write its marks, . short and _ long; only zero can be no light`},
		"a dark like the rest": {replaced(`0 = "__"`, `0 = ""`),
			`12:1 in the frame of 100 analog it is dark for 12 units where zeros show no light, as long as the rest; make it longer than 12 units`},
		"kinds by both": {replaced(`cw = 3`, `cw = "___"`),
			`give every kind its marks, or every kind a digit`},
		"a preset twice": {whole + "\n[presets]\n1 = \"5 cw\"\n2 = \"5 cw\"\n",
			`presets 1 and 2 are both 5 cw; leave one of them out`},
		"a preset that is none": {whole + "\n[presets]\n1 = \"5\"\n",
			`"5" is not a pilot; write a channel and a carrier`},
		"a preset of no number": {whole + "\n[presets]\none = \"5 cw\"\n", `"one" is not the number of a preset`},
		"a preset too high": {whole + "\n[presets]\n300 = \"5 cw\"\n",
			`a preset can't have the number 300; write 1 to 199`},
		"dark for a state": {replaced("manual = [16, 4]", `manual = "dark"`),
			`54:1 a dark lamp may have no power, so dark can't mean manual`},
		"a word for a rhythm": {replaced("manual = [16, 4]", `manual = "slow"`), `54:1 "slow" is not a rhythm`},
		"always lit twice": {strings.NewReplacer("manual = [16, 4]", `manual = "lit"`, "seeking = [8, 8]",
			`seeking = "lit"`).Replace(whole), `manual and seeking are both always lit`},
		"only states, not locked": {"name = \"X\"\nunit_ms = 200\n[states]\nfault = [2, 2]\n",
			`a frame can't have 0 groups; write the groups of a frame, from 1 to 5; or, if the lamp shows no frame, [states] with locked`},
		"speeds too close": {"name = \"X\"\nunit_ms = 200\nunit_range_ms = [180, 220]\n[states]\nlocked = \"lit\"\nfault = [2, 2]\nseeking = [3, 3]\n",
			`seeking and fault have the same rhythm, except for its speed; give each its own, or make one at least 1.8 times as fast`},
		"own digits alike": {replaced(`from = "tens"`, "from = \"tens\"\ndigits = [\"_\", \".\", \"_\"]"),
			`digits 0 and 2 have the same marks, _`},
		"own digits missing": {replaced(`from = "tens"`, "from = \"tens\"\ndigits = [\"_\", \".\"]"),
			`digit 2 of the group tens is missing`},
		"a color of two words": {whole + "\n[colors]\nlocked = \"dark green\"\n",
			`"dark green" is not a color; write one word in small letters`},
		"alike in color too": {strings.Replace(whole, "seeking = [8, 8]", "seeking = [32, 8]", 1) +
			"\n[colors]\nseeking = \"red\"\nmanual = \"red\"\n",
			`manual and seeking have the same rhythm, except for its speed`},
		"nothing":  {" \n", "1:1 the sheet is empty"},
		"no UTF-8": {"name = \"\xff\"", "1:9 the sheet is not in UTF-8"},
		"ten thousand groups": {replaced("[states] ",
			strings.Repeat("[[group]]\nname = \"x\"\nfrom = \"tens\"\n", 10_000)+"[states] "),
			`the frame has 10004 groups; write 5 at most`},
	} {
		code, problems := Parse([]byte(c.sheet))
		require.NotEmpty(t, problems, name)
		assert.Nil(t, code, name)
		var told []string
		for _, p := range problems {
			told = append(told, fmt.Sprintf("%d:%d %s; %s", p.Line, p.Column, p.Text, p.Hint))
		}
		assert.Contains(t, strings.Join(told, "\n"), c.want, name)
		assert.Less(t, len(problems), 20, name)
	}
}

func TestOpen(t *testing.T) {
	for _, name := range []string{"", TallyName} {
		code, problems, err := Open(name)
		require.NoError(t, err)
		require.Empty(t, problems)
		assert.Equal(t, "Tally", code.Name)
	}
	dir := t.TempDir()
	path := filepath.Join(dir, "own.toml")
	require.NoError(t, os.WriteFile(path, tallyTOML, 0o600))
	code, problems, err := Open(path)
	require.NoError(t, err)
	require.Empty(t, problems)
	assert.Equal(t, 200*time.Millisecond, code.Timing.Unit)
	var file *fault.Error
	_, _, err = Open(filepath.Join(dir, "none.toml"))
	require.True(t, errors.As(err, &file))
	assert.Contains(t, err.Error(), "there is no such file; check the path")
	require.NoError(t, os.WriteFile(path, make([]byte, maxBytes+1), 0o600))
	_, _, err = Open(path)
	require.ErrorContains(t, err, "too large")
}

// For any sheet, every problem gives a place inside it, and a code without problems can
// be sent and read strictly.
func FuzzParse(f *testing.F) {
	f.Add(tallyTOML)
	f.Add(curlewTOML)
	f.Add([]byte("name = 'x'\n[[group]]\nfrom = 'units'\n"))
	invented, err := filepath.Glob("../../testdata/sheets/*.toml")
	require.NoError(f, err)
	require.Len(f, invented, 5)
	for _, path := range invented {
		data, err := os.ReadFile(path)
		require.NoError(f, err)
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 4<<10 {
			return
		}
		code, problems := Parse(data)
		lines := strings.Split(string(data), "\n")
		for _, p := range problems {
			require.Positive(t, p.Line)
			require.LessOrEqual(t, p.Line, len(lines))
			require.Positive(t, p.Column)
			require.LessOrEqual(t, p.Column, len(lines[p.Line-1])+1)
			require.NotEmpty(t, p.Hint)
		}
		if len(problems) > 0 {
			require.Nil(t, code)
			return
		}
		require.Empty(t, code.Flaws())
		for p := range code.Pilots {
			digits, err := code.Digits(p)
			require.NoError(t, err)
			back, err := code.Pilot(digits)
			require.NoError(t, err)
			require.Equal(t, p, back)
			frame, err := code.Encode(p)
			require.NoError(t, err)
			spelled, ok := code.DigitsOf(frame)
			require.True(t, ok)
			require.Equal(t, digits, spelled)
			require.Positive(t, frame.Marks())
			break
		}
		n := 0
		for s := range code.Signals {
			intervals, period, err := code.Signal(s, code.Timing.Unit)
			require.NoError(t, err)
			require.True(t, period == 0 && len(intervals) == 1 || intervals[0].Lit && len(intervals)%2 == 0)
			for i := range intervals {
				require.Equal(t, intervals[0].Lit == (i%2 == 0), intervals[i].Lit)
			}
			if n++; n > 50 {
				break
			}
		}
	})
}
