package lineup_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
)

var today = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)

func pilot(t *testing.T, text string) channelplan.Pilot {
	t.Helper()
	channel, kind, ok := strings.Cut(text, " ")
	require.True(t, ok)
	k, err := channelplan.ParsePilotKind(kind)
	require.NoError(t, err)
	if mhz, ok := strings.CutSuffix(channel, "MHz"); ok {
		hz, err := channelplan.ParseMHz(mhz)
		require.NoError(t, err)
		return channelplan.Pilot{Kind: k, FrequencyHz: hz}
	}
	n, err := channelplan.ParseChannel(channel)
	require.NoError(t, err)
	return channelplan.Pilot{Channel: n, Kind: k}
}

// names lists findings as rule/severity, in order.
func names(r lineup.Report) string {
	var all []string
	for _, f := range r.Findings {
		all = append(all, string(f.Rule)+"/"+f.Severity.String())
	}
	return strings.Join(all, " ")
}

// settled is the head of a lineup that gives rise to no general finding.
const settled = "# effective: 2026-03-02\n" + header

// ruleCase is a lineup for which rules have findings about a pilot.
type ruleCase struct {
	name, lineup, pilot string
	amp                 *lineup.Amplifier
	want, says          string
	verdict             lineup.Verdict
}

func ruleCases() []ruleCase {
	amp := func(a lineup.Amplifier) *lineup.Amplifier { return &a }
	p116 := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	return []ruleCase{
		{"a good pilot", "116,qam256", "116 digital", nil, "", "", lineup.Usable},
		{"a good pilot, the amplifier's own", "116,qam256", "116 digital", amp(lineup.Amplifier{ID: "A-01", Pilot: p116}),
			"", "", lineup.Usable},
		{"64-QAM is digital too", "116,qam64", "116 digital", nil, "", "", lineup.Usable},

		{"channel 1 in STD", "116,qam256", "1 analog", nil, "not-in-plan/blocker",
			"the STD plan has no channel 1", lineup.Unusable},
		{"an OFDM block over the channel, which is said alone", ",ofdm,810,1002", "130 digital", nil,
			"inside-ofdm/blocker",
			"the OFDM block 810 to 1002 MHz covers its channel", lineup.Unusable},
		{"a block over half the channel", ",ofdm,747,810\n116,qam256", "116 digital", nil, "inside-ofdm/blocker",
			"reaches 3 MHz into its channel", lineup.Unusable},
		{"a block that takes 100 kHz is no matter", ",ofdm,749.9,810\n116,qam256", "116 digital", nil, "", "", lineup.Usable},
		{"a block that takes a hertz more is", ",ofdm,749.899999,810\n116,qam256", "116 digital", nil,
			"inside-ofdm/blocker", "", lineup.Unusable},
		{"a cw carrier in an exclusion band between two rows", ",ofdm,810,850\n,ofdm,856,900\n,cw,,,853.25", "134 cw",
			nil, "", "", lineup.Usable},
		{"a cw carrier elsewhere in the channel it names", "134,cw,,,855", "134 cw", nil,
			"off-plan/note", "the cw carrier of channel 134 is at 855 MHz", lineup.Usable},
		{"nothing carried", "117,qam256", "116 digital", nil, "not-in-lineup/blocker",
			"the lineup carries nothing on channel 116", lineup.Unusable},
		{"nothing of its own, another across it", ",qam256,,,750", "116 digital", nil, "not-in-lineup/blocker",
			"the qam256 carrier at 750 MHz overlaps it", lineup.Unusable},
		{"its row can't be read", "116,qam265\n117,qam256", "116 digital", nil,
			"row-unreadable/blocker lineup-problems/caution", "row for channel 116 (line 5) can't be read", lineup.Unusable},
		{"its row is not even CSV", "116,\"qam256\n117,qam256", "116 digital", nil,
			"row-unreadable/blocker lineup-problems/caution", "row for channel 116 (line 5) can't be read", lineup.Unusable},
		{"another row can't be read, which may be a block over it", ",ofdm,810000000,1002000000\n116,qam256",
			"116 digital", nil, "lineup-problems/caution", "line 5 of the lineup can't be read", lineup.WithCare},
		{"a level that can't be read", "116,qam256,,,,loud", "116 digital", nil, "", "", lineup.Usable},
		{"a block that reaches into it", ",ofdm,749.5,810\n116,qam256", "116 digital", nil, "inside-ofdm/blocker",
			"reaches 0.5 MHz into its channel", lineup.Unusable},
		{"a digital pilot on an analog carrier", "116,analog", "116 digital", nil, "carrier-mismatch/blocker",
			"the pilot is digital (QAM), but channel 116 carries analog", lineup.Unusable},
		{"an analog pilot on a digital carrier", "116,qam64", "116 analog", nil, "carrier-mismatch/blocker",
			"carries 64-QAM", lineup.Unusable},
		{"an analog pilot where only a cw carrier stands at the edge", ",cw,,,744", "116 analog", nil,
			"not-in-lineup/blocker", "carries nothing on channel 116", lineup.Unusable},
		{"a cw pilot on an analog carrier with an offset of 12.5 kHz", "116,analog,,,745.2625", "116 cw", nil,
			"carrier-mismatch/caution off-plan/caution", "carries analog", lineup.WithCare},
		{"a cw pilot on an analog carrier with an offset of 25 kHz", "116,analog,,,745.275", "116 cw", nil,
			"carrier-mismatch/caution off-plan/caution", "carries analog", lineup.WithCare},
		{"the cw carrier at the edge itself", ",cw,,,744", "116 cw", nil, "off-plan/note", "is at 744 MHz", lineup.Usable},
		{"an analog pilot on a cw carrier", "116,cw", "116 analog", nil, "carrier-mismatch/caution",
			"carries continuous wave", lineup.WithCare},
		{"an analog pilot on a cw carrier elsewhere in the channel", "116,cw,,,747", "116 analog", nil,
			"carrier-mismatch/blocker off-plan/note", "carries continuous wave", lineup.Unusable},
		{"out of the amplifier's own passband", "116,qam256", "116 digital",
			amp(lineup.Amplifier{ID: "A-01", Pilot: p116, Passband: lineup.Band{54e6, 747e6}}),
			"outside-forward/blocker",
			"it reaches 3 MHz above the upper end of this amplifier's passband, 54 to 747 MHz", lineup.Unusable},
		{"below the forward passband", "2,analog", "2 analog",
			amp(lineup.Amplifier{ID: "A-01", Pilot: channelplan.Pilot{Channel: 2, Kind: channelplan.Analog},
				Passband: lineup.Band{85e6, 1002e6}, Role: lineup.LowPilot}),
			"outside-forward/blocker", "reaches 31 MHz below the lower end", lineup.Unusable},
		{"passed by the amplifier and not by the system", "170,qam256", "170 digital",
			amp(lineup.Amplifier{ID: "A-01", Pilot: channelplan.Pilot{Channel: 170, Kind: channelplan.Digital},
				Passband: lineup.Band{54e6, 1218e6}}),
			"outside-forward/blocker",
			"it reaches 72 MHz above the upper end of the forward passband, 54 to 1002 MHz", lineup.Unusable},
		{"another carrier in its 6 MHz", "116,qam256\n,qam256,,,750", "116 digital", nil, "overlapped/blocker",
			"the qam256 carrier at 750 MHz is in the same 6 MHz", lineup.Unusable},
		{"listed twice", "116,qam256\n116,qam256", "116 digital", nil, "overlapped/blocker",
			"a second carrier on channel 116 (line 6)", lineup.Unusable},
		{"a cw carrier inside a digital channel", "116,qam256\n,cw,,,746", "116 digital", nil, "overlapped/blocker",
			"is in the same 6 MHz", lineup.Unusable},
		{"a cw carrier at its edge", "116,qam256\n,cw,,,744", "116 digital", nil, "", "", lineup.Usable},
		{"scrambled", "73,analog,,,,36,,sync-suppressed", "73 analog", nil,
			"sync-suppressed/blocker off-air-ingress/note", "scrambled by sync suppression", lineup.Unusable},
		{"part-time", "116,qam256,,,,36,part-time", "116 digital", nil, "part-time/blocker",
			"part-time carrier", lineup.Unusable},

		{"another pilot than recorded", "116,qam256\n73,analog", "73 analog", amp(lineup.Amplifier{ID: "A-01", Pilot: p116}),
			"not-assigned/caution off-air-ingress/note", "A-01 has 116 digital on record, not 73 analog", lineup.WithCare},
		{"the spare pilot", "116,qam256\n73,analog", "73 analog",
			amp(lineup.Amplifier{ID: "A-01", Pilot: p116,
				Spare: channelplan.Pilot{Channel: 73, Kind: channelplan.Analog}}),
			"not-assigned/caution off-air-ingress/note",
			"the main pilot of A-01 is 116 digital; this is its spare", lineup.WithCare},
		{"the recorded channel, another detector setting", "116,cw", "116 analog",
			amp(lineup.Amplifier{ID: "A-01", Pilot: channelplan.Pilot{Channel: 116, Kind: channelplan.CW}}),
			"carrier-mismatch/caution not-assigned/caution",
			"on record: same channel, different detector setting", lineup.WithCare},
		{"the recorded cw carrier by its frequency", "116,cw", "745.25MHz cw",
			amp(lineup.Amplifier{ID: "A-01", Pilot: channelplan.Pilot{Channel: 116,
				Kind: channelplan.CW}}), "", "", lineup.Usable},
		{"an amplifier without a recorded pilot", "116,qam256", "116 digital",
			amp(lineup.Amplifier{ID: "A-01", Mode: lineup.HandSet}), "", "", lineup.Usable},
		{"narrowcast", "116,qam256,,,,36,,,narrowcast", "116 digital", nil, "narrowcast/caution",
			"may be absent at this node", lineup.WithCare},
		{"no offset in an aeronautical band", "41,analog,,,325.25", "41 analog", nil,
			"aeronautical-offset/caution off-plan/caution",
			"its carrier is on 325.25 MHz; the rule requires it 12.5 kHz away", lineup.WithCare},
		{"a digital carrier needs none", "41,qam256,,,327", "41 digital", nil, "", "", lineup.Usable},
		{"a distress frequency", "29,analog\n,cw,,,243", "243MHz cw", amp(lineup.Amplifier{Role: lineup.LowPilot}),
			"distress-guard/blocker aeronautical-offset/caution off-plan/note",
			"", lineup.Unusable},
		{"a distress frequency, weak at the reference point", ",cw,,,406,28", "54 cw", nil,
			"distress-guard/blocker off-plan/note", "call the headend now", lineup.Unusable},
		{"analog 5 kHz off the plan", "100,analog,,,649.255", "100 analog", nil, "", "", lineup.Usable},
		{"analog more than 5 kHz off the plan", "100,analog,,,649.256", "100 analog", nil, "off-plan/caution",
			"the lineup lists it at 649.256 MHz, 6 kHz off the plan's 649.25 MHz", lineup.WithCare},
		{"QAM 50 kHz off the plan", "116,qam256,,,747.05", "116 digital", nil, "", "", lineup.Usable},
		{"QAM a little more", "116,qam256,,,747.051", "116 digital", nil, "off-plan/caution",
			"51 kHz off the plan's 747 MHz", lineup.WithCare},
		{"QAM 500 kHz off is still the channel's", ",qam256,,,747.5", "116 digital", nil, "off-plan/caution",
			"500 kHz off", lineup.WithCare},
		{"QAM further off is not", ",qam256,,,747.501", "116 digital", nil, "not-in-lineup/blocker",
			"overlaps it", lineup.Unusable},
		{"QAM 100 kHz off the plan, given by frequency alone", ",qam256,,,747.1", "116 digital", nil,
			"off-plan/caution", "100 kHz off", lineup.WithCare},
		{"a strong neighbor", "116,qam256,,,,34\n117,qam256,,,,44.1", "116 digital", nil, "neighbor-strong/caution",
			"channel 117, next to it, is 10.1 dB higher", lineup.WithCare},
		{"a strong neighbor off plan", "115,qam256,,,740.5,48\n116,qam256,,,,34", "116 digital", nil,
			"neighbor-strong/caution", "", lineup.WithCare},
		{"its level is not known where others' are",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256", "116 digital", nil, "level-odd/note",
			"the lineup does not list its level, so it can't be compared with its neighbors'", lineup.Usable},
		{"a neighbor 10 dB stronger", "116,qam256,,,,34\n115,qam256,,,,44", "116 digital", nil, "", "", lineup.Usable},
		{"a strong block beside it", "116,qam256,,,,30\n,ofdm,750,850,,41", "116 digital", nil,
			"neighbor-strong/caution", "the OFDM block 750 to 850 MHz", lineup.WithCare},
		{"a strong cw carrier in the next channel", "115,cw,,,,60\n116,qam256,,,,34", "116 digital", nil,
			"neighbor-strong/caution", "the cw carrier at 739.25 MHz, next to it", lineup.WithCare},
		{"a weak cw pilot between strong carriers", "115,qam256,,,,34\n116,cw,,,,20\n117,qam256,,,,34", "116 cw", nil,
			"neighbor-strong/caution", "channel 115, next to it", lineup.WithCare},
		{"a strong carrier that is no neighbor", "116,qam256,,,,34\n118,qam256,,,,50", "116 digital", nil, "",
			"", lineup.Usable},
		{"a test carrier beside it", "116,qam256\n,cw,,,744,30,,,,Leakage test", "116 digital", nil,
			"test-carrier/caution", "Leakage test, 744 MHz", lineup.WithCare},
		{"a test carrier above it", "116,qam256\n,cw,,,756,30,,,,Tag", "116 digital", nil, "test-carrier/caution",
			"Tag, 756 MHz", lineup.WithCare},
		{"one further above", "116,qam256\n,cw,,,756.1,30,,,,Tag", "116 digital", nil, "", "", lineup.Usable},
		{"a test carrier further off", "116,qam256\n,cw,,,737.9,30,,,,Sweep", "116 digital", nil, "", "", lineup.Usable},
		{"a test carrier as pilot", ",cw,,,745.25,30,,,,Sweep", "116 cw", nil, "test-carrier/caution",
			"it is a test carrier", lineup.WithCare},
		{"a contest is no test", ",cw,,,745.25,30,,,,Contest channel", "116 cw", nil, "", "", lineup.Usable},
		{"low in the band", "17,analog", "17 analog", nil, "low-placement/caution",
			"its level moves only 37% as much as at 1002 MHz", lineup.WithCare},
		{"low in the band, as the low pilot", "17,analog", "17 analog",
			amp(lineup.Amplifier{Pilot: channelplan.Pilot{Channel: 17, Kind: channelplan.Analog},
				Role: lineup.LowPilot}), "",
			"", lineup.Usable},
		{"not low for a narrower amplifier", "17,analog", "17 analog",
			amp(lineup.Amplifier{Pilot: channelplan.Pilot{Channel: 17, Kind: channelplan.Analog},
				Passband: lineup.Band{54e6, 550e6}}), "", "", lineup.Usable},
		{"next to the upper end", "157,qam256", "157 digital", nil, "band-edge/caution",
			"next to the upper end of the forward passband, 1002 MHz", lineup.WithCare},
		{"next to it", "158,qam256", "158 digital", nil, "band-edge/caution", "upper end", lineup.WithCare},
		{"three channels from the upper end", "156,qam256", "156 digital", nil, "", "", lineup.Usable},
		{"next to the lower end", "3,analog", "3 analog",
			amp(lineup.Amplifier{Pilot: channelplan.Pilot{Channel: 3, Kind: channelplan.Analog},
				Role: lineup.LowPilot}),
			"band-edge/caution", "lower end", lineup.WithCare},
		{"too few on one side make no line",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256,,,,30.9", "116 digital", nil, "",
			"", lineup.Usable},
		{"beside one that is far too high",
			"112,qam256,,,,34\n113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,43\n116,qam256,,,,34\n111,qam256,,,,34",
			"116 digital", nil, "", "", lineup.Usable},
		{"level 3.1 dB low among its kind",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256,,,,30.9\n117,qam256,,,,34",
			"116 digital", nil,
			"level-odd/caution", "its level of 30.9 dBmV is 3.1 dB below the line through its neighbors", lineup.WithCare},
		{"level 2 dB high",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256,,,,36\n117,qam256,,,,34", "116 digital",
			nil, "level-odd/note", "2.0 dB above", lineup.Usable},
		{"level 3 dB high is a note",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256,,,,37\n117,qam256,,,,34", "116 digital",
			nil, "level-odd/note", "3.0 dB above", lineup.Usable},
		{"level 1.5 dB low is one",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256,,,,32.5\n117,qam256,,,,34",
			"116 digital", nil, "level-odd/note", "1.5 dB below", lineup.Usable},
		{"level 1.4 dB low is nothing",
			"113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,34\n116,qam256,,,,32.6\n117,qam256,,,,34",
			"116 digital", nil, "", "", lineup.Usable},
		{"64-QAM stands 10 dB below analog",
			"113,analog,,,,40\n114,analog,,,,40\n115,analog,,,,40\n116,qam64,,,,30\n117,analog,,,,40", "116 digital",
			nil, "", "", lineup.Usable},
		{"neighbors 70 MHz away are no neighbors",
			"100,qam256,,,,44\n101,qam256,,,,44\n102,qam256,,,,44\n116,qam256,,,,34\n130,qam256,,,,44", "116 digital",
			nil, "", "", lineup.Usable},
		{"level on the tilt",
			"113,qam256,,,,33.4\n114,qam256,,,,33.6\n115,qam256,,,,33.8\n116,qam256,,,,34\n117,qam256,,,,34.2",
			"116 digital", nil, "", "", lineup.Usable},
		{"one odd neighbor bends no line",
			"112,qam256,,,,34\n113,qam256,,,,34\n114,qam256,,,,34\n115,qam256,,,,28\n116,qam256,,,,34\n117,qam256,,,,34\n118,qam256,,,,34",
			"116 digital", nil, "", "", lineup.Usable},
		{"across kinds, 6 and 10 dB are added back",
			"113,analog,,,,40\n114,qam64,,,,30\n115,analog,,,,40\n116,qam256,,,,34\n117,analog,,,,40", "116 digital",
			nil, "", "", lineup.Usable},
		{"across kinds, QAM64 2 dB low",
			"112,analog,,,,40\n113,analog,,,,40\n114,analog,,,,40\n116,qam64,,,,28\n118,analog,,,,40", "116 digital",
			nil, "level-odd/note", "2.0 dB below what its neighbors of other kinds suggest", lineup.Usable},
		{"across kinds, off",
			"113,analog,,,,40\n114,qam64,,,,30\n115,analog,,,,40\n116,qam256,,,,38\n117,analog,,,,40", "116 digital",
			nil, "level-odd/caution", "4.0 dB above what its neighbors of other kinds suggest", lineup.WithCare},
		{"in an off-air band", "90,qam256", "90 digital", nil, "", "", lineup.Usable},
		{"12.5 kHz shared with an off-air band are no matter", "77,qam256,,,545\n61,qam256", "61 digital", nil, "",
			"", lineup.Usable},
		{"an off-air band", "70,qam256", "70 digital", nil, "off-air-ingress/note",
			"it is in an off-air band, 470 to 608 MHz:", lineup.Usable},
	}
}

