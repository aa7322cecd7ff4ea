package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/demo"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/input"
	"tallywink.example/cmd/tallywink/report"
	"tallywink.example/trainer/card"
)

var cardCommand = command{
	name:    "card",
	summary: "a printable card for the truck: pilots, digits, states",
	help: `  tallywink card --lineup demo --svg card.svg
  tallywink card --lineup demo --amps demo --html card.html --paper a4
  tallywink card lineup.csv --svg wallet.svg --paper wallet

Drawn at actual size, black on white: print it at 100 %. It has the pilots that
--pilot names, and with --amps those of the plant's amplifiers, main and
spare, valid ones first, then the most used; else the lineup's best, as ranked
by rank. A wallet card folds to six panels.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		c := &carding{}
		flags.StringVar(&c.lineup, "lineup", "", "the system's lineup, a CSV `FILE`, or demo")
		flags.StringVar(&c.amps, "amps", "", "the inventory of amplifiers, a CSV `FILE` (or -), or demo")
		flags.StringArrayVar(&c.named, "pilot", nil, "a `PILOT`, such as '116 digital'; may be repeated")
		flags.StringVar(&c.paper, "paper", card.Letter.Name, "the `SIZE`: letter, a4, or wallet")
		flags.StringVar(&c.svg, "svg", "", "write it to this `FILE` (or -) as SVG")
		flags.StringVar(&c.html, "html", "", "write it to this `FILE` (or -) as a page to print")
		flags.StringVar(&c.on, "on", "", "judge the pilots as of this `DATE`, such as 2026-11-25 (default today)")
		input.DeclareSheet(flags, &c.sheet)
		return c.run
	},
}

// carding is the command with its flags.
type carding struct {
	lineup, amps, paper, svg, html, on, sheet string
	named                                     []string
}

func (c *carding) run(out *console.Console, args []string) (int, error) {
	err := input.DemoArgs(args, "card", map[*string]string{&c.lineup: demo.Name, &c.amps: demo.Name}, &c.lineup)
	if err != nil {
		return 0, err
	}
	switch {
	case c.lineup == "":
		return 0, misuse("add --lineup FILE, or --lineup demo to try it", "a card needs a lineup")
	case c.svg == "" && c.html == "":
		return 0, misuse("add --svg FILE or --html FILE", "say where to write the card")
	case c.svg == c.html:
		return 0, misuse("give each a file of its own", "--svg and --html both name %s", c.svg)
	}
	if err := input.DistinctFiles([]input.Named{input.At("--svg", c.svg), input.At("--html", c.html)},
		input.At("the lineup", c.lineup),
		input.At("--amps", c.amps), input.At("--sheet", c.sheet)); err != nil {
		return 0, err
	}
	formats := card.Formats()
	i := slices.IndexFunc(formats, func(f card.Format) bool { return f.Name == c.paper })
	if i < 0 {
		return 0, misuse("use letter, a4 or wallet", "there is no paper %q", c.paper)
	}
	content := card.Content{}
	if content.Code, err = input.LoadSheet(c.sheet); err != nil {
		return 0, err
	}
	if content.Lineup, err = input.LoadLineup(out, c.lineup); err != nil {
		return 0, err
	}
	if content.Day, err = input.DayOf(c.on, c.lineup); err != nil {
		return 0, err
	}
	if content.Pilots, err = c.pilots(out, content.Code, content.Lineup); err != nil {
		return 0, err
	}
	if len(content.Pilots) == 0 && len(content.Code.Groups) > 0 {
		return 0, misuse("name some with --pilot", "there is no pilot to draw")
	}
	drawn, err := card.New(content, formats[i])
	if errors.Is(err, card.ErrRoom) {
		return 0, misuse("choose a larger --paper", "%v", err)
	}
	if err != nil {
		return 0, err
	}
	if drawn.LeftOut > 0 {
		var names []string
		for _, p := range content.Pilots[len(content.Pilots)-drawn.LeftOut:] {
			names = append(names, p.String())
		}
		out.Remark("%s",
			strings.Join(wording.Wrap(fmt.Sprintf("tallywink card: no room for %s: %s; use a larger --paper, or give them a second card, each with --pilot",
				wording.Counted(drawn.LeftOut, "pilot", "pilots"), strings.Join(names, ", ")), console.LineWidth),
				"\n"))
	}
	if c.amps == "" && len(c.named) == 0 && len(content.Pilots) > 0 {
		out.Remark("tallywink card: these are the lineup's best pilots; --amps adds those that your amplifiers use")
	}
	return exitWell, c.write(out, drawn)
}

// write writes the files that were asked for: everything is drawn before anything is
// written.
func (c *carding) write(out *console.Console, drawn *card.Card) error {
	var outputs []console.File
	for _, o := range []struct {
		path string
		draw func(io.Writer) error
	}{{c.svg, drawn.WriteSVG}, {c.html, drawn.WriteHTML}} {
		if o.path == "" {
			continue
		}
		rendered, err := console.Render(o.path, o.draw)
		if err != nil {
			return err
		}
		outputs = append(outputs, rendered)
	}
	for _, o := range outputs {
		if err := report.Deliver(out, o); err != nil {
			return err
		}
	}
	return nil
}

// bestPilots is how many of a lineup's best carriers are drawn if nobody says which are
// pilots.
const bestPilots = 10

// pilots returns the pilots to draw, limited to those that the code can name.
func (c *carding) pilots(out *console.Console, code *blink.Code, l *lineup.Lineup) ([]channelplan.Pilot, error) {
	if len(code.Groups) == 0 && len(c.named) == 0 {
		return nil, nil // the lamp shows none
	}
	var all []channelplan.Pilot
	for _, text := range c.named {
		p, err := input.PilotArgs([]string{text}, "", "for instance: --pilot '116 digital'")
		if err != nil {
			return nil, err
		}
		if _, err := code.Encode(p); err != nil {
			return nil, err
		}
		if _, ok := lineup.Locate(p, l.Plan); !ok {
			return nil, misuse("'tallywink plan' lists all channels", "the %s plan has no channel %d",
				l.Plan.Name(), p.Channel)
		}
		all = append(all, p)
	}
	named := all
	if len(named) > 0 && c.amps == "" {
		return named, nil
	}
	all = nil
	known := func(p channelplan.Pilot) bool {
		_, err := code.Encode(p)
		_, ok := lineup.Locate(p, l.Plan)
		return err == nil && ok
	}
	if c.amps == "" {
		for _, r := range lineup.Rank(l, nil, lineup.Context{}) {
			if len(all) < bestPilots && known(r.Pilot) {
				all = append(all, r.Pilot)
			}
		}
		return all, nil
	}
	p, _, err := input.LoadPlant(out, c.amps, l)
	if err != nil {
		return nil, err
	}
	used, unknown := map[channelplan.Pilot]int{}, map[channelplan.Pilot]bool{}
	const main, spare = 1_000_000, 1 // a spare pilot counts, but comes after every main one
	for _, a := range p.Amplifiers {
		for pilot, weight := range map[channelplan.Pilot]int{a.Pilot: main, a.Slope.Pilot: main, a.Spare: spare} {
			switch {
			case a.Mode != lineup.AGC || pilot.IsZero():
			case !known(pilot):
				unknown[pilot] = true
			default:
				if used[pilot] == 0 {
					all = append(all, pilot)
				}
				used[pilot] += weight
			}
		}
	}
	if len(unknown) > 0 {
		out.Remark("tallywink card: %s of the plant left out: not in the code or the channel plan",
			wording.Counted(len(unknown), "pilot", "pilots"))
	}
	// Invalid pilots come last: they are the first to be dropped if there is no room.
	invalid := func(p channelplan.Pilot) int {
		if l.CheckOne(p, lineup.Context{}).Verdict == lineup.Unusable {
			return 1
		}
		return 0
	}
	slices.SortFunc(all, func(a, b channelplan.Pilot) int {
		return cmp.Or(invalid(a)-invalid(b), used[b]-used[a], a.Channel-b.Channel, int(a.Kind)-int(b.Kind))
	})
	return append(named,
		slices.DeleteFunc(all, func(p channelplan.Pilot) bool { return slices.Contains(named, p) })...), nil
}
