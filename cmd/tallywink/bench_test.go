package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkStartToAnswer times the program from its start to its answer, and
// in turn a Go program that prints one line, and reports the ratio: machines
// differ, and change their speed while one measures.
func BenchmarkStartToAnswer(b *testing.B) {
	dir := b.TempDir()
	suffix := ""
	if runtime.GOOS == "windows" {
		suffix = ".exe"
	}
	build := func(name, pkg string) string {
		binary := filepath.Join(dir, name+suffix)
		out, err := exec.Command("go", "build", "-o", binary, pkg).CombinedOutput()
		require.NoError(b, err, string(out))
		return binary
	}
	source := filepath.Join(dir, "line.go")
	require.NoError(b, os.WriteFile(source, []byte("package main\n\nimport \"fmt\"\n\nfunc main() { fmt.Println(\"one line\") }\n"), 0o600))
	line, program := build("line", source), build("tallywink", ".")

	timed := func(binary string, args ...string) time.Duration {
		start := time.Now()
		out, err := exec.Command(binary, args...).CombinedOutput()
		require.NoError(b, err, string(out))
		return time.Since(start)
	}
	for _, c := range []struct {
		name string
		args []string
	}{
		{"decode", []string{"decode", "_..", ".", "_.", "_.."}},
		{"decode-with-lineup", []string{"decode", "_..", ".", "_.", "_..", "--lineup", "demo"}},
	} {
		b.Run(c.name, func(b *testing.B) {
			var ours, baseline time.Duration
			for b.Loop() {
				ours += timed(program, c.args...)
				baseline += timed(line)
			}
			b.ReportMetric(float64(ours)/float64(baseline), "x-one-line")
		})
	}
}
