package channelplan_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
)

// readTable reads a table of ../testdata/channelplan without its header.
func readTable(t *testing.T, name string) [][]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "testdata", "channelplan", name))
	require.NoError(t, err)
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	require.NoError(t, err)
	require.NotEmpty(t, rows)
	return rows[1:]
}

func number(t *testing.T, text string) int64 {
	t.Helper()
	n, err := strconv.ParseInt(text, 10, 64)
	require.NoError(t, err)
	return n
}

// erratum is a figure in a published table that differs from the plan, with the
// difference (theirs less ours) and the reason.
type erratum struct {
	first, last int
	byHz        int64
	why         string
}

// checkErrata compares a published center with the plan's, erratum by erratum; an erratum
// that no longer differs fails.
func checkErrata(t *testing.T, c channelplan.Channel, publishedHz int64, errata []erratum) {
	t.Helper()
	for _, e := range errata {
		if c.Number() >= e.first && c.Number() <= e.last {
			assert.Equalf(t, e.byHz, publishedHz-c.CenterHz(),
				"%v: the erratum '%s' no longer holds: take it off the list", c, e.why)
			return
		}
	}
	assert.Equalf(t, publishedHz, c.CenterHz(), "%v: center differs from the published table", c)
}

// Source: dtv-scan-tables (LinuxTV; Debian package dtv-scan-tables), the five
// us-Cable lists.
func TestCentersAgainstDTVScanTables(t *testing.T) {
	const (
		moves = "the older lists carry no aeronautical offsets"
		two   = "channels 5 and 6 stand 2 MHz low in the related-carrier lists"
		comb  = "the comb's exemption does not reach 108-118 and 328.6-335.4 MHz: the list leaves the carrier unmoved"
	)
	lists := map[string]struct {
		plan   channelplan.Plan
		first  int
		length int
		errata []erratum
	}{
		"us-Cable-Standard-center-frequencies-QAM256": {channelplan.STD, 2, 157, nil},
		"us-Cable-IRC-center-frequencies-QAM256": {channelplan.IRC, 1, 125, []erratum{
			{5, 6, -2_012_500, two}, {42, 42, -25_000, moves}, {98, 99, -25_000, moves},
			{1, 125, -12_500, moves},
		}},
		"us-Cable-HRC-center-frequencies-QAM256": {channelplan.HRC, 1, 125, []erratum{
			{5, 6, -2_000_000, two}, {42, 42, -8_500, comb}, {98, 98, -19_600, comb}, {99, 99, -19_300, comb},
		}},
		"us-Cable-EIA-542-IRC-center_frequencies-QAM256": {channelplan.IRC, 1, 125, []erratum{
			{2, 2, 12_500, "channel 2 stands 12.5 kHz high"},
			{5, 6, -2_000_000, two},
			{98, 99, -12_500, "98 and 99 stand 12.5 kHz low"},
		}},
		"us-Cable-EIA-542-HRC-center-frequencies-QAM256": {channelplan.HRC, 1, 125, []erratum{
			{5, 6, -2_000_000, two}, {42, 42, -8_500, comb},
		}},
	}
	seen := map[string]int{}
	for _, row := range readTable(t, "dtv-scan-tables.csv") {
		list, ok := lists[row[0]]
		require.Truef(t, ok, "list %s is not one of the five", row[0])
		seen[row[0]]++
		n := list.first + int(number(t, row[1])) - 1
		c, ok := list.plan.Channel(n)
		require.Truef(t, ok, "%s: no channel %d", row[0], n)
		checkErrata(t, c, number(t, row[2]), list.errata)
	}
	for name, list := range lists {
		assert.Equal(t, list.length, seen[name], "every line of %s is compared", name)
	}
}

