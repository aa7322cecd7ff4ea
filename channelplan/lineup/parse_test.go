package lineup_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
)

func readText(t *testing.T, text string) *lineup.Lineup {
	t.Helper()
	l, err := lineup.Read(strings.NewReader(text), "x.csv")
	require.NoError(t, err)
	return l
}

func list(problems []fault.Error) []string {
	var all []string
	for _, p := range problems {
		all = append(all, fmt.Sprintf("%d:%d: %s", p.Line, p.Column, p.Said()))
	}
	return all
}

const header = "# forward: 54-1002\n# off-air: 470-608\nchannel,carrier,low_mhz,high_mhz,frequency_mhz,level_dbmv,duty,video,scope,service\n"

func TestReadLineup(t *testing.T) {
	l := readText(t, `# A remark: nothing more
# name: Quillfen Valley Cable
# hub: Osier Hub
# Plan: IRC
# forward: 54-1002
# effective: 2026-03-02
# off-air: 174-216, 470–608 MHz
Channel,Carrier,Level dBmV,Service,low_mhz,high_mhz,frequency_mhz,duty,video,scope
116,qam256,34.5,"News, and ""more""",,,,,,
2,Analog,36,,,,,Part-Time,sync suppressed,
,ofdm,36,,810,1002,,,,narrowcast
,cw,30,leakage test,,,138.0125,,,
117,qam256,,,,,753.0125,,,
,qam64,,,,,759.0,,,
# a remark below

`)
	assert.Empty(t, list(l.Problems))
	assert.Empty(t, list(l.Notes))
	assert.Equal(t, "Quillfen Valley Cable", l.Name)
	assert.Equal(t, "Osier Hub", l.Hub)
	assert.Equal(t, channelplan.IRC, l.Plan)
	assert.Equal(t, lineup.Band{54_000_000, 1_002_000_000}, l.Forward)
	assert.Equal(t, time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC), l.Effective)
	assert.Equal(t, []lineup.Band{{174_000_000, 216_000_000}, {470_000_000, 608_000_000}}, l.OffAir)
	require.Len(t, l.Carriers, 6)
	assert.Equal(t, lineup.Carrier{Line: 10, Channel: 2, Kind: channelplan.Analog, FrequencyHz: 55_262_500,
		Band:      lineup.Band{54_012_500, 60_012_500},
		LevelDBmV: 36, HasLevel: true, PartTime: true, SyncSuppressed: true}, l.Carriers[0])
	assert.Equal(t, "the cw carrier at 138.0125 MHz", lineup.Carrier{Kind: channelplan.CW, FrequencyHz: 138_012_500}.String())
	c, ok := l.InChannel(116, channelplan.Digital)
	require.True(t, ok)
	assert.Equal(t, `News, and "more"`, c.Service)
	assert.Equal(t, int64(747_012_500), c.FrequencyHz)
	c, ok = l.InChannel(118, channelplan.Digital)
	require.True(t, ok, "a QAM center near a channel's is that channel's")
	assert.Equal(t, 118, c.Channel)
	block := l.Carriers[len(l.Carriers)-1]
	assert.True(t, block.Narrowcast)
	assert.Equal(t, "the OFDM block 810 to 1002 MHz", block.String())
}

