package plant_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
)

const inventory = `# invented
amp,node,channel,carrier,mode,spare_channel,spare_carrier,low_mhz,high_mhz,upstream,role
A-01,N1,116,digital,,73,analog,54,750,,main
A-02,N1,,,manual,,,,,A-01,
A-03,N1,116,digtal,,,,,,A-01,
A-04,N1,,digital,,,,,,A-01,
A-05,N1,116,digital,auto,,,,,A-01,
A-06,N1,116,digital,,,,750,54,A-01,
A-07,N1,116,digital,,73,,54,750,A-01,
A-08,N1,500,cw
A-09,"N1,116,digital
A-10,N1,116,QAM,,,,54,,A-01
A-11,N1,60,cw,thermal,,,,,,low
`

func TestFind(t *testing.T) {
	find := func(id string) (lineup.Amplifier, error) {
		a, _, err := plant.Find(strings.NewReader(inventory), "amps.csv", id)
		return a.Amplifier, err
	}
	a, err := find(" a-01 ")
	require.NoError(t, err)
	assert.Equal(t, lineup.Amplifier{Line: 3, ID: "A-01", Node: "N1",
		Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.Digital},
		Spare: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}, Passband: lineup.Band{LowHz: 54_000_000,
			HighHz: 750_000_000}}, a)
	a, err = find("A-02")
	require.NoError(t, err)
	assert.Equal(t, lineup.HandSet, a.Mode)
	assert.True(t, a.Pilot.IsZero())
	assert.Equal(t, "A-01", a.Upstream)
	a, err = find("A-11")
	require.NoError(t, err)
	assert.Equal(t, lineup.OpenLoop, a.Mode)
	assert.Equal(t, lineup.LowPilot, a.Role)

	for id, says := range map[string]string{
		"A-03":  `amps.csv:5:13: unknown carrier "digtal": a carrier is analog, digital or cw (did you mean digital?)`,
		"A-04":  `amps.csv:6:9: there is no channel; write the pilot's channel, or mode manual or thermal if it has no pilot by design`,
		"A-05":  `amps.csv:7:21: mode "auto" is not one of agc, thermal, manual`,
		"A-06":  `amps.csv:8:24: the passband ends below where it starts; put its lower end in low_mhz`,
		"A-07":  `amps.csv:9:22: there is a spare_channel but no spare_carrier; write analog, digital or cw`,
		"A-08":  `amps.csv:10:9: no such channel: 500; channels run from 1 to 199`,
		"A-09":  `amps.csv:11:6: a quote`,
		"A-10":  `amps.csv:12:23: high_mhz: not a frequency in MHz: ""`,
		"A-0l":  `no such amplifier: amps.csv does not list "A-0l"; did you mean A-01?`,
		"Z-999": `no such amplifier: amps.csv does not list "Z-999"`,
	} {
		_, err := find(id)
		require.ErrorContains(t, err, says, id)
	}
	_, _, err = plant.Find(strings.NewReader("amp,node,chanel,carrier\n"), "amps.csv", "A-01")
	require.ErrorContains(t, err, `amps.csv:1:1: there is no column 'channel'; rename the one named "chanel"`)
	_, _, err = plant.Find(strings.NewReader("amp,channel,carrier,low_mzh\n"), "amps.csv", "A-01")
	require.ErrorContains(t, err, `amps.csv:1:21: column "low_mzh" is not known; rename it to low_mhz`)
	_, _, err = plant.Find(strings.NewReader("amp,channel,carrier\nA-01,116,digital\na-01,73,analog\n"), "amps.csv", "A-01")
	require.ErrorContains(t, err, "amps.csv:3:1: a-01 is listed twice, first on line 2; keep the row that is right, or give the slope pilot's row the role low")
	_, _, err = plant.Find(strings.NewReader("# nothing\n"), "amps.csv", "A-01")
	require.ErrorContains(t, err, "amps.csv:1:1: there is no header line")
}

