package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/blink/sheet"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/manual"
	"tallywink.example/cmd/tallywink/report"
)

// answerLines prints an answer and returns its lines.
func answerLines(t *testing.T, a *answer.Answer) []string {
	t.Helper()
	var text strings.Builder
	out := console.New(console.Streams{In: strings.NewReader(""), Out: &text, Err: &text}, true)
	report.PrintAnswer(out, a, "", true)
	require.NoError(t, out.Flush())
	return strings.Split(strings.TrimRight(text.String(), "\n"), "\n")
}

// Whatever the state, the pilot, the record and the reading, an answer is at most 24
// lines of eighty columns, in plain ASCII.
func TestAnswersAreShort(t *testing.T) {
	l, err := demo.Lineup()
	require.NoError(t, err)
	// A row with everything wrong at once.
	crowded, err := lineup.Read(strings.NewReader(`# forward: 54-750
# off-air: 54-88
channel,carrier,frequency_mhz,level_dbmv,duty,video,scope,service
3,analog,61.3,20,part-time,sync-suppressed,narrowcast,A service with a name that is far longer than anyone would give one
4,qam256,,40,,,,
,cw,62,30,,,,Leakage test carrier of the northern hub
,qam256,63,39,,,,
`), "crowded.csv")
	require.NoError(t, err)

	var amps []*lineup.Amplifier
	amps = append(amps, nil)
	for _, id := range []string{"OSR-03", "HRN-02", "BRK-06", "LTN-05", "OSR-04"} {
		a, _, err := demo.Amplifier(id)
		require.NoError(t, err)
		amps = append(amps, &a.Amplifier)
	}
	readings := []string{
		"", "_.. . _. _..", ". _.. ... ...", "_.. ... _... _....", ". __ _... _....", ". __ ... _.", ". __ . ...",
		"_.. . _. _... // . _.. ... ... // _.. . _. _.. // _ // ?", ".. _. _. _", "?????? ?????? ??????",
		"____ ____ ____ ____",
		"_.. . _. _.. // . _.. ... ...", strings.Repeat("_", 64),
	}
	longest := 0
	for _, sys := range []answer.System{{}, {Lineup: l}, {Lineup: crowded}} {
		for _, amp := range amps {
			sys.Amplifier, sys.Today = amp, demo.Day()
			for _, start := range []reading.Start{reading.StartSeen, reading.StartUnseen} {
				reader := answer.NewReader(sys, start, nil)
				for _, text := range readings {
					var looks []blink.Frame
					if text != "" {
						looks, err = blink.ParseNotation(text)
						require.NoError(t, err)
					}
					for _, told := range signalsTold(text == "") {
						a := reader.Of(looks, told)
						lines := answerLines(t, a)
						longest = max(longest, len(lines))
						require.LessOrEqualf(t, len(lines), report.MaxAnswerLines, "%v %q:\n%s", told.State, text,
							strings.Join(lines, "\n"))
						for _, line := range lines {
							require.LessOrEqual(t, utf8.RuneCountInString(line), console.LineWidth, line)
							require.Equal(t, -1, strings.IndexFunc(line, func(r rune) bool { return r > 126 }), line)
						}
						require.NotEmpty(t, a.Next)
						_, err := json.Marshal(a.Document())
						require.NoError(t, err)
					}
				}
			}
		}
	}
	assert.Equal(t, report.MaxAnswerLines, longest, "the limit is reached, so it is tested")
}

func signalsTold(alone bool) []blink.Signal {
	var all []blink.Signal
	if !alone {
		all = append(all, blink.Signal{})
	}
	for _, s := range blink.States() {
		all = append(all, blink.Signal{State: s})
		if s == blink.Edge {
			all = append(all, blink.Signal{State: s, End: blink.EndLow}, blink.Signal{State: s, End: blink.EndHigh})
		}
	}
	return all
}

// Every frame that a lamp can send gets its answer, using the program's own commands:
// encode, then decode what it prints.
func TestDecodeReadsWhatEncodePrints(t *testing.T) {
	for p := range blink.Tally.Pilots {
		if p.Channel%7 != 0 && p.Channel > 3 {
			continue // all are tested in blink/reading; this tests the commands
		}
		for _, plan := range []string{"std", "irc", "hrc"} {
			stdout, _, status := runHere(t, "", "encode", fmt.Sprint(p.Channel), p.Kind.String(), "--json")
			require.Equal(t, exitWell, status)
			var sent struct{ Notation string }
			require.NoError(t, json.Unmarshal([]byte(stdout), &sent))

			// Twice, because channel 1 is not a channel of STD and is accepted only then.
			args := append(append([]string{"decode"}, strings.Fields(sent.Notation+" // "+sent.Notation)...),
				"--json", "--plan", plan)
			stdout, _, status = runHere(t, "", args...)
			want := exitWell
			if p.Channel == 1 && plan == "std" {
				want = exitBadNews // not a channel of STD, but read anyway
			}
			require.Equal(t, want, status, stdout)
			var read struct {
				Pilot struct {
					Channel       int
					Carrier, Plan string
				}
				Doubtful   bool
				CheckDigit string `json:"check_digit"`
			}
			require.NoError(t, json.Unmarshal([]byte(stdout), &read))
			assert.Equal(t, p.Channel, read.Pilot.Channel)
			assert.Equal(t, p.Kind.String(), read.Pilot.Carrier)
			assert.Equal(t, plan, read.Pilot.Plan)
			assert.Equal(t, "agrees", read.CheckDigit)
		}
	}
}

