package field_test

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/field"
)

// An invented plant: two nodes on 116 digital, a third on 73 analog; a thermal and a
// manual amplifier in between.
const inventory = `amp,node,channel,carrier,mode,spare_channel,spare_carrier,upstream
A1,N1,116,digital,,73,analog,
A2,N1,116,digital,,73,analog,A1
A3,N1,116,digital,thermal,,,A2
A4,N1,116,digital,,73,analog,A3
A5,N1,116,digital,,73,analog,A4
A6,N1,116,digital,,73,analog,A2
A7,N1,60,cw,,,,A2
B1,N2,116,digital,,73,analog,
B2,N2,116,digital,,73,analog,B1
C1,N3,73,analog,,,,
C2,N3,,,manual,,,C1
`

var day = time.Date(2026, 11, 25, 9, 0, 0, 0, time.UTC)

// seen makes readings from words: 'A1 locked 116 digital', 'A2 holding'.
func seen(t *testing.T, words ...string) []field.Reading {
	t.Helper()
	var all []field.Reading
	for i, w := range words {
		f := strings.Fields(w)
		r := field.Reading{Record: book.Record{Type: field.Type, Time: day.Add(time.Duration(i) * time.Minute)},
			Amp: f[0]}
		require.NoError(t, r.State.UnmarshalText([]byte(f[1])))
		if len(f) == 4 {
			r.Pilot = &channelplan.Pilot{}
			require.NoError(t, r.Pilot.Kind.UnmarshalText([]byte(f[3])))
			_, err := fmt.Sscan(f[2], &r.Pilot.Channel)
			require.NoError(t, err)
		}
		r.Doubtful = len(f) == 3
		all = append(all, r)
	}
	return all
}

func compare(t *testing.T, readings []field.Reading) field.Compared {
	t.Helper()
	p, err := plant.Read(strings.NewReader(inventory), "amps.csv")
	require.NoError(t, err)
	require.Empty(t, p.Problems)
	return field.Compare(p, p.Cascades(), readings, nil)
}

func TestTroubles(t *testing.T) {
	readings := seen(t, "A1 locked 116 digital", "A2 holding", "A2 locked 73 analog", "A3 thermal",
		"A4 edge 116 digital", "A5 locked 108 digital",
		"A6 manual", "B1 locked doubt", "C2 locked 73 analog", "a1 locked 116 digital", "Z9 dark")
	readings[4].EdgeEnd = blink.EndLow
	c := compare(t, readings)
	var told []string
	for _, v := range c.Visits {
		told = append(told, strings.TrimSpace(fmt.Sprintf("%s %d %v %s", v.ID, v.Count, v.Trouble, v.Text)))
	}
	assert.Equal(t, []string{
		"A1 2 none",
		"A2 2 wrong-pilot locked on 73 analog, its spare; its pilot on record is 116 digital",
		"A3 1 none",
		"A4 1 edge edge, low end",
		"A5 1 wrong-pilot locked on 108 digital; its pilot on record is 116 digital",
		"A6 1 not-locked manual",
		"A7 0 never-seen",
		"B1 1 doubtful the reading is doubtful",
		"B2 0 never-seen",
		"C1 0 never-seen",
		"C2 1 not-as-designed locked, but manual by design",
	}, told)
	require.Len(t, c.Unlisted, 1)
	assert.Equal(t, "Z9", c.Unlisted[0].Amp)
	require.Len(t, c.Faults, 1, "if the input is too low,")
	assert.Equal(t,
		"the input is too low at A4, but signal passes A3 (A5 downstream of it is locked): the fault is between them; check the span before A4, and its own input",
		c.Faults[0].Text)
	troubles := 0
	for trouble := field.NoTrouble; trouble.String() != ""; trouble++ {
		troubles++
	}
	assert.Equal(t, 7, troubles, "each has a word")
}

