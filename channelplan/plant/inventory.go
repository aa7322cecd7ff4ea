package plant

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/table"
	"tallywink.example/channelplan/wording"
)

// Inventory is an inventory whose header has been read: its rows come next.
type Inventory struct {
	*table.Table
	Plan    channelplan.Plan // the plan of its channels, meaningless if HasPlan is false
	HasPlan bool             // there is a remark such as '# plan: irc'
	// detectors are the types of detector that remarks describe, in lower case.
	detectors map[string]lineup.Detector
}

// Begin reads an inventory up to its header; file is the name for messages. The error is
// a [*fault.Error].
func Begin(r io.Reader, file string) (*Inventory, error) {
	t, err := table.New(r, file)
	if err != nil {
		return nil, err
	}
	inv := &Inventory{Table: t}
	for {
		line, err := t.ReadLine()
		if err == io.EOF {
			return nil, &fault.Error{File: file, Line: max(t.Line, 1), Column: 1, Text: "there is no header line",
				Hint: "start the table with a header line like amp,node,channel,carrier"}
		}
		if err != nil {
			return nil, err
		}
		bare := string(table.Bare([]byte(line)))
		if strings.HasPrefix(bare, "#") {
			if err := inv.remark(line, bare); err != nil {
				return nil, err
			}
			continue
		}
		if bare == "" {
			continue
		}
		if err := t.ReadHeader(line); err != nil {
			return nil, err
		}
		if isLineup(&t.Layout) {
			return nil, &fault.Error{File: file, Line: t.Line, Column: 1,
				Text: "this is a lineup of carriers, not an inventory of amplifiers",
				Hint: "give an inventory here, with a column amp, and this file as the lineup"}
		}
		if err := t.Needs("amp", "channel", "carrier"); err != nil {
			return nil, err
		}
		return inv, t.Misspelt(columns)
	}
}

// isLineup reports whether a header is a lineup's: it has columns that only a lineup has,
// and none for amplifiers.
func isLineup(t *table.Layout) bool {
	has := func(name string) bool { _, ok := t.Place(name); return ok }
	return !has("amp") && !has("node") && has("carrier") &&
		(has("level_dbmv") || has("frequency_mhz") || has("service"))
}

// remark reads '# plan: irc' and '# detector P2: digital power'; other remarks mean
// nothing to a program. A remark that
// looks like it but is written another way is refused: with the wrong plan, the channels
// would have other frequencies.
func (inv *Inventory) remark(line, bare string) error {
	fail := func(text, hint string) error {
		return &fault.Error{File: inv.File, Line: inv.Line,
			Column: 1 + utf8.RuneCountInString(line[:strings.Index(line, "#")]), Text: text, Hint: hint}
	}
	const correct = "correct the line: without the plan, channels have no frequency"
	key, value, ok := strings.Cut(strings.TrimLeft(bare, "# "), ":")
	if name, is := strings.CutPrefix(strings.TrimSpace(key), "detector "); ok && is {
		d, err := lineup.ParseDetector(value)
		if err != nil {
			return fail(fmt.Sprintf("detector %s: %s", strings.TrimSpace(name), fault.Of(err).Text),
				"write it like '# detector P2: digital ofdm power 54-870'")
		}
		if inv.detectors == nil {
			inv.detectors = map[string]lineup.Detector{}
		}
		inv.detectors[strings.ToLower(strings.TrimSpace(name))] = d
		return nil
	}
	if !ok || !strings.EqualFold(strings.TrimSpace(key), "plan") {
		if meansPlan(bare) {
			return fail("this looks like the plan; write it '# plan: ...'", correct)
		}
		return nil
	}
	plan, err := channelplan.ParsePlan(strings.TrimSpace(value))
	if err != nil {
		return fail(err.Error(), correct)
	}
	if inv.HasPlan && inv.Plan != plan {
		return fail(fmt.Sprintf("the plan is given twice, first as %v", inv.Plan), "keep the one that is right")
	}
	inv.Plan, inv.HasPlan = plan, true
	return nil
}

// meansPlan reports whether a remark was probably meant to give the plan: it has the word
// plan, perhaps misspelled, and the name of an existing plan.
func meansPlan(remark string) bool {
	words := strings.FieldsFunc(remark, func(r rune) bool { return strings.ContainsRune("#:= \t", r) })
	if len(words) != 2 || wording.Nearest(words[0], []string{"plan"}) == "" {
		return false
	}
	_, err := channelplan.ParsePlan(words[1])
	return err == nil
}

// Row is a row of an inventory. ID, Node and Values are valid only as long as the line
// that they were read from, and Values only until the next row.
type Row struct {
	Line     int
	ID, Node []byte // as written in the inventory
	// Alike holds the row's other values, except its upstream, span and design. It is
	// shared by rows with the same values; nil if the row can't be used.
	Alike  *Amplifier
	Values [][]byte // the row's values, in the order of the header
}

