package main

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/book"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

var ampCommand = command{
	name:    "amp",
	summary: "all that is known about one amplifier",
	help: `  tallywink amp OSR-03 --lineup demo --amps demo
  tallywink amp OSR-03                  with 'tallywink settings' made once

What its lamp must show, whether its pilot and its spare are valid, what is next
to the pilot, what a meter should show by its design, and what was read there
last. Exit status 1 if its pilot is not valid. --withdraw takes back the last
reading noted there; it stays in the book, and does not count any more.
`,
	setup: func(flags *pflag.FlagSet) func(*console.Console, []string) (int, error) {
		a := &amping{}
		a.declare(flags)
		declareSheet(flags, &a.sheet)
		a.sheetGiven = true
		flags.StringVar(&a.book, "book", "", "the field book, a `FILE` (default: in your own data folder)")
		flags.StringVar(&a.by, "by", "", "with --withdraw, your `NAME` (default: your own on this machine)")
		flags.BoolVar(&a.withdraw, "withdraw", false, "take back the last reading noted there: it was wrong")
		flags.BoolVar(&a.json, "json", false, "answer as one JSON document")
		return a.run
	},
}

// amping is the command with its flags.
type amping struct {
	systemFlags
	book, by       string
	withdraw, json bool
}

func (c *amping) run(out *console.Console, args []string) (int, error) {
	switch {
	case len(args) == 1 && c.amp == "":
		c.amp = args[0]
	case len(args) > 0 || c.amp == "":
		return 0, misuse("for instance: tallywink amp OSR-03 --lineup demo --amps demo", "name one amplifier")
	}
	if c.amps == "" {
		return 0, misuse("add --amps FILE, or --amps demo, or set it once with 'tallywink settings'",
			"this takes the inventory that lists the amplifier")
	}
	sys, err := c.load(out)
	if err != nil {
		return 0, err
	}
	k, err := c.known(out, sys)
	if err == nil && c.withdraw {
		k, err = c.takeBack(out, k)
	}
	if err != nil {
		return 0, err
	}
	status := exitWell
	if k.pilot != nil && !c.withdraw && (k.pilot.Verdict == lineup.Unusable || sys.strict &&
		k.pilot.Verdict == lineup.WithCare) {
		status = exitBadNews
	}
	if c.json {
		return status, out.JSON(k.document())
	}
	out.Print(k.blocks(), nil)
	return status, nil
}

// takeBack withdraws the last reading noted at the amplifier.
func (c *amping) takeBack(out *console.Console, k knownAmp) (knownAmp, error) {
	if len(k.readings) == 0 {
		return k, misuse("nothing to take back", "no reading is noted at %s", k.Amplifier.ID)
	}
	b, err := openBook(c.book, fieldBook)
	if err != nil {
		return k, err
	}
	last := k.readings[len(k.readings)-1]
	if err := b.Append(k.noted.Withdraw(k.last, either(c.by == "", loginName(), c.by), time.Now())); err != nil {
		return k, err
	}
	out.Remark("taken back: %s, %s%s", last.Time.Local().Format(field.Minute), console.Shown(last.Words()),
		console.Shown(either(last.Who == "", "", ", read by "+last.Who)))
	k.readings = k.readings[:len(k.readings)-1]
	return k, nil
}

// knownAmp is what is known about an amplifier.
type knownAmp struct {
	system
	pilot, spare *lineup.Report // nil if there is none on record
	neighbors    []lineup.Carrier
	readings     []field.Reading // the last ones, oldest first
	noted        field.Book      // all of them, and the index of the last one here
	last         int
}

// lastReadings is how many readings are shown.
const lastReadings = 5

func (c *amping) known(out *console.Console, sys system) (knownAmp, error) {
	k := knownAmp{system: sys}
	judged := func(p channelplan.Pilot) *lineup.Report {
		if p.IsZero() {
			return nil
		}
		on := sys.System
		as := sys.Amplifier.On(p)
		on.Amplifier = &as
		r := on.Judge(p)
		return &r
	}
	k.pilot, k.spare = judged(sys.Amplifier.Pilot), judged(sys.Amplifier.Spare)
	if sys.Lineup != nil && k.pilot != nil {
		k.neighbors = sys.Lineup.Neighbors(sys.Amplifier.Pilot)
	}
	b, err := openBook(c.book, fieldBook)
	if err != nil {
		return k, err
	}
	if _, err := os.Stat(b.Path); errors.Is(err, os.ErrNotExist) && c.book == "" {
		return k, nil // nothing was noted yet
	}
	in, err := b.Open()
	if err != nil {
		return k, err
	}
	defer in.Close()
	read, err := field.Read(in, b.Path, time.Time{}, time.Now())
	if err != nil {
		return k, err
	}
	remarkBooks(out, book.Places(b.Path, read.Damaged), read.Clock)
	k.noted = read
	for i, r := range read.Readings {
		if strings.EqualFold(r.Amp, sys.Amplifier.ID) {
			k.readings, k.last = append(k.readings, r), i
		}
	}
	k.readings = k.readings[max(len(k.readings)-lastReadings, 0):]
	return k, nil
}

// mustShow introduces what the lamp shows if all is as on record.
func (k knownAmp) mustShow(s blink.Signal) string {
	if k.pilot != nil && k.pilot.Verdict == lineup.Unusable && s.ShowsFrame() {
		return fmt.Sprintf("the record says %v, which is not valid: see Pilot. If locked on it, the lamp would show:",
			s.Pilot)
	}
	return "must show " + answer.SignalText(s) + ":"
}