func TestFaults(t *testing.T) {
	for name, c := range map[string]struct {
		seen []string
		want []string
	}{
		"bounded by a span": {
			[]string{"A1 locked 116 digital", "A2 holding", "A4 holding", "A5 seeking", "B1 locked 116 digital"},
			[]string{"A1>A2 lost 3: 116 digital is there at A1 and lost at A2: the fault is between them; check the span before A2, and its own input"},
		},
		"what nobody has read is halved": {
			[]string{"A1 locked 116 digital", "A5 holding"},
			[]string{"A1>A5 lost 1: 116 digital is there at A1 and lost at A5: the fault is between them; read A2 next: it cuts the stretch in half"},
		},
		"two branches have a fault each": {
			[]string{"A2 locked 116 digital", "A4 holding", "A6 holding"},
			[]string{
				"A2>A4 lost 1: 116 digital is there at A2 and lost at A4: the fault is between them; check the span before A4, and its own input; also A3 and the spans before: their lamps can't show it",
				"A2>A6 lost 1: 116 digital is there at A2 and lost at A6: the fault is between them; check the span before A6, and its own input",
			},
		},
		"a node alone": {
			[]string{"A1 holding", "A2 holding", "B1 locked 116 digital"},
			[]string{"-A1 lost 2: 116 digital is lost at A1. No lamp upstream was read as locked: the fault is at A1, or anywhere from the node to it; check the span before A1, and its own input"},
		},
		"signal passes and one carrier is gone": {
			[]string{"A1 holding", "A7 locked 60 cw"},
			[]string{"-A1 lost 1: 116 digital is lost at A1, but A7 is locked on 60 cw: signal passes. Measure this carrier one amplifier upstream: if it is there, look for a trap, a suck-out or water; if not, ask the headend; and check the pilot setting"},
		},
		"all on a pilot, in two nodes": {
			[]string{"A1 holding", "A4 holding", "B2 seeking", "C1 locked 73 analog"},
			[]string{"- lost 3: all 3 amplifiers read on 116 digital, in 2 nodes, have lost it: ask the headend about this carrier first"},
		},
		"locked on its spare it says nothing of the pilot": {
			[]string{"A1 locked 73 analog", "A2 holding"},
			[]string{"A1>A2 lost 1: 116 digital is lost at A2, but signal passes A1, locked on 73 analog. At A2, measure 116 digital and its neighbors. All low: the fault is between A1 and A2: check the span before A2, and its own input. Only 116 digital low: measure it one amplifier upstream, then call the headend"},
		},
		"the carrier passes one that has lost it": {
			[]string{"A2 holding", "A4 locked 116 digital", "A5 locked 116 digital"},
			[]string{"-A2 lost 1: A2 has lost 116 digital, but A5 downstream is locked: signal passes, so check the setting and the AGC module of A2 itself, or it may be working again"},
		},
		"a doubtful reading says nothing": {
			[]string{"A1 locked doubt", "B1 locked 116 digital"}, nil,
		},
	} {
		var told []string
		for _, f := range compare(t, seen(t, c.seen...)).Faults {
			between := f.Below
			if f.Above != "" {
				between = f.Above + ">" + between
			} else {
				between = "-" + between
			}
			told = append(told, fmt.Sprintf("%s lost %d: %s", between, f.Lost, f.Text))
		}
		assert.Equal(t, c.want, told, name)
	}
	// Nobody is sent to look for what the lineup does not carry.
	p, err := plant.Read(strings.NewReader(inventory), "amps.csv")
	require.NoError(t, err)
	l, err := lineup.Read(strings.NewReader("# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz\n60,cw,,\n,ofdm,744,1002\n"),
		"new.csv")
	require.NoError(t, err)
	invalid := field.Compare(p, p.Cascades(), seen(t, "A1 holding", "B1 locked 116 digital"), l).Faults
	require.Len(t, invalid, 1)
	assert.Equal(t,
		"116 digital is not a valid pilot in the lineup (inside-ofdm): A1 needs another pilot, not a repair",
		invalid[0].Text)

	// All amplifiers of two nodes, but read years apart.
	years := seen(t, "A1 holding", "B1 holding")
	years[0].Time = day.AddDate(-2, 0, 0)
	assert.Contains(t, compare(t, years).Faults[0].Text, "carrier first; the readings are 730 days apart")

	old := seen(t, "A1 locked 116 digital", "A2 holding")
	old[0].Time = day.AddDate(0, 0, -9)
	faults := compare(t, old).Faults
	require.Len(t, faults, 1)
	assert.Equal(t,
		"116 digital is lost at A2. No lamp upstream was read as locked in the hour before: the fault is at A2, or anywhere from the node to it; go first to A1 (locked on 116 digital, at "+
			old[0].Time.Local().Format("2006-01-02 15:04")+", before the first loss: read it again now): the last reading there does not tell",
		faults[0].Text)
}