// Every rule, each with a lineup in which it alone has a finding, and a sentence whose
// figures are checked.
func TestRules(t *testing.T) {
	for _, c := range ruleCases() {
		t.Run(c.name, func(t *testing.T) {
			l := readText(t, settled+c.lineup+"\n")
			r := l.Check(pilot(t, c.pilot), lineup.Context{Amplifier: c.amp, Today: today})
			assert.Equal(t, c.want, names(r))
			assert.Equal(t, c.verdict, r.Verdict)
			if c.says != "" {
				var texts []string
				for _, f := range r.Findings {
					texts = append(texts, f.Text)
				}
				assert.Contains(t, strings.Join(texts, "\n"), c.says)
			}
		})
	}
}

func TestCheckRecordAsksOnlyWhatIsKnown(t *testing.T) {
	p116 := channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}
	for _, c := range []struct {
		name, pilot, want string
		amp               *lineup.Amplifier
	}{
		{"no record at all", "116 digital", "", nil},
		{"a channel the plan has not", "1 analog", "not-in-plan/blocker", nil},
		{"the recorded pilot", "116 digital", "", &lineup.Amplifier{ID: "A-01", Pilot: p116}},
		{"another one", "73 analog", "not-assigned/caution", &lineup.Amplifier{ID: "A-01", Pilot: p116}},
		{"out of its passband", "116 digital", "outside-forward/blocker",
			&lineup.Amplifier{ID: "A-01", Pilot: p116, Passband: lineup.Band{54e6, 550e6}}},
		{"next to its end, and low", "2 analog", "low-placement/caution band-edge/caution",
			&lineup.Amplifier{ID: "A-01", Pilot: channelplan.Pilot{Channel: 2, Kind: channelplan.Analog},
				Passband: lineup.Band{54e6, 550e6}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			assert.Equal(t, c.want, names(lineup.CheckRecord(pilot(t, c.pilot), channelplan.STD,
				lineup.Context{Amplifier: c.amp, Today: today})))
		})
	}
}

