package main

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// hostile is what a name in a file may contain in order to control a terminal, to hide,
// to break out of markup, or to act as a formula.
const hostile = "=cmd\x1b]0;owned\x07\u009b\u202e\u200b\u3164\u2800\ufe0f</text><script>&'"

// hostileFiles writes files with hostile text wherever they can contain it.
func hostileFiles(t *testing.T) (dir string) {
	t.Helper()
	dir = t.TempDir()
	quoted := `"` + strings.ReplaceAll(hostile, `"`, `""`) + `"`
	for name, text := range map[string]string{
		"lineup.csv": "# name: " + hostile + "\n# hub: " + hostile +
			"\n# plan: std\n# forward: 54-1002\n# effective: 2026-03-02\nchannel,carrier,level_dbmv,duty,service\n" +
			"116,qam256,37,," + quoted + "\n73,analog,40,," + quoted + "\n8,analog,40,part-time,\n60,cw,41,,test " +
			hostile[1:] + "\n" + quoted + ",qam256,37,,\n",
		"next.csv": "# name: " + hostile +
			"\n# forward: 54-1002\n# effective: 2026-12-01\nchannel,carrier,level_dbmv,service\n73,qam256,34," +
			quoted + "\n60,cw,41,\n",
		"amps.csv": "amp,node,channel,carrier,upstream,span_db,span_mhz,range_up_db,range_down_db," + quoted + "\n" +
			quoted + "," + quoted + ",116,digital," + strings.TrimSuffix(quoted, `"`) + "x\",22,750,4,4," + quoted +
			"\nA2," + quoted + ",73,analog,A3,99,750,1,1,-2+3\nA3,N1,73,analog,A2,,,,,\n" +
			"A4,N1,7" + quoted + ",analog,,,,,,\nA5,N2,138,digital,,,,,,\n",
		"own.toml": "name = \"" + strings.NewReplacer("\x1b", `\u001b`, "\x07", `\u0007`).Replace(hostile) + "\"\n" +
			strings.NewReplacer(`name = "Tally"`, "", `name = "head"`,
				`name = "=\u001b[2J\u202e<b>&'"`).Replace(tallySheet(t)),
		"broken.toml": "\"" + strings.NewReplacer("\x1b", `\u001b`, "\x07", `\u0007`).Replace(hostile) + "\" = 1\n",
		"trace.csv":   "seconds,brightness\n0,1\n" + hostile + ",2\n",
		"each.txt":    "_.. . _. _..\n" + hostile + "\n",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	attempt := map[string]any{"type": "attempt", "time": "2026-11-25T09:00:00Z", "trainee": hostile,
		"exercise": "digits", "mark": "digit " + hostile, "shown": "7", "read": hostile, "right": false}
	reading := map[string]any{"type": "reading", "time": "2026-11-25T09:00:00Z", "amp": hostile, "state": "holding",
		"who": hostile}
	stranger := map[string]any{"type": "reading", "time": "2026-11-25T09:00:00Z", "amp": "Z" + hostile,
		"state": "dark", "who": hostile}
	var book bytes.Buffer
	for _, r := range []any{attempt, reading, stranger} {
		require.NoError(t, json.NewEncoder(&book).Encode(r))
	}
	book.WriteString(hostile + "\n")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "book.jsonl"), book.Bytes(), 0o600))
	return dir
}

func tallySheet(t *testing.T) string {
	t.Helper()
	text, _, status := runHere(t, "", "sheet", "tally", "--print")
	require.Equal(t, exitWell, status)
	return text
}

// requireHarmless checks that text contains nothing that controls a terminal or hides.
func requireHarmless(t *testing.T, what, text string) {
	t.Helper()
	for _, r := range text {
		if r != '\n' && (!unicode.IsGraphic(r) || strings.ContainsRune("\u034f\u115f\u3164\u2800\ufe0f\U000e0101", r)) {
			require.Failf(t, "a terminal is steered", "%s: %q in %q", what, r, text)
		}
	}
}

