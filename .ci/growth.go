//go:build ignore

// Growth runs the program on worst-case input shapes, each at three sizes, and prints the
// processor time, the memory, and the exponent at which time grows. It fails if that
// exponent is above 1.3 between the two largest sizes, or if memory passes the README's
// limit. What takes less than the season of 8,000 stations in a chain, measured in the same
// run, is too short to judge, and passes.
//
//	go run .ci/growth.go [NAME]   all shapes, or those whose name contains NAME
package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
)

const (
	mostExponent = 1.3
	mostMB       = 256
	baselineOf   = 8000 // stations
)

type shape struct {
	name  string
	sizes [3]int
	args  string // arguments of the program, which runs in the folder of its files
	write func(file func(name string) io.Writer, n int)
}

// stations is the shape of the baseline.
const stations = 1

var shapes = []shape{
	{"season --amps: n thermal in a chain, n stations behind", [3]int{8000, 16000, 32000},
		"season --amps amps.csv --now 95F --low -10F --high 110F --range-db 8 --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier,mode,upstream,span_db,span_mhz")
			for i := range n {
				fmt.Fprintf(w, "T%d,N,,,thermal,%s,20,750\n", i, before("T", i))
			}
			for i := range n {
				fmt.Fprintf(w, "S%d,N,116,digital,,T%d,20,750\n", i, n-1)
			}
		}},
	{"season --amps: a chain of n stations", [3]int{10000, 20000, 40000},
		"season --amps amps.csv --now 95F --low -10F --high 110F --range-db 8 --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier,mode,upstream,span_db,span_mhz")
			for i := range n {
				fmt.Fprintf(w, "S%d,N,116,digital,,%s,20,750\n", i, before("S", i))
			}
		}},
	{"audit --book: n unread in a chain, n lost behind its end", [3]int{8000, 16000, 32000},
		"audit --amps amps.csv --book book.jsonl --json",
		func(file func(string) io.Writer, n int) {
			w, b := file("amps.csv"), file("book.jsonl")
			fmt.Fprintln(w, "amp,node,channel,carrier,upstream")
			for i := range n {
				fmt.Fprintf(w, "U%d,N,116,digital,%s\n", i, before("U", i))
			}
			for i := range n {
				fmt.Fprintf(w, "L%d,N,116,digital,U%d\n", i, n-1)
				lost(b, fmt.Sprintf("L%d", i), i)
			}
		}},
	{"audit --book: a comb, n unread and n lost", [3]int{8000, 16000, 32000},
		"audit --amps amps.csv --book book.jsonl --json",
		func(file func(string) io.Writer, n int) {
			w, b := file("amps.csv"), file("book.jsonl")
			fmt.Fprintln(w, "amp,node,channel,carrier,upstream")
			for i := range n {
				fmt.Fprintf(w, "U%d,N%d,116,digital,%s\nL%d,N%d,116,digital,U%d\n", i, i, before("U", i), i, i, i)
				lost(b, fmt.Sprintf("L%d", i), i)
			}
		}},
	{"cutover: a chain of n, all different", [3]int{10000, 20000, 40000},
		"cutover --amps amps.csv --before demo --lineup demo-next --crews 3 --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier,upstream")
			for i := range n {
				fmt.Fprintf(w, "A%d,N%d,%d,%s,%s\n", i, i, 2+i%150, []string{"analog", "digital", "cw"}[i%3],
					before("A", i))
			}
		}},
	{"cutover: n that stay, and n visited behind the last of them", [3]int{10000, 20000, 40000},
		"cutover --amps amps.csv --before demo --lineup demo-next --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier,upstream")
			for i := range n {
				fmt.Fprintf(w, "K%d,N,60,cw,%s\n", i, before("K", i))
			}
			for i := range n {
				fmt.Fprintf(w, "V%d,M,116,digital,K%d\n", i, n-1)
			}
		}},
	{"cutover --window: n nodes of one amplifier, 500 crews", [3]int{10000, 20000, 40000},
		"cutover --amps amps.csv --before demo --lineup demo-next --crews 500 --window 00:00-06:00 --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier")
			for i := range n {
				fmt.Fprintf(w, "A%d,N%d,116,digital\n", i, i)
			}
		}},
	{"cutover --window: n in one node behind a chain of n, 500 crews", [3]int{5000, 10000, 20000},
		"cutover --amps amps.csv --before demo --lineup demo-next --crews 500 --window 00:00-06:00 --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier,upstream")
			for i := range n {
				fmt.Fprintf(w, "C%d,M%d,116,digital,%s\n", i, i, before("C", i))
			}
			for i := range n {
				fmt.Fprintf(w, "S%d,N,116,digital,C%d\n", i, n-1)
			}
		}},
	{"audit: n rows of many settings", [3]int{20000, 40000, 80000}, "audit --amps amps.csv --lineup demo --json",
		func(file func(string) io.Writer, n int) {
			w := file("amps.csv")
			fmt.Fprintln(w, "amp,node,channel,carrier,low_mhz,high_mhz")
			for i := range n {
				fmt.Fprintf(w, "A%d,N%d,%d,digital,54,%d.%d\n", i, i, 2+i%150, 750+i%400, i%7)
			}
		}},
	{"decode --trace: a minute, then n scraps", [3]int{4000, 8000, 16000}, "decode --trace trace.csv --json",
		func(file func(string) io.Writer, n int) {
			w := file("trace.csv")
			fmt.Fprintln(w, "seconds,brightness")
			for i := range 1800 { // state holding: 6 lit, 4 dark, 6 lit, 18 dark
				at := i % 204
				lit := at < 36 || at >= 60 && at < 96
				fmt.Fprintf(w, "%.3f,%d\n", float64(i)/30, map[bool]int{true: 90, false: 10}[lit])
			}
			for i := range n {
				for k := range 4 {
					fmt.Fprintf(w, "%.3f,%d\n", 61+float64(i)*0.7+float64(k)/30, 10+80*((i+k/2)%2))
				}
			}
		}},
	{"decode --trace: n seconds of a lamp with another code", [3]int{100, 200, 400}, "decode --trace trace.csv --json",
		func(file func(string) io.Writer, n int) {
			w := file("trace.csv")
			fmt.Fprintln(w, "seconds,brightness")
			at := 0
			show := func(lit bool, units int) {
				for range 6 * units {
					fmt.Fprintf(w, "%.3f,%d\n", float64(at)/30, map[bool]int{true: 90, false: 10}[lit])
					at++
				}
			}
			for mark := 0; at < 30*n; mark++ { // twelve marks a group, five groups a frame
				show(true, 1+2*(mark*mark/7%2))
				switch {
				case mark%60 == 59:
					show(false, 40)
				case mark%12 == 11:
					show(false, 4)
				default:
					show(false, 1)
				}
			}
		}},
	{"decode --clip: n pictures", [3]int{2000, 4000, 8000}, "decode --clip clip.y4m --json",
		func(file func(string) io.Writer, n int) {
			w := file("clip.y4m")
			fmt.Fprintln(w, "YUV4MPEG2 W160 H120 F30:1 Cmono")
			picture := make([]byte, 160*120)
			for i := range n { // state holding, in the middle of the picture
				at := i % 204
				lit := at < 36 || at >= 60 && at < 96
				for p := range picture {
					x, y := p%160-80, p/160-60
					picture[p] = 40
					if lit && x*x+y*y < 40 {
						picture[p] = 200
					}
				}
				fmt.Fprintln(w, "FRAME")
				w.Write(picture)
			}
		}},
	{"decode --each: n looks", [3]int{4000, 8000, 16000}, "decode --each looks.txt",
		func(file func(string) io.Writer, n int) {
			w := file("looks.txt")
			for i := range n {
				fmt.Fprintf(w, "_.. . _. %s\n", strings.Repeat(".", 1+i%4))
			}
		}},
	{"progress: n records of n/30 names", [3]int{50000, 100000, 200000}, "progress --book book.jsonl --json",
		func(file func(string) io.Writer, n int) {
			w := file("book.jsonl")
			for i := range n {
				fmt.Fprintf(w,
					`{"type":"attempt","time":"2026-11-%02dT09:00:00Z","trainee":"T%d","exercise":"digits","mark":"digit %d","shown":"_..","read":"_..","right":true}`+
						"\n", 1+i*25/n, i%(n/30), i%10)
			}
		}},
	{"lineup and rank: n carriers, as many as may be", [3]int{400, 800, 1600}, "rank lineup.csv --json",
		func(file func(string) io.Writer, n int) {
			w := file("lineup.csv")
			fmt.Fprintln(w, "# forward: 54-1002\nchannel,carrier,frequency_mhz,level_dbmv")
			for i := range n {
				fmt.Fprintf(w, ",cw,%.3f,40\n", 300+float64(i)*0.005)
			}
		}},
}