// The same for very different codes, with marks and with light.
func TestOtherSheetsAreReadAsWell(t *testing.T) {
	code, err := loadSheet(sheet.CurlewName)
	require.NoError(t, err)
	timed := answer.System{Code: code}.TimedReader()
	for p := range code.Pilots {
		if p.Channel%40 != 5 {
			continue
		}
		frame, err := code.Encode(p)
		require.NoError(t, err)
		a := answer.NewReader(answer.System{Code: code}, reading.StartSeen, nil).Of([]blink.Frame{frame},
			blink.Signal{})
		read, ok := a.Pilot()
		require.True(t, ok, "%v", p)
		require.Equal(t, p, read)

		for _, s := range []blink.Signal{{State: blink.Locked, Pilot: p},
			{State: blink.Edge, End: blink.EndHigh, Pilot: p}} {
			period, _, err := code.Signal(s, 250*time.Millisecond)
			require.NoError(t, err)
			light := slices.Concat(period[3:], period, period, period[:2]) // starts in the middle of a period
			result := timed.Read(light)
			require.Equal(t, s, result.Best().Signal)
			require.False(t, result.Doubtful(), "%v", s)
		}
	}
	// A code with few signals can be read over time as well: this one has no edge signal,
	// and one state.
	few := *code
	few.EdgeRests, few.Rhythms = [3][]blink.Beat{}, [10][]blink.Beat{blink.Seeking: code.Rhythms[blink.Seeking]}
	require.Empty(t, few.Flaws())
	locked, _, err := few.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 73, Kind: channelplan.CW}}, 250*time.Millisecond)
	require.NoError(t, err)
	fewReader := answer.System{Code: &few}.TimedReader()
	require.Equal(t, 73, fewReader.Read(slices.Concat(locked, locked, locked)).Best().Signal.Pilot.Channel)
	for _, state := range blink.States() {
		period, _, err := code.Signal(blink.Signal{State: state}, 300*time.Millisecond)
		if err != nil {
			continue
		}
		result := timed.Read(slices.Concat(period, period, period, period))
		assert.Equal(t, state, result.Best().Signal.State)
	}
}

// The names in JSON documents are a contract: other programs read them.
func TestJSONContract(t *testing.T) {
	for _, c := range []struct {
		name, args string
		keys       []string
	}{
		{"plan", "plan 116 --json", []string{"channel", "plan", "low_hz", "high_hz", "visual_hz", "aural_hz",
			"center_hz", "extension"}},
		{"encode", "encode 116 digital --json", []string{"schema", "state", "pilot", "notation", "intervals",
			"period_ms"}},
		{"decode", "decode _.. . _. _.. --lineup demo --json",
			[]string{"schema", "state", "pilot", "notation", "check_digit", "doubtful",
				"confidence", "candidates", "lineup", "next", "edge_end"}},
		{"check", "check 116 digital --lineup demo --json", []string{"schema", "pilot", "verdict", "findings"}},
		{"lineup", "lineup demo --json", []string{"schema", "name", "plan", "forward", "carriers", "problems"}},
		{"demo", "demo --json", []string{"schema", "lineup", "readings"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			stdout, stderr, _ := runHere(t, "", strings.Fields(c.args)...)
			assert.Empty(t, stderr)
			text := strings.TrimSpace(stdout)
			if c.name == "plan" {
				text = strings.TrimSuffix(strings.TrimPrefix(text, "["), "]")
			}
			var doc map[string]json.RawMessage
			require.NoError(t, json.Unmarshal([]byte(text), &doc))
			for _, key := range c.keys {
				assert.Contains(t, doc, key)
			}
			if s, ok := doc["schema"]; ok {
				assert.Equal(t, "1", string(s))
			}
		})
	}
}

// A line that is too long gets an answer, and the next one is read.
func TestEachPassesOverLongLines(t *testing.T) {
	stdout, _, status := runHere(t, strings.Repeat(".", maxEachLine+5)+"\n_.. . _. _..\n", "decode", "--each", "-")
	assert.Equal(t, exitBadNews, status)
	lines := strings.Split(strings.TrimSpace(stdout), "\n")
	require.Len(t, lines, 2)
	assert.Contains(t, lines[0], `"line":1,"error":"the line is longer than 16 kB`)
	assert.Contains(t, lines[1], `"line":2`)
	assert.Contains(t, lines[1], `"channel":116`)
}