// A field book may also hold attempts; a record that is not one of our readings is
// damaged.
func TestRead(t *testing.T) {
	b := book.Book{Path: filepath.Join(t.TempDir(), "field.jsonl")}
	for _, r := range seen(t, "A1 locked 116 digital", "A2 holding") {
		require.NoError(t, b.Append(r))
	}
	f, err := os.OpenFile(b.Path, os.O_APPEND|os.O_WRONLY, 0)
	require.NoError(t, err)
	_, err = f.WriteString(`{"type":"attempt","time":"2026-11-25T09:00:00Z","mark":"digit 7"}` + "\n" +
		`{"type":"reading","time":"2026-11-25T09:00:00Z","amp":"A1","state":"winking"}` + "\n" +
		`{"type":"reading","amp":"A1","state":"locked"}` + "\n" +
		`{"type":"reading","time":"2026-11-25T09:00:00Z","amp":"A1","state":"locked","pilot":{"channel":9999,"carrier":"digital"}}` +
		"\n" + `{"type":"reading","ti` + "\n")
	require.NoError(t, err)
	require.NoError(t, f.Close())
	all, err := read(t, b, time.Time{}, day)
	require.NoError(t, err)
	assert.Equal(t, seen(t, "A1 locked 116 digital", "A2 holding"), all.Readings)
	assert.ElementsMatch(t, []int{4, 5, 6, 7}, all.Damaged)
	all, err = read(t, b, day.Add(time.Second), day)
	require.NoError(t, err)
	assert.Len(t, all.Readings, 1)
}

// A reading dated years ahead, by a clock that was corrected afterwards, does not hide
// what is read later.
func TestReadingsOfAWrongClock(t *testing.T) {
	b := book.Book{Path: filepath.Join(t.TempDir(), "field.jsonl")}
	for i, r := range seen(t, "A1 locked 116 digital", "A1 seeking", "A1 holding") {
		if i == 1 {
			r.Time = day.AddDate(4, 0, 0)
		}
		require.NoError(t, b.Append(r))
	}
	all, err := read(t, b, time.Time{}, day)
	require.NoError(t, err)
	assert.Equal(t, []int{2, 1}, []int{all.Clock.First, all.Clock.Count})
	v := compare(t, all.Readings).Visits[0]
	assert.Equal(t, blink.Holding, v.Last.State)
	assert.Equal(t, 3, v.Count)
	all, err = read(t, b, day.Add(90*time.Second), day)
	require.NoError(t, err)
	assert.Len(t, all.Readings, 1, "the one of the wrong time is older")
}

// An amplifier that can't follow its pilot because of its own passband is no reason to
// look for the pilot at the headend.
func TestFaultOfTheRecord(t *testing.T) {
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,low_mhz,high_mhz,upstream\nA1,N1,116,digital,,,\nA2,N1,116,digital,54,550,A1\nA3,N1,116,digital,,,A1\n"),
		"amps.csv")
	require.NoError(t, err)
	l, err := lineup.Read(strings.NewReader("# plan: std\n# forward: 54-1002\nchannel,carrier,level_dbmv\n116,qam256,34\n"),
		"l.csv")
	require.NoError(t, err)
	all := field.Compare(p, p.Cascades(), seen(t, "A1 locked 116 digital", "A2 holding", "A3 locked 116 digital"), l)
	require.Len(t, all.Faults, 1)
	assert.Equal(t,
		"116 digital is not a valid pilot for A2 (outside-forward): what is needed is another pilot, not a repair",
		all.Faults[0].Text)
	all = field.Compare(p, p.Cascades(), seen(t, "A1 locked 116 digital", "A2 holding", "A3 seeking"), l)
	require.Len(t, all.Faults, 2, "what else lost it is looked for as ever")
	assert.Contains(t, all.Faults[1].Text, "A3")
}

// faultsOf compares readings with an inventory made from rows.
func faultsOf(t *testing.T, rows string, l *lineup.Lineup, readings ...string) (texts []string, lost []int) {
	t.Helper()
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,low_mhz,high_mhz,upstream\n"+rows), "amps.csv")
	require.NoError(t, err)
	require.Empty(t, p.Problems)
	for _, f := range field.Compare(p, p.Cascades(), seen(t, readings...), l).Faults {
		texts, lost = append(texts, f.Text), append(lost, f.Lost)
	}
	return texts, lost
}