func TestReadTakesWhatSpreadsheetsWrite(t *testing.T) {
	const plain = "# plan: std\n# forward: 54-1002\n# off-air: 470-608\nchannel,carrier,level_dbmv,service\n116,qam256,34.5,News\n"
	for name, text := range map[string]string{
		"a byte order mark":        "\ufeff" + plain,
		"CRLF":                     strings.ReplaceAll(plain, "\n", "\r\n"),
		"no end of the last line":  strings.TrimSuffix(plain, "\n"),
		"semicolons":               "# plan: std;;;\n# forward: 54-1002;;;\n# off-air: 470-608\nchannel;carrier;level_dbmv;service\n116;qam256;34,5;News\n",
		"tabs":                     strings.ReplaceAll(plain, ",", "\t"),
		"short rows filled up":     "# plan: std,,,\n\"# forward: 54-1002\",,,\n# off-air: 470-608,,,\nchannel,carrier,level_dbmv,service\n116,qam256,34.5,News\n,,,\n",
		"quotes around everything": "# plan: std\n# forward: 54-1002\n# off-air: 470-608\n\"channel\",\"carrier\",\"level_dbmv\",\"service\"\n\"116\",\"qam256\",\"34.5\",\"News\"\n",
		"blanks":                   "#plan:std\n# forward : 54 - 1002 MHz\n# off-air: 470-608\n channel , carrier , level_dbmv , service \n 116 , QAM-256 , 34.5 , News \n",
	} {
		t.Run(name, func(t *testing.T) {
			l := readText(t, text)
			assert.Empty(t, list(l.Problems))
			assert.Empty(t, list(l.Notes))
			require.Len(t, l.Carriers, 1)
			c := l.Carriers[0]
			c.Line = 0
			assert.Equal(t, lineup.Carrier{Channel: 116, Kind: channelplan.QAM256, FrequencyHz: 747_000_000,
				Band: lineup.Band{744_000_000, 750_000_000}, LevelDBmV: 34.5, HasLevel: true, Service: "News"}, c)
		})
	}
}

// Every problem of a file is reported, with its place, and no good row is lost because of
// another.
func TestProblemsAreAllReported(t *testing.T) {
	l := readText(t, `# plna: irc
# forward: 1002-54
# effective: yesterday
# effective: 2026-01-01
channel,carier2,carrier,level_dbmv,duty,frequency_mhz,low_mhz,high_mhz,video,colour
116,,qam265,34
117,,qam256,loud
118,,qam256,34,sometimes
119,,qam256,34,,765000000
119,,qam256,34,,747
1,,analog,36
300,,analog,36
x,,analog,36
,,analog,36
12,,,36
,,ofdm,36,,,810
130,,ofdm,36,,,810,816
,,ofdm,36,,,816,810
13,,qam256,34,,,,,sync-suppressed
14,,"qam256 ""or so"",34
15,,qam"256,34
16,,qam256,34,,,,,,,one,two
20,,qam256,34
20,,qam256,34
,,qam256,30,,162.5
2,,analog,NaN
# hub: late
`)
	assert.Equal(t, []string{
		`1:1: this looks like the setting "plan"; write it '# plan: ...'`,
		`2:1: setting "forward": "1002-54" ends below where it starts; write the lower edge first`,
		`3:1: setting "effective": "yesterday" is not a date; write it like 2026-11-25`,
		`4:1: setting "effective" is given twice, first on line 3; keep one`,
		`6:6: unknown carrier "qam265": a carrier is analog, qam64, qam256, qam1024, qam4096, cw or ofdm (did you mean qam256?)`,
		`7:13: "loud" is not a level in dBmV; write a number such as 34.5`,
		`8:16: "sometimes" is neither continuous nor part-time`,
		`9:17: not a frequency in MHz: "765000000" is above 3 GHz; if it is in Hz, write 765`,
		`10:17: 747 MHz is in channel 116, not in channel 119; correct one of the two`,
		`11:1: there is no channel 1 in the STD plan; channels run from 2 to 199`,
		`12:1: there is no channel 300 in the STD plan; channels run from 2 to 199`,
		`13:1: "x" is not a channel number; leave it empty for a carrier given by frequency`,
		`14:1: the row has neither channel nor frequency_mhz; give one of them`,
		`15:5: the row has no carrier; write analog, qam64, qam256, qam1024, qam4096, cw or ofdm`,
		`16:3: an OFDM block needs both edges: low_mhz and high_mhz`,
		`17:1: an OFDM block goes by its edges; leave channel empty and give low_mhz and high_mhz`,
		`18:13: the block ends below where it starts; put the lower edge in low_mhz`,
		`19:19: only analog video can be sync-suppressed, but this is qam256`,
		`20:5: a quote (") is left open or is in the wrong place; put one on each side of the value, double any quote inside it, and keep each row on one line`,
		`21:8: there is a quote (") inside a value; put quotes around the whole value, and double the one inside it`,
		`22:21: the row has 12 values but there are 10 columns; put quotes around a value that contains a separator`,
		`24:1: channel 20 is listed twice, first on line 23; keep one of the two`,
		`25:1: the qam256 carrier at 162.5 MHz shares 2.5 MHz with channel 20 (line 23); correct one of the two`,
		`26:11: "NaN" is not a level in dBmV; write a number such as 34.5`,
		`27:1: setting "hub" is below the header line; move it above`,
	}, list(l.Problems))
	assert.Equal(t, []string{
		`5:9: column "carier2" is ignored`, `5:78: column "colour" is ignored`,
		`1:1: the file lists no off-air bands, so ingress from local transmitters can't be judged (add '# off-air: 470-608')`,
	}, list(l.Notes))
	assert.Equal(t, []lineup.LeftOut{
		{Line: 1}, {Line: 2}, {Line: 3}, {Line: 6, Channel: 116}, {Line: 8, Channel: 118},
		{Line: 9, Channel: 119}, {Line: 10, Channel: 119}, {Line: 11, Channel: 1}, {Line: 12, Channel: 300},
		{Line: 13}, {Line: 14}, {Line: 15, Channel: 12}, {Line: 16},
		{Line: 17, Channel: 130, Band: lineup.Band{LowHz: 810_000_000, HighHz: 816_000_000}}, {Line: 18, Band: lineup.Band{LowHz: 810_000_000, HighHz: 816_000_000}},
		{Line: 20, Channel: 14}, {Line: 21, Channel: 15}, {Line: 22, Channel: 16}, {Line: 27},
	}, l.LeftOut)
	assert.Len(t, l.Carriers, 6, "117 and 2 have no level but are there")
	require.NotNil(t, l.Unfit, "the plan is not known")
}

