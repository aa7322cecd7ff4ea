package channelplan_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"tallywink.example/channelplan"
)

func TestChannelCounts(t *testing.T) {
	for _, c := range []struct {
		plan  channelplan.Plan
		count int
	}{{channelplan.STD, 198}, {channelplan.IRC, 199}, {channelplan.HRC, 199}} {
		n, extended := 0, 0
		for ch := range c.plan.Channels {
			n++
			if ch.Extension() {
				extended++
			}
		}
		assert.Equal(t, c.count, n, c.plan.Name())
		assert.Equal(t, 41, extended, "159 to 199 are the extension")
	}
	for _, number := range []int{-1, 0, 1, 200, 1 << 40} {
		_, ok := channelplan.STD.Channel(number)
		assert.Falsef(t, ok, "STD has no channel %d", number)
	}
	_, ok := channelplan.Plan(9).Channel(2)
	assert.False(t, ok, "no plan, no channel")
}

func TestCarriersOfAChannel(t *testing.T) {
	c, ok := channelplan.STD.Channel(116)
	require.True(t, ok)
	assert.Equal(t, int64(745_250_000), c.VisualHz())
	assert.Equal(t, int64(749_750_000), c.AuralHz())
	assert.Equal(t, int64(748_829_545), c.ChromaHz())
	assert.Equal(t, int64(747_000_000), c.CenterHz())
	assert.Equal(t, int64(744_000_000), c.LowHz())
	assert.Equal(t, int64(750_000_000), c.HighHz())
	assert.False(t, c.Extension())
	assert.Equal(t, "channel 116 (STD)", c.String())

	c, ok = channelplan.STD.Channel(159)
	require.True(t, ok)
	assert.Equal(t, int64(1_003_250_000), c.VisualHz())
	assert.True(t, c.Extension())
}

func TestEveryChannelIsFoundByItsFrequencies(t *testing.T) {
	for _, plan := range channelplan.Plans() {
		for c := range plan.Channels {
			for _, hz := range []int64{c.VisualHz(), c.CenterHz(), c.ChromaHz(), c.AuralHz(), c.HighHz() - 25_000} {
				got, ok := plan.Holding(hz)
				require.Truef(t, ok, "%v at %d Hz", c, hz)
				assert.Equalf(t, c, got, "%d Hz", hz)
				assert.Equal(t, c, plan.Nearest(hz))
			}
		}
	}
}

// The search is compared with the simplest possible one: look at every channel.
func TestSearchAgainstExhaustiveSearch(t *testing.T) {
	for _, plan := range channelplan.Plans() {
		for hz := int64(0); hz < 1_300_000_000; hz += 37_700 {
			var holding, nearest channelplan.Channel
			for c := range plan.Channels {
				if c.Holds(hz) && (holding == channelplan.Channel{} || c.VisualHz() < holding.VisualHz()) {
					holding = c
				}
				d := c.DistanceHz(hz)
				if (nearest == channelplan.Channel{}) || d < nearest.DistanceHz(hz) ||
					d == nearest.DistanceHz(hz) && c.VisualHz() < nearest.VisualHz() {
					nearest = c
				}
			}
			if holding != (channelplan.Channel{}) {
				nearest = holding
			}
			got, ok := plan.Holding(hz)
			require.Equalf(t, holding, got, "%s: which channel holds %d Hz", plan.Name(), hz)
			require.Equal(t, holding != channelplan.Channel{}, ok)
			require.Equalf(t, nearest, plan.Nearest(hz), "%s: which channel is nearest to %d Hz", plan.Name(), hz)
		}
	}
}

func TestFindSaysWhy(t *testing.T) {
	for _, c := range []struct {
		name    string
		hz      int64
		channel int
		place   channelplan.Place
	}{
		{"747 MHz is the center of 116", 747_000_000, 116, channelplan.InChannel},
		{"a channel's lower edge is in it", 744_000_000, 116, channelplan.InChannel},
		{"its upper edge is the next one's", 750_000_000, 117, channelplan.InChannel},
		{"halfway between channels 4 and 5 the lower is named", 74_000_000, 4, channelplan.BetweenChannels},
		{"between channels 6 and 95", 89_500_000, 95, channelplan.BetweenChannels},
		{"the plan's lowest edge is in it", 54_000_000, 2, channelplan.InChannel},
		{"just below", 53_999_999, 2, channelplan.BelowPlan},
		{"just above the extension", 1_248_000_000, 199, channelplan.AbovePlan},
		{"in the return band", 30_000_000, 2, channelplan.BelowPlan},
		{"above the extension", 1_600_000_000, 199, channelplan.AbovePlan},
		{"the last hertz of the extension", 1_247_999_999, 199, channelplan.InChannel},
	} {
		t.Run(c.name, func(t *testing.T) {
			got, place := channelplan.STD.Find(c.hz)
			assert.Equal(t, c.channel, got.Number())
			assert.Equal(t, c.place, place)
			assert.Equal(t, place == channelplan.InChannel, place.Why() == "")
		})
	}
}