// Every command shows text from files harmlessly, on either output: as plain text, in CSV
// (no live formulas), SVG and HTML (escaped). JSON has it exactly.
func TestHostileTextEverywhere(t *testing.T) {
	t.Chdir(hostileFiles(t))
	commands := []string{
		"check 116 digital --lineup lineup.csv", "check 8 analog --lineup lineup.csv --amps amps.csv --amp A2",
		"lineup lineup.csv", "lineup next.csv --drawing",
		"rank --lineup lineup.csv", "rank --lineup lineup.csv --pairs", "rank --lineup next.csv --before lineup.csv",
		"decode _.. . _. _.. --lineup lineup.csv", "decode --each each.txt", "decode --trace trace.csv",
		"decode --state holding --lineup lineup.csv",
		"decode _.. . _. _.. --sheet own.toml", "decode _.. . _. _. --sheet own.toml",
		"encode 116 digital --sheet own.toml", "encode 116 digital --sheet broken.toml",
		"sheet own.toml", "sheet broken.toml", "audit --amps amps.csv --lineup lineup.csv",
		"audit --amps amps.csv --lineup next.csv --before lineup.csv --all",
		"audit --amps amps.csv --book book.jsonl --lineup lineup.csv",
		"audit --amps amps.csv --book book.jsonl --all",
		"cutover --amps amps.csv --before lineup.csv --lineup next.csv",
		"cutover --amps amps.csv --before lineup.csv --lineup next.csv --sheet own.toml",
		"season --amps amps.csv --now 95F --low 0F --high 110F",
		"progress --book book.jsonl", "card --lineup lineup.csv --svg -",
		"card --lineup lineup.csv --amps amps.csv --html - --sheet own.toml", "plan 116", "demo",
	}
	for _, typed := range commands {
		stdout, stderr, _ := runHere(t, "", strings.Fields(typed)...)
		require.NotEmpty(t, stdout+stderr, typed)
		requireHarmless(t, typed, stdout)
		requireHarmless(t, typed, stderr)
		if strings.Contains(typed, "card ") || strings.Contains(typed, "--each") {
			continue
		}
		stdout, stderr, _ = runHere(t, "", append(strings.Fields(typed), "--json")...)
		requireHarmless(t, typed+" --json", stdout+stderr)
	}
	// Names that are typed, or that appear in messages.
	for _, args := range [][]string{{hostile}, {"decode", hostile}, {"check", hostile, "digital", "--lineup", "demo"},
		{"lineup", hostile}, {"plan", hostile},
		{"check", "116", "digital", "--lineup", hostile}, {"encode", "116", "digital", "--sheet", hostile},
		{"decode", "_..", "--amps", "amps.csv", "--amp", hostile + "y"},
		{"decode", "--state", "holding", "--lineup", "lineup.csv", "--amps", "amps.csv", "--amp", hostile},
		{"progress", "--trainee", hostile + "z", "--book", "book.jsonl"},
		{"decode", "_..", ".", "_.", "_..", "--trainee", hostile, "--book", "book.jsonl"},
		{"cutover", "demo", "--node", hostile}, {"season", "--now", hostile}, {"completion", hostile},
		{"audit", hostile},
		{"encode", "116", "digital", "--unit", hostile}, {"decode", "--clip", hostile}, {"help", hostile},
		{"sheet", hostile}, {"card", "demo", "--svg", "x", "--paper", hostile}} {
		stdout, stderr, _ := runHere(t, "", args...)
		requireHarmless(t, fmt.Sprint(args), stdout)
		requireHarmless(t, fmt.Sprint(args), stderr)
	}

	for _, typed := range []string{"audit --amps amps.csv --lineup next.csv --before lineup.csv --csv --all",
		"cutover --amps amps.csv --before lineup.csv --lineup next.csv --csv",
		"season --amps amps.csv --now 95F --low 0F --high 110F --csv", "progress --book book.jsonl --csv"} {
		stdout, stderr, _ := runHere(t, "", strings.Fields(typed)...)
		requireHarmless(t, typed, stderr)
		r := csv.NewReader(strings.NewReader(stdout))
		rows, err := r.ReadAll()
		require.NoError(t, err, typed)
		require.Greater(t, len(rows), 1, typed)
		found := false
		for _, row := range rows {
			for _, value := range row {
				found = found || strings.Contains(value, "owned")
				if value == "" {
					continue
				}
				numeric := strings.Trim(value, "-0123456789.") == "" && strings.LastIndex(value, "-") <= 0
				require.True(t, numeric || !strings.ContainsRune("=+-@\t\r", rune(value[0])),
					"%s: %q is a live formula", typed, value)
			}
		}
		require.True(t, found, "%s: the hostile name is there", typed)
	}

	for _, typed := range []string{"card --lineup lineup.csv --svg -",
		"card --lineup lineup.csv --sheet own.toml --svg -"} {
		stdout, _, _ := runHere(t, "", strings.Fields(typed)...)
		assert.NotContains(t, stdout, "<script")
		d := xml.NewDecoder(strings.NewReader(stdout))
		for {
			_, err := d.Token()
			if err == io.EOF {
				break
			}
			require.NoError(t, err, "%s: well-formed", typed)
		}
	}
	_, _, status := runHere(t, "", "encode", "116", "digital", "--sheet", "own.toml", "--svg", "lamp.svg")
	require.Equal(t, exitWell, status)
	svg, err := os.ReadFile("lamp.svg")
	require.NoError(t, err)
	requireHarmless(t, "the timeline", string(svg))
	assert.NotContains(t, string(svg), "<script")

	// JSON is exact.
	stdout, _, _ := runHere(t, "", "lineup", "lineup.csv", "--json")
	var doc struct{ Name string }
	require.NoError(t, json.Unmarshal([]byte(stdout), &doc))
	assert.Equal(t, hostile, doc.Name)
	stdout, _, _ = runHere(t, "", "audit", "--amps", "amps.csv", "--lineup", "next.csv", "--json")
	var row struct {
		Amp  string
		More map[string]string
	}
	require.NoError(t, json.Unmarshal([]byte(strings.SplitN(stdout, "\n", 2)[0]), &row))
	assert.Equal(t, hostile, row.Amp)
	assert.Equal(t, hostile, row.More[hostile])
}