// Source: libhdhomerun (LGPL; Debian source package libhdhomerun), the
// channel map's center frequencies as ranges.
func TestCentersAgainstLibhdhomerun(t *testing.T) {
	const (
		moves = "the map leaves QAM centers where an NTSC visual carrier would be offset"
		comb  = "the map leaves 42, 98 and 99 on the comb"
	)
	errata := map[channelplan.Plan][]erratum{
		channelplan.STD: {
			{14, 16, -12_500, moves}, {25, 41, -12_500, moves}, {42, 42, -25_000, moves},
			{43, 53, -12_500, moves}, {98, 99, -25_000, moves},
		},
		channelplan.HRC: {{42, 42, -8_500, comb}, {98, 98, -19_600, comb}, {99, 99, -19_300, comb}},
	}
	compared := map[channelplan.Plan]int{}
	for _, row := range readTable(t, "libhdhomerun.csv") {
		plan, err := channelplan.ParsePlan(row[0])
		require.NoError(t, err)
		first, last := number(t, row[1]), number(t, row[2])
		for n := first; n <= last; n++ {
			c, ok := plan.Channel(int(n))
			require.Truef(t, ok, "%v has no channel %d", plan, n)
			checkErrata(t, c, number(t, row[3])+(n-first)*number(t, row[4]), errata[plan])
			compared[plan]++
		}
	}
	assert.Equal(t, map[channelplan.Plan]int{channelplan.STD: 157, channelplan.IRC: 158, channelplan.HRC: 158},
		compared, "every listed channel is compared")
}

// Source: Hranac, Untangling Some of the Confusion, Communications Technology,
// March 2012: visual carriers of channel 2 in the three plans.
func TestChannelTwoAgainstHranac(t *testing.T) {
	for plan, visualHz := range map[channelplan.Plan]int64{channelplan.STD: 55_250_000, channelplan.IRC: 55_262_500,
		channelplan.HRC: 54_002_700} {
		c, ok := plan.Channel(2)
		require.True(t, ok)
		assert.Equal(t, visualHz, c.VisualHz(), plan.Name())
	}
}

// Source: 47 CFR 76.612. Every visual carrier passes, and the offset of each beyond its
// plan's regular comb is exactly the one that the rule requires: without it, the carrier
// no longer passes.
func TestOffsetsFollowFromTheRule(t *testing.T) {
	// The regular combs, before any offset for the aeronautical bands. IRC's 12.5 kHz is
	// part of its comb: it was chosen because of the rule, but applies everywhere.
	regular := func(c channelplan.Channel) int64 {
		n := c.VisualHz()
		switch c.Plan() {
		case channelplan.HRC:
			return (n + channelplan.CombHz/2) / channelplan.CombHz * channelplan.CombHz
		case channelplan.IRC:
			return (n-1_262_500)/6_000_000*6_000_000 + 1_262_500
		}
		if c.Number() == 5 || c.Number() == 6 {
			return n // 77.25 and 83.25 are off the 6 MHz grid by design
		}
		return (n-1_250_000)/6_000_000*6_000_000 + 1_250_000
	}
	offset := map[channelplan.Plan]int{}
	for _, plan := range channelplan.Plans() {
		for c := range plan.Channels {
			v := channelplan.Aeronautical(c.VisualHz())
			assert.Truef(t, v.Passes, "%v at %d Hz: stands %d Hz off %d", c, c.VisualHz(), v.AwayHz, v.NearestHz)

			base := regular(c)
			if plan == channelplan.IRC && (c.Number() == 5 || c.Number() == 6) {
				base = c.VisualHz() // 79.2625 and 85.2625: on the comb, like all of IRC
				assert.Zero(t, (base-1_262_500)%6_000_000)
			}
			if base == c.VisualHz() {
				continue
			}
			offset[plan]++
			assert.Falsef(t, channelplan.Aeronautical(base).Passes,
				"%v: %d Hz without its offset passes as well: the offset has no reason", c, base)

			// Derived: the smallest step up that gives exactly the required offset.
			b := channelplan.Aeronautical(base).Band
			derived := base
			off := func(hz int64) int64 {
				nearest := channelplan.Aeronautical(hz).NearestHz
				return max(hz-nearest, nearest-hz)
			}
			for derived < base+50_000 && off(derived) != b.OffsetHz {
				derived += 100
			}
			assert.Equalf(t, derived, c.VisualHz(), "%v: the offset is not the one that follows from the rule", c)
		}
	}
	assert.Equal(t, map[channelplan.Plan]int{channelplan.STD: 34, channelplan.IRC: 3, channelplan.HRC: 3}, offset,
		"STD 14-16, 25-53, 98, 99; IRC and HRC 42, 98, 99")

	// And IRC's own 12.5 kHz: without it, no carrier passes in the bands that protect
	// multiples of 25 kHz.
	for c := range channelplan.IRC.Channels {
		if v := channelplan.Aeronautical(c.VisualHz()); v.Applies && v.Band.OffsetHz == 12_500 {
			assert.Falsef(t, channelplan.Aeronautical(c.VisualHz()-12_500).Passes, "%v", c)
		}
	}
}

