package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2/unstable"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/wording"
)

// value is a value in a sheet with its place.
type value struct {
	place
	kind unstable.Kind
	text string
	list []value // of an array
}

type place struct{ line, column int }

// parser turns a sheet's text into a code.
type parser struct {
	lines    []int // where each line begins, in bytes
	data     []byte
	values   map[string]value // by path: marks.short, group.0.name
	order    []string         // in the order of the sheet
	tables   map[string]place
	groups   int
	framed   bool // the lamp shows frames, not states alone
	code     *blink.Code
	problems []fault.Error
	spoilt   map[string]bool // paths that already have a problem
	// kindMarks are the marks of kinds that the sheet names by marks instead of by a digit.
	kindMarks [10]blink.Group
}

// Parse reads a code sheet. If it has problems there is no code; the problems are in
// the order of the sheet.
func Parse(data []byte) (*blink.Code, []fault.Error) {
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	p := &parser{data: data, values: map[string]value{}, tables: map[string]place{}, spoilt: map[string]bool{},
		lines: []int{0},
		code:  &blink.Code{FirstChannel: 1, LastChannel: 199}}
	for i, c := range data {
		if c == '\n' {
			p.lines = append(p.lines, i+1)
		}
	}
	p.read()
	_, locked := p.values["states.locked"]
	p.framed = p.groups > 0 || !locked
	if len(p.problems) == 0 {
		p.fill()
		p.check()
	}
	slices.SortStableFunc(p.problems, func(a, b fault.Error) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	if len(p.problems) > 0 {
		return nil, p.problems
	}
	return p.code, nil
}

// at returns the place of an offset.
func (p *parser) at(offset int) place {
	line, found := slices.BinarySearch(p.lines, offset)
	if !found {
		line--
	}
	return place{line + 1, 1 + utf8.RuneCount(p.data[p.lines[line]:offset])}
}

func (p *parser) problem(path string, at place, hint, text string, args ...any) {
	p.spoilt[path] = true
	p.problems = append(p.problems, fault.Error{Line: at.line, Column: at.column, Text: fmt.Sprintf(text, args...),
		Hint: hint})
}

// asText is the hint for a file that is not text in UTF-8.
const asText = "save it as plain text in UTF-8"

// read parses the text into values.
func (p *parser) read() {
	if !utf8.Valid(p.data) {
		bad := 0
		for rest := p.data; ; rest = p.data[bad:] {
			r, size := utf8.DecodeRune(rest)
			if r == utf8.RuneError && size < 2 {
				break
			}
			bad += size
		}
		p.problem("", p.at(bad), asText, "the sheet is not in UTF-8")
		return
	}
	if len(bytes.TrimSpace(p.data)) == 0 {
		p.problem("", place{1, 1}, "begin it with a name: name = \"...\"", "the sheet is empty")
		p.problems[len(p.problems)-1].Act = fault.ShowSheet
		return
	}
	var toml unstable.Parser
	toml.Reset(p.data)
	table := ""
	for toml.NextExpression() {
		e := toml.Expression()
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			name, at := p.keys(e)
			table = name
			if e.Kind == unstable.ArrayTable {
				table = fmt.Sprintf("%s.%d", name, p.groups)
				p.groups++
			}
			if (name == "group") != (e.Kind == unstable.ArrayTable) {
				p.problem(name, at,
					"write [[group]] for each group of a frame, and [marks], [digits], [channels], [presets], [kinds], [states], [colors] once",
					"%q does not belong in these brackets", name)
				continue
			}
			if _, twice := p.tables[table]; twice {
				p.problem(table, at, "put the contents of both under one", "[%s] is there twice", table)
				continue
			}
			p.tables[table] = at
		case unstable.KeyValue:
			name, at := p.keys(e)
			if table != "" {
				name = table + "." + name
			}
			p.set(name, at, e.Value())
		}
	}
	var broken *unstable.ParserError
	if err := toml.Error(); errors.As(err, &broken) {
		at := p.at(len(p.data))
		if len(broken.Highlight) > 0 {
			at = p.at(int(toml.Range(broken.Highlight).Offset))
		}
		p.problem("", at, "text goes in quotes, lists in brackets, a comment after #", "this can't be read: %s",
			broken.Message)
	} else if err != nil {
		p.problem("", p.at(len(p.data)), "text goes in quotes, lists in brackets, a comment after #",
			"this can't be read: %v", err)
	}
}

