package main

import (
	"cmp"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

var versionCommand = command{
	name:    "version",
	summary: "which build this is",
	help: `  tallywink version
  tallywink version --json

The commit it was built from, with + if files had been changed since, and
Go's version. A build without its repository does not know the commit.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		asJSON := flags.Bool("json", false, "answer as one JSON document")
		return func(out *console.Console, args []string) (int, error) {
			if len(args) > 0 {
				return 0, misuse("leave it out", "version takes no arguments, but you gave %q", args[0])
			}
			d := newVersionDoc(debug.ReadBuildInfo())
			if *asJSON {
				return exitWell, out.JSON(d)
			}
			changed := wording.Either(d.Changed, "+", "")
			out.Line("tallywink %s%s of %s, %s, %s", cmp.Or(d.Commit, "of an unknown commit"), changed,
				cmp.Or(d.Time, "an unknown day"), d.Go, d.System)
			return exitWell, nil
		}
	},
}

type versionDoc struct {
	Schema  int    `json:"schema"`
	Commit  string `json:"commit"`  // "" if not known
	Changed bool   `json:"changed"` // files had been changed since the commit
	Time    string `json:"time"`    // of the commit
	Go      string `json:"go"`
	System  string `json:"system"`
}

// newVersionDoc returns what the Go tool has recorded in the build.
func newVersionDoc(info *debug.BuildInfo, ok bool) versionDoc {
	d := versionDoc{Schema: answer.Schema, Go: runtime.Version(),
		System: fmt.Sprintf("%s/%s", runtime.GOOS, runtime.GOARCH)}
	if !ok {
		return d
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			d.Commit = s.Value
		case "vcs.modified":
			d.Changed = s.Value == "true"
		case "vcs.time":
			d.Time = s.Value
		}
	}
	return d
}