// Source: 47 CFR 76.612: the comb of 6.0003 MHz is exempt in three of the
// five bands, and only within 1 Hz of its fundamental.
func TestCombExemption(t *testing.T) {
	c, _ := channelplan.HRC.Channel(14)
	v := channelplan.Aeronautical(c.VisualHz())
	assert.True(t, v.Passes)
	assert.True(t, v.Exempt, "it passes by the exemption")
	assert.True(t, channelplan.Aeronautical(20*(channelplan.CombHz+1)).Passes, "1 Hz off at the fundamental is 20 Hz at the 20th harmonic")
	assert.False(t, channelplan.Aeronautical(20*channelplan.CombHz+21).Passes, "21 Hz off is no longer the comb")
	assert.False(t, channelplan.Aeronautical(55*channelplan.CombHz).Passes, "no exemption in the glide path band")
	assert.False(t, channelplan.Aeronautical(18*channelplan.CombHz).Passes, "no exemption in the localizer band")
}

func TestAeronauticalTolerance(t *testing.T) {
	for _, c := range []struct {
		name   string
		hz     int64
		passes bool
	}{
		{"12.5 kHz off, exactly", 121_262_500, true},
		{"7.5 kHz off is the least", 121_257_500, true},
		{"a hertz less is too little", 121_257_499, false},
		{"on a protected frequency", 121_250_000, false},
		{"25 kHz off a navigation frequency", 109_275_000, true},
		{"20 kHz off is the least there", 109_270_000, true},
		{"a hertz less is too little there", 109_269_999, false},
		{"25 kHz off a glide path", 331_275_000, true},
		{"30 kHz off a glide path is the most", 331_280_000, true},
		{"75 kHz off: the rule asks an offset of 25, to the letter", 331_325_000, false},
		{"outside all bands", 745_250_000, true},
		{"the bands' ends: 118 MHz asks 12.5 kHz", 118_012_500, true},
		{"118 MHz itself", 118_000_000, false},
		{"just below 118 MHz it is 25", 117_987_500, false},
		{"137 MHz is out", 137_000_000, true},
		{"just below it is in", 136_975_000, false},
		{"225 MHz is in", 225_000_000, false},
		{"just below it is out", 224_975_000, true},
		{"400 MHz is out", 400_000_000, true},
		{"just below it is in", 399_975_000, false},
		{"below the lowest glide path there is none to be 25 kHz off", 328_875_000, false},
		{"25 kHz below the lowest", 329_125_000, true},
		{"25 kHz above the highest", 335_025_000, true},
		{"where the next would be if there were one", 335_125_000, false},
	} {
		t.Run(c.name, func(t *testing.T) { assert.Equal(t, c.passes, channelplan.Aeronautical(c.hz).Passes) })
	}
}

func TestDistressGuard(t *testing.T) {
	for hz, in := range map[int64]bool{
		121_500_000: true, 121_400_000: true, 121_399_999: false, 121_262_500: false,
		121_600_000: true, 121_600_001: false, 156_750_000: true, 156_749_999: false, 242_950_000: true,
		242_949_999: false,
		243_050_000: true, 243_050_001: false, 405_925_000: true, 405_924_999: false, 406_176_000: true,
		156_800_000: true, 156_850_001: false, 243_000_000: true, 406_100_000: true, 406_176_001: false,
	} {
		_, got := channelplan.DistressGuard(hz)
		assert.Equal(t, in, got, channelplan.FormatMHz(hz))
	}
	for _, plan := range channelplan.Plans() {
		for c := range plan.Channels {
			g, in := channelplan.DistressGuard(c.VisualHz())
			assert.Falsef(t, in, "%v stands in the guard band of %s: the plan keeps clear of them", c, g.Name)
		}
	}
}