// keys returns a dotted key, and where it begins.
func (p *parser) keys(n *unstable.Node) (string, place) {
	var words []string
	at := place{1, 1}
	for k := n.Key(); k.Next(); {
		if len(words) == 0 {
			at = p.at(int(k.Node().Raw.Offset))
		}
		words = append(words, string(k.Node().Data))
	}
	return strings.Join(words, "."), at
}

func (p *parser) set(path string, at place, n *unstable.Node) {
	if _, twice := p.values[path]; twice {
		p.problem(path, at, "leave one of them out", "%s is given twice", path)
		return
	}
	v := p.value(n, at)
	v.place = at
	p.values[path] = v
	p.order = append(p.order, path)
}

func (p *parser) value(n *unstable.Node, at place) value {
	v := value{place: at, kind: n.Kind, text: string(n.Data)}
	if n.Kind == unstable.Array {
		for c := n.Children(); c.Next(); {
			if c.Node().Kind != unstable.Comment {
				v.list = append(v.list, p.value(c.Node(), at))
			}
		}
	}
	return v
}

// number reads an integer.
func (p *parser) number(path string, v value, into *int) {
	n, err := strconv.ParseInt(strings.ReplaceAll(v.text, "_", ""), 0, 64)
	const most = 1_000_000
	switch {
	case v.kind != unstable.Integer:
		p.problem(path, v.place, "write it without quotes or a decimal point", "%s is not a whole number", path)
	case err != nil || n > most || n < -most:
		p.problem(path, v.place, "is the number right?", "%s is %s, out of range", path, v.text)
	default:
		*into = int(n)
	}
}

func (p *parser) word(path string, v value, into *string) {
	if v.kind != unstable.String {
		p.problem(path, v.place, "put it in quotes", "%s is not text", path)
		return
	}
	*into = strings.TrimSpace(v.text)
}

func (p *parser) numbers(path string, v value) []int {
	if v.kind != unstable.Array {
		p.problem(path, v.place, "write it in brackets, such as [16, 4]", "%s is not a list of numbers", path)
		return nil
	}
	list := make([]int, len(v.list))
	for i, one := range v.list {
		if p.number(path, one, &list[i]); p.spoilt[path] {
			return nil
		}
	}
	return list
}

// field is an entry that a sheet may have: its path, and how its value is stored.
type field struct {
	path string
	take func(p *parser, path string, v value)
}

func lengthField(path string, of func(*blink.Timing) *int) field {
	return field{path, func(p *parser, path string, v value) { p.number(path, v, of(&p.code.Timing)) }}
}

// fields are all entries that a sheet may have, except those of its groups.
var fields = buildFields()

