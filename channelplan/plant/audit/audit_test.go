package audit_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/audit"
)

// lineups returns lineups of an invented system, before and after a change.
func lineups(t testing.TB) (before, after *lineup.Lineup) {
	t.Helper()
	read := func(text string) *lineup.Lineup {
		l, err := lineup.Read(strings.NewReader("# forward: 54-1002\n# effective: 2026-03-02\nchannel,carrier,low_mhz,high_mhz,level_dbmv,scope\n"+
			text), "invented")
		require.NoError(t, err)
		return l
	}
	return read("116,qam256,,,37,\n115,qam256,,,37,\n108,qam256,,,36,\n73,analog,,,40,\n60,cw,,,41,\n88,qam256,,,35,narrowcast\n,ofdm,810,1002,36,\n"),
		read("115,qam256,,,37,\n108,qam256,,,38,\n73,qam256,,,34,\n60,cw,,,41,\n88,qam256,,,35,narrowcast\n,ofdm,744,1002,36,\n")
}

// inventory writes an invented inventory of amps amplifiers, with a fault now and then.
func inventory(to io.Writer, amps int, faults bool) {
	rng := rand.New(rand.NewPCG(7, 7))
	pilots := []string{"116,digital", "116,digital", "116,digital", "108,digital", "73,analog", "60,cw", "88,digital"}
	fmt.Fprintln(to,
		"amp,node,channel,carrier,mode,spare_channel,spare_carrier,low_mhz,high_mhz,upstream,span_db,span_mhz,range_up_db,range_down_db,cabinet")
	for i := range amps {
		pilot, mode, id := pilots[rng.IntN(len(pilots))], "", fmt.Sprintf("A%07d", i)
		if faults {
			switch rng.IntN(40) {
			case 0:
				pilot = ",digital"
			case 1:
				mode = "manual"
			case 2:
				id = fmt.Sprintf(`"a%07d"`, rng.IntN(i+1))
			case 3:
				fmt.Fprint(to, "# a remark\r\n\n")
			}
		}
		fmt.Fprintf(to, "%s,N%05d,%s,%s,73,analog,54,1002,A%07d,%d,750,4,4,pole %d\n", id, i/40, pilot, mode,
			max(i-1, 0), 16+rng.IntN(12), i%977)
	}
}

// plain is the writer that tests use.
func plain() audit.Writer {
	return audit.Writer{
		Judged: func(j *audit.Judgement) []byte {
			text := fmt.Sprintf("%v %v", j.Report.Pilot, j.Report.Verdict)
			if j.Change != nil {
				for _, c := range j.Change.Changes {
					text += " " + c.What.String()
				}
			}
			return []byte(text)
		},
		Row: func(to []byte, r *plant.Row, j *audit.Judgement) []byte {
			return fmt.Appendf(to, "%d %s %s %s\n", r.Line, r.ID, r.Node, j.Text)
		},
		Problem: func(to []byte, p fault.Error) []byte {
			return fmt.Appendf(to, "%d:%d %s\n", p.Line, p.Column, p.Said())
		},
	}
}

func run(t testing.TB, text string, q audit.Request, w audit.Writer) (string, *audit.Summary) {
	t.Helper()
	inv, err := plant.Begin(strings.NewReader(text), "amps.csv")
	require.NoError(t, err)
	var out bytes.Buffer
	s, err := audit.Run(context.Background(), inv, q, w, &out)
	require.NoError(t, err)
	return out.String(), s
}

const small = `amp,node,channel,carrier,mode,spare_channel,spare_carrier
A1,N1,116,digital,,73,analog
A2,N1,108,digital,,,
A3,N1,60,cw,,,
A4,N2,,,manual,,
A5,N2,88,digital,,,
a1,N2,108,digital,,,
A6,N2,116,digitl,,,
A7,N3,115,digital,,73,analog
`