// Input that is too long for one reading is refused.
func TestStdinIsLimited(t *testing.T) {
	_, stderr, status := runHere(t, strings.Repeat(" ", maxStdinBytes+1), "decode", "-")
	assert.Equal(t, exitUnfit, status)
	assert.Contains(t, stderr, "longer than one reading can be")
}

// Help is no wider than a terminal.
func TestHelpFitsTheScreen(t *testing.T) {
	texts := map[string]string{"overview": overview()}
	for _, c := range commands {
		stdout, _, _ := runHere(t, "", "help", c.name)
		texts[c.name] = stdout
	}
	for name, text := range texts {
		for line := range strings.SplitSeq(text, "\n") {
			assert.LessOrEqual(t, utf8.RuneCountInString(line), console.LineWidth, "%s: %s", name, line)
		}
	}
}

func TestWrap(t *testing.T) {
	assert.Equal(t, []string{"one two", "three"}, wording.Wrap("one two three", 9))
	assert.Equal(t, []string{"incomprehensible", "x"}, wording.Wrap("incomprehensible x", 5))
	assert.Equal(t, []string{""}, wording.Wrap("", 5))
}

// Text from files can't control a terminal.
func TestShownIsHarmless(t *testing.T) {
	assert.Equal(t, "?[31mred?[0m a b", console.Shown("\x1b[31mred\x1b[0m a\tb"))
	assert.Equal(t, "a?b?c", console.Shown("a\u202eb\u200bc"))
	assert.Equal(t, "Café 衛星", console.Shown("Café 衛星"))
	l,
		err := lineup.Read(strings.NewReader("# name: \x1b]0;x\x07Evil\nchannel,carrier,service\n116,qam256,\x1b[2J\n"),
		"evil.csv")
	require.NoError(t, err)
	reader := answer.NewReader(answer.System{Lineup: l, Today: demo.Day()}, reading.StartSeen, nil)
	frame, err := blink.Tally.Encode(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital})
	require.NoError(t, err)
	for _, line := range answerLines(t, reader.Of([]blink.Frame{frame}, blink.Signal{})) {
		assert.NotContains(t, line, "\x1b")
		assert.NotContains(t, line, "\x07")
	}
}

// On a terminal of 40 columns nothing is wider than that, drawings are true, each step
// begins a line, and the verdict stands at the end.
func TestFortyColumns(t *testing.T) {
	l, err := demo.Lineup()
	require.NoError(t, err)
	amp, _, err := demo.Amplifier("OSR-03")
	require.NoError(t, err)
	s := answer.System{Plan: l.Plan, Lineup: l, Amplifier: &amp.Amplifier, Today: demo.Day()}
	var b strings.Builder
	out := console.New(console.Streams{In: strings.NewReader(""), Out: &b, Err: &b}, true)
	out.Width = 40
	a := answer.NewReader(s, reading.StartSeen, nil).Of(nil, blink.Signal{State: blink.Holding})
	report.PrintAnswer(out, a, "", true)
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 108, Kind: channelplan.Digital}}
	intervals, _, err := blink.Tally.Signal(signal, blink.Tally.Timing.Unit)
	require.NoError(t, err)
	out.Print([]console.Block{{Label: "Light", Text: report.LightText(blink.Tally, signal, intervals,
		blink.Tally.Timing.Unit)}, report.BandBlock(s.Lineup, []channelplan.Pilot{signal.Pilot})}, nil)
	require.NoError(t, out.Flush())
	for line := range strings.Lines(b.String()) {
		assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 40, line)
	}
	for i := range a.Next {
		assert.Contains(t, b.String(), fmt.Sprintf("\n  %d. ", i+1))
	}
	assert.Contains(t, b.String(), "\n  "+a.Brief()[:20])
	assert.Contains(t, b.String(), "  head   ### # #\n  tens   ### ###\n  units  ### # # #\n  check  ### # # #\n")
	// The mark stands under the letter of the pilot's channel: 108 digital is at 699 MHz, in
	// the row that begins at 594, 17 letters of 6 MHz from its left.
	assert.Regexp(t, `\n  594 .*\n  .{30}\n {2} {17}\^\n`, b.String())
}

// The manual's steps for setting a pilot are those that answers and work plans give.
func TestTheManualSetsAPilotAsAnswersDo(t *testing.T) {
	text, ok := manual.Topic("setting")
	require.True(t, ok)
	text = strings.Join(strings.Fields(text), " ")
	for _, step := range answer.Setting("the pilot") {
		assert.Contains(t, text, step)
	}
	assert.Contains(t, text, answer.Interrupts[:strings.Index(answer.Interrupts, ":")])
}