// Branches, other readings along the path, and amplifiers that can't follow the pilot are
// all taken into account, each worked by hand.
func TestFaultsInBranches(t *testing.T) {
	l, err := lineup.Read(strings.NewReader("# plan: std\n# forward: 54-1002\nchannel,carrier,level_dbmv\n116,qam256,34\n"),
		"l.csv")
	require.NoError(t, err)

	// AA-1 can't follow 116: it says nothing about what AA-2 lost, nor about another
	// node's losses.
	texts, lost := faultsOf(t,
		"CC-0,N2,116,digital,54,1002,\nCC-1,N2,116,digital,54,1002,CC-0\nAA-1,N1,116,digital,54,550,\nAA-2,N1,116,digital,54,1002,AA-1\nAA-3,N1,116,digital,54,1002,AA-2\n",
		l,
		"CC-0 locked 116 digital", "CC-1 holding", "AA-1 holding", "AA-2 holding", "AA-3 holding")
	assert.Equal(t, []int{1, 1, 2}, lost)
	assert.Contains(t, texts[0], "not a valid pilot for AA-1 (outside-forward)")
	assert.Contains(t, texts[1], "there at CC-0 and lost at CC-1")
	assert.Contains(t, texts[2], "lost at AA-2. No lamp upstream")
	assert.Contains(t, texts[2], "AA-1 and the spans before: their lamps can't show it")

	// An amplifier in between with another reading is where to look.
	const line = "H-1,N,116,digital,,,\nH-2,N,116,digital,,,H-1\nH-3,N,116,digital,,,H-2\n"
	for reading, want := range map[string]string{"H-2 fault": "H-2 (fault)", "H-2 manual": "H-2 (manual)",
		"H-2 locked doubtful": "H-2 (doubtful)"} {
		texts, _ = faultsOf(t, line, nil, "H-1 locked 116 digital", reading, "H-3 holding")
		require.Len(t, texts, 1, reading)
		assert.Equal(t, "116 digital is there at H-1 and lost at H-3: the fault is between them; go first to "+
			want+": the last reading there does not tell", texts[0])
	}

	// A dark amplifier is the first that shows the fault, and signal passes one that is
	// locked on another pilot.
	texts, _ = faultsOf(t, line, nil, "H-1 locked 116 digital", "H-2 dark", "H-3 holding")
	assert.Equal(t,
		[]string{"the lamp is dark at H-2, but signal passes H-1: the fault is at H-2 or between the two; check the span before H-2, and its own input"},
		texts)
	texts, _ = faultsOf(t, line, nil, "H-1 dark", "H-2 dark", "H-3 dark")
	assert.Equal(t,
		[]string{"3 amplifiers in a row are dark from H-1 on: check the power supply that feeds them first. No lamp upstream was read as locked: the fault is at H-1, or anywhere from the node to it; check the span before H-1, and its own input"},
		texts)
	texts, _ = faultsOf(t, line, nil, "H-1 locked 116 digital", "H-2 locked 73 analog", "H-3 holding")
	assert.Equal(t,
		[]string{"116 digital is lost at H-3, but signal passes H-2, locked on 73 analog. At H-3, measure 116 digital and its neighbors. All low: the fault is between H-2 and H-3: check the span before H-3, and its own input. Only 116 digital low: measure it one amplifier upstream, then call the headend"},
		texts)

	// Two cascades of one node that both lost the pilot have only the node in common.
	texts, lost = faultsOf(t, "P-1,N,116,digital,,,\nQ-1,N,116,digital,,,\nQ-2,N,60,cw,,,Q-1\n", nil, "P-1 holding",
		"Q-1 holding", "Q-2 seeking")
	require.Len(t, texts, 1)
	assert.Contains(t, texts[0], "check the node itself")
	assert.Equal(t, []int{3}, lost)

	// A locked branch clears the amplifiers upstream of it; one that is not locked leaves
	// those that the branches do not share.
	const tree = "H-1,N,116,digital,,,\nH-2,N,116,digital,,,H-1\nH-3,N,116,digital,,,H-2\nH-4,N,116,digital,,,H-3\nJ-1,N,116,digital,,,H-4\nL-1,N,116,digital,,,H-4\nL-2,N,116,digital,,,L-1\n"
	texts, lost = faultsOf(t, tree, nil, "H-1 locked 116 digital", "J-1 locked 116 digital", "L-2 holding")
	assert.Equal(t,
		[]string{"116 digital is there at H-4 (J-1 downstream of it is locked) and lost at L-2: the fault is between them; read L-1 next: it is in between"},
		texts)
	assert.Equal(t, []int{1}, lost)

	// Two branches that both lost it: most likely before they split.
	texts, lost = faultsOf(t, tree, nil, "H-1 locked 116 digital", "J-1 holding", "L-1 holding", "L-2 holding")
	assert.Equal(t,
		[]string{"116 digital is there at H-1 and lost at J-1 and L-1: the fault is between them; read H-4 next: it is upstream of all of them"},
		texts)
	assert.Equal(t, []int{3}, lost)

	// A node written in two ways is one node.
	texts, _ = faultsOf(t, "T-1,K1,116,digital,,,\nT-2,k1,116,digital,,,T-1\n", nil, "T-1 holding", "T-2 holding")
	require.Len(t, texts, 1)
	assert.Contains(t, texts[0], "the fault is at T-1, or anywhere from the node to it")
}

