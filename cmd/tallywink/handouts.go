package main

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/audit"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/handout"
	"tallywink.example/cmd/tallywink/report"
)

func htmlVar(flags *pflag.FlagSet, into *string) {
	flags.StringVar(into, "html", "",
		"write a page to print and hand out to `FILE`, with drawings, instead of the text")
}

// misfitsPage refuses what does not go with a page.
func misfitsPage(html string, json, csv bool, inputs ...named) error {
	if html == "" {
		return nil
	}
	if json || csv {
		return misuse("leave one of them out", "--html goes with neither --json nor --csv")
	}
	return apart([]named{{"--html", html}}, inputs...)
}

// page writes an audit's page.
func (a *auditing) page(out *console.Console, now, before *lineup.Lineup, blocks []console.Block) error {
	p, c, err := loadPlant(out, a.amps, now)
	if err != nil {
		return err
	}
	page := handout.New("Amplifiers and their pilots", report.MadeOn(p.File, now.File))
	page.Write(blocks)
	if before != nil {
		report.DrawPilots(page, p, a.node, before, now)
	} else {
		report.DrawPilots(page, p, a.node, now)
	}
	verdicts := make([]handout.Amp, len(p.Amplifiers))
	for i := range p.Amplifiers {
		amp := &p.Amplifiers[i]
		if amp.Mode != lineup.AGC {
			verdicts[i].Note = amp.Mode.String()
			continue
		}
		verdicts[i].Note = amp.Pilot.String()
		if a.node != "" && !strings.EqualFold(amp.Node, a.node) {
			continue
		}
		with := lineup.Context{Amplifier: &amp.Amplifier}
		verdict := now.CheckOne(amp.Pilot, with).Verdict
		if slope := amp.Slope.Pilot; !slope.IsZero() {
			verdict = max(verdict, now.CheckOne(slope, with).Verdict)
			verdicts[i].Note += " + " + slope.String()
		}
		switch verdict {
		case lineup.Unusable:
			verdicts[i].Look = handout.Bad
		case lineup.WithCare:
			verdicts[i].Look = handout.Care
		}
	}
	report.DrawCascades(page, p, c,
		"White on black: the pilot is not usable. Thick frame: usable with caution. Thin frame: usable.",
		func(i int) handout.Amp { return verdicts[i] })
	return report.WriteHandout(out, a.html, page)
}

// seasonPage writes the page of all stations through the year.
func (s *seasonFlags) seasonPage(out *console.Console, stations []station.Station, blocks []console.Block) error {
	page := handout.New("Gain controls through the year", report.MadeOn(nameOfInput(s.amps)))
	page.Write(blocks)
	var known []station.Station
	for _, st := range stations {
		if st.Unknown == "" {
			known = append(known, st)
		}
	}
	note := "In dB from the middle of the range. Pale: the AGC's range. Black: where it stands from the hottest day to the coldest, if it is set today as the white line shows and the last column says."
	if more := len(known) - report.MaxSwings; more > 0 {
		note += fmt.Sprintf(" The %d stations with the least to spare are drawn, %d are not.", report.MaxSwings, more)
	}
	for part := range slices.Chunk(known[:min(len(known), report.MaxSwings)], report.SwingsTogether) {
		page.Draw("Swing through the year, from "+part[0].ID, handout.Swings(part), note)
		note = ""
	}
	return report.WriteHandout(out, s.html, page)
}

// discard judges every row and writes nothing: a page needs the summary alone.
func discard() audit.Writer {
	return audit.Writer{
		Judged: func(*audit.Judgement) []byte { return nil },
		Row:    func(to []byte, _ plant.Row, _ *audit.Judgement) []byte { return to },
	}
}
