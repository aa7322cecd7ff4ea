package main

import (
	"bytes"
	"compress/lzw"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mostMemory is how much memory the program may use, whatever it is given to read.
const mostMemory = 256 << 20

// forEver repeats what make returns, from 0 on, without end.
type forEver struct {
	make func(i int) string
	i    int
	rest []byte
}

func (f *forEver) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if len(f.rest) == 0 {
			f.rest = fmt.Append(f.rest[:0], f.make(f.i))
			f.i++
		}
		k := copy(p[n:], f.rest)
		f.rest, n = f.rest[k:], n+k
	}
	return n, nil
}

// Files without end, and small ones that claim to be large: the program stops by itself,
// says why and what to do, and uses no more than mostMemory. Each is a kind of file that
// a person could receive.
func TestHurtfulFiles(t *testing.T) {
	program := build(t, "tallywink", ".")
	dir := t.TempDir()
	file := func(name string, from io.Reader, size int64) string {
		path := filepath.Join(dir, name)
		f, err := os.Create(path)
		require.NoError(t, err)
		_, err = io.CopyN(f, from, size)
		require.True(t, err == nil || errors.Is(err, io.EOF), "%v", err)
		require.NoError(t, f.Close())
		return path
	}
	rows := func(header, row string) io.Reader {
		return &forEver{make: func(i int) string {
			if i == 0 {
				return header + "\n"
			}
			return strings.ReplaceAll(row, "#", fmt.Sprint(i)) + "\n"
		}}
	}
	endless := func(text string) io.Reader { return &forEver{make: func(int) string { return text }} }
	lines := rows("amp,node,channel,carrier,upstream", "A#,N1,116,digital,A1")
	const inventory = "amp,node,channel,carrier"
	for _, c := range []struct {
		name   string
		args   string
		stdin  io.Reader
		status int
		want   string
	}{
		{"amplifiers without end", "audit --amps - --lineup demo --before demo", lines, exitUnfit,
			"the inventory has more than 4 million amplifiers"},
		{"nodes without end", "audit --amps - --lineup demo", rows(inventory, "A#,N#,116,digital"), exitUnfit,
			"the inventory has more than 100,000 nodes"},
		{"a plan of too many", "cutover --amps - --before demo --lineup demo-next",
			rows(inventory, "A#,N1,116,digital"), exitUnfit, "the inventory has more than 100,000 rows"},
		{"a plan of bad rows", "cutover --amps - --before demo --lineup demo-next", rows(inventory, ",,,#"),
			exitUnfit, "the inventory has more than 100,000 rows"},
		{"stations without end", "season --amps - --now 70F --low 0F --high 100F",
			rows(inventory+",span_db,span_mhz", "A#,N1,116,digital,20,750"), exitUnfit,
			"the inventory has more than 100,000 rows"},
		{"one line of an inventory", "audit --amps - --lineup demo", endless("a"), exitUnfit,
			"line is longer than 64 kB"},
		{"columns without end", "audit --amps - --lineup demo", endless("amp,"), exitUnfit,
			"line is longer than 64 kB"},
		{"quotes in quotes", "audit --amps - --lineup demo", endless(`"`), exitUnfit, "line is longer than 64 kB"},
		{"long node names", "audit --amps - --lineup demo",
			rows(inventory, "A#,"+strings.Repeat("n", 60_000)+"#,116,digital"), exitUnfit, "name is longer than 1 kB"},
		{"a trace of one line", "decode --trace -", endless("1"), exitUnfit, "line is longer than 64 kB"},
		{"a trace that never ends", "decode --trace -", &forEver{make: func(i int) string {
			if i == 0 {
				return "seconds,brightness\n"
			}
			return fmt.Sprintf("%d.%02d,%d\n", i/50, i%50*2, i/13%2)
		}}, exitUnfit, "the light has changed 100,000 times"},
		{"samples that never move", "decode --trace -", rows("seconds,brightness", "1,1"), exitUnfit,
			"the time does not increase here"},
		{"marks without end", "decode -", endless(". "), exitUnfit, "kB"},
		{"one line of looks", "decode --each -", endless("."), exitUnfit, "a line is longer than 1 MB"},
		{"a sheet without end", "sheet " + file("sheet.toml", endless("name = 'a'\n"), 3<<20), nil, exitUnfit,
			"too large for a code sheet"},
		{"a lineup without end", "lineup " + file("lineup.csv", rows("channel,carrier", "#,x"), 8<<20), nil,
			exitUnfit, "more than 2000 rows"},
		{"a book that is none", "audit --amps demo --lineup demo --book " + file("none.jsonl", endless("x\n"), 1<<20),
			nil, exitUnfit, "100,000 of its lines can't be read"},
		{"a book of one line", "progress --book " + file("line.jsonl", endless("{"), 200<<20), nil, exitBadNews,
			"line.jsonl:1: this line can't be read"},
		{"a GIF that says it is huge", "decode --clip -", bytes.NewReader(gifOf(65535, 65535, 2)), exitUnfit,
			"the limit is 16 million pixels"},
		{"a GIF that unfolds to gigabytes", "decode --clip -", bytes.NewReader(gifOf(4096, 4096, 100)), exitBadNews,
			"nothing in them blinks"},
		{"pictures that say they are huge", "decode --clip -",
			strings.NewReader("YUV4MPEG2 W999999999 H999999999 F30:1\nFRAME\n"), exitUnfit,
			"the limit is 16 million pixels"},
		{"a header without end", "decode --clip -", io.MultiReader(strings.NewReader("YUV4MPEG2 "), endless("X")),
			exitUnfit, ""},
		{"bits of nothing", "decode --clip -", endless("\x00"), exitUnfit, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			run := exec.Command(program, strings.Fields(c.args)...)
			run.Env = append(os.Environ(), "HOME="+dir, "XDG_DATA_HOME="+dir)
			var out, trouble bytes.Buffer
			run.Stdout, run.Stderr = &out, &trouble
			in, err := run.StdinPipe()
			require.NoError(t, err)
			require.NoError(t, run.Start())
			fed := make(chan struct{})
			go func() {
				defer close(fed)
				if c.stdin != nil {
					_, _ = io.Copy(in, c.stdin) // until the program has read enough
				}
				in.Close()
			}()
			tooLong := time.AfterFunc(3*time.Minute, func() { _ = run.Process.Kill() })
			err = run.Wait()
			require.True(t, tooLong.Stop(), "it never ends")
			in.Close()
			<-fed
			var exit *exec.ExitError
			require.True(t, err == nil || errors.As(err, &exit), "%v", err)
			assert.Equal(t, c.status, run.ProcessState.ExitCode())
			all := out.String() + trouble.String()
			assert.Contains(t, all, c.want)
			assert.NotContains(t, all, "goroutine")
			assert.Less(t, trouble.Len(), 8<<10, "it is said in a few lines")
			if runtime.GOOS == "linux" {
				assert.Less(t, peakBytes(run.ProcessState), int64(mostMemory))
				t.Logf("%.0f MB", float64(peakBytes(run.ProcessState))/(1<<20))
			}
		})
	}
}

// gifOf returns a GIF of black pictures, each a few kilobytes however large the picture
// is.
func gifOf(width, height, pictures int) []byte {
	size := binary.LittleEndian.AppendUint16(binary.LittleEndian.AppendUint16(nil, uint16(width)), uint16(height))
	var packed bytes.Buffer
	w := lzw.NewWriter(&packed, lzw.LSB, 2)
	if width*height <= 16<<20 {
		_, _ = w.Write(make([]byte, width*height))
	}
	w.Close()
	gif := append([]byte("GIF89a"), size...)
	gif = append(gif, 0x80, 0, 0, 0, 0, 0, 255, 255, 255)
	for range pictures {
		gif = append(gif, 0x21, 0xf9, 4, 0, 10, 0, 0, 0, 0x2c, 0, 0, 0, 0)
		gif = append(append(gif, size...), 0, 2)
		for data := packed.Bytes(); len(data) > 0; {
			n := min(len(data), 255)
			gif = append(append(gif, byte(n)), data[:n]...)
			data = data[n:]
		}
		gif = append(gif, 0)
	}
	return append(gif, 0x3b)
}