func TestCarriersOutsideThePassbandAndOverOFDM(t *testing.T) {
	l := readText(t, header+"127,qam256\n,ofdm,810,1008\n10,analog\n,cw,,,195\n")
	assert.Equal(t, []string{
		`5:1: the OFDM block 810 to 1008 MHz reaches 6 MHz above the upper end of the forward passband (54 to 1002 MHz); correct the row or the setting`,
		`5:1: the OFDM block 810 to 1008 MHz shares 6 MHz with channel 127 (line 4); correct one of the two`,
		`7:1: the cw carrier at 195 MHz is in the same place as channel 10 (line 6); correct one of the two`,
	}, list(l.Problems))

	// However many rows overlap, each is reported once: a long file stays quick.
	l = readText(t, header+strings.Repeat(",ofdm,54,1002\n", 2000))
	assert.Len(t, l.Problems, 1999)

	l = readText(t,
		"# plan: hrc\n"+header+"2,analog\n98,analog\n99,analog\n14,analog\n41,analog\n42,analog\n43,analog\n")
	assert.Empty(t, list(l.Problems), "HRC begins 1.25 MHz lower, and neighbors share what their offsets differ by")

	l = readText(t, header+"115,qam256\n116,qam256\n,cw,,,744\n")
	assert.Empty(t, list(l.Problems), "a cw carrier may stand at the edge of two channels")
	l = readText(t, header+"115,qam256\n116,qam256\n,cw,,,744.2\n")
	assert.Len(t, l.Problems, 1, "but not inside one")
}

