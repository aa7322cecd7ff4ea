package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.uber.org/goleak"

	"tallywink.example/channelplan/book"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/manual"
	"tallywink.example/trainer/progress"
)

func TestMain(m *testing.M) {
	testscript.Main(leavesNothing{m}, map[string]func(){"tallywink": main})
}

// leavesNothing runs tests, and fails if one leaves a goroutine behind. It leaves the
// books and settings of the user who runs them alone: the tests' are in a folder of
// their own.
type leavesNothing struct{ *testing.M }

func (l leavesNothing) Run() int {
	books, err := os.MkdirTemp("", "tallywink-books-")
	for _, folder := range []string{"XDG_DATA_HOME", "XDG_CONFIG_HOME"} {
		if err == nil {
			err = os.Setenv(folder, books)
		}
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(books)
	code := l.M.Run()
	if err := goleak.Find(); err != nil && code == 0 {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	return code
}

// TestScripts runs the sessions in testdata/script: what is typed, what must
// appear, which exit status.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script",
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"status": cmdStatus,
		},
		Setup: func(env *testscript.Env) error {
			traces, err := filepath.Abs(filepath.Join("..", "..", "testdata", "traces"))
			env.Setenv("TRACES", traces)
			env.Setenv("SHEETS", filepath.Join(traces, "..", "sheets"))
			return err
		},
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

// cmdStatus runs the program and requires an exit status: status 1 tallywink check 8
// analog --lineup demo.
func cmdStatus(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N command [args]")
	}
	err := ts.Exec(args[1], args[2:]...)
	got := "0"
	if exit, ok := err.(*exec.ExitError); ok {
		got = string(rune('0' + exit.ExitCode()))
	} else if err != nil {
		ts.Fatalf("%v", err)
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, want %s", got, args[0])
	}
}

// build builds a program in a folder of its own.
func build(tb testing.TB, name, pkg string) string {
	tb.Helper()
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	binary := filepath.Join(tb.TempDir(), name)
	out, err := exec.Command("go", "build", "-o", binary, pkg).CombinedOutput()
	require.NoError(tb, err, string(out))
	return binary
}

// runHere runs the program in this process.
func runHere(t *testing.T, stdin string, args ...string) (stdout, stderr string, status int) {
	t.Helper()
	var out, err bytes.Buffer
	status = run(args, console.Streams{In: strings.NewReader(stdin), Out: &out, Err: &err})
	return out.String(), err.String(), status
}

var shellWord = regexp.MustCompile(`'[^']*'|\S+`)

// The program still prints what every example of the README and the manual shows.
func TestREADMEExamples(t *testing.T) {
	readme, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	page := string(readme)
	for _, name := range manual.Names() {
		text, err := manual.Files.ReadFile("topics/" + name + ".md")
		require.NoError(t, err)
		page += "\n" + string(text)
		assert.Contains(t, string(readme), "`"+name+"`", "the README names every topic")
		shown, stderr, status := runHere(t, "", "help", name)
		assert.Zero(t, status, stderr)
		assert.NotContains(t, shown, "```")
	}
	t.Chdir(filepath.Join("..", ".."))
	examples := 0
	for _, fence := range strings.Split(page, "```console\n")[1:] {
		session, _, ok := strings.Cut(fence, "```")
		require.True(t, ok, "every fence is closed")
		for _, part := range strings.Split("\n"+session, "\n$ tallywink ")[1:] {
			typed, want, _ := strings.Cut(part, "\n")
			var args []string
			for _, w := range shellWord.FindAllString(typed, -1) {
				args = append(args, strings.Trim(w, "'"))
			}
			stdout, stderr, _ := runHere(t, "", args...)
			got, want := strings.TrimRight(stdout+stderr, "\n"), strings.TrimRight(want, "\n")
			if head, cut := strings.CutSuffix(want, "\n[...]"); cut {
				assert.Truef(t, strings.HasPrefix(got, head+"\n"), "$ tallywink %s\n%s", typed, got)
			} else {
				assert.Equal(t, want, got, "$ tallywink %s", typed)
			}
			examples++
		}
	}
	assert.Greater(t, examples, 8)
}

// DEVELOPERS.md says which package depends on which.
func TestKnowledge(t *testing.T) {
	guide, err := os.ReadFile(filepath.Join("..", "..", "DEVELOPERS.md"))
	require.NoError(t, err)
	const module = "tallywink.example/"
	list, err := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, module+"...").Output()
	require.NoError(t, err)
	rows := 0
	for line := range strings.Lines(string(list)) {
		name, imports, _ := strings.Cut(strings.TrimSpace(line), " ")
		var known []string
		for path := range strings.FieldsSeq(imports) {
			if own, ok := strings.CutPrefix(path, module); ok {
				known = append(known, own)
			}
		}
		name = strings.TrimPrefix(name, module)
		switch {
		case name == "cmd/tallywink", name == "cmd/page":
		case len(known) == 0:
			assert.True(t, strings.Contains(string(guide), name), "%s is not there", name)
		default:
			row := "| " + name + " | " + strings.Join(known, ", ") + " |"
			assert.True(t, strings.Contains(string(guide), "\n"+row+"\n"), "this is not there: %s", row)
			rows++
		}
	}
	assert.Equal(t, rows, strings.Count(string(guide), "\n| blink")+strings.Count(string(guide),
		"\n| channelplan")+strings.Count(string(guide), "\n| trainer")+strings.Count(string(guide), "\n| cmd/"))
}

// A book that is deleted or replaced between two answers is noticed; what is not a file is
// refused, and nothing is lost.
func TestABookThatIsReplaced(t *testing.T) {
	k := input.KeptBook{Book: book.Book{Path: filepath.Join(t.TempDir(), "book.jsonl")}}
	record := progress.Attempt{Record: book.Record{Type: progress.AttemptType, Time: time.Now()}, Item: "digit 7"}
	require.NoError(t, k.Append(record))
	require.NoError(t, k.Append(record))
	assert.False(t, k.Changed)
	require.NoError(t, os.Rename(k.Path, k.Path+".old"))
	require.NoError(t, k.Append(record))
	assert.True(t, k.Changed)
	require.NoError(t, os.Remove(k.Path))
	require.NoError(t, os.Mkdir(k.Path, 0o700))
	assert.ErrorContains(t, k.Append(record), "not a regular file")
	old, err := os.ReadFile(k.Path + ".old")
	require.NoError(t, err)
	assert.Equal(t, 2, strings.Count(string(old), "\n"))
}