func TestAudit(t *testing.T) {
	before, after := lineups(t)
	out, s := run(t, small, audit.Request{Lineup: before}, plain())
	assert.Equal(t, "6 A5 N2 88 digital caution\n7:1 a1 is listed twice, first on line 2; keep the row that is right, or give the slope pilot's row the role low\n"+
		"8:11 unknown carrier \"digitl\": a carrier is analog, digital or cw (did you mean digital?)\n", out)
	assert.Equal(t, audit.Count{Amps: 6, Usable: 5, WithCare: 1, ByDesign: 1}, s.Count)
	assert.Equal(t, 2, s.LeftOut)
	assert.Equal(t, 9, s.Lines)

	out, s = run(t, small, audit.Request{Lineup: after, Before: before}, plain())
	assert.Equal(t, `2 A1 N1 116 digital unusable pilot-lost carrier-changed neighbor-over spare-lost
3 A2 N1 108 digital usable level-changed
6 A5 N2 88 digital caution
7:1 a1 is listed twice, first on line 2; keep the row that is right, or give the slope pilot's row the role low
8:11 unknown carrier "digitl": a carrier is analog, digital or cw (did you mean digital?)
9 A7 N3 115 digital usable neighbor-changed spare-lost
`, out)
	assert.Equal(t, map[string]*audit.Count{"N1": {3, 2, 0, 1, 0}, "N2": {2, 1, 1, 0, 1}, "N3": {1, 1, 0, 0, 0}},
		s.Nodes)
	assert.Equal(t, 1, s.Rules[lineup.InsideOFDM].Amps)
	assert.Equal(t, 2, s.Changes[lineup.SpareLost].Amps)
	assert.NotContains(t, s.Rules, lineup.StaleLineup, "said of the lineup, not of each amplifier")

	w := plain()
	w.All = true
	out, _ = run(t, small, audit.Request{Lineup: before}, w)
	assert.Equal(t, 8, strings.Count(out, "\n"), "the healthy too")
	w.Only = func(j *audit.Judgement) bool { return j.ByDesign }
	out, _ = run(t, small, audit.Request{Lineup: before}, w)
	assert.Contains(t, out, "5 A4 N2")
	assert.NotContains(t, out, "A1")
}

// The output is the same, byte for byte, with one worker and with many.
func TestWorkersDoNotShow(t *testing.T) {
	before, after := lineups(t)
	var text bytes.Buffer
	inventory(&text, 30_000, true)
	q := audit.Request{Lineup: after, Before: before, Today: time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)}
	w := plain()
	w.Workers = 1
	want, wantSummary := run(t, text.String(), q, w)
	require.Greater(t, strings.Count(want, "is listed twice, first on line"), 100)
	require.Greater(t, wantSummary.LeftOut, 1000)
	require.Len(t, wantSummary.Problems, 20, "no more are kept")
	for _, w.Workers = range []int{2, 3, 16} {
		out, s := run(t, text.String(), q, w)
		require.Equal(t, len(want), len(out))
		require.True(t, want == out, "%d workers", w.Workers)
		require.Equal(t, wantSummary, s)
	}
}

// The output before an error consists of whole lines of the answer.
func TestWhatWasWrittenIsWhole(t *testing.T) {
	before, _ := lineups(t)
	var text bytes.Buffer
	inventory(&text, 30_000, false)
	w := plain()
	w.All = true
	whole, _ := run(t, text.String(), audit.Request{Lineup: before}, w)

	begin := func(in io.Reader) *plant.Inventory {
		inv, err := plant.Begin(in, "amps.csv")
		require.NoError(t, err)
		return inv
	}
	// Interrupted on the way.
	ctx, stop := context.WithCancel(context.Background())
	w.Progress = func(int) { stop() }
	var out bytes.Buffer
	s, err := audit.Run(ctx, begin(bytes.NewReader(text.Bytes())), audit.Request{Lineup: before}, w, &out)
	require.True(t, audit.Interrupted(err))
	require.True(t, strings.HasPrefix(whole, out.String()))
	require.Equal(t, byte('\n'), out.Bytes()[out.Len()-1])
	require.Equal(t, strings.Count(out.String(), "\n"), s.Lines-1, "a line was left out or told twice")
	w.Progress = nil

	// Interrupted while waiting for more input, as from a pipe: what was read is
	// answered, and the audit does not wait.
	ctx, stop = context.WithCancel(context.Background())
	w.Progress = func(int) { stop() }
	in, feed := io.Pipe()
	defer feed.Close()
	go feed.Write(text.Bytes())
	out.Reset()
	s, err = audit.Run(ctx, begin(in), audit.Request{Lineup: before}, w, &out)
	require.True(t, audit.Interrupted(err))
	require.True(t, strings.HasPrefix(whole, out.String()))
	require.Equal(t, strings.Count(out.String(), "\n"), s.Lines-1)
	w.Progress = nil

	// A file that fails while it is read.
	out.Reset()
	half := text.Bytes()[:text.Len()/2]
	_, err = audit.Run(context.Background(), begin(io.MultiReader(bytes.NewReader(half), broken{})),
		audit.Request{Lineup: before}, w, &out)
	require.ErrorContains(t, err, "the stick is out")
	require.True(t, strings.HasPrefix(whole, out.String()))
	require.Greater(t, out.Len(), len(whole)/3)

	// An output that is full.
	_, err = audit.Run(context.Background(), begin(bytes.NewReader(text.Bytes())), audit.Request{Lineup: before}, w,
		broken{})
	require.ErrorContains(t, err, "the output can't be written: the stick is out")
}