// A problem that affects every pilot makes a lineup unfit to judge by, and is still
// reported together with everything else that is wrong.
func TestUnfitLineups(t *testing.T) {
	for _, c := range []struct{ name, text, says string }{
		{"a plan that is none", "# name: x\n# plan: irk\nchannel,carrier\n116,qam256\n",
			`x.csv:2:1: unknown plan "irk"`},
		{"a plan written otherwise", "# plan = hrc\nchannel,carrier\n116,qam256\n",
			`x.csv:1:1: the setting "plan" can't be read`},
		{"a plan with a word before it", "# frequency plan: hrc\nchannel,carrier\n116,qam256\n", "can't be read"},
		{"a passband without a colon", "# forward 54-750\nchannel,carrier\n116,qam256\n",
			`the setting "forward" can't be read`},
		{"a passband that is none", "# forward: 54 to 750\nchannel,carrier\n116,qam256\n", "is not a band"},
		{"a passband misspelt", "# forwrd: 54-600\nchannel,carrier\n116,qam256\n", "can't be read"},
		{"what makes a pilot unfit under another heading", "channel,carrier,on-air\n116,qam256,part-time\n",
			`column "on_air" is ignored, but says part-time; rename it to duty`},
		{"a heading of two words", "channel,carrier,Duty cycle\n116,qam256,part-time\n",
			`column "duty_cycle" is not known; rename it to duty`},
		{"a column misspelt that says where", "chanel,carrier,frequency_mhz\n116,qam256,\n",
			`x.csv:1:1: column "chanel" is not known; rename it to channel`},
		{"a column misspelt that says when", "channel,carrier,dutty\n116,qam256,part-time\n", `rename it to duty`},
		{"no row that can be used", "channel,carrier\n116,qam265\n",
			"x.csv:2:5: none of the lineup's rows can be used"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := readText(t, c.text)
			require.NotNil(t, l.Unfit)
			assert.Contains(t, l.Unfit.Error(), c.says)
			assert.NotEmpty(t, l.Problems)
		})
	}
	remark := readText(t, "# a plan of ours, by and by: none\n# forward and back\n"+header+"116,qam256\n")
	assert.Empty(t, list(remark.Problems), "a sentence is a remark")
	l := readText(t, "# forward: 54-1002\nchannel,carrier,Level (dBmV)\n116,qam256,34\n")
	assert.Empty(t, list(l.Problems))
	assert.True(t, l.Carriers[0].HasLevel, "whatever stands between the words of a heading")
	l = readText(t, "# effective: 2/3/2020\n"+header+"116,qam256\n")
	assert.Nil(t, l.Unfit)
	r := l.Check(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, lineup.Context{})
	assert.True(t, r.Has(lineup.LineupProblems) && r.Has(lineup.StaleLineup))
	assert.Equal(t, lineup.WithCare, r.Verdict, "a date that can't be read may be an old one")
	assert.Nil(t, readText(t, "channel,carrier,levl_dbmv\n116,qam256,30\n").Unfit,
		"a misspelt level is no more than a problem")
}

