package face_test

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/cmd/page/face"
)

// asked calls the face and decodes the answer.
func asked(t *testing.T, f *face.Face, call string, args map[string]any) map[string]any {
	t.Helper()
	data, err := json.Marshal(args)
	require.NoError(t, err)
	var got any
	require.NoError(t, json.Unmarshal(f.Call(call, data), &got))
	if list, ok := got.([]any); ok {
		return map[string]any{"list": list}
	}
	return got.(map[string]any)
}

func withDemo(t *testing.T) *face.Face {
	t.Helper()
	f := face.New()
	f.Now = func() time.Time { return time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC) }
	for _, kind := range []string{"lineup", "amps"} {
		require.NotContains(t, asked(t, f, "open", map[string]any{"kind": kind, "name": demo.Name}), "error")
	}
	return f
}

// The same reading gives the same JSON on the page as on the command line: the program is
// built and run for the comparison.
func TestSameAsTheCommandLine(t *testing.T) {
	program := filepath.Join(t.TempDir(), "tallywink")
	out, err := exec.Command("go", "build", "-o", program, "tallywink.example/cmd/tallywink").CombinedOutput()
	require.NoError(t, err, string(out))
	for _, demoOpen := range []bool{true, false} {
		for _, c := range []struct {
			name string
			args map[string]any
			line []string
		}{
			{"one look", map[string]any{"marks": "_.. . _. _.."}, []string{"_.. . _. _.."}},
			{"a doubtful look", map[string]any{"marks": "_.. . _. _."}, []string{"_.. . _. _."}},
			{"two looks", map[string]any{"marks": "_.. . _. _. // _.. . _. _.."},
				[]string{"_.. . _. _. // _.. . _. _.."}},
			{"looks that contradict each other", map[string]any{"marks": "_.. . _. _.. // . _.. ... ..."},
				[]string{"_.. . _. _.. // . _.. ... ..."}},
			{"a start that was not seen", map[string]any{"marks": ". _. _.. _..", "no_start": true},
				[]string{"--no-start", ". _. _.. _.."}},
			{"digits", map[string]any{"digits": "7167"}, []string{"--digits", "7167"}},
			{"marks in edge", map[string]any{"marks": "_.. . _. _..", "edge_end": "low"},
				[]string{"_.. . _. _..", "--edge-end", "low"}},
			{"too many groups", map[string]any{"marks": "_.. . _ . _.."}, []string{"_.. . _ . _.."}},
			{"holding", map[string]any{"state": "holding"}, []string{"--state", "holding"}},
			{"fault", map[string]any{"state": "fault"}, []string{"--state", "fault"}},
			{"steady", map[string]any{"state": "steady"}, []string{"--state", "steady"}},
		} {
			for _, amp := range []string{"", "OSR-03", "BRK-02", "HRN-02"} {
				t.Run(c.name+" "+amp, func(t *testing.T) {
					f := face.New()
					args := append([]string{"decode", "--json", "--no-book"}, c.line...)
					if amp == "" {
						args = append([]string{"decode", "--json"}, c.line...)
					}
					if demoOpen {
						f = withDemo(t)
						args = append(args, "--lineup", "demo")
					}
					if amp != "" {
						if !demoOpen {
							require.NotContains(t,
								asked(t, f, "open", map[string]any{"kind": "amps", "name": demo.Name}), "error")
						}
						args = append(args, "--amps", "demo", "--amp", amp)
					}
					stdout, _ := exec.Command(program, args...).Output() // bad news exits with status 1
					c.args["amp"] = amp
					got := asked(t, f, "decode", c.args)
					require.NotContains(t, got, "error", "%v", got)
					document, err := json.Marshal(got["document"])
					require.NoError(t, err)
					assert.JSONEq(t, string(stdout), string(document))
				})
			}
		}
	}
}

// A reading at a known amplifier is noted once, in the form of a field book.
func TestReadingsAreNoted(t *testing.T) {
	f := withDemo(t)
	asked(t, f, "decode", map[string]any{"marks": "_.. . _. _..", "amp": "OSR-03", "who": "Ada"})
	asked(t, f, "decode", map[string]any{"marks": "_.. . _. _.."})
	records := asked(t, f, "records", nil)["list"].([]any)
	require.Len(t, records, 1)
	r := records[0].(map[string]any)
	assert.Equal(t, []any{"reading", "OSR-03", "locked", "usable", "Ada", "2026-11-25T12:00:00Z"},
		[]any{r["type"], r["amp"], r["state"], r["verdict"], r["who"], r["time"]})
	assert.Equal(t, map[string]any{"channel": 116.0, "carrier": "digital"}, r["pilot"])
	assert.Empty(t, asked(t, f, "records", nil)["list"])
}