func TestStaleLineup(t *testing.T) {
	for _, c := range []struct{ name, effective, want string }{
		{"says nothing", "", "stale-lineup/note"},
		{"of today", "# effective: 2026-11-25\n", ""},
		{"a year old", "# effective: 2025-11-25\n", ""},
		{"a year and a day old", "# effective: 2025-11-24\n", "stale-lineup/caution"},
		{"a year old, a leap day in it", "# effective: 2025-11-25\n", ""},
		{"to come", "# effective: 2026-11-26\n", "stale-lineup/caution"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := readText(t, c.effective+header+"116,qam256\n")
			assert.Equal(t, c.want, names(l.Check(pilot(t, "116 digital"), lineup.Context{Today: today})))
		})
	}
}

func TestFindingsComeGravestFirst(t *testing.T) {
	l := readText(t, header+"10,analog,,,,36,part-time,sync-suppressed,narrowcast\n")
	r := l.Check(pilot(t, "10 digital"), lineup.Context{Today: today})
	last := lineup.Blocker
	for _, f := range r.Findings {
		assert.LessOrEqual(t, f.Severity, last)
		last = f.Severity
	}
	assert.Equal(t, lineup.Unusable, r.Verdict)
	assert.True(t, r.Has(lineup.PartTime))
	assert.False(t, r.Has(lineup.Overlapped))
}