// All rows of one inventory: what is wrong is reported, the rest is read.
func TestRead(t *testing.T) {
	p, err := plant.Read(strings.NewReader(inventory+"a-11,N2,73,analog,,,,,,,\n#12,N2,73,analog,,,,,,,\n# 13 is in the yard\n"),
		"amps.csv")
	require.NoError(t, err)
	var ids []string
	for _, a := range p.Amplifiers {
		ids = append(ids, a.ID)
	}
	assert.Equal(t, []string{"A-01", "A-02", "A-11", "#12"}, ids, "a name may begin with the sign of a remark")
	assert.Equal(t, 9, p.LeftOut)
	require.Len(t, p.Problems, 9)
	assert.Equal(t, 14, p.Problems[8].Line)
	assert.Equal(t, "a-11 is listed twice, first on line 13; keep the row that is right, or give the slope pilot's row the role low", p.Problems[8].Said())
	place, ok := p.Find(" a-11")
	require.True(t, ok)
	assert.Equal(t, lineup.OpenLoop, p.Amplifiers[place].Mode)
	assert.False(t, p.HasPlan)
}

// A row whose range or span is wrong can still be used.
func TestReadSpansAndRanges(t *testing.T) {
	p, err := plant.Read(strings.NewReader("# plan: irc\namp;channel;carrier;span_db;span_mhz;range_up_db;range_down_db;owner\n"+
		"A;116;digital;22,5;750;4;3,5;Ada\nB;116;digital;0;750;;;\nC;116;digital;20;;n/a;;\nD;;;;;;;\nE;116;digital;;;;;;more\n"),
		"amps.csv")
	require.NoError(t, err)
	assert.True(t, p.HasPlan)
	assert.Equal(t, "irc", p.Plan.String())
	require.Len(t, p.Amplifiers, 3)
	a := p.Amplifiers[0]
	assert.Equal(t, 22.5, a.SpanDB)
	assert.Equal(t, int64(750_000_000), a.SpanHz)
	assert.Equal(t, lineup.Range{UpDB: 4, DownDB: 3.5}, a.Range)
	var told []string
	for _, problem := range p.Problems {
		told = append(told, fmt.Sprintf("%d:%d %s", problem.Line, problem.Column, problem.Said()))
	}
	assert.Equal(t, []string{
		`4:15 span_db "0" is not a span loss in dB, above 0 and up to 200; leave it empty if you do not know it`,
		`5:19 range_up_db "n/a" is not a range in dB, from 0 to 50; leave it empty if you do not know it`,
		`5:18 span_mhz: not a frequency in MHz: ""; write it like 745.25`,
		`6:3 there is no channel; write the pilot's channel, or mode manual or thermal if it has no pilot by design`,
		`7:20 the row has 9 values but there are 8 columns; put quotes around a value that contains a separator`,
	}, told)
	assert.Equal(t, 2, p.LeftOut)
	_, err = plant.Read(strings.NewReader("# plan: hcr\namp,channel,carrier\n"), "amps.csv")
	require.ErrorContains(t, err, "amps.csv:1:1:")
}

// A pilot is not a spare for itself.
func TestSpareOfItsOwn(t *testing.T) {
	p, err := plant.Read(strings.NewReader("amp,channel,carrier,spare_channel,spare_carrier\nA,116,digital,116,digital\nB,116,digital,116,analog\n"),
		"amps.csv")
	require.NoError(t, err)
	require.Empty(t, p.Problems)
	assert.True(t, p.Amplifiers[0].Spare.IsZero())
	assert.Equal(t, channelplan.Pilot{Channel: 116, Kind: channelplan.Analog}, p.Amplifiers[1].Spare)
}

// A plant with invented names: two cascades, one with a branch, an upstream amplifier
// that is not listed, a loop of three and a loop of one.
func TestCascades(t *testing.T) {
	p, err := plant.Read(strings.NewReader(`amp,channel,carrier,upstream
B3,116,digital,B2
A1,116,digital,
A2,116,digital,a1
A4,116,digital,A3
A3,116,digital,A1
B2,116,digital,B1
R1,116,digital,R3
R2,116,digital,R1
R3,116,digital,R2
S,116,digital,S
`), "amps.csv")
	require.NoError(t, err)
	c := p.Cascades()
	var order []string
	for _, i := range c.Order {
		order = append(order, fmt.Sprintf("%s %d", p.Amplifiers[i].ID, c.Depth[i]))
	}
	assert.Equal(t, []string{"A1 0", "A2 1", "A3 1", "A4 2", "B2 0", "B3 1", "R1 0", "R2 1", "R3 2", "S 0"}, order)
	var told []string
	for _, problem := range c.Problems {
		told = append(told, fmt.Sprintf("%d %s", problem.Line, problem.Said()))
	}
	assert.Equal(t, []string{
		"7 B2 is fed by B1, which the inventory does not list (or its row can't be read); correct the upstream column",
		"8 a loop of 3: each is fed by the next, R1, R3, R2, R1; correct the upstream column of one",
		"11 a loop of 1: each is fed by the next, S, S; correct the upstream column of one",
	}, told)
}