// Evidence of every kind, each worked by hand.
func TestFaultsByAllEvidence(t *testing.T) {
	// An amplifier that is locked on its spare shows that this pilot is there.
	p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,spare_channel,spare_carrier,upstream\nA,N1,3,analog,116,digital,\nB,N1,116,digital,,,A\nC,N2,116,digital,,,\n"),
		"amps.csv")
	require.NoError(t, err)
	faults := field.Compare(p, p.Cascades(), seen(t, "A locked 116 digital", "B holding", "C holding"), nil).Faults
	require.Len(t, faults, 2)
	assert.Contains(t, faults[0].Text, "116 digital is there at A and lost at B: the fault is between")
	assert.Contains(t, faults[1].Text, "lost at C. No lamp upstream")

	// An amplifier on another pilot shows whether signal passes: it is read next.
	texts, _ := faultsOf(t, "A,N,116,digital,,,\nB,N,3,analog,,,A\nC,N,116,digital,,,B\n", nil,
		"A locked 116 digital", "C holding")
	assert.Equal(t,
		[]string{"116 digital is there at A and lost at C: the fault is between them; read B next: it is in between"},
		texts)

	// Three branches downstream of one with another reading are one fault.
	texts, lost := faultsOf(t,
		"A,N,116,digital,,,\nB,N,116,digital,,,A\nC,N,116,digital,,,B\nD,N,116,digital,,,B\nE,N,116,digital,,,B\n",
		nil, "A locked 116 digital", "B manual", "C holding", "D holding", "E seeking")
	assert.Equal(t,
		[]string{"116 digital is there at A and lost at C and D and E: the fault is between them; go first to B (manual): the last reading there does not tell"},
		texts)
	assert.Equal(t, []int{3}, lost)

	// Nobody is sent to read an amplifier that can't follow the pilot.
	l, err := lineup.Read(strings.NewReader("# plan: std\n# forward: 54-1002\nchannel,carrier,level_dbmv\n116,qam256,34\n"),
		"l.csv")
	require.NoError(t, err)
	texts, _ = faultsOf(t, "A,N,116,digital,,,\nB,N,116,digital,54,550,A\nC,N,116,digital,,,B\n", l,
		"A locked 116 digital", "C holding")
	assert.Equal(t,
		[]string{"116 digital is there at A and lost at C: the fault is between them; check the span before C, and its own input; also B and the spans before: their lamps can't show it"},
		texts)
}

// A lamp that changes within minutes is reported; the last reading counts.
func TestChangedWithinMinutes(t *testing.T) {
	c := compare(t, seen(t, "A1 locked 116 digital", "A1 holding", "A2 locked 116 digital", "A2 locked 116 digital"))
	require.NotNil(t, c.Visits[0].Changed)
	assert.Equal(t, "locked on 116 digital", c.Visits[0].Changed.Words())
	assert.Equal(t, field.NotLocked, c.Visits[0].Trouble)
	assert.Nil(t, c.Visits[1].Changed)
	later := seen(t, "A1 locked 116 digital", "A1 holding")
	later[1].Time = day.Add(16 * time.Minute)
	assert.Nil(t, compare(t, later).Visits[0].Changed)
}

