package report

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/blink/reading"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/tallywink/console"
)

// answerLines prints an answer and returns its lines.
func answerLines(t *testing.T, a *answer.Answer) []string {
	t.Helper()
	var text strings.Builder
	out := console.New(console.Streams{In: strings.NewReader(""), Out: &text, Err: &text}, true)
	PrintAnswer(out, a, "", true)
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
						require.LessOrEqualf(t, len(lines), maxAnswerLines, "%v %q:\n%s", told.State, text,
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
	assert.Equal(t, maxAnswerLines, longest, "the limit is reached, so it is tested")
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

// Text from files can't control a terminal.
func TestShownIsHarmless(t *testing.T) {
	assert.Equal(t, "?[31mred?[0m a b", console.Shown("\x1b[31mred\x1b[0m a\tb"))
	assert.Equal(t, "a?b?c", console.Shown("a\u202eb\u200bc"))
	assert.Equal(t, "Café 衛星", console.Shown("Café 衛星"))
	l, err := lineup.Read(strings.NewReader("# name: \x1b]0;x\x07Evil\nchannel,carrier,service\n116,qam256,\x1b[2J\n"),
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
	PrintAnswer(out, a, "", true)
	signal := blink.Signal{State: blink.Locked, Pilot: channelplan.Pilot{Channel: 108, Kind: channelplan.Digital}}
	intervals, _, err := blink.Tally.Signal(signal, blink.Tally.Timing.Unit)
	require.NoError(t, err)
	out.Print([]console.Block{{Label: "Light", Text: lightText(blink.Tally, signal, intervals,
		blink.Tally.Timing.Unit)}, BandBlock(s.Lineup, []channelplan.Pilot{signal.Pilot})}, nil)
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