// Decoder splits and reads rows of an inventory. It is for one goroutine; several
// decoders may read rows of one inventory at once.
type Decoder struct {
	layout *table.Layout
	amp    int
	node   int // -1 if there is no such column
	// The places of values that distinguish a row from a remark; mode is -1 if there is
	// no such column.
	mark, channel, mode int
	alike               []int
	key                 []byte
	values              [][]byte
	known               map[string]*Amplifier
	row                 Row
	detectors           map[string]lineup.Detector
}

// The most that a decoder keeps: a plant has dozens of settings, and each is short.
const (
	maxKnown    = 4096
	maxKeyBytes = 1 << 10
)

// Decoder returns a decoder for the inventory's rows.
func (inv *Inventory) Decoder() *Decoder {
	d := &Decoder{layout: &inv.Layout, node: -1, mode: -1, known: map[string]*Amplifier{}, detectors: inv.detectors}
	d.amp, _ = inv.Place("amp")
	d.mark, _ = inv.Place("carrier")
	d.channel, _ = inv.Place("channel")
	if i, ok := inv.Place("mode"); ok {
		d.mode = i
	}
	if i, ok := inv.Place("node"); ok {
		d.node = i
	}
	for _, name := range alike {
		if i, ok := inv.Place(name); ok {
			d.alike = append(d.alike, i)
		}
	}
	return d
}

func at(values [][]byte, i int) []byte {
	if i < 0 || i >= len(values) {
		return nil
	}
	return values[i]
}

// Row reads a line. If the row has no Alike and there is no problem, the line is a remark or
// blank; if it has both, the row can be used apart from what the problem is about. The row
// is overwritten by the next one.
func (d *Decoder) Row(line []byte, number int) (*Row, *fault.Error) {
	r := &d.row
	*r = Row{Line: number}
	bare := line
	// What may begin a remark or a line of separators, and little else.
	if len(line) == 0 || line[0] < '0' || line[0] == ';' {
		if bare = table.Bare(line); len(bare) == 0 {
			return r, nil
		}
	}
	if at := bytes.IndexByte(line, '\r'); at >= 0 {
		// A file with only such line ends does not have a second line: this one is part
		// of a value.
		return r, &fault.Error{Line: number, Column: 1 + utf8.RuneCount(line[:at]),
			Text: "there is a carriage return inside the row", Hint: "take it out"}
	}
	var problem *fault.Error
	d.values, problem = d.layout.Values(line, number, d.values[:0])
	if bare[0] == '#' && !d.isRow() {
		if meansPlan(string(bare)) {
			return r, &fault.Error{Line: number, Column: 1, Text: "the plan is below the header line",
				Hint: "move it above"}
		}
		return r, nil
	}
	if problem != nil {
		return r, problem
	}
	r.Values = d.values
	r.ID, r.Node = at(d.values, d.amp), at(d.values, d.node)
	d.key = d.key[:0]
	for _, i := range d.alike {
		d.key = append(append(d.key, at(d.values, i)...), 0x1f)
	}
	if known := d.known[string(d.key)]; known != nil && len(r.ID) > 0 && len(d.values) <= len(d.layout.Header) {
		r.Alike = known
		return r, nil
	}
	return r, d.learn(line, r)
}

var modes = []string{lineup.AGC.String(), lineup.OpenLoop.String(), lineup.HandSet.String()}

// isRow reports whether a line that begins with # is a row anyway. It is if it has as
// many values as there are columns and more than one is not empty, such as a node or
// house number that begins with #; or if it has a carrier in the carrier column; or if
// its amplifier's name begins with # and no space follows, as one does in most remarks,
// and it has a channel, or something meant as a mode.
func (d *Decoder) isRow() bool {
	said := 0
	for _, v := range d.values {
		if len(v) > 0 {
			said++
		}
	}
	if said > 1 && len(d.values) == len(d.layout.Header) {
		return true
	}
	if _, err := channelplan.ParsePilotKind(string(at(d.values, d.mark))); err == nil {
		return true
	}
	if id := at(d.values, d.amp); len(id) < 2 || id[0] != '#' || id[1] == ' ' {
		return false
	}
	channel, mode := at(d.values, d.channel), at(d.values, d.mode)
	if len(channel) > 0 && len(bytes.Trim(channel, "0123456789")) == 0 {
		return true
	}
	return len(mode) > 0 && wording.Nearest(string(mode), modes) != ""
}

