package main

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// BenchmarkStartToAnswer times the program from its start to its answer, alternating with
// a Go program that prints one line, and reports the ratio: machines differ, and change
// their speed during a measurement.
func BenchmarkStartToAnswer(b *testing.B) {
	dir := b.TempDir()
	source := filepath.Join(dir, "line.go")
	require.NoError(b,
		os.WriteFile(source, []byte("package main\n\nimport \"fmt\"\n\nfunc main() { fmt.Println(\"one line\") }\n"),
			0o600))
	line, program := build(b, "line", source), build(b, "tallywink", ".")

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

// readsCSV is the baseline of an audit: it reads the same rows with encoding/csv and
// discards them.
const readsCSV = `package main

import (
	"encoding/csv"
	"io"
	"os"
)

func main() {
	f, err := os.Open(os.Args[1])
	if err != nil {
		panic(err)
	}
	r := csv.NewReader(f)
	r.ReuseRecord = true
	for err == nil {
		_, err = r.Read()
	}
	if err != io.EOF {
		panic(err)
	}
}
`

// BenchmarkAuditMillion audits a million invented amplifiers by running whole commands,
// alternating with a program that only reads their rows; it reports the ratio of times,
// and the most memory that the audit used.
func BenchmarkAuditMillion(b *testing.B) {
	dir := b.TempDir()
	source, amps := filepath.Join(dir, "csv.go"), filepath.Join(dir, "amps.csv")
	require.NoError(b, os.WriteFile(source, []byte(readsCSV), 0o600))
	baselineProgram, program := build(b, "csv", source), build(b, "tallywink", ".")

	// Write straight to the file: memory that this process uses would count toward the
	// peak of its children.
	file, err := os.Create(amps)
	require.NoError(b, err)
	rows := bufio.NewWriter(file)
	rng := rand.New(rand.NewPCG(1, 1))
	pilots := []string{"116,digital", "116,digital", "116,digital", "116,digital", "108,digital", "73,analog",
		"60,cw", "138,digital"}
	rows.WriteString("amp,node,channel,carrier,mode,spare_channel,spare_carrier,low_mhz,high_mhz,upstream,span_db,span_mhz,range_up_db,range_down_db,role,cabinet\n")
	for i := range 1_000_000 {
		fmt.Fprintf(rows, "A%07d,N%05d,%s,,73,analog,54,1002,A%07d,%d,750,4,4,,pole %d\n", i, i/40,
			pilots[rng.IntN(len(pilots))], max(i-1, 0), 16+rng.IntN(12), i%977)
	}
	require.NoError(b, errors.Join(rows.Flush(), file.Close()))

	for _, c := range []struct{ name, args string }{
		{"lineup", "--lineup demo"}, {"before", "--lineup demo-next --before demo"},
		{"before-json", "--lineup demo-next --before demo --json"},
	} {
		b.Run(c.name, func(b *testing.B) {
			var ours, baseline time.Duration
			most := int64(0)
			for b.Loop() {
				start := time.Now()
				require.NoError(b, exec.Command(baselineProgram, amps).Run())
				baseline += time.Since(start)

				start = time.Now()
				audit := exec.Command(program, append([]string{"audit", "--amps", amps}, strings.Fields(c.args)...)...)
				require.ErrorContains(b, audit.Run(), "exit status 1", "amplifiers are unusable")
				ours += time.Since(start)
				most = max(most, peakBytes(audit.ProcessState))
			}
			b.ReportMetric(float64(ours)/float64(baseline), "x-encoding/csv")
			if most > 0 {
				b.ReportMetric(float64(most)/(1<<20), "MiB-at-most")
			}
		})
	}
}

// copies is the other baseline of an audit: it writes as many bytes as a file has.
const copies = `package main

import (
	"io"
	"os"
)

func main() {
	f, err := os.Open(os.Args[1])
	if err != nil {
		panic(err)
	}
	to, err := os.Create(os.Args[2])
	if err != nil {
		panic(err)
	}
	if _, err := io.CopyBuffer(struct{ io.Writer }{to}, struct{ io.Reader }{f}, make([]byte, 64<<10)); err != nil {
		panic(err)
	}
}
`

// BenchmarkAuditRows audits 200,000 rows of four short columns and of sixteen, with few
// findings and with many, in each form of output. It reports the processor time, with
// that of reading the rows with encoding/csv and of copying as many bytes as are printed.
func BenchmarkAuditRows(b *testing.B) {
	dir := b.TempDir()
	csvSource, copySource := filepath.Join(dir, "csv.go"), filepath.Join(dir, "copy.go")
	require.NoError(b, os.WriteFile(csvSource, []byte(readsCSV), 0o600))
	require.NoError(b, os.WriteFile(copySource, []byte(copies), 0o600))
	reads, copying, program := build(b, "csv", csvSource), build(b, "copy", copySource), build(b, "tallywink", ".")
	out, copied := filepath.Join(dir, "out"), filepath.Join(dir, "copied")
	spent := func(cmd *exec.Cmd) time.Duration {
		file, err := os.Create(out)
		require.NoError(b, err)
		defer file.Close()
		if cmd.Path == program {
			cmd.Stdout = file
		}
		var exit *exec.ExitError
		if err := cmd.Run(); err != nil && !errors.As(err, &exit) {
			require.NoError(b, err)
		}
		return cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
	}
	for _, rows := range []struct {
		name, head, row string
	}{
		{"narrow", "amp,node,channel,carrier\n", "A%06d,N%04d,%s\n"},
		{"wide",
			"amp,node,channel,carrier,mode,spare_channel,spare_carrier,low_mhz,high_mhz,span_db,span_mhz,range_up_db,range_down_db,role,cabinet,street\n",
			"A%06d,N%04d,%s,,73,analog,54,1002,22,750,4,4,,pole 17,Weir Lane\n"},
	} {
		for _, findings := range []struct {
			name   string
			pilots []string
		}{{"few", []string{"116,digital", "116,digital", "116,digital", "116,digital", "116,digital", "116,digital",
			"116,digital", "138,digital"}}, {"many", []string{"116,digital", "138,digital", "140,digital"}}} {
			amps := filepath.Join(dir, rows.name+findings.name)
			var text strings.Builder
			text.WriteString(rows.head)
			rng := rand.New(rand.NewPCG(1, 1))
			for i := range 200_000 {
				fmt.Fprintf(&text, rows.row, i, i/40, findings.pilots[rng.IntN(len(findings.pilots))])
			}
			require.NoError(b, os.WriteFile(amps, []byte(text.String()), 0o600))
			for _, form := range []string{"", "--csv", "--json", "--json --all"} {
				b.Run(strings.ReplaceAll(rows.name+"/"+findings.name+"/"+strings.TrimSpace("out "+form), " ", ""),
					func(b *testing.B) {
						var ours, reading, writing time.Duration
						for b.Loop() {
							reading += spent(exec.Command(reads, amps))
							ours += spent(exec.Command(program,
								append([]string{"audit", "--amps", amps, "--lineup", "demo"},
									strings.Fields(form)...)...))
							cmd := exec.Command(copying, out, copied)
							require.NoError(b, cmd.Run())
							writing += cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
						}
						b.ReportMetric(float64(ours)/float64(reading), "x-reading")
						b.ReportMetric(float64(ours)/float64(writing), "x-copying")
					})
			}
		}
	}
}