type broken struct{}

func (broken) Read([]byte) (int, error)  { return 0, errors.New("the stick is out") }
func (broken) Write([]byte) (int, error) { return 0, errors.New("the stick is out") }

// A judgement is the same as what the rules say about every amplifier alone.
func TestAuditIsTheRulesVerdict(t *testing.T) {
	_, after := lineups(t)
	var text bytes.Buffer
	inventory(&text, 2_000, true)
	p, err := plant.Read(bytes.NewReader(text.Bytes()), "amps.csv")
	require.NoError(t, err)
	var want strings.Builder
	for _, a := range p.Amplifiers {
		if a.Mode != lineup.AGC {
			continue
		}
		if r := after.CheckOne(a.Pilot, lineup.Context{Amplifier: &a.Amplifier}); r.Verdict != lineup.Usable {
			fmt.Fprintf(&want, "%d %s %s %v %v\n", a.Line, a.ID, a.Node, r.Pilot, r.Verdict)
		}
	}
	w := plain()
	w.Problem = nil
	out, s := run(t, text.String(), audit.Request{Lineup: after}, w)
	assert.Equal(t, want.String(), out)
	assert.Equal(t, p.LeftOut, s.LeftOut)
	assert.Equal(t, len(p.Amplifiers), s.Amps)
}

// An amplifier with two pilots is one amplifier with the worse verdict, whether it has two
// rows, in either order and however far apart, or one with all columns. A third row is one
// too many.
func TestTwoPilots(t *testing.T) {
	before, after := lineups(t)
	for name, text := range map[string]string{
		"columns":      "A1,N1,115,digital,,73,analog\nZ1,N1,116,digital,,,\n",
		"rows":         "A1,N1,115,digital,,,\nZ1,N1,116,digital,,,\na1,N1,73,analog,low,,\n",
		"slope first":  "A1,N1,73,analog,low,,\nZ1,N1,116,digital,,,\nA1,N1,115,digital,,,\n",
		"another node": "A1,N2,115,digital,,,\nZ1,N1,116,digital,,,\na1,N2,73,analog,low,,\n",
	} {
		text = "amp,node,channel,carrier,role,slope_channel,slope_carrier\n" + text
		_, s := run(t, text, audit.Request{Lineup: before}, plain())
		assert.Equal(t, audit.Count{Amps: 2, Usable: 2}, s.Count, name)
		_, s = run(t, text, audit.Request{Lineup: after, Before: before}, plain())
		assert.Equal(t, audit.Count{Amps: 2, Unusable: 2}, s.Count, name)
		assert.Equal(t, 1, s.Rules[lineup.CarrierMismatch].Amps, name)
		assert.Equal(t, 2, s.Changes[lineup.PilotLost].Amps, name)
		assert.Zero(t, s.LeftOut, name)
		nodes := audit.Count{}
		for _, n := range s.Nodes {
			nodes.Amps += n.Amps
			nodes.Unusable += n.Unusable
		}
		assert.Equal(t, audit.Count{Amps: 2, Unusable: 2}, nodes, name)

		p, err := plant.Read(strings.NewReader(text), "amps.csv")
		require.NoError(t, err)
		require.Len(t, p.Amplifiers, 2, name)
		i, ok := p.Find("A1")
		require.True(t, ok)
		assert.Equal(t, "115 digital", p.Amplifiers[i].Pilot.String(), name)
		assert.Equal(t, "73 analog", p.Amplifiers[i].Slope.Pilot.String(), name)
		found, _, err := plant.Find(strings.NewReader(text), "amps.csv", "a1")
		require.NoError(t, err)
		assert.Equal(t, p.Amplifiers[i], found, name)
	}
	_, s := run(t, "amp,node,channel,carrier,role\nA,,116,digital,\nA,,73,analog,low\nA,,60,cw,low\n",
		audit.Request{Lineup: before}, plain())
	assert.Equal(t, 1, s.LeftOut)
	assert.Equal(t, 1, s.Amps)
	require.Len(t, s.Problems, 1)
	assert.Contains(t, s.Problems[0].Text, "A is listed twice, first on line 2")

	// The wrong way round: the slope pilot is the lower one.
	_, s = run(t, "amp,channel,carrier,slope_channel,slope_carrier\nA,60,cw,116,digital\n", audit.Request{Lineup: before}, plain())
	require.Len(t, s.Problems, 1)
	assert.Contains(t, s.Problems[0].Text, "its slope pilot is not below its main pilot")
	p, err := plant.Read(strings.NewReader("amp,channel,carrier,role\nA,60,cw,\nA,116,digital,low\n"), "amps.csv")
	require.NoError(t, err)
	require.Len(t, p.Problems, 1)
}