func TestFilesThatCannotBeUsed(t *testing.T) {
	long := strings.Repeat("# a remark that says nothing\n", 200_000)
	for _, c := range []struct{ name, text, says string }{
		{"empty", "", "x.csv:1:1: the file is empty; "},
		{"remarks alone", "# plan: std\n", "x.csv:1:1: there is no header line; "},
		{"a header alone", "channel,carrier\n", "x.csv:1:1: the lineup does not list any carriers; "},
		{"UTF-16", "\xff\xfec\x00h\x00",
			"x.csv:1:1: the file is in UTF-16; save it from the spreadsheet as 'CSV UTF-8'"},
		{"UTF-16, the other way", "\xfe\xff\x00c\x00h", "the file is in UTF-16"},
		{"a spreadsheet", "PK\x03\x04....", "spreadsheet or an archive"},
		{"binary", "abc\x00def", "x.csv:1:1: the file is not text; "},
		{"prose", "Dear colleague,\nplease find the channels below\n",
			"x.csv:1:1: this should be the header line, but it names none"},
		{"carrier misspelt", "channel,carier\n2,analog\n",
			`x.csv:1:9: there is no column 'carrier', but there is one named "carier"; rename it to carrier`},
		{"the lineup has no separate carrier on channel", "channel,service\n2,News\n",
			"x.csv:1:1: there is no column 'carrier'; add it"},
		{"no place", "carrier,service\nqam64,News\n", "x.csv:1:1: no column says where the carriers are"},
		{"a column twice", "channel,carrier,Channel\n", `x.csv:1:17: column "channel" is named twice; keep one`},
		{"a header left open", "channel,\"carrier\n", "x.csv:1:9: a quote"},
		{"a header not in UTF-8", "channel,carrier,\xe9\n", "x.csv:1:17: the line is not in UTF-8"},
		{"too many rows", header + strings.Repeat("2,analog\n", 2001),
			"x.csv:2004:1: the lineup has more than 2000 rows,"},
		{"too large", header + long, "the file is too large for a lineup: over 4 MB; is this the right file?"},
		{"line ends of another age", "channel,carrier\r116,qam256\r",
			"x.csv:1:16: lines end with only a carriage return; save it"},
		{"one long line", header + strings.Repeat("x", 70_000), "x.csv:4:1: the line is longer than 64 kB"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := lineup.Read(strings.NewReader(c.text), "x.csv")
			var e *fault.Error
			require.ErrorAs(t, err, &e)
			assert.Contains(t, err.Error(), c.says)
			assert.NotEmpty(t, e.Hint)
		})
	}
}

func TestDefaultPassbandIsTakenAndNoted(t *testing.T) {
	l := readText(t, "# off-air: 470-608\nchannel,carrier\n116,qam256\n")
	assert.Equal(t, lineup.Band{54_000_000, 1_002_000_000}, l.Forward)
	assert.Equal(t,
		[]string{"1:1: the file does not give the forward passband; using 54 to 1002 MHz (add '# forward: 54-1002')"},
		list(l.Notes))
	l = readText(t, "# plan: hrc\n# forward: 54.06-1002\n# off-air: 470-608\nchannel,carrier\n2,analog\n")
	assert.Len(t, l.Problems, 1, "52.7527 MHz is more than 1.3 MHz below 54.06 MHz")
	for level, ok := range map[string]bool{"-60": true, "-61": false, "90": true, "91": false, "NaN": false,
		"34.5": true, "34,5": false} {
		l := readText(t, header+"116,qam256,,,,\""+level+"\"\n")
		assert.Equal(t, ok, len(l.Problems) == 0, level)
	}
	_, err := channelplan.ParseChannel("200")
	require.ErrorIs(t, err, channelplan.ErrChannel)
	n, err := channelplan.ParseChannel(" 199 ")
	require.NoError(t, err)
	assert.Equal(t, 199, n)
}

func TestRowsThatLookLikeRemarksOrHaveMoreSeparators(t *testing.T) {
	l := readText(t,
		"# off-air: 470-608\n# forward: 54-1002\nservice,channel,carrier\n#1 Hits,116,qam256\n# a remark, as it is\nNews,117,qam256,,,\n")
	assert.Empty(t, list(l.Problems))
	require.Len(t, l.Carriers, 2)
	assert.Equal(t, "#1 Hits", l.Carriers[0].Service)
}

func TestRowsNotInUTF8AreReportedAlone(t *testing.T) {
	l := readText(t, header+"116,qam256,,,,34,,,,Caf\xe9\n117,qam256,,,,34\n")
	assert.Equal(t, []string{"4:24: the line is not in UTF-8; save it from the spreadsheet as 'CSV UTF-8'"},
		list(l.Problems))
	assert.Len(t, l.Carriers, 1)
}

func TestLoadSaysWhyAFileCannotBeOpened(t *testing.T) {
	dir := t.TempDir()
	for path, says := range map[string]string{
		filepath.Join(dir, "none.csv"): "there is no such file; check the path",
		dir:                            "this is a folder; name a CSV file in it",
	} {
		_, err := lineup.Load(path)
		var e *fault.Error
		require.ErrorAs(t, err, &e)
		assert.Contains(t, err.Error(), says)
	}
	good := filepath.Join(dir, "good.csv")
	require.NoError(t, os.WriteFile(good, []byte(header+"116,qam256\n"), 0o600))
	l, err := lineup.Load(good)
	require.NoError(t, err)
	assert.Equal(t, good, l.File)
}