func buildFields() []field {
	all := []field{
		{"name", func(p *parser, path string, v value) { p.word(path, v, &p.code.Name) }},
		{"unit_ms", func(p *parser, path string, v value) {
			ms := 0
			p.number(path, v, &ms)
			p.code.Timing.Unit = milliseconds(ms)
		}},
		{"unit_range_ms", func(p *parser, path string, v value) {
			list := p.numbers(path, v)
			if len(list) != 2 && !p.spoilt[path] {
				p.problem(path, v.place, "write two, such as [100, 400]", "unit_range_ms has %d numbers", len(list))
			}
			if len(list) == 2 {
				p.code.Timing.MinUnit, p.code.Timing.MaxUnit = milliseconds(list[0]), milliseconds(list[1])
			}
		}},
		lengthField("marks.short", func(t *blink.Timing) *int { return &t.Short }),
		lengthField("marks.long", func(t *blink.Timing) *int { return &t.Long }),
		lengthField("marks.gap", func(t *blink.Timing) *int { return &t.MarkGap }),
		lengthField("marks.group_gap", func(t *blink.Timing) *int { return &t.GroupGap }),
		lengthField("marks.rest", func(t *blink.Timing) *int { return &t.Rest }),
		{"channels.first", func(p *parser, path string, v value) { p.number(path, v, &p.code.FirstChannel) }},
		{"channels.last", func(p *parser, path string, v value) { p.number(path, v, &p.code.LastChannel) }},
		{"kinds.hundred_adds", func(p *parser, path string, v value) { p.number(path, v, &p.code.HundredAdds) }},
	}
	for d := range 10 {
		all = append(all, field{fmt.Sprintf("digits.%d", d), func(p *parser, path string, v value) {
			marks := ""
			p.word(path, v, &marks)
			p.code.Patterns[d] = groupOf(marks)
		}})
	}
	for i, kind := range channelplan.PilotKinds() {
		all = append(all, field{"kinds." + kind.String(), func(p *parser, path string, v value) {
			head := blink.Head{Kind: kind}
			if v.kind == unstable.String {
				// Named by marks of its own: its digit is its place among the kinds.
				head.Digit = i + 1
				p.kindMarks[head.Digit] = groupOf(strings.TrimSpace(v.text))
			} else {
				p.number(path, v, &head.Digit)
			}
			p.code.Heads = append(p.code.Heads, head)
		}})
	}
	for _, s := range blink.States() {
		if s == blink.Steady || s == blink.Dark {
			continue // they never change
		}
		all = append(all, field{"states." + s.String(),
			func(p *parser, path string, v value) { p.code.Rhythms[s] = p.rhythm(path, v) }})
	}
	for _, s := range blink.States() {
		if s != blink.Dark {
			all = append(all, field{"colors." + s.String(),
				func(p *parser, path string, v value) { p.word(path, v, &p.code.Colors[s]) }})
		}
	}
	for _, end := range []blink.EdgeEnd{blink.EndLow, blink.EndHigh} {
		// Behind a frame it begins dark; without one it is a rhythm like any other.
		all = append(all, field{"states.edge_" + end.String(), func(p *parser, path string, v value) {
			p.code.EdgeRests[end] = beats(p.numbers(path, v), !p.framed)
		}})
	}
	return all
}

// mostMS is the most milliseconds in a duration, so that it does not overflow.
const mostMS = 1_000_000

func milliseconds(n int) time.Duration {
	return time.Duration(max(min(n, mostMS), -mostMS)) * time.Millisecond
}

func beats(units []int, lit bool) []blink.Beat {
	var list []blink.Beat
	for i, n := range units {
		list = append(list, blink.Beat{Lit: (i%2 == 0) == lit, Units: n})
	}
	return list
}

// groupOf returns marks as a group; none at all are a group that shows no light.
func groupOf(marks string) blink.Group {
	if marks == "" {
		return blink.EmptyGroup
	}
	return blink.Group(marks)
}

// alwaysLit is what a sheet says of a state in which the lamp never goes dark.
const alwaysLit = "lit"

// rhythm reads a rhythm, or that the lamp is always lit.
func (p *parser) rhythm(path string, v value) []blink.Beat {
	if v.kind != unstable.String {
		return beats(p.numbers(path, v), true)
	}
	switch v.text {
	case alwaysLit:
		return []blink.Beat{{Lit: true, Units: 1}}
	case blink.Dark.String():
		p.problem(path, v.place, "leave it out: that state can't be read from the lamp",
			"a dark lamp may have no power, so dark can't mean %s", strings.TrimPrefix(path, "states."))
	default:
		p.problem(path, v.place,
			"write the rhythm in brackets, such as [16, 4], or \"lit\" for a lamp that never goes dark",
			"%q is not a rhythm", v.text)
	}
	return nil
}

// preset stores the pilot of a preset.
func (p *parser) preset(path, number string, v value) {
	n, err := strconv.Atoi(number)
	if err != nil {
		p.problem(path, v.place, "write 1 = \"116 digital\", and so on", "%q is not the number of a preset", number)
		return
	}
	text := ""
	if p.word(path, v, &text); p.spoilt[path] {
		return
	}
	word, carrier, _ := strings.Cut(text, " ")
	channel, notChannel := channelplan.ParseChannel(word)
	kind, notKind := channelplan.ParsePilotKind(strings.TrimSpace(carrier))
	if notChannel != nil || notKind != nil {
		p.problem(path, v.place, "write a channel and a carrier, such as \"116 digital\"", "%q is not a pilot", text)
		return
	}
	p.code.Presets = append(p.code.Presets, blink.Preset{Number: n,
		Pilot: channelplan.Pilot{Channel: channel, Kind: kind}})
}