// learn reads a row with settings that the decoder has not seen before.
func (d *Decoder) learn(line []byte, r *Row) *fault.Error {
	fields, problem := d.layout.Split(string(line), r.Line)
	if problem != nil {
		return problem
	}
	record := row{d.layout, fields, r.Line, d.detectors}
	for i := len(d.layout.Header); i < len(fields); i++ {
		if fields[i].Text != "" { // values may be under the wrong headings
			return record.wrong(fields[i], "put quotes around a value that contains a separator",
				"the row has %d values but there are %d columns", len(fields), len(d.layout.Header))
		}
	}
	if len(r.ID) == 0 {
		return record.wrong(record.Value(fields, "amp"), "write it in the amp column", "the row has no amplifier name")
	}
	a, ok, problem := record.settings()
	if !ok {
		return problem
	}
	r.Alike = &a
	if problem == nil && len(d.key) <= maxKeyBytes {
		if len(d.known) >= maxKnown {
			clear(d.known)
		}
		d.known[string(d.key)] = &a
	}
	return problem
}

// whole returns the amplifier of a line that [Decoder.Row] has read. The problem is about
// its span or its design.
func (d *Decoder) whole(line []byte, r *Row) (Amplifier, *fault.Error) {
	a := *r.Alike
	a.Line, a.ID, a.Node = r.Line, string(r.ID), string(r.Node)
	fields, problem := d.layout.Split(string(line), r.Line)
	if problem != nil {
		return a, problem
	}
	record := row{d.layout, fields, r.Line, d.detectors}
	a.Upstream = record.Value(fields, "upstream").Text
	a.SpanDB, a.SpanHz, problem = record.span()
	design, odd := record.design()
	a.Design = design
	if problem == nil {
		problem = odd
	}
	return a, problem
}

// blockBytes is how much of an inventory is read at once.
const blockBytes = 256 << 10

// ErrNoAmplifier is what [Find] wraps if an inventory does not list the amplifier.
var ErrNoAmplifier = errors.New("no such amplifier")

// Load finds one amplifier in an inventory file, see [Find].
func Load(path, id string) (Amplifier, *Inventory, error) {
	f, err := table.OpenSteady(path)
	if err != nil {
		return Amplifier{}, nil, err
	}
	defer f.Close()
	return Find(f, path, id)
}

// Find reads an inventory and returns the amplifier with the given ID, which must be
// listed once, and the inventory, which may give its plan; file is the name for messages.
// IDs are compared in any case. Problems of other rows do not matter. The error is a
// [*fault.Error], or wraps [ErrNoAmplifier] and suggests the nearest ID.
func Find(r io.Reader, file, id string) (Amplifier, *Inventory, error) {
	inv, err := Begin(r, file)
	if err != nil {
		return Amplifier{}, nil, err
	}
	wanted := []byte(strings.TrimSpace(id))
	broken := func(p *fault.Error) error {
		p.File, p.Hint = file, cmp.Or(p.Hint, "correct the row")
		return p
	}
	d := inv.Decoder()
	buffer := make([]byte, blockBytes)
	near := ""
	var found *Amplifier
	for {
		block, err := inv.ReadBlock(buffer)
		if err == io.EOF {
			break
		}
		if err != nil {
			return Amplifier{}, nil, err
		}
		for line, number := range block.Lines {
			row, problem := d.Row(line, number)
			name := row.ID
			if problem != nil && name == nil {
				// The row is not valid CSV: that matters if this ID is in it.
				name = bytes.Trim(at(bytes.Split(line, []byte(string(inv.Comma))), d.amp), ` "`)
			}
			switch {
			case row.Alike == nil && problem == nil:
			case !bytes.EqualFold(name, wanted):
				near = wording.Nearest(string(wanted), []string{near, string(name)})
			case row.Alike == nil:
				return Amplifier{}, nil, broken(problem)
			case found != nil && joins(d, line, row, found):
			case found != nil:
				column := 1
				if fields, problem := inv.Split(string(line), number); problem == nil {
					column = inv.Value(fields, "amp").Column
				}
				twice := Twice(string(name), number, found.Line)
				twice.File, twice.Column = file, column
				return Amplifier{}, nil, &twice
			default:
				// A technician who asks for the pilot does not need a span or a range:
				// one that can't be read does not matter.
				a, _ := d.whole(line, row)
				found = &a
			}
		}
	}
	if found != nil {
		return *found, inv, nil
	}
	hint := "check the name against the inventory"
	if near != "" {
		hint = fmt.Sprintf("did you mean %s?", near)
	}
	return Amplifier{}, nil, &fault.Error{Text: fmt.Sprintf("%v: %s does not list %q", ErrNoAmplifier, file,
		strings.TrimSpace(id)), Hint: hint, Err: ErrNoAmplifier}
}