// Whatever an inventory contains: every problem is at a place inside the file, every row
// is read, skipped as a remark or left out, and reading rows one by one gives the same as
// reading all at once.
func FuzzRead(f *testing.F) {
	f.Add([]byte(inventory))
	f.Add([]byte("amp;channel;carrier;upstream\r\n\"a;1\";116;digital;b\r\nb;7,5;cw\r\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := plant.Read(bytes.NewReader(data), "f")
		if err != nil {
			return
		}
		lines := bytes.Split(data, []byte("\n"))
		for _, problem := range p.Problems {
			require.Positive(t, problem.Line)
			require.LessOrEqual(t, problem.Line, len(lines))
			require.Positive(t, problem.Column)
			require.LessOrEqual(t, problem.Column, len(lines[problem.Line-1])+1)
		}
		c := p.Cascades()
		require.Len(t, c.Order, len(p.Amplifiers))
		for _, a := range p.Amplifiers[:min(len(p.Amplifiers), 3)] {
			alone, _, err := plant.Find(bytes.NewReader(data), "f", a.ID)
			if err == nil {
				require.Equal(t, a.Amplifier, alone.Amplifier)
			} else {
				require.Positive(t, p.LeftOut, "only what stands twice, or in a row that can't be read, is refused")
			}
		}
	})
}

// Below the header, a line with as many values as there are columns is a row, whatever
// its first value begins with: no amplifier disappears. A remark that a spreadsheet has
// padded is still a remark.
func TestRowsThatBeginWithAHash(t *testing.T) {
	p, err := plant.Read(strings.NewReader("node,amp,channel,carrier,mode\n# K1,A1,,,thermal\n\"#K1\",A2,,,thermal\n#K1,A4,116,digitl,\n# checked by Ada,,,,\n# no rows below\nK1,#209,116,digital,\n"),
		"amps.csv")
	require.NoError(t, err)
	var ids []string
	for _, a := range p.Amplifiers {
		ids = append(ids, a.ID)
	}
	assert.Equal(t, []string{"A1", "A2", "#209"}, ids)
	assert.Equal(t, 1, p.LeftOut, "told, and counted")
	require.Len(t, p.Problems, 1)
	assert.Equal(t, 4, p.Problems[0].Line)
}

// Detectors are described in each row or, by type, above the header.
func TestDetectorColumn(t *testing.T) {
	p, err := plant.Read(strings.NewReader("# detector P2: digital ofdm power 54-870\namp,channel,carrier,detector\nA,116,digital,p2\nB,116,digital,analog cw\nC,116,digital,\nD,116,digital,P3\n"),
		"amps.csv")
	require.NoError(t, err)
	require.Len(t, p.Amplifiers, 4, "the rest of a row counts without its detector")
	assert.Equal(t, "digital ofdm power 54-870", p.Amplifiers[0].Detector.String())
	assert.Equal(t, "analog cw", p.Amplifiers[1].Detector.String())
	assert.False(t, p.Amplifiers[2].Detector.Known() || p.Amplifiers[3].Detector.Known())
	require.Len(t, p.Problems, 1)
	assert.Equal(t, []int{6, 15}, []int{p.Problems[0].Line, p.Problems[0].Column})
	assert.Contains(t, p.Problems[0].Text, `"p3" is not part of a detector`)
	_, err = plant.Read(strings.NewReader("# detector P2: sloppy\namp,channel,carrier\nA,116,digital\n"), "amps.csv")
	assert.ErrorContains(t, err, `amps.csv:1:1: detector P2: "sloppy" is not part of a detector`)
}