// Pictures that are pushed are read, and the answer is the one that the page shows.
func TestPictures(t *testing.T) {
	eye, mind := face.New(), withDemo(t)
	require.NotContains(t, asked(t, eye, "begin", map[string]any{"width": 64, "height": 48}), "error")
	light, period, err := blink.Tally.Signal(blink.Signal{State: blink.Locked,
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}}, 200*time.Millisecond)
	require.NoError(t, err)
	rgba := make([]byte, 4*64*48)
	for n := range 20 * 26 {
		at := time.Duration(n) * 50 * time.Millisecond
		lit, into := false, at%period
		for _, iv := range light {
			if into < iv.Duration {
				lit = iv.Lit
				break
			}
			into -= iv.Duration
		}
		for i := range 64 * 48 {
			v := byte(60 + (i*7+n*13)%9 + i%64) // a slope with noise
			if x, y := i%64-30, i/64-20; lit && x*x+y*y < 20 {
				v = 240
			}
			rgba[4*i], rgba[4*i+1], rgba[4*i+2], rgba[4*i+3] = v, v, v, 255
		}
		eye.Push(float64(at.Milliseconds()), rgba)
	}
	seen := asked(t, eye, "look", nil)
	got := asked(t, mind, "read", map[string]any{"seen": seen, "amp": "OSR-03"})
	require.NotContains(t, got, "error")
	assert.Equal(t, "116 DIGITAL, LOCKED", got["headline"])
	assert.Equal(t, true, got["sure"])
	assert.Equal(t, "usable", got["verdict"])
	assert.Contains(t, got["marks"], "_.. . _. _..")
	lamp := got["lamps"].([]any)[0].(map[string]any)
	assert.InDelta(t, 30, lamp["x"], 2)
	assert.InDelta(t, 20, lamp["y"], 2)
	assert.Empty(t, asked(t, mind, "records", nil)["list"], "while it is watched nothing is noted")
	asked(t, mind, "read", map[string]any{"seen": seen, "amp": "OSR-03", "note": true})
	assert.Len(t, asked(t, mind, "records", nil)["list"], 1)

	early := asked(t, mind, "read", map[string]any{"seen": asked(t, face.New(), "look", nil)})
	assert.Equal(t, "Aim at the lamp.", early["advice"])
}

// A session of the trainer is operated by keys and views, its answers are noted, and
// nothing flashes in still mode.
func TestSessions(t *testing.T) {
	f := withDemo(t)
	at := 1.8e12
	require.NotContains(t, asked(t, f, "start", map[string]any{"kind": "train", "trainee": "Ada", "still": true,
		"now": at}), "error")
	for _, key := range []string{"Enter", "Enter", "u", "Enter"} { // the first page, how to count, an answer
		at += 1000
		asked(t, f, "key", map[string]any{"key": key, "at": at})
	}
	v := asked(t, f, "view", map[string]any{"now": at, "columns": 34})
	text, err := json.Marshal(v["rows"])
	require.NoError(t, err)
	assert.Contains(t, string(text), "NOT SURE")
	assert.Nil(t, v["lamp"])
	records := asked(t, f, "records", nil)["list"].([]any)
	require.Len(t, records, 1)
	line, err := json.Marshal(records[0])
	require.NoError(t, err)
	standing := asked(t, f, "standing", map[string]any{"trainee": "Ada", "book": string(line) + "\n", "now": at})
	assert.Equal(t, "1 answers, 0% right.", standing["lines"].([]any)[0])

	// A qualification run, with a supervisor's seed.
	refused := asked(t, f, "start", map[string]any{"kind": "qualify", "trainee": "Ada", "seed": "x", "now": at})
	assert.Contains(t, fmt.Sprint(refused["error"]), "needs a seed, a number")
	require.NotContains(t, asked(t, f, "start", map[string]any{"kind": "qualify", "trainee": "Ada", "seed": " 7 ",
		"still": true, "now": at}), "error")
	asked(t, f, "key", map[string]any{"key": "Enter", "at": at})
	v = asked(t, f, "view", map[string]any{"now": at, "columns": 60})
	text, err = json.Marshal(v["rows"])
	require.NoError(t, err)
	assert.Contains(t, string(text), "qualification, reading 1 of 20")

	// Tapping along: a frame, mark by mark, at human speed.
	require.NotContains(t, asked(t, f, "start", map[string]any{"kind": "watch", "now": at}), "error")
	for _, group := range []string{"_..", ".", "_.", "_.."} {
		for _, mark := range group {
			at += 400
			asked(t, f, "key", map[string]any{"key": string(mark), "at": at})
		}
		at += 900
		asked(t, f, "view", map[string]any{"now": at, "columns": 34})
	}
	asked(t, f, "key", map[string]any{"key": "Enter", "at": at + 3000})
	v = asked(t, f, "view", map[string]any{"now": at + 3000, "columns": 34})
	assert.Equal(t, true, v["over"])
	assert.Equal(t, "116 DIGITAL, LOCKED", v["result"].(map[string]any)["headline"])
}