// Many amplifiers have lost a pilot downstream of one that nobody read: they are searched
// only once. The baseline is reading their inventory.
func BenchmarkManyLost(b *testing.B) {
	rows, readings := strings.Builder{}, []field.Reading{}
	const many = 20_000
	rows.WriteString("amp,node,channel,carrier,upstream\nA,N,116,digital,\n")
	for i := range many {
		fmt.Fprintf(&rows, "B%d,N,116,digital,A\n", i)
		readings = append(readings, field.Reading{Record: book.Record{Type: field.Type, Time: day},
			Amp:   fmt.Sprintf("B%d", i),
			State: blink.Holding})
	}
	p, err := plant.Read(strings.NewReader(rows.String()), "amps.csv")
	require.NoError(b, err)
	c := p.Cascades()
	b.Run("compare", func(b *testing.B) {
		for b.Loop() {
			require.Len(b, field.Compare(p, c, readings, nil).Faults, 1)
		}
	})
	b.Run("baseline-read", func(b *testing.B) {
		for b.Loop() {
			_, err := plant.Read(strings.NewReader(rows.String()), "amps.csv")
			require.NoError(b, err)
		}
	})
}

// read reads a book's file.
func read(t *testing.T, b book.Book, since, now time.Time) (field.Book, error) {
	t.Helper()
	in, err := b.Open()
	if err != nil {
		return field.Book{}, err
	}
	defer in.Close()
	return field.Read(in, b.Path, since, now)
}

// A pilot is judged for each amplifier by its own detectors: one that follows the power of
// an OFDM block has not lost its pilot to it, and one that can't follow digital needs
// another pilot. Of an amplifier with two pilots, the lamp does not show which is lost.
func TestFaultsGoByTheDetectors(t *testing.T) {
	p, err := plant.Read(strings.NewReader(`amp,node,channel,carrier,upstream,detector,slope_channel,slope_carrier
A1,N1,116,digital,,,,
A2,N1,116,digital,A1,analog,,
A3,N1,116,digital,A2,digital,,
B1,N2,138,digital,,,,
B2,N2,138,digital,B1,power digital ofdm,,
B3,N2,138,digital,B2,digital,,
C1,N3,116,digital,,,17,cw
C2,N3,116,digital,C1,,17,cw
C3,N3,116,digital,C2,,73,analog
`), "amps.csv")
	require.NoError(t, err)
	require.Empty(t, p.Problems)
	l, err := lineup.Read(strings.NewReader(
		"# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz\n116,qam256,,\n73,analog,,\n,ofdm,810,1002\n"), "lineup.csv")
	require.NoError(t, err)
	told := func(words ...string) (texts []string) {
		for _, f := range field.Compare(p, p.Cascades(), seen(t, words...), l).Faults {
			texts = append(texts, f.Text)
			assert.Equal(t, strings.Contains(f.Text, "not a repair"), len(f.NeedPilot) == 1, f.Text)
		}
		return texts
	}
	assert.Equal(t, []string{
		"116 digital is not a valid pilot for A2 (outside-detector): what is needed is another pilot, not a repair",
		"116 digital is there at A1 and lost at A3: the fault is between them; check the span before A3, and its own input; also A2 and the spans before: their lamps can't show it",
	}, told("A1 locked 116 digital", "A2 holding", "A3 holding"))
	assert.Equal(t, []string{
		"138 digital is not a valid pilot in the lineup (inside-ofdm): B3 needs another pilot, not a repair",
		"138 digital is there at B1 and lost at B2: the fault is between them; check the span before B2, and its own input",
	}, told("B1 locked 138 digital", "B2 holding", "B3 holding"))
	// What the file does not say, or says otherwise, explains nothing.
	unread, err := lineup.Read(strings.NewReader(
		"# forward: 54-1002\nchannel,carrier\n116,qam265\n138,analog\n73,analog\n"), "lineup.csv")
	require.NoError(t, err)
	c := field.Compare(p, p.Cascades(), seen(t, "A1 locked 116 digital", "A3 holding", "B3 holding"), unread)
	require.Len(t, c.Faults, 3)
	assert.Equal(t, "138 digital is the pilot on record of B3, but the lineup lists another kind of carrier there (carrier-mismatch): the record or the lineup is wrong. Ask which, and set nothing until then",
		c.Faults[0].Text)
	assert.Contains(t, c.Faults[1].Text, "116 digital is there at A1 and lost at A3")
	assert.Contains(t, c.Faults[2].Text, "138 digital is lost at B3", "the lineup may be wrong")
	assert.Equal(t, []string{
		"17 cw is not a valid slope pilot for C2 (not-in-lineup): what is needed is another pilot, not a repair; measure the main pilot, too",
		"116 digital is there at C1 and lost at C3: the fault is between them; go first to C2 (holding): the last reading there does not tell; the lamp does not show which of the two pilots of C3 is lost: measure its slope pilot, 73 analog, too",
	}, told("C1 locked 116 digital", "C2 holding", "C3 holding"))
}