// fill stores all values, and reports entries that are not known.
func (p *parser) fill() {
	var known []string
	for _, f := range fields {
		known = append(known, f.path)
	}
	if p.groups <= blink.MaxGroups {
		p.code.Groups = make([]blink.GroupRule, p.groups)
	} else {
		at := p.tables[fmt.Sprintf("group.%d", blink.MaxGroups)]
		p.problem("group", at, fmt.Sprintf("write %d at most", blink.MaxGroups), "the frame has %d groups", p.groups)
	}
	for _, path := range p.order {
		v := p.values[path]
		if rest, ok := strings.CutPrefix(path, "group."); ok {
			p.group(path, rest, v)
			continue
		}
		if number, ok := strings.CutPrefix(path, "presets."); ok {
			p.preset(path, number, v)
			continue
		}
		i := slices.IndexFunc(fields, func(f field) bool { return f.path == path })
		if i < 0 {
			p.unknown(path, v.place, known)
			continue
		}
		fields[i].take(p, path, v)
	}
	for name, at := range p.tables {
		if !slices.ContainsFunc(known, func(k string) bool { return strings.HasPrefix(k, name+".") }) &&
			!strings.HasPrefix(name, "group.") && name != "presets" {
			p.unknown(name, at, tableNames)
		}
	}
	slices.SortFunc(p.code.Heads, func(a, b blink.Head) int { return int(a.Kind) - int(b.Kind) })
	slices.SortStableFunc(p.code.Presets, func(a, b blink.Preset) int { return a.Number - b.Number })
	p.markKinds()
}

// markKinds gives the group of kinds the marks that the sheet names kinds by.
func (p *parser) markKinds() {
	if p.kindMarks == [10]blink.Group{} {
		return
	}
	for _, h := range p.code.Heads {
		if p.kindMarks[h.Digit] == "" || p.code.HundredAdds != 0 {
			p.problem("kinds", p.placeOf("kinds"),
				"give every kind its marks, or every kind a digit; hundred_adds goes with digits",
				"the kinds have marks and digits")
			return
		}
	}
	for i := range p.code.Groups {
		g := &p.code.Groups[i]
		if g.From != blink.FromKind {
			continue
		}
		if _, given := p.values[fmt.Sprintf("group.%d.digits", i)]; given {
			p.problem("kinds", p.placeOf("kinds"), "leave the group's digits out",
				"the kinds have marks, and their group has digits of its own")
		}
		g.Marks = p.kindMarks
	}
}

// tableNames are the tables of a sheet.
var tableNames = []string{"marks", "digits", "channels", "presets", "kinds", "states", "colors", "group"}

func (p *parser) unknown(path string, at place, known []string) {
	hint := "leave it out, or put # before it"
	if slices.Contains(tableNames, path) {
		p.problem(path, at,
			fmt.Sprintf("write [%s], or [[group]] for each group, on a line of its own, and below it one line for each entry",
				path), "%s is all on one line", path)
		return
	}
	if near := wording.Nearest(path, known); near != "" {
		hint = fmt.Sprintf("did you mean %s?", near)
	}
	p.problem(path, at, hint, "%s is not an entry of a code sheet", path)
}

// group stores a value of a group; rest is the group's number and the entry's name.
func (p *parser) group(path, rest string, v value) {
	number, name, _ := strings.Cut(rest, ".")
	i, err := strconv.Atoi(number)
	if err != nil || i >= len(p.code.Groups) {
		return // too many groups; already reported
	}
	g := &p.code.Groups[i]
	word := ""
	switch name {
	case "name":
		p.word(path, v, &g.Name)
	case "from":
		if p.word(path, v, &word); p.spoilt[path] {
			return
		}
		var ok bool
		if g.From, ok = blink.ParseSource(word); !ok {
			p.problem(path, v.place, "write kind, hundreds, tens, units or check", "a group can't be from %q", word)
		}
	case "rule":
		if p.word(path, v, &word); p.spoilt[path] {
			return
		}
		var names []string
		for _, rule := range blink.CheckRules() {
			names = append(names, rule.Name)
			if rule.Name == word {
				p.code.Check = rule
				return
			}
		}
		p.problem(path, v.place, "write "+strings.Join(names, ", ")+", or leave the group out",
			"there is no check rule %q", word)
	case "leading_zeros":
		if v.kind != unstable.Bool {
			p.problem(path, v.place, "write true or false, without quotes",
				"leading_zeros of group %d is neither true nor false", i+1)
			return
		}
		g.DropZero = v.text == "false"
	case "digits":
		if v.kind != unstable.Array || len(v.list) > len(g.Marks) {
			p.problem(path, v.place, "write the marks of 0, 1, 2, and so on, up to 9: digits = [\"__\", \"_\"]",
				"digits of group %d is not a list of up to ten marks", i+1)
			return
		}
		for d, one := range v.list {
			if p.word(path, one, &word); p.spoilt[path] {
				return
			}
			g.Marks[d] = blink.Group(word)
			if d == 0 {
				g.Marks[d] = groupOf(word)
			}
		}
	default:
		p.unknown(path, v.place, []string{"name", "from", "rule", "leading_zeros", "digits"})
	}
}

