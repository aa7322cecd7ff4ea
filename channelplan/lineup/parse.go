package lineup

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/table"
	"tallywink.example/channelplan/wording"
)

// Load reads a lineup file. The error is a [*fault.Error] if the file can't be used at
// all; otherwise the lineup's Problems say what is wrong with it.
func Load(path string) (*Lineup, error) {
	f, err := table.OpenSteady(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return Read(f, path)
}

// maxLineupBytes is the largest lineup that is read. A thousand carriers are
// under 100 kB.
const maxLineupBytes = 4 << 20

// lowestHz is the lowest frequency in cable systems: the lower end of the return path
// (DOCSIS 3.1 physical layer, upstream frequency range).
const lowestHz = 5_000_000

// defaultForward is the forward passband if a lineup does not give one.
var defaultForward = Band{54_000_000, 1_002_000_000}

// Read is [Load] from a reader; file is the name for messages.
func Read(r io.Reader, file string) (*Lineup, error) {
	p := &parser{lineup: &Lineup{File: file, Forward: defaultForward}, said: map[string]int{}, named: map[int]bool{}}
	var err error
	p.Table, err = table.New(table.Limit(r, maxLineupBytes, "a lineup"), file)
	if err != nil {
		return nil, err
	}
	for {
		line, err := p.ReadLine()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if err := p.take(line); err != nil {
			return nil, err
		}
	}
	return p.finish()
}

type parser struct {
	*table.Table
	lineup *Lineup
	said   map[string]int // settings that were given, and the line of each
	named  map[int]bool   // lines of rows that give their channel themselves
}

// problem adds what is wrong; hint is what to do, if the text does not say.
func (p *parser) problem(column int, hint, format string, args ...any) {
	p.lineup.Problems = append(p.lineup.Problems, fault.Error{Line: p.Line, Column: column,
		Text: fmt.Sprintf(format, args...), Hint: hint})
}

func (p *parser) note(line, column int, format string, args ...any) {
	p.lineup.Notes = append(p.lineup.Notes, fault.Error{Line: line, Column: column,
		Text: fmt.Sprintf(format, args...)})
}

// take reads one line.
func (p *parser) take(line string) error {
	// A spreadsheet pads short rows with separators, and puts quotes around a remark that
	// contains a separator.
	bare := strings.Trim(line, ",;\t \"")
	switch {
	case bare == "":
		return nil
	case strings.HasPrefix(bare, "#") && !p.isRow(line):
		p.setting(bare, 1+strings.Index(line, "#"))
		return nil
	case p.Header == nil:
		if err := p.ReadHeader(line); err != nil {
			return err
		}
		return p.checkHeader()
	}
	fields, problem := p.Split(line, p.Line)
	if problem != nil {
		p.lineup.Problems = append(p.lineup.Problems, *problem)
		p.leaveOut(p.guessChannel(line), Band{})
		return nil
	}
	if len(p.lineup.Carriers)+len(p.lineup.Problems) >= mostRows {
		return &fault.Error{File: p.File, Line: p.Line, Column: 1,
			Text: fmt.Sprintf("the lineup has more than %d rows, and no band has that many carriers", mostRows),
			Hint: "is this really a lineup, not an inventory of amplifiers?"}
	}
	p.row(fields)
	return nil
}

// mostRows is how many rows a lineup may have: a band has about a hundred carriers, and
// each is compared with its neighbors.
const mostRows = 2000

// isRow reports whether a line that begins with # is a row anyway: the name of a service
// may begin that way.
func (p *parser) isRow(line string) bool {
	if p.Header == nil {
		return false
	}
	fields, problem := p.Split(line, p.Line)
	if problem != nil {
		return false
	}
	if _, err := channelplan.ParseListedKind(p.Value(fields, "carrier").Text); err == nil {
		return true
	}
	// Most remarks have a space after the #.
	first, channel := strings.TrimLeft(fields[0].Text, "#"), p.Value(fields, "channel").Text
	return first != "" && first[0] != ' ' && channel != "" && strings.Trim(channel, "0123456789") == ""
}

func (p *parser) leaveOut(channel int, band Band) {
	p.lineup.LeftOut = append(p.lineup.LeftOut, LeftOut{p.Line, channel, band})
}

// guessChannel returns the channel of a row that is not valid CSV, by splitting it at
// every separator; 0 if that does not give one.
func (p *parser) guessChannel(line string) int {
	i, ok := p.Place("channel")
	parts := strings.Split(line, string(p.Comma))
	if !ok || i >= len(parts) {
		return 0
	}
	n, err := strconv.Atoi(strings.Trim(parts[i], ` "`))
	if err != nil {
		return 0
	}
	return n
}

// unfit records why no pilot can be judged by the lineup; the first reason stays.
func (p *parser) unfit(column int, text, hint string) {
	if p.lineup.Unfit == nil {
		p.lineup.Unfit = &fault.Error{File: p.File, Line: p.Line, Column: column, Text: text, Hint: hint}
	}
}

// settings are the remarks before the header that describe the system.
var settings = map[string]func(p *parser, value string) error{
	"name": func(p *parser, v string) error { p.lineup.Name = v; return nil },
	"hub":  func(p *parser, v string) error { p.lineup.Hub = v; return nil },
	// The point at which its levels apply, in words.
	"reference": func(p *parser, v string) error { p.lineup.Reference = v; return nil },
	"plan": func(p *parser, v string) (err error) {
		p.lineup.Plan, err = channelplan.ParsePlan(v)
		return err
	},
	"forward": func(p *parser, v string) error {
		b, err := ParseBand(v)
		if err == nil {
			p.lineup.Forward = b
		}
		return err
	},
	"effective": func(p *parser, v string) (err error) {
		p.lineup.Effective, err = time.Parse(time.DateOnly, v)
		if err != nil {
			return &fault.Error{Text: fmt.Sprintf("%q is not a date", v), Hint: "write it like 2026-11-25"}
		}
		return nil
	},
	"off-air": func(p *parser, v string) error {
		for part := range strings.SplitSeq(v, ",") {
			if strings.EqualFold(strings.TrimSpace(part), "mobile") {
				p.lineup.OffAir = append(p.lineup.OffAir, mobileDownlinks...)
				continue
			}
			b, err := ParseBand(part)
			if err != nil {
				return err
			}
			p.lineup.OffAir = append(p.lineup.OffAir, b)
		}
		return nil
	},
}

// mobileDownlinks are the bands in which mobile base stations transmit below 1 GHz: 600 MHz
// and 700 MHz (47 CFR 27) and 850 MHz (47 CFR 22). The edges are from memory.
var mobileDownlinks = []Band{{617_000_000, 652_000_000}, {729_000_000, 768_000_000}, {869_000_000, 894_000_000}}

// setting reads a remark such as '# plan: irc'. Anything that is not a setting is a
// remark, unless it looks like a setting that was misspelled or written another way.
func (p *parser) setting(remark string, column int) {
	text := strings.TrimLeft(remark, "# ")
	key, value, ok := strings.Cut(text, ":")
	key, value = strings.ToLower(strings.TrimSpace(key)), strings.TrimSpace(value)
	set, known := settings[key]
	if !ok || !known {
		if meant := meantSetting(text); meant != "" && p.Header == nil {
			p.problem(column, fmt.Sprintf("write it '# %s: ...'", meant), "this looks like the setting %q", meant)
			p.unset(meant, column, fmt.Sprintf("the setting %q can't be read", meant))
		}
		return
	}
	if p.Header != nil {
		p.problem(column, "move it above", "setting %q is below the header line", key)
		p.unset(key, column, fmt.Sprintf("the setting %q is in a place where it is not read", key))
		return
	}
	if before, twice := p.said[key]; twice {
		p.problem(column, "keep one", "setting %q is given twice, first on line %d", key, before)
		return
	}
	p.said[key] = p.Line
	if err := set(p, value); err != nil {
		f := fault.Of(err)
		p.problem(column, f.Hint, "setting %q: %s", key, f.Text)
		p.unset(key, column, f.Text)
	}
}

// meantSetting returns the setting that a remark was probably meant to be: the name
// misspelled before a colon, or spelled right but with other words or another sign after
// it.
func meantSetting(remark string) string {
	name, _, stated := strings.Cut(strings.ReplaceAll(remark, "=", ":"), ":")
	words := strings.Fields(strings.ToLower(name))
	const few = 3 // more words make a sentence
	for _, key := range slices.Sorted(maps.Keys(settings)) {
		switch {
		case stated && len(words) <= few && slices.Contains(words, key):
			return key
		case !stated && len(words) == 2 && words[0] == key && key != "name" && key != "hub" && key != "reference":
			return key
		}
	}
	if stated && len(words) == 1 {
		return wording.Nearest(words[0], slices.Collect(maps.Keys(settings)))
	}
	return ""
}

// unset records a setting that could not be read: its line is left out, and without plan
// or passband no pilot can be judged at all.
func (p *parser) unset(key string, column int, text string) {
	p.leaveOut(0, Band{})
	switch key {
	case "plan":
		p.unfit(column, text, "correct the line: without the plan, channels have no frequency")
	case "forward":
		p.unfit(column, text, "correct the line: without the passband, nobody knows what passes")
	case "effective":
		p.lineup.dateUnread = true
	}
}

// ParseBand reads two frequencies in MHz with a hyphen between them: 54-1002.
func ParseBand(text string) (Band, error) {
	text = strings.TrimSpace(strings.NewReplacer("–", "-", "—", "-").Replace(text))
	low, high, ok := strings.Cut(strings.TrimSpace(strings.TrimSuffix(text, "MHz")), "-")
	if !ok {
		return Band{}, &fault.Error{Text: fmt.Sprintf("%q is not a band", text), Hint: "write it like 54-1002, in MHz"}
	}
	var b Band
	var err error
	if b.LowHz, err = channelplan.ParseMHz(low); err != nil {
		return Band{}, err
	}
	if b.HighHz, err = channelplan.ParseMHz(high); err != nil {
		return Band{}, err
	}
	if b.LowHz >= b.HighHz {
		return Band{}, &fault.Error{Text: fmt.Sprintf("%q ends below where it starts", text),
			Hint: "write the lower edge first"}
	}
	return b, nil
}

// draft is a row that is being turned into a carrier.
type draft struct {
	Carrier
	low, high, frequency int64
	excluded             []Band // parts of an OFDM block in which it carries nothing
	bad                  bool   // a value could not be read: the row is left out
}

// softColumns do not say what is carried where: a row can be used without them.
var softColumns = map[string]bool{"level_dbmv": true, "service": true}

// telling maps values that make or break a pilot to their column: they must not be
// skipped if they are in a column of another name.
var telling = map[string]string{"part-time": "duty", "sync-suppressed": "video", "narrowcast": "scope"}

// columns maps each column of a lineup to the function that reads its value. It is not
// called for an empty value.
var columns = map[string]func(t *table.Table, d *draft, text string) error{
	"channel": func(_ *table.Table, d *draft, text string) error {
		n, err := strconv.Atoi(text)
		if err != nil || n < 0 {
			return &fault.Error{Text: fmt.Sprintf("%q is not a channel number", text),
				Hint: "leave it empty for a carrier given by frequency"}
		}
		d.Channel = n
		return nil
	},
	"carrier": func(_ *table.Table, d *draft, text string) (err error) {
		d.Kind, err = channelplan.ParseListedKind(text)
		return err
	},
	"low_mhz":       func(t *table.Table, d *draft, text string) error { return megahertz(t, text, &d.low) },
	"high_mhz":      func(t *table.Table, d *draft, text string) error { return megahertz(t, text, &d.high) },
	"frequency_mhz": func(t *table.Table, d *draft, text string) error { return megahertz(t, text, &d.frequency) },
	"excluded_mhz": func(t *table.Table, d *draft, text string) error {
		parts := []string{text}
		switch {
		case strings.Contains(text, ";"):
			parts = strings.Split(text, ";")
		case t.Comma == ',': // else a comma may be a decimal one
			parts = strings.Split(text, ",")
		}
		for _, part := range parts {
			b, err := ParseBand(t.Number(part))
			if err != nil {
				return err
			}
			d.excluded = append(d.excluded, b)
		}
		return nil
	},
	"level_dbmv": func(t *table.Table, d *draft, text string) error {
		level, err := table.ParseNumber(t.Number(text))
		if err != nil || level < -60 || level > 90 {
			return &fault.Error{Text: fmt.Sprintf("%q is not a level in dBmV", text),
				Hint: "write a number such as 34.5"}
		}
		d.LevelDBmV, d.HasLevel = level, true
		return nil
	},
	"duty": func(_ *table.Table, d *draft, text string) error {
		return choice(text, &d.PartTime, "continuous", "part-time")
	},
	"video": func(_ *table.Table, d *draft, text string) error {
		return choice(text, &d.SyncSuppressed, "clear", "sync-suppressed")
	},
	"scope": func(_ *table.Table, d *draft, text string) error {
		return choice(text, &d.Narrowcast, "broadcast", "narrowcast")
	},
	"service": func(_ *table.Table, d *draft, text string) error {
		d.Service = text
		return nil
	},
}

func megahertz(t *table.Table, text string, into *int64) (err error) {
	*into, err = channelplan.ParseMHz(t.Number(text))
	return err
}

func choice(text string, into *bool, no, yes string) error {
	clean := strings.ReplaceAll(strings.ToLower(text), " ", "-")
	if clean != no && clean != yes {
		f := &fault.Error{Text: fmt.Sprintf("%q is neither %s nor %s", text, no, yes)}
		if near := wording.Nearest(clean, []string{no, yes}); near != "" {
			f.Hint = fmt.Sprintf("did you mean %s?", near)
		}
		return f
	}
	*into = clean == yes
	return nil
}

// checkHeader reports which columns are missing, misspelled or ignored.
func (p *parser) checkHeader() error {
	if _, ok := p.Place("amp"); ok {
		return &fault.Error{File: p.File, Line: p.Line, Column: 1,
			Text: "this is an inventory of amplifiers, not a lineup of carriers",
			Hint: "give the lineup here, and this file as the inventory"}
	}
	known := slices.Collect(maps.Keys(columns))
	recognized := 0
	missing := func() bool { _, ok := p.Place("carrier"); return !ok }()
	for _, f := range p.Header {
		if _, ok := columns[f.Text]; ok {
			recognized++
			continue
		}
		near := wording.Nearest(f.Text, known)
		if near == "" {
			near = named(f.Text, known)
		}
		_, taken := p.Place(near)
		switch {
		case f.Text == "":
		case near != "" && !taken && near == "carrier":
			return &fault.Error{File: p.File, Line: p.Line, Column: f.Column,
				Text: fmt.Sprintf("there is no column 'carrier', but there is one named %q", f.Text),
				Hint: "rename it to carrier"}
		case near != "" && !taken:
			p.problem(f.Column, fmt.Sprintf("did you mean %q?", near), "column %q is not known", f.Text)
			if !softColumns[near] {
				p.unfit(f.Column, fmt.Sprintf("column %q is not known", f.Text),
					fmt.Sprintf("rename it to %s: it affects every pilot", near))
			}
		default:
			p.note(p.Line, f.Column, "column %q is ignored", f.Text)
		}
	}
	switch {
	case recognized == 0:
		return &fault.Error{File: p.File, Line: p.Line, Column: 1,
			Text: "this should be the header line, but it names none of a lineup's columns",
			Hint: "start the table with a header line like channel,carrier,level_dbmv,service"}
	case missing:
		return &fault.Error{File: p.File, Line: p.Line, Column: 1, Text: "there is no column 'carrier'",
			Hint: "add it: " + channelplan.ListedKinds + " for each row"}
	}
	for _, needs := range []string{"channel", "frequency_mhz", "low_mhz"} {
		if _, ok := p.Place(needs); ok {
			return nil
		}
	}
	return &fault.Error{File: p.File, Line: p.Line, Column: 1, Text: "no column says where the carriers are",
		Hint: "add a column channel (and frequency_mhz, or low_mhz and high_mhz, where needed)"}
}

// named returns the known column whose first word appears in a heading of several words:
// duty for duty_cycle, level_dbmv for level_at_tap.
func named(heading string, known []string) string {
	words := strings.Split(heading, "_")
	for _, k := range slices.Sorted(slices.Values(known)) {
		if first, _, _ := strings.Cut(k, "_"); len(words) > 1 && slices.Contains(words, first) && first != "low" &&
			first != "high" {
			return k
		}
	}
	return ""
}

// row reads one row and adds its carrier or its problem to the lineup.
func (p *parser) row(fields []table.Field) {
	d := &draft{Carrier: Carrier{Line: p.Line}}
	extra := func(f table.Field) bool { return f.Text != "" }
	if len(fields) > len(p.Header) && slices.ContainsFunc(fields[len(p.Header):], extra) {
		p.problem(fields[len(p.Header)].Column, "put quotes around a value that contains a separator",
			"the row has %d values but there are %d columns", len(fields), len(p.Header))
		d.bad = true // values may be under the wrong headings
	}
	at := func(name string) int { // the column of a value, in characters, for messages
		if i, ok := p.Place(name); ok && i < len(fields) {
			return fields[i].Column
		}
		return 1
	}
	for i, f := range fields[:min(len(fields), len(p.Header))] {
		read, ok := columns[p.Header[i].Text]
		if meant := telling[strings.ReplaceAll(strings.ToLower(f.Text), " ", "-")]; !ok && meant != "" {
			p.problem(f.Column, fmt.Sprintf("rename it to %s", meant),
				"column %q is ignored, but says %s", p.Header[i].Text, f.Text)
			p.unfit(f.Column, fmt.Sprintf("column %q is ignored, but says %s", p.Header[i].Text, f.Text),
				"rename it to "+meant)
		}
		if !ok || f.Text == "" {
			continue
		}
		if err := read(p.Table, d, f.Text); err != nil {
			d.bad = d.bad || !softColumns[p.Header[i].Text]
			wrong := fault.Of(err)
			p.problem(f.Column, wrong.Hint, "%s", wrong.Text)
		}
	}
	if !d.bad && d.Kind == channelplan.NoCarrier {
		d.bad = true
		p.problem(at("carrier"), "write "+channelplan.ListedKinds, "the row has no carrier")
	}
	if !d.bad {
		if column, text, hint := p.place(d); text != "" {
			d.bad = true
			p.problem(at(column), hint, "%s", text)
		}
	}
	if d.bad {
		channel, band := d.Channel, Band{}
		if c, ok := p.lineup.Plan.Holding(d.frequency); ok && channel == 0 {
			channel = c.Number()
		}
		if d.low != 0 && d.high != 0 && (d.Kind == channelplan.OFDM || d.Kind == channelplan.NoCarrier) {
			band = Band{min(d.low, d.high), max(d.low, d.high)}
		}
		p.leaveOut(channel, band)
		return
	}
	if f := p.Value(fields, "channel"); f.Text != "" {
		p.named[p.Line] = true
	}
	if d.SyncSuppressed && d.Kind != channelplan.Analog {
		p.problem(at("video"), "", "only analog video can be sync-suppressed, but this is %s", d.Kind)
		d.SyncSuppressed = false
	}
	d.TestCarrier = d.Kind == channelplan.CW && namesTest(d.Service)
	for _, band := range d.parts() {
		c := d.Carrier
		if c.Band != band {
			c.Band, c.FrequencyHz = band, (band.LowHz+band.HighHz)/2
		}
		p.lineup.Carriers = append(p.lineup.Carriers, c)
	}
}

// parts returns the bands that a carrier fills: one, or what exclusions leave of an OFDM
// block.
func (d *draft) parts() []Band {
	if d.excluded == nil {
		return []Band{d.Band}
	}
	slices.SortFunc(d.excluded, func(a, b Band) int { return cmp.Compare(a.LowHz, b.LowHz) })
	var parts []Band
	left := d.Band
	for _, out := range d.excluded {
		if out.LowHz > left.LowHz {
			parts = append(parts, Band{left.LowHz, min(out.LowHz, left.HighHz)})
		}
		left.LowHz = max(left.LowHz, out.HighHz)
	}
	if left.LowHz < left.HighHz {
		parts = append(parts, left)
	}
	return parts
}

// place works out where a row's carrier is. If something is wrong, it returns the name of
// the column, the text, and what to do if the text does not say.
func (p *parser) place(d *draft) (column, text, hint string) {
	plan := p.lineup.Plan
	if d.Kind == channelplan.OFDM {
		switch {
		case d.Channel != 0:
			return "channel", "an OFDM block goes by its edges", "leave channel empty and give low_mhz and high_mhz"
		case d.low == 0 || d.high == 0:
			return "carrier", "an OFDM block needs both edges: low_mhz and high_mhz", ""
		case d.low >= d.high:
			return "low_mhz", "the block ends below where it starts", "put the lower edge in low_mhz"
		}
		for _, out := range d.excluded {
			if out.LowHz < d.low || out.HighHz > d.high || out.LowHz == d.low && out.HighHz == d.high {
				return "excluded_mhz", fmt.Sprintf("%v is not a part of the block", out),
					"an exclusion is a band inside it"
			}
		}
		d.Band = Band{d.low, d.high}
		d.FrequencyHz = (d.low + d.high) / 2
		return "", "", ""
	}
	if d.low != 0 || d.high != 0 || d.excluded != nil {
		p.note(p.Line, 1, "low_mhz, high_mhz and excluded_mhz are for OFDM blocks and are ignored for %s", d.Kind)
		d.excluded = nil
	}
	d.FrequencyHz, d.Listed = d.frequency, d.frequency != 0
	if d.Channel == 0 {
		if d.frequency == 0 {
			return "channel", "the row has neither channel nor frequency_mhz", "give one of them"
		}
		if d.frequency < lowestHz {
			return "frequency_mhz",
				fmt.Sprintf("%s MHz is lower than anything a cable system carries", channelplan.FormatMHz(d.frequency)),
				"write the frequency in MHz, such as 439.25"
		}
		d.Channel = channelOf(plan, d.Kind, d.frequency)
		d.Band = bandAround(d.Kind, d.frequency)
		return "", "", ""
	}
	c, ok := plan.Channel(d.Channel)
	if !ok {
		return "channel", fmt.Sprintf("there is no channel %d in the %s plan", d.Channel, plan.Name()),
			fmt.Sprintf("channels run from %d to %d", first(plan), channelplan.LastExtended)
	}
	if d.frequency == 0 {
		d.FrequencyHz = planFrequency(d.Kind, c)
	} else if c.DistanceHz(d.frequency) > shareableHz {
		where := "no channel"
		if other, ok := plan.Holding(d.frequency); ok {
			where = fmt.Sprintf("channel %d", other.Number())
		}
		return "frequency_mhz", fmt.Sprintf("%s MHz is in %s, not in channel %d",
			channelplan.FormatMHz(d.frequency), where, d.Channel), "correct one of the two"
	}
	d.Band = bandAround(d.Kind, d.FrequencyHz)
	return "", "", ""
}

func first(plan channelplan.Plan) int {
	for c := range plan.Channels {
		return c.Number()
	}
	return 0
}

// ownPlaceHz is how far a carrier given by its frequency may be from its place in the
// plan and still count as that channel's, though off plan.
const ownPlaceHz = 500_000

// channelOf returns the channel that a carrier given by its frequency is in, or 0: it
// must be about where the plan has it or, for cw, anywhere in the channel.
func channelOf(plan channelplan.Plan, kind channelplan.Kind, hz int64) int {
	c, ok := plan.Holding(hz)
	if !ok {
		return 0
	}
	off := hz - planFrequency(kind, c)
	if kind == channelplan.CW || max(off, -off) <= ownPlaceHz {
		return c.Number()
	}
	return 0
}

// finish checks the carriers against each other.
func (p *parser) finish() (*Lineup, error) {
	l := p.lineup
	if p.Header == nil {
		return nil, &fault.Error{File: p.File, Line: max(p.Line, 1), Column: 1, Text: "there is no header line",
			Hint: "start the table with a header line like channel,carrier,level_dbmv,service"}
	}
	if len(l.Carriers) == 0 && len(l.Problems) == 0 {
		return nil, &fault.Error{File: p.File, Line: p.Line, Column: 1, Text: "the lineup does not list any carriers",
			Hint: "add one row for each carrier"}
	}
	if len(l.Carriers) == 0 {
		p.Line = l.Problems[0].Line
		p.unfit(l.Problems[0].Column, "none of the lineup's rows can be used", "correct the rows")
		p.lineup.Unfit.Act = fault.ShowProblems
	}
	if _, ok := p.said["forward"]; !ok {
		p.note(1, 1, "the file does not give the forward passband; using %s (add '# forward: 54-1002')", defaultForward)
	}
	if len(l.OffAir) == 0 {
		p.note(1, 1,
			"the file lists no off-air bands, so ingress from local transmitters can't be judged (add '# off-air: 470-608')")
	}
	p.compare()
	l.sort()
	slices.SortStableFunc(l.Problems, func(a, b fault.Error) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	return l, nil
}

// compare reports carriers that are listed twice, that overlap, or that reach outside the
// passband, at the later row.
func (p *parser) compare() {
	l := p.lineup
	report := func(c Carrier, hint, format string, args ...any) {
		l.Problems = append(l.Problems,
			fault.Error{Line: c.Line, Column: 1, Text: fmt.Sprintf(format, args...), Hint: hint})
	}
	byChannel := map[int]Carrier{}
	repeats := map[int]bool{} // lines of channels listed before: reported once, not again as overlaps
	for _, c := range l.Carriers {
		if why := outside(c.Band, l.Forward, l.Plan); why != "" {
			report(c, "correct the row or the setting", "%s %s of the forward passband (%s)", c, why, l.Forward)
		}
		if !p.named[c.Line] || c.Kind == channelplan.CW && !c.ownsChannel(l.Plan) {
			continue
		}
		if other, twice := byChannel[c.Channel]; twice {
			report(c, "keep one of the two", "channel %d is listed twice, first on line %d", c.Channel, other.Line)
			repeats[c.Line] = true
			continue
		}
		byChannel[c.Channel] = c
	}
	// In order of frequency, compare each carrier with the earlier one that reaches
	// highest: a row is reported once, however many it overlaps.
	byLow := slices.DeleteFunc(slices.Clone(l.Carriers), func(c Carrier) bool { return repeats[c.Line] })
	slices.SortStableFunc(byLow, func(a, b Carrier) int { return cmp.Compare(a.LowHz, b.LowHz) })
	for i, a := range byLow {
		if i == 0 {
			continue
		}
		reach := byLow[0]
		if shared := sharedHz(reach.Band, a.Band); shared > shareableHz {
			early, late := reach, a
			if early.Line > late.Line {
				early, late = late, early
			}
			what := fmt.Sprintf("shares %s MHz with", channelplan.FormatMHz(shared))
			if a.Kind == channelplan.CW || reach.Kind == channelplan.CW {
				what = "is in the same place as"
			}
			report(late, "correct one of the two", "%s %s %s (line %d)", late, what, early, early.Line)
		}
		if a.HighHz > reach.HighHz {
			byLow[0] = a
		}
	}
}

// ownsChannel reports whether a cw carrier is inside its channel, not at an edge between
// two others.
func (c *Carrier) ownsChannel(plan channelplan.Plan) bool {
	ch, ok := plan.Channel(c.Channel)
	return ok && c.FrequencyHz-ch.LowHz() > shareableHz && ch.HighHz()-c.FrequencyHz > shareableHz
}

// outside says how far a carrier reaches outside a passband, or "". HRC channels begin up
// to 1.3 MHz lower than the others.
func outside(b, pass Band, plan channelplan.Plan) string {
	lower := int64(shareableHz)
	if plan == channelplan.HRC {
		lower = 1_300_000
	}
	switch {
	case pass.LowHz-b.LowHz > lower:
		return fmt.Sprintf("reaches %s MHz below the lower end", channelplan.FormatMHz(pass.LowHz-b.LowHz))
	case b.HighHz-pass.HighHz > shareableHz:
		return fmt.Sprintf("reaches %s MHz above the upper end", channelplan.FormatMHz(b.HighHz-pass.HighHz))
	}
	return ""
}
