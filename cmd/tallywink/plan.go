package main

import (
	"strconv"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
)

var planCommand = command{
	name:    "plan",
	summary: "channels and their frequencies, by number or by frequency",
	help: `  tallywink plan 116                  one channel
  tallywink plan 95-99 116 --plan hrc several, in another plan
  tallywink plan --near 747           which channel holds 747 MHz
  tallywink plan                      all of them

Channels beyond 158 continue ANSI/CTA-542 by its rule and are marked.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		var (
			name, near string
			asJSON     bool
		)
		flags.StringVar(&near, "near", "", "find the channel that holds, or is nearest to, this frequency in `MHZ`")
		flags.StringVar(&name, "plan", "std", "channel `PLAN`: std, irc or hrc")
		flags.BoolVar(&asJSON, "json", false, "answer as a JSON list")
		return func(out *console.Console, args []string) (int, error) {
			plan, err := channelplan.ParsePlan(name)
			if err != nil {
				return 0, err
			}
			if near != "" {
				if len(args) > 0 {
					return 0, misuse("give one or the other", "you gave both channels and --near")
				}
				return planNear(out, plan, near, asJSON)
			}
			if len(args) == 1 && isFrequency(args[0]) {
				if _, err := strconv.Atoi(args[0]); err == nil {
					out.Remark("tallywink plan: there is no channel %s: taken as %s MHz", args[0], args[0])
				}
				return planNear(out, plan, args[0], asJSON)
			}
			channels, err := channelArgs(plan, args)
			if err != nil {
				return 0, err
			}
			if asJSON {
				docs := []report.ChannelDoc{}
				for _, c := range channels {
					docs = append(docs, report.NewChannelDoc(c))
				}
				return exitWell, out.JSON(docs)
			}
			report.PrintChannels(out, channels)
			return exitWell, nil
		}
	},
}

// isFrequency reports whether an argument is meant as a frequency, not as a channel: it
// has the unit or a decimal point, or no plan has such a channel.
func isFrequency(arg string) bool {
	whole := strings.TrimRight(strings.ToLower(arg), "mhz ")
	if hz, err := input.ParseMHz(arg); err != nil || hz < 0 || strings.ContainsAny(arg, "-/") {
		return false
	}
	if before, _, list := strings.Cut(whole, ","); list && whole == strings.ToLower(arg) {
		n, err := strconv.Atoi(before) // '95,99' is two channels, '747,25' a frequency
		return err == nil && n > channelplan.LastExtended
	}
	n, err := strconv.Atoi(whole)
	return whole != strings.ToLower(arg) || err != nil || n > channelplan.LastExtended
}

// channelArgs reads numbers and ranges such as 95-99; no arguments means all channels.
func channelArgs(plan channelplan.Plan, args []string) ([]channelplan.Channel, error) {
	var channels []channelplan.Channel
	if len(args) == 0 {
		for c := range plan.Channels {
			channels = append(channels, c)
		}
		return channels, nil
	}
	for _, a := range args {
		if _, err := channelplan.ParsePilotKind(a); err == nil {
			continue // '116 digital': the plan is the same for all kinds
		}
		for part := range strings.SplitSeq(a, ",") {
			if word := strings.TrimLeft(part, "0123456789"); word != part && word != "" {
				if _, err := channelplan.ParsePilotKind(word); err == nil {
					part = strings.TrimSuffix(part, word) // '116digital'
				}
			}
			low, high, isRange := strings.Cut(part, "-")
			if !isRange {
				high = low
			}
			first, err := channelplan.ParseChannel(low)
			if err != nil {
				return nil, err
			}
			last, err := channelplan.ParseChannel(high)
			if err != nil {
				return nil, err
			}
			if last < first {
				return nil, misuse("write the lower channel first", "the range %s runs backwards", part)
			}
			for n := first; n <= last; n++ {
				c, ok := plan.Channel(n)
				if !ok {
					return nil, misuse("IRC and HRC have it: --plan irc or --plan hrc",
						"the %s plan has no channel %d", plan.Name(), n)
				}
				channels = append(channels, c)
			}
		}
	}
	return channels, nil
}

func planNear(out *console.Console, plan channelplan.Plan, text string, asJSON bool) (int, error) {
	hz, err := input.ParseMHz(text)
	if err != nil {
		return 0, err
	}
	c, place := plan.Find(hz)
	if asJSON {
		holds, distance := place == channelplan.InChannel, c.DistanceHz(hz)
		d := report.NewChannelDoc(c)
		d.Holds, d.DistanceHz = &holds, &distance
		return exitWell, out.JSON([]report.ChannelDoc{d})
	}
	for _, sentence := range answer.NearText(c, place, hz, landmark(c, hz)) {
		for _, line := range wording.Wrap(sentence, out.Width) {
			out.Line("%s", line)
		}
	}
	out.Line("")
	report.PrintChannels(out, []channelplan.Channel{c})
	return exitWell, nil
}

// landmark names what is at a frequency in a channel.
func landmark(c channelplan.Channel, hz int64) string {
	for _, l := range []struct {
		hz   int64
		name string
	}{
		{c.VisualHz(), "its visual carrier"}, {c.CenterHz(), "its center"},
		{c.ChromaHz(), "its color subcarrier"}, {c.AuralHz(), "its aural carrier"},
	} {
		if l.hz == hz {
			return ": " + l.name
		}
	}
	return ""
}