// Whatever a page sends gets a sentence as an answer, and a file that can't be used
// leaves the previous one in place.
func TestWhatCannotBeDone(t *testing.T) {
	f := withDemo(t)
	for _, c := range []struct {
		call string
		args map[string]any
		says string
	}{
		{"nothing", nil, "there is no call nothing"},
		{"decode", map[string]any{}, "there is nothing to read"},
		{"decode", map[string]any{"marks": "abc"}, "marks:1:1"},
		{"decode", map[string]any{"state": "bogus"}, "unknown state"},
		{"decode", map[string]any{"marks": 7}, "can't be read"},
		{"decode", map[string]any{"marks": "_..", "amp": "NOPE"}, "no such amplifier"},
		{"open", map[string]any{"kind": "lineup", "name": "x.csv", "text": "nonsense"}, "x.csv"},
		{"open", map[string]any{"kind": "amps", "name": "x.csv", "text": "PK\x03\x04"}, "not CSV"},
		{"open", map[string]any{"kind": "sheet", "name": "x.toml", "text": "name = 7"}, "x.toml:1:"},
		{"open", map[string]any{"kind": "other", "name": "x"}, "no files of the kind"},
		{"check", map[string]any{"channel": "300", "carrier": "digital"}, "no such channel"},
		{"check", map[string]any{"channel": "116", "carrier": "digitl"}, "did you mean digital"},
		{"near", map[string]any{"mhz": "loud"}, "not a frequency"},
		{"begin", map[string]any{"width": 1 << 30, "height": 1 << 30}, "can't be watched"},
		{"start", map[string]any{"kind": "dance"}, "no sessions"},
		{"encode", map[string]any{"channel": "116", "carrier": "ofdm"}, "unknown carrier"},
	} {
		got := asked(t, f, c.call, c.args)
		assert.Contains(t, got["error"], c.says, c.call)
	}
	known := asked(t, f, "system", nil)
	assert.Equal(t, "Quillfen Valley Cable", known["lineup"])
	f.Push(0, []byte{1, 2, 3}) // before watching has begun
	asked(t, f, "key", map[string]any{"key": "x"})
	assert.Equal(t, true, asked(t, f, "view", nil)["over"])
}

// The page's own guide to what is near a frequency, and to what a lamp should show.
func TestNearAndExpected(t *testing.T) {
	f := withDemo(t)
	assert.Contains(t, asked(t, f, "near", map[string]any{"mhz": "747"})["says"], "channel 116")
	assert.Contains(t, asked(t, f, "near", map[string]any{"mhz": "116"})["says"], "Channel 116")
	assert.Equal(t, "_.. . _. _..", asked(t, f, "expected", map[string]any{"amp": "OSR-03"})["marks"])
	assert.Len(t, asked(t, f, "states", nil)["list"], 9, "all but locked, edge at both ends")
	assert.Equal(t, "_.. . _. _..", asked(t, f, "encode",
		map[string]any{"channel": "116", "carrier": "digital"})["marks"])
}

// The page's files do not refer to anything outside: no other origin, no inline script.
func TestPageNamesNoOtherOrigin(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "site", "static", "*"))
	require.NoError(t, err)
	require.Len(t, files, 7)
	for _, path := range files {
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		text := strings.ReplaceAll(string(data), "http://www.w3.org/2000/svg", "")
		assert.NotContains(t, text, "://", path)
		assert.NotContains(t, text, "innerHTML", path)
		assert.NotRegexp(t, `<[^>]* (on[a-z]+|style)=`, text, path)
	}
}

// Lamps with other codes, from invented sheets: their states are offered, read, shown and
// trained.
func TestOtherLamps(t *testing.T) {
	sheets, err := filepath.Glob("../../../testdata/sheets/*.toml")
	require.NoError(t, err)
	require.Len(t, sheets, 5)
	at := float64(time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC).UnixMilli())
	for _, path := range sheets {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		f := withDemo(t)
		require.NotContains(t, asked(t, f, "open",
			map[string]any{"kind": "sheet", "name": filepath.Base(path), "text": string(text)}), "error")
		states := asked(t, f, "states", nil)["list"].([]any)
		require.NotEmpty(t, states, path)
		for _, s := range states {
			state := s.(map[string]any)
			assert.NotEmpty(t, state["look"], path)
			assert.NotEmpty(t, state["light"], "%s: %v", path, state["state"])
			got := asked(t, f, "read", map[string]any{"seen": map[string]any{"state": state["state"],
				"edge_end": state["edge_end"]}, "amp": "OSR-03"})
			assert.NotContains(t, got, "error", "%s: %v", path, state["state"])
		}
		for _, kind := range []string{"train", "qualify", "watch"} {
			got := asked(t, f, "start", map[string]any{"kind": kind, "trainee": "Ada", "seed": "7",
				"still": true, "now": at})
			require.NotContains(t, got, "error", "%s: %s", path, kind)
			for _, key := range []string{"Enter", "1", "Enter", "."} {
				asked(t, f, "key", map[string]any{"key": key, "now": at + 9000})
			}
			assert.NotContains(t, asked(t, f, "view", map[string]any{"columns": 60, "rows": 24, "now": at + 9500}),
				"error", "%s: %s", path, kind)
		}
	}
	f := face.New()
	dunlin, err := os.ReadFile("../../../testdata/sheets/dunlin.toml")
	require.NoError(t, err)
	asked(t, f, "open", map[string]any{"kind": "sheet", "name": "dunlin.toml", "text": string(dunlin)})
	assert.Equal(t, "locked: the AGC follows the pilot.",
		asked(t, f, "encode", map[string]any{"state": "locked"})["says"])
}