// check reports what is missing and the flaws of the code itself.
func (p *parser) check() {
	for i := range p.code.Groups {
		path := fmt.Sprintf("group.%d", i)
		if _, ok := p.values[path+".from"]; !ok {
			p.problem(path, p.tables[path], "write from = \"kind\", \"hundreds\", \"tens\", \"units\" or \"check\"",
				"the group does not say where its digit comes from")
		}
	}
	if p.code.Name == "" && !p.spoilt["name"] {
		p.problem("name", place{1, 1}, "write name = \"...\" at the top", "the code has no name")
	}
	if !p.framed {
		// Nothing is counted; lengths that are never sent still have to be possible.
		t := blink.Tally.Timing
		to := &p.code.Timing
		to.Short, to.Long, to.MarkGap, to.GroupGap, to.Rest = t.Short, t.Long, t.MarkGap, t.GroupGap, t.Rest
	}
	if _, given := p.values["marks.long"]; !given && !p.code.HasLong() {
		p.code.Timing.Long = 3 * p.code.Timing.Short // no digit has a long mark
	}
	for _, r := range []struct{ path, hint string }{
		{"unit_ms", "write how long a unit is, in milliseconds: unit_ms = 200"},
		{"marks.short", "write it under [marks], in units"}, {"marks.long", "write it under [marks], in units"},
		{"marks.gap", "write under [marks] how long it is dark between the marks of a group, in units"},
		{"marks.group_gap", "write under [marks] how long it is dark between groups, in units"},
		{"marks.rest", "write under [marks] how long it is dark after a frame, in units"},
	} {
		if _, given := p.values[r.path]; !given && !p.spoilt[r.path] &&
			(r.path != "marks.long" || p.code.HasLong()) && (p.framed || r.path == "unit_ms") {
			p.problem(r.path, p.placeOf(r.path), r.hint, "%s is missing", r.path)
		}
	}
	if _, given := p.values["unit_range_ms"]; !given {
		t := &p.code.Timing
		t.MinUnit, t.MaxUnit = max((t.Unit/2).Truncate(time.Millisecond), min(t.Unit, fastest)),
			min(2*t.Unit, max(t.Unit, slowest))
	}
	for _, f := range p.code.Flaws() {
		if p.blamed(f.Part) {
			continue
		}
		p.problem(f.Part, p.placeOf(f.Part), f.Hint, "%s", f.Text)
	}
}

// Limits of the unit range if a sheet does not give one.
const (
	fastest = 10 * time.Millisecond
	slowest = 10 * time.Second
)

// blamed reports whether a part, or anything in it, already has a problem.
func (p *parser) blamed(part string) bool {
	for path := range p.spoilt {
		if path == part || strings.HasPrefix(path, part+".") {
			return true
		}
	}
	return false
}

// placeOf returns the place of a part, or of the table that it is missing from.
func (p *parser) placeOf(part string) place {
	if v, ok := p.values[part]; ok {
		return v.place
	}
	if part == "channels" {
		for _, end := range []string{"channels.last", "channels.first"} {
			if v, ok := p.values[end]; ok {
				return v.place
			}
		}
	}
	if at, ok := p.tables[part]; ok {
		return at
	}
	if parent, _, nested := strings.Cut(part, "."); nested {
		if at, ok := p.tables[parent]; ok {
			return at
		}
	}
	return p.at(len(p.data))
}