type broken struct{ after string }

func (b *broken) Read(p []byte) (int, error) {
	if b.after == "" {
		return 0, errors.New("the disk is gone")
	}
	n := copy(p, b.after)
	b.after = b.after[n:]
	return n, nil
}

func TestReadErrorsAreReported(t *testing.T) {
	_, err := lineup.Read(&broken{header + "116,qam256\n"}, "x.csv")
	require.ErrorContains(t, err, "the disk is gone")
	_, err = lineup.Read(&broken{}, "x.csv")
	require.ErrorContains(t, err, "the disk is gone")
}

// An exclusion parts an OFDM block: a carrier in it is no fault and can be a pilot, one
// next to it still is covered.
func TestExclusions(t *testing.T) {
	l, err := lineup.Read(strings.NewReader(`# forward: 54-1002
# effective: 2026-01-01
# off-air: 470-608, mobile
channel,carrier,low_mhz,high_mhz,frequency_mhz,excluded_mhz
,ofdm,800,990,,"834-840; 900-906"
131,qam4096,,,,
140,cw,,,,
`), "l.csv")
	require.NoError(t, err)
	var blocks []lineup.Band
	for _, c := range l.Carriers {
		if c.Kind == channelplan.OFDM {
			blocks = append(blocks, c.Band)
			assert.Equal(t, (c.LowHz+c.HighHz)/2, c.FrequencyHz)
		}
	}
	assert.Equal(t, []lineup.Band{{800_000_000, 834_000_000}, {840_000_000, 900_000_000}, {906_000_000, 990_000_000}},
		blocks)
	today := time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)
	assert.NotEqual(t, lineup.Unusable, l.Check(channelplan.Pilot{Channel: 131, Kind: channelplan.Digital},
		lineup.Context{Today: today}).Verdict, "834 to 840 MHz, by the plan of ANSI/CTA-542")
	assert.Equal(t, lineup.Unusable, l.Check(channelplan.Pilot{Channel: 140, Kind: channelplan.CW},
		lineup.Context{Today: today}).Verdict)
	assert.Contains(t, l.OffAir, lineup.Band{729_000_000, 768_000_000})

	for text, says := range map[string]string{
		"780-840": "not a part of the block", "800-990": "not a part of the block", "834": "is not a band",
	} {
		l, err := lineup.Read(strings.NewReader("channel,carrier,low_mhz,high_mhz,excluded_mhz\n,ofdm,800,990,"+
			text+"\n116,qam256,,,\n"), "l.csv")
		require.NoError(t, err)
		require.NotEmpty(t, l.Problems)
		assert.Contains(t, l.Problems[0].Said(), says)
		assert.Equal(t, 15, l.Problems[0].Column, "where it is written")
	}
}

// An OFDM block whose row can't be read may cover what its edges enclose: nobody knows what
// is carried there, listed or not. A row that gives only its frequency is in that channel.
func TestRowsThatMayCoverOthers(t *testing.T) {
	l := readText(t, "# effective: 2026-03-02\n# forward: 54-1002\nchannel,carrier,low_mhz,high_mhz,frequency_mhz,excluded_mhz\n"+
		"83,qam256\n120,qam256\n,ofdm,744,1002,,750x-756\n,qam265,,,735\n")
	require.NotEmpty(t, l.Problems)
	for name, want := range map[string]bool{"120 digital": true, "130 digital": true, "83 digital": false,
		"114 digital": true, "113 digital": false} {
		assert.Equal(t, want, l.Check(pilot(t, name), lineup.Context{Today: today}).Has(lineup.RowUnreadable), name)
	}
	assert.Len(t, lineup.Rank(l, nil, lineup.Context{Today: today}), 1)
}
