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
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/manual"
)

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
	code, err := input.LoadSheet(sheet.CurlewName)
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
	_, stderr, status := runHere(t, strings.Repeat(" ", input.MaxStdinBytes+1), "decode", "-")
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