// before returns the name of the element before the i-th in a chain.
func before(letter string, i int) string {
	if i == 0 {
		return ""
	}
	return fmt.Sprintf("%s%d", letter, i-1)
}

func lost(w io.Writer, amp string, i int) {
	fmt.Fprintf(w, `{"type":"reading","time":"2026-11-25T09:%02d:00Z","amp":"%s","state":"holding"}`+"\n", i%60, amp)
}

func main() {
	folder, err := os.MkdirTemp("", "growth")
	fatal(err)
	defer os.RemoveAll(folder)
	program := filepath.Join(folder, "tallywink")
	out, err := exec.Command("go", "build", "-o", program, "./cmd/tallywink").CombinedOutput()
	if err != nil {
		fatal(fmt.Errorf("%w: %s", err, out))
	}
	failed := false
	tooShort, _ := measure(folder, program, shapes[stations], baselineOf)
	fmt.Println("seconds of processor time, MB, and the exponent between the two largest")
	fmt.Printf("too short to judge: less than %.2f s\n", tooShort)
	for _, s := range shapes {
		if len(os.Args) > 1 && !strings.Contains(s.name, os.Args[1]) {
			continue
		}
		var seconds, mb [3]float64
		for k, n := range s.sizes {
			seconds[k], mb[k] = measure(folder, program, s, n)
			again, most := measure(folder, program, s, n) // machines are shared: keep the better of two
			seconds[k], mb[k] = min(seconds[k], again), max(mb[k], most)
		}
		exponent := math.Log2(seconds[2] / seconds[1])
		told := ""
		if seconds[2] > tooShort && exponent > mostExponent || mb[2] > mostMB {
			failed, told = true, "  FAILS"
		}
		fmt.Printf("%-58s %6d: %6.2f s %4.0f MB  %6d: %6.2f s %4.0f MB  %6d: %6.2f s %4.0f MB  %5.2f%s\n", s.name,
			s.sizes[0], seconds[0], mb[0], s.sizes[1], seconds[1], mb[1], s.sizes[2], seconds[2], mb[2], exponent, told)
	}
	if failed {
		os.Exit(1)
	}
}

// measure runs the program once.
func measure(folder, program string, s shape, n int) (seconds, mb float64) {
	var open []*os.File
	s.write(func(name string) io.Writer {
		f, err := os.Create(filepath.Join(folder, name))
		fatal(err)
		open = append(open, f)
		return f
	}, n)
	for _, f := range open {
		fatal(f.Close())
	}
	c := exec.Command(program, strings.Fields(s.args)...)
	c.Dir = folder
	text := &strings.Builder{}
	c.Stderr = text
	if err := c.Run(); c.ProcessState == nil || c.ProcessState.ExitCode() > 1 {
		fatal(fmt.Errorf("%s of %d: %v: %s", s.name, n, err, text))
	}
	usage := c.ProcessState.SysUsage().(*syscall.Rusage)
	return c.ProcessState.UserTime().Seconds() + c.ProcessState.SystemTime().Seconds(), float64(usage.Maxrss) / 1024
}

func fatal(err error) {
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
}