// meterAt says what a meter should show at a carrier, by the amplifier's design; "" if the
// record does not say. The lineup's own level is the headend's, and stays out of it.
func (k knownAmp) meterAt(c lineup.Carrier) string {
	e := k.Lineup.ExpectCarrier(c, k.Amplifier.Design)
	switch {
	case !e.InputKnown:
		return ""
	case e.TestPointDB > 0:
		return fmt.Sprintf(", %.1f dBmV at the input test point by design", e.Input-e.TestPointDB)
	}
	return fmt.Sprintf(", %.1f dBmV on the line at the input by design", e.Input)
}

func (k knownAmp) blocks() []console.Block {
	blocks := []console.Block{console.Section("Amp", ampText(*k.Amplifier))}
	if up := k.Amplifier.Upstream; up != "" {
		blocks = append(blocks, console.Section("Fed by", console.Shown(up)+"."))
	}
	code, s := k.Lamp(), mustShow(k.Lamp(), *k.Amplifier)
	if intervals, _, err := code.Signal(s, code.Timing.Unit); err == nil {
		show := console.Block{Label: "Lamp", Text: []console.Paragraph{console.Text(k.mustShow(s))}}
		if frame := frameOf(code, s); frame != nil {
			show.Text = append(show.Text, console.Row("%-28s digits %s", frame, answer.SpelledDigits(code, frame)))
		}
		show.Text = append(show.Text, lightText(code, s, intervals, code.Timing.Unit)...)
		blocks = append(blocks, show)
	}
	for _, p := range []struct {
		label string
		r     *lineup.Report
	}{{"Pilot", k.pilot}, {"Spare", k.spare}} {
		if p.r == nil {
			continue
		}
		b := console.Section(p.label, answer.Describe(p.r, k.Plan))
		if k.Lineup != nil {
			b.Text = append(b.Text, console.Text(answer.VerdictText(p.r, k.Lineup, "", true)))
			for _, f := range p.r.Findings {
				if f.Severity != lineup.Note {
					b.Text = append(b.Text, console.Hung("  ", answer.FindingText(f)))
				}
			}
		}
		blocks = append(blocks, b)
	}
	if len(k.neighbors) > 0 {
		b := console.Block{Label: "Next to"}
		for _, c := range k.neighbors {
			b.Text = append(b.Text,
				console.Text(console.Shown(fmt.Sprintf("%v, %s, at %s MHz%s.", c, c.Kind.Label(),
					channelplan.FormatMHz(c.FrequencyHz), k.meterAt(c)))))
		}
		blocks = append(blocks, b)
	}
	if k.pilot != nil {
		meter := k.Amplifier.Pilot
		if k.pilot.Verdict == lineup.Unusable {
			meter = channelplan.Pilot{}
		}
		if lines := k.Meter(meter); lines != nil {
			blocks = append(blocks, blockOf(answer.Section{Label: "Meter", Lines: lines}))
		}
	}
	read := console.Block{Label: "Read"}
	for _, r := range k.readings {
		who := ""
		if r.Who != "" {
			who = ", " + r.Who
		}
		read.Text = append(read.Text,
			console.Text(wording.Sentence(console.Shown(fmt.Sprintf("%s: %s%s", r.Time.Local().Format(field.Minute),
				r.Words(), who)))))
	}
	if len(read.Text) == 0 {
		read.Text = []console.Paragraph{console.Text("nothing noted yet.")}
	}
	return append(blocks, read, careBlock())
}

// ampDoc is what is known about an amplifier, for programs.
type ampDoc struct {
	Schema    int                     `json:"schema"`
	Amp       string                  `json:"amp"`
	Node      string                  `json:"node"`
	Upstream  string                  `json:"upstream"`
	State     blink.State             `json:"state"` // what the lamp must show
	Marks     string                  `json:"marks"` // the frame it must show; empty if none
	Pilot     *answer.PilotDocument   `json:"pilot"` // null if it has no pilot by design
	Verdict   *answer.VerdictDocument `json:"verdict"`
	Spare     *spareDoc               `json:"spare"`
	Neighbors []string                `json:"neighbors"`
	Meter     string                  `json:"meter"`
	Readings  []field.Reading         `json:"readings"` // the last ones, oldest first
}

func (k knownAmp) document() ampDoc {
	s := mustShow(k.Lamp(), *k.Amplifier)
	d := ampDoc{Schema: answer.Schema, Amp: k.Amplifier.ID, Node: k.Amplifier.Node, Upstream: k.Amplifier.Upstream,
		State: s.State, Marks: frameOf(k.Lamp(), s).String(),
		Neighbors: []string{}, Readings: append([]field.Reading{}, k.readings...)}
	if k.pilot != nil {
		d.Pilot, d.Verdict = answer.NewPilotDocument(k.pilot, k.Plan), answer.NewVerdictDocument(k.pilot)
		var lines []string
		for _, line := range k.Meter(k.Amplifier.Pilot) {
			lines = append(lines, line.Text)
		}
		d.Meter = strings.Join(lines, " ")
	}
	if k.spare != nil {
		d.Spare = &spareDoc{answer.NewPilotDocument(k.spare, k.Plan), *answer.NewVerdictDocument(k.spare)}
	}
	for _, c := range k.neighbors {
		d.Neighbors = append(d.Neighbors, c.String())
	}
	return d
}