// Plant holds all amplifiers of an inventory.
type Plant struct {
	File       string
	Plan       channelplan.Plan // meaningless if HasPlan is false
	HasPlan    bool
	Amplifiers []Amplifier // in the order of the file
	// Problems holds what is wrong with rows. A row that can't be used is left out, and
	// so is the second row of an amplifier that is listed twice.
	Problems []fault.Error
	// LeftOut is how many rows were left out.
	LeftOut int
	// How the file is written, and the columns that are the owner's own: their titles
	// and, if [ReadOwn] read it, their values for each amplifier. A work list made from
	// the inventory keeps them.
	Comma     rune
	BOM       bool // it begins with a byte order mark
	OwnTitles []string
	OwnNames  []string // the same in normal form, see [table.Table.ReadHeader]
	Own       [][]string
	own       []int // the places of those columns; nil if values are not kept
	byID      map[string]int
}

// The most that [Read] keeps: a large system has some ten thousand amplifiers with AGC.
const (
	maxRows  = 100_000
	maxBytes = 64 << 20
)

// Read reads all amplifiers of an inventory; file is the name for messages. The error is
// a [*fault.Error] if the file can't be used at all, or has more than 100,000 rows or 64
// MB: they are all kept in memory.
func Read(r io.Reader, file string) (*Plant, error) { return read(r, file, false) }

// ReadOwn is [Read], and keeps the values of the owner's own columns.
func ReadOwn(r io.Reader, file string) (*Plant, error) { return read(r, file, true) }

func read(r io.Reader, file string, own bool) (*Plant, error) {
	inv, err := Begin(table.Limit(r, maxBytes, "an inventory that is read all at once"), file)
	if err != nil {
		return nil, err
	}
	p := &Plant{File: file, Plan: inv.Plan, HasPlan: inv.HasPlan, Comma: inv.Comma, BOM: inv.BOM,
		byID: map[string]int{}}
	for i, f := range inv.Header {
		if own && f.Text != "" && !Column(f.Text) {
			p.OwnTitles, p.OwnNames, p.own = append(p.OwnTitles, inv.Titles[i]), append(p.OwnNames, f.Text),
				append(p.own, i)
		}
	}
	d := inv.Decoder()
	buffer := make([]byte, blockBytes)
	for {
		block, err := inv.ReadBlock(buffer)
		if err == io.EOF {
			return p, nil
		}
		if err != nil {
			return nil, err
		}
		for line, number := range block.Lines {
			if len(p.Amplifiers)+len(p.Problems) >= maxRows {
				return nil, &fault.Error{File: file, Line: number, Column: 1,
					Text: "the inventory has more than 100,000 rows", Hint: "use fewer nodes at a time",
					Act: fault.AuditRows}
			}
			p.take(d, line, number)
		}
	}
}

func (p *Plant) take(d *Decoder, line []byte, number int) {
	row, problem := d.Row(line, number)
	if problem != nil {
		p.Problems = append(p.Problems, *problem)
	}
	if row.Alike == nil {
		if problem != nil {
			p.LeftOut++
		}
		return
	}
	a, problem := d.whole(line, row)
	if problem != nil {
		p.Problems = append(p.Problems, *problem)
	}
	if before, twice := p.byID[fold(a.ID)]; twice {
		if both, ok := joinRows(p.Amplifiers[before], a); ok {
			p.Amplifiers[before] = both
			if both.Line == a.Line && p.own != nil { // the main row came second: its columns count
				p.Own[before] = p.ownValues(row)
			}
			return
		}
		p.Problems = append(p.Problems, Twice(a.ID, number, p.Amplifiers[before].Line))
		p.LeftOut++
		return
	}
	p.byID[fold(a.ID)] = len(p.Amplifiers)
	p.Amplifiers = append(p.Amplifiers, a)
	if p.own != nil {
		p.Own = append(p.Own, p.ownValues(row))
	}
}

// ownValues returns a row's values in the owner's own columns.
func (p *Plant) ownValues(row *Row) []string {
	values := make([]string, len(p.own))
	for i, place := range p.own {
		values[i] = string(at(row.Values, place))
	}
	return values
}

// keepOne is what to do about an amplifier that is listed twice.
const keepOne = "keep the row that is right, or give the slope pilot's row the role low"

// joins joins a row to the amplifier that was found before, if it is the other of its two.
func joins(d *Decoder, line []byte, row *Row, found *Amplifier) bool {
	a, _ := d.whole(line, row)
	both, ok := joinRows(*found, a)
	if ok {
		*found = both
	}
	return ok
}

// Twice returns the problem of an amplifier that is listed a second time.
func Twice(id string, line, first int) fault.Error {
	return fault.Error{Line: line, Column: 1,
		Text: fmt.Sprintf("%s is listed twice, first on line %d", id, first), Hint: keepOne}
}

// fold returns the same text for IDs that differ only in case.
func fold(id string) string { return strings.ToLower(strings.TrimSpace(id)) }

// Find returns the index of an amplifier in Amplifiers; IDs are compared in any case.
func (p *Plant) Find(id string) (place int, ok bool) {
	place, ok = p.byID[fold(id)]
	return place, ok
}