// An amplifier with a row in each of two nodes is counted once, in that of its main row,
// whatever the order of the rows.
func TestTwoRowsInTwoNodes(t *testing.T) {
	_, after := lineups(t)
	main, low := "A1,N1,116,digital,\n", "A1,N2,138,digital,low\n"
	others := "B1,N2,116,digital,\nB2,N2,116,digital,\n"
	for name, text := range map[string]string{
		"main first, far apart":  main + others + low,
		"main first":             main + low + others,
		"slope first":            low + main + others,
		"slope first, far apart": low + others + main,
		"main last":              others + low + main,
		"slope last":             others + main + low,
	} {
		_, s := run(t, "amp,node,channel,carrier,role\n"+text, audit.Request{Lineup: after}, plain())
		one := *s.Nodes["N1"]
		assert.Equal(t, 1, one.Amps, name)
		assert.Equal(t, 2, s.Nodes["N2"].Amps, name)
		assert.Equal(t, 3, s.Amps, name)
		for _, c := range s.Nodes {
			assert.Equal(t, c.Amps, c.Usable+c.WithCare+c.Unusable, name)
		}
		assert.Equal(t, s.Unusable, one.Unusable+s.Nodes["N2"].Unusable, name)
	}
}

// A node written in capitals in one place and not in another is one node.
func TestNodesInAnyCase(t *testing.T) {
	before, _ := lineups(t)
	_, s := run(t,
		"amp,node,channel,carrier\nA1,K1,116,digital\nA2,k1,116,digital\nA3,K2,116,digital\nA4,K1,116,digital\n",
		audit.Request{Lineup: before}, plain())
	require.Len(t, s.Nodes, 2)
	assert.Equal(t, 3, s.Nodes["K1"].Amps)
}

// BenchmarkSettings audits a tenth of a million amplifiers, with five settings in all and
// with one for nearly every amplifier. The inventories are invented.
func BenchmarkSettings(b *testing.B) {
	before, after := lineups(b)
	for _, many := range []bool{false, true} {
		random := rand.New(rand.NewPCG(12, 12))
		var text bytes.Buffer
		fmt.Fprintln(&text, "amp,node,channel,carrier,range_up_db,range_down_db")
		for i := range 100_000 {
			up, down := i%5, 4
			if many {
				up, down = random.IntN(400), random.IntN(400)
			}
			fmt.Fprintf(&text, "A%d,N%d,116,digital,%d.%d,%d.%d\n", i, i/100, up/10, up%10, down/10, down%10)
		}
		b.Run(map[bool]string{false: "baseline-five", true: "many"}[many], func(b *testing.B) {
			for b.Loop() {
				inv, err := plant.Begin(bytes.NewReader(text.Bytes()), "amps.csv")
				require.NoError(b, err)
				_, err = audit.Run(context.Background(), inv, audit.Request{Lineup: after, Before: before},
					audit.Writer{Row: func(to []byte, _ *plant.Row,
						_ *audit.Judgement) []byte {
						return to
					}}, io.Discard)
				require.NoError(b, err)
			}
		})
	}
}