func TestCheckOfACWCarrierByFrequency(t *testing.T) {
	l := readText(t, settled+",cw,,,439.25,40\n")
	r := l.Check(pilot(t, "439.254MHz cw"), lineup.Context{Today: today})
	assert.True(t, r.Listed)
	assert.Equal(t, int64(439_250_000), r.Located.FrequencyHz, "where the lineup has it")
	two := readText(t, settled+",cw,,,439.25,40,part-time\n,cw,,,439.255,40\n")
	assert.True(t, two.Check(pilot(t, "439.252MHz cw"), lineup.Context{Today: today}).Has(lineup.PartTime),
		"the nearest of two is judged")
	assert.False(t, two.Check(pilot(t, "439.254MHz cw"), lineup.Context{Today: today}).Has(lineup.PartTime))
	r = l.Check(pilot(t, "440MHz cw"), lineup.Context{Today: today})
	assert.Equal(t, "not-in-lineup/blocker", names(r))
	assert.Equal(t, "cw at 440 MHz", r.Pilot.String())
}

func TestCells(t *testing.T) {
	l := readText(t, "# forward: 54-130\n# off-air: 470-608\n"+strings.SplitAfterN(header, "\n", 3)[2]+
		"2,analog\n3,analog,,,,,part-time\n5,qam256\n6,qam64\n,cw,,,73\n,cw,,,60\n,ofdm,96,120\n")
	var drawn strings.Builder
	for _, c := range l.Cells() {
		glyph := map[channelplan.Kind]string{channelplan.NoCarrier: ".", channelplan.Analog: "A",
			channelplan.QAM256: "D", channelplan.QAM64: "d", channelplan.OFDM: "=", channelplan.CW: "C"}[c.Kind]
		if c.Unfit {
			glyph = "x"
		}
		if c.CW {
			glyph += "c"
		}
		drawn.WriteString(glyph)
	}
	// 54 A, 60 x with a cw at its edge, 66 none, 72 cw, 78 and 84 the larger parts of
	// channels 5 and 6, 90 none, 96 to 120 the block, 120 and 126.
	assert.Equal(t, "Axc.CDd.====..", drawn.String())
}

