package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/cmd/tallywink/completion"
	"tallywink.example/cmd/tallywink/manual"
)

// tool finds a program of the system; without it, the test is skipped, except in CI,
// which has them all.
func tool(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		require.Empty(t, os.Getenv("CI"), "CI has %s", name)
		t.Skipf("%s is not installed", name)
	}
	return path
}

// The manual page is checked by mandoc, which must not have a single remark.
func TestManualPage(t *testing.T) {
	page, _, status := runHere(t, "", "man")
	require.Equal(t, exitWell, status)
	for _, c := range commands {
		assert.Contains(t, page, "\n.Ss "+c.name+": ")
	}
	for _, name := range manual.Names() {
		assert.Contains(t, page, "\n.Sh "+strings.ToUpper(name)+"\n")
	}
	assert.Contains(t, page, "'tallywink sheet own.toml' shows every problem", "a paragraph of the manual")
	mandoc := tool(t, "mandoc")
	lint := exec.Command(mandoc, "-T", "lint")
	lint.Stdin = strings.NewReader(page)
	out, err := lint.CombinedOutput()
	require.NoError(t, err, string(out))
	assert.Empty(t, string(out))
}

func TestVersion(t *testing.T) {
	info := &debug.BuildInfo{Settings: []debug.BuildSetting{{Key: "vcs.revision", Value: "0123abc"},
		{Key: "vcs.modified", Value: "true"}, {Key: "vcs.time", Value: "2026-11-25T10:00:00Z"}}}
	d := newVersionDoc(info, true)
	assert.Equal(t, "0123abc", d.Commit)
	assert.True(t, d.Changed)
	assert.Equal(t, "2026-11-25T10:00:00Z", d.Time)
	stdout, _, status := runHere(t, "", "version", "--json")
	require.Equal(t, exitWell, status)
	require.NoError(t, json.Unmarshal([]byte(stdout), &d))
	assert.True(t, strings.HasPrefix(d.Go, "go1."))
}

// What can replace the last word.
func TestCandidates(t *testing.T) {
	for typed, want := range map[string]string{
		"enc":                        "encode",
		"":                           "decode",
		"h":                          "help",
		"help wat":                   "watch",
		"completion f":               "fish",
		"encode 11":                  "116",
		"encode 116 d":               "digital",
		"check 73 ":                  "analog",
		"encode --sh":                "--sheet",
		"encode --state ho":          "holding",
		"encode --edge-end h":        "high",
		"decode --lineup ":           completion.Paths,
		"decode --lineup demo-":      "demo-next",
		"audit --amps x.csv --befor": "--before",
		"plan --plan i":              "irc",
		"card --paper w":             "wallet",
		"decode --trace ":            completion.Paths,
		"plan 15":                    "158",
		"lineup d":                   "demo",
		"sheet c":                    "curlew",
		"rank --json d":              "demo",
	} {
		stdout, stderr, status := runHere(t, "", append([]string{"complete", "--"}, strings.Split(typed, " ")...)...)
		assert.Equal(t, exitWell, status)
		assert.Empty(t, stderr)
		assert.Contains(t, strings.Split(stdout, "\n"), want, typed)
	}
	for _, typed := range []string{"nonsense x", "encode 116 digital x", "help xyz"} {
		stdout, _, _ := runHere(t, "", append([]string{"complete", "--"}, strings.Split(typed, " ")...)...)
		assert.Empty(t, stdout, typed)
	}
	stdout, _, _ := runHere(t, "", "complete", "--", "encode", "116", "")
	assert.NotContains(t, stdout, "completion", "takes only demo, and you gave")
	_, stderr, status := runHere(t, "", "completion", "korn")
	assert.Equal(t, exitUnfit, status)
	assert.Contains(t, stderr, "bash, zsh, fish or powershell; each script starts by saying where to put it")
}

// The scripts are run by their shells.
func TestCompletionInShells(t *testing.T) {
	dir := filepath.Dir(build(t, "tallywink", "."))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "my lineup.csv"), nil, 0o600))
	for shell, script := range map[string]string{
		"bash": `source <(tallywink completion bash)
complete -p tallywink
try() { COMP_WORDS=(tallywink "$@"); COMP_CWORD=$#; _tallywink 2>/dev/null; printf '%s\n' "${COMPREPLY[@]}"; }
try enc; try encode 11; try encode 116 d; try lineup my; try lineup demo-`,
		"zsh": `compadd() { shift; print -l -- "$@" }
_files() { print -l -- my* }
compdef() { print "compdef $@" }
source <(tallywink completion zsh)
try() { words=(tallywink "$@"); CURRENT=$#words; _tallywink }
try enc; try encode 11; try encode 116 d; try lineup my; try lineup demo-`,
		"fish": `tallywink completion fish | source
complete -C 'tallywink enc'; complete -C 'tallywink encode 11'; complete -C 'tallywink encode 116 d'
complete -C 'tallywink lineup my'; complete -C 'tallywink lineup demo-'`,
	} {
		t.Run(shell, func(t *testing.T) {
			run := exec.Command(tool(t, shell), "-c", script)
			run.Dir = dir
			run.Env = append(os.Environ(), "PATH="+dir+string(os.PathListSeparator)+os.Getenv("PATH"), "HOME="+dir)
			out, err := run.CombinedOutput()
			require.NoError(t, err, string(out))
			lines := strings.Split(strings.ReplaceAll(string(out), `\ `, " "), "\n")
			for _, want := range []string{"encode", "116", "digital", "my lineup.csv", "demo-next"} {
				assert.Contains(t, lines, want, string(out))
			}
		})
	}
}