// Neighbors overlap by no more than the difference of their offsets.
func TestChannelsDoNotOverlap(t *testing.T) {
	for _, plan := range channelplan.Plans() {
		var all []channelplan.Channel
		for c := range plan.Channels {
			all = append(all, c)
		}
		for i, a := range all {
			for _, b := range all[:i] {
				shared := min(a.HighHz(), b.HighHz()) - max(a.LowHz(), b.LowHz())
				assert.LessOrEqualf(t, shared, int64(25_000), "%v and %v", a, b)
			}
		}
	}
}

func TestParsePlan(t *testing.T) {
	for _, p := range channelplan.Plans() {
		got, err := channelplan.ParsePlan(" " + p.Name() + " ")
		require.NoError(t, err)
		assert.Equal(t, p, got)
	}
	_, err := channelplan.ParsePlan("icr")
	require.ErrorIs(t, err, channelplan.ErrUnknownPlan)
	assert.Equal(t, "plan(7)", channelplan.Plan(7).String())
}

func TestMHz(t *testing.T) {
	for text, hz := range map[string]int64{
		"745.25": 745_250_000, "54": 54_000_000, "54.0027": 54_002_700, ".5": 500_000, "747.": 747_000_000,
		"0055.2500000000": 55_250_000, "3000": 3_000_000_000,
	} {
		got, err := channelplan.ParseMHz(text)
		require.NoError(t, err, text)
		assert.Equal(t, hz, got, text)
		again, err := channelplan.ParseMHz(channelplan.FormatMHz(got))
		require.NoError(t, err)
		assert.Equal(t, got, again, "what is written reads back")
	}
	for text, says := range map[string]string{
		"0": "nothing is carried there", "3000.000001": "above 3 GHz", "": "like 745.25", ".": "like 745.25",
		"-5": "like 745.25", "7e2": "like 745.25", "747,5": "like 745.25",
		"747 MHz": "like 745.25", "1.0000001": "finer than a hertz", "747000000": "in Hz, write 747",
		"747000": "in kHz, write 747", "3001": "above 3 GHz", "4000": "above 3 GHz",
		"99999999999999999999": "out of range",
		"٣":                    "like 745.25",
	} {
		_, err := channelplan.ParseMHz(text)
		require.ErrorIs(t, err, channelplan.ErrFrequency, text)
		assert.Contains(t, err.Error(), says, text)
	}
	assert.Equal(t, "-0.0125", channelplan.FormatMHz(-12_500))
}

func TestLookUpsDoNotAllocate(t *testing.T) {
	allocs := testing.AllocsPerRun(100, func() {
		c, _ := channelplan.HRC.Channel(98)
		channelplan.HRC.Holding(c.CenterHz())
		channelplan.HRC.Nearest(c.HighHz())
		channelplan.Aeronautical(c.VisualHz())
	})
	assert.Zero(t, allocs)
}

// BenchmarkLookUp has its baseline in the same run: the nanoseconds to read one element
// of a table with a fixed place for every channel.
func BenchmarkLookUp(b *testing.B) {
	b.Run("channel", func(b *testing.B) {
		b.ReportAllocs()
		n := 0
		for b.Loop() {
			n = n%channelplan.LastExtended + 1
			channelplan.STD.Channel(n)
		}
	})
	b.Run("holding", func(b *testing.B) {
		b.ReportAllocs()
		hz := int64(0)
		for b.Loop() {
			hz = (hz + 6_100_000) % 1_200_000_000
			channelplan.STD.Holding(hz)
		}
	})
	b.Run("baseline-array", func(b *testing.B) {
		b.ReportAllocs()
		var flat [channelplan.LastExtended + 1]int64
		for c := range channelplan.STD.Channels {
			flat[c.Number()] = c.VisualHz()
		}
		n, sum := 1, int64(0) // the first read is channel 2: STD has no channel 1
		for b.Loop() {
			n = n%channelplan.LastExtended + 1
			sum += flat[n]
		}
		if sum == 0 {
			b.Fatal("the baseline read nothing")
		}
	})
}