func BenchmarkCheck(b *testing.B) {
	var text strings.Builder
	text.WriteString(header)
	for n := 2; n <= 126; n++ {
		text.WriteString(strings.Replace("N,qam256,,,,34\n", "N",
			string(rune('0'+n/100))+string(rune('0'+n/10%10))+string(rune('0'+n%10)), 1))
	}
	l, err := lineup.Read(strings.NewReader(text.String()), "x.csv")
	require.NoError(b, err)
	b.ReportAllocs()
	for b.Loop() {
		l.Check(channelplan.Pilot{Channel: 116, Kind: channelplan.Digital}, lineup.Context{Today: today})
	}
}

// The points that each rule takes in the ranking, by hand: a caution takes the points
// listed here, a note a quarter of them. For every rule that takes points, one case shows
// it in a ranking.
func TestPointsOfRules(t *testing.T) {
	points := map[lineup.Rule]float64{
		lineup.Narrowcast: 25, lineup.AeronauticalOffset: 5, lineup.OffPlan: 5, lineup.NeighborStrong: 15,
		lineup.TestCarrier: 30, lineup.BandEdge: 15, lineup.LevelOdd: 8, lineup.OffAirIngress: 24,
	}
	shown := map[lineup.Rule]bool{}
	for _, c := range ruleCases() {
		l := readText(t, settled+c.lineup+"\n")
		for _, ranked := range lineup.Rank(l, nil, lineup.Context{Amplifier: c.amp, Today: today}) {
			taken := map[lineup.Rule]float64{}
			for _, d := range ranked.Deductions {
				if rule, _, ok := strings.Cut(d.Why, ": "); ok {
					taken[lineup.Rule(rule)] = d.Points
				}
			}
			for _, f := range ranked.Findings {
				want := points[f.Rule]
				if f.Severity == lineup.Note {
					want /= 4
				}
				assert.InDelta(t, want, taken[f.Rule], 1e-9, "%s: %v", c.name, f.Rule)
				shown[f.Rule] = shown[f.Rule] || want > 0
			}
		}
	}
	for rule := range points {
		assert.True(t, shown[rule], "no case shows what %v takes", rule)
	}
}