// What is said of a fault holds for this plant: the place is on the way of the signal, a
// dark lamp counts wherever it is, and one amplifier alone may itself be at fault.
func TestFaultsHold(t *testing.T) {
	told := func(rows string, readings []field.Reading) (texts []string, next string) {
		p, err := plant.Read(strings.NewReader("amp,node,channel,carrier,mode,upstream\n"+rows), "amps.csv")
		require.NoError(t, err)
		require.Empty(t, p.Problems)
		for _, f := range field.Compare(p, p.Cascades(), readings, nil).Faults {
			texts, next = append(texts, f.Text), f.ReadNext
		}
		return texts, next
	}
	const branches = "A1,N1,116,digital,,\nA2,N1,116,digital,,A1\nA3,N1,83,digital,,A2\nA4,N1,116,digital,,A2\n"
	const chain = "A1,N1,116,digital,,\nA2,N1,116,digital,,A1\nA3,N1,,,thermal,A2\nA4,N1,116,digital,,A3\n"

	texts, _ := told(branches, seen(t, "A3 locked 83 digital", "A4 holding"))
	assert.Equal(t, []string{
		"116 digital is lost at A4, but signal passes A2 (A3 downstream of it is locked on 83 digital). At A4, measure 116 digital and its neighbors. All low: the fault is between A2 and A4: check the span before A4, and its own input. Only 116 digital low: measure it one amplifier upstream, then call the headend",
	}, texts)
	texts, _ = told(branches, seen(t, "A1 locked 116 digital", "A2 holding", "A3 locked 83 digital"))
	assert.Equal(t, []string{
		"116 digital is lost at A2 and there at A1, but A3 is locked on 83 digital: signal passes. Measure 116 digital at the input of A2. Low: look for a trap, a suck-out or water between A1 and there; check the span before A2, and its own input. Good: check the setting and the AGC module of A2",
	}, texts)
	texts, _ = told(chain, seen(t, "A2 locked 116 digital", "A3 dark", "A4 dark"))
	assert.Equal(t, []string{
		"2 amplifiers in a row are dark at A3: check the power supply that feeds them first, but signal passes A2: the fault is between them; check the span before A3, and its own input",
	}, texts)
	texts, _ = told(chain, seen(t, "A2 locked 116 digital", "A3 dark"))
	assert.Equal(t, []string{
		"the lamp is dark at A3, but signal passes A2: the fault is at A3 or between the two; check the span before A3, and its own input",
	}, texts)
	old := seen(t, "A1 locked 116 digital", "A4 holding")
	old[1].Time = old[0].Time.Add(200 * time.Minute)
	texts, next := told(chain, old)
	require.Len(t, texts, 1)
	assert.Contains(t, texts[0], "No lamp upstream was read as locked in the hour before")
	assert.Contains(t, texts[0], "go first to A1 (locked on 116 digital")
	assert.Equal(t, "A1", next)
	low := seen(t, "Y1 edge 116 digital", "Y2 edge 116 digital", "Y3 edge 116 digital")
	for i := range low {
		low[i].EdgeEnd = blink.EndLow
	}
	mixed := append(seen(t, "Y4 holding"), low...)
	texts, _ = told("Y1,N1,116,digital,,\nY2,N2,116,digital,,\nY3,N3,116,digital,,\nY4,N4,116,digital,,\n", mixed)
	assert.Len(t, texts, 4, "not all are low: one has lost it")
	other := seen(t, "Y4 edge 83 digital")
	other[0].EdgeEnd = blink.EndLow
	texts, _ = told("Y1,N1,116,digital,,\nY2,N2,116,digital,,\nY3,N3,116,digital,,Y1\nY4,N1,83,digital,,Y1\n",
		append(other, low...))
	assert.NotContains(t, strings.Join(texts, "; "), "all", "other pilots are low, too")
	texts, _ = told("Y1,N1,116,digital,,\nY2,N2,116,digital,,\nY3,N3,116,digital,,\n", low)
	assert.Equal(t, []string{
		"all 3 amplifiers read on 116 digital, in 3 nodes, are at the low end: ask the headend about this carrier's level first",
	}, texts)
}
