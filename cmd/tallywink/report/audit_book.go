package report

import (
	"fmt"
	"slices"
	"strings"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// Keep drops everything that does not concern a node. It reports whether the inventory
// has that node.
func (s *SeenInField) Keep(p *plant.Plant, node string) bool {
	other := func(name string) bool { return !strings.EqualFold(name, node) }
	s.Visits = slices.DeleteFunc(s.Visits, func(v field.Visit) bool { return other(v.Node) })
	s.Faults = slices.DeleteFunc(s.Faults, func(f field.Fault) bool {
		return !slices.ContainsFunc(f.Nodes, func(n string) bool { return !other(n) })
	})
	s.Unlisted = nil
	s.Readings = slices.DeleteFunc(slices.Clone(s.Readings), func(r field.Reading) bool {
		row, ok := p.Find(r.Amp)
		return !ok || other(p.Amplifiers[row].Node)
	})
	return len(s.Visits) > 0
}

// seenColumns are the work list's own columns, before the inventory owner's.
var seenColumns = []string{"amp", "node", "upstream", "pilot", "trouble", "read", "read_at", "read_by", "what",
	"read_next"}

// List writes the amplifiers that somebody has to go to, for a spreadsheet: those with
// trouble and those that nobody has read, or all of them.
func (s SeenInField) List(p *plant.Plant, all, screen bool) []byte {
	w := newWorkList(p, screen)
	titles, own := ownOf(p, seenColumns)
	rows := w.append(w.mark(), append(slices.Clone(seenColumns), titles...)...)
	next := map[string]bool{}
	for _, f := range s.Faults {
		next[f.ReadNext] = f.ReadNext != ""
	}
	for _, v := range s.Visits {
		if v.Trouble == field.NoTrouble && !all && v.Changed == nil && !next[v.ID] {
			continue
		}
		read, at, who, pilot := "", "", "", ""
		if v.Last != nil {
			read, at, who = v.Last.Words(), v.Last.Time.Local().Format(field.Minute), v.Last.Who
		}
		if !v.Pilot.IsZero() {
			pilot = v.Pilot.String()
		}
		row, _ := p.Find(v.ID)
		rows = w.append(rows, append([]string{v.ID, v.Node, v.Upstream, pilot, v.Trouble.String(), read, at, who,
			v.Text, wording.Either(next[v.ID], "yes", "")}, own(row)...)...)
	}
	return rows
}

// SeenInField is a field book compared with an inventory, for output.
type SeenInField struct {
	field.Compared
	Lineup   *lineup.Lineup // nil if none is known
	Readings []field.Reading
	Damaged  []int         // lines of the book that can't be read
	Misdated int           // lines whose time can't be right
	Problems []fault.Error // of the inventory and its cascades
}

func (s SeenInField) with(t field.Trouble) []field.Visit {
	var list []field.Visit
	for _, v := range s.Visits {
		if v.Trouble == t {
			list = append(list, v)
		}
	}
	return list
}

// Count returns how many amplifiers have a trouble.
func (s SeenInField) Count(t field.Trouble) int { return len(s.with(t)) }

// maxSeen is how many amplifiers of one trouble are listed for a person.
const maxSeen = 20

// Blocks says what was seen, in words that fit a phone's screen.
func (s SeenInField) Blocks(all bool) []console.Block {
	blocks := []console.Block{console.Section("Book", s.summary())}
	faults := console.Block{Label: "Faults"}
	for i, f := range s.Faults {
		faults.Text = append(faults.Text, console.Hung(fmt.Sprintf("%d. ", i+1),
			console.Shown(wording.Sentence(f.Text))))
	}
	if len(faults.Text) > 0 {
		blocks = append(blocks, faults)
	}
	for _, t := range []struct {
		label string
		of    field.Trouble
	}{{"Wrong", field.WrongPilot}, {"Unlocked", field.NotLocked}, {"Design", field.NotAsMeant},
		{"Edge", field.AtEdge}, {"Doubtful", field.Unsure}} {
		list := s.with(t.of)
		b := console.Block{Label: t.label}
		for i, v := range list {
			if i == maxSeen && !all {
				b.Text = append(b.Text, console.Row("and %d more%s", len(list)-maxSeen, console.Typed(": --all shows them", "")))
				break
			}
			b.Text = append(b.Text, console.Text(s.visitText(v)))
		}
		if len(list) > 0 {
			blocks = append(blocks, b)
		}
	}
	if never := s.with(field.NeverSeen); len(never) > 0 {
		blocks = append(blocks, console.Section("Not read", neverText(never, all)))
	}
	if changed := s.changed(); len(changed) > 0 {
		blocks = append(blocks, console.Block{Label: "Changed", Text: changed})
	}
	if len(s.Unlisted) > 0 {
		var ids []string
		named := map[string]bool{}
		for _, r := range s.Unlisted {
			if !named[r.Amp] {
				named[r.Amp] = true
				ids = append(ids, r.Amp)
			}
		}
		text := fmt.Sprintf("readings at amplifiers that are not in the inventory: %s",
			strings.Join(ids[:min(len(ids), maxSeen)], ", "))
		if more := len(ids) - maxSeen; more > 0 {
			text += fmt.Sprintf(" and %d more", more)
		}
		blocks = append(blocks, console.Section("Unlisted", console.Shown(text+".")))
	}
	return blocks
}

// changed lists lamps that were read twice within minutes, with different results.
func (s SeenInField) changed() []console.Paragraph {
	var lines []console.Paragraph
	count := 0
	for _, v := range s.Visits {
		if v.Changed == nil {
			continue
		}
		if count++; count <= maxSeen {
			text := fmt.Sprintf("%s: %s at %s, then %s at %s. If nobody worked on it in between, read it again.", v.ID,
				v.Changed.Words(), v.Changed.Time.Local().Format(field.Minute), v.Last.Words(),
				v.Last.Time.Local().Format("15:04"))
			lines = append(lines, console.Text(console.Shown(text)))
		}
	}
	if count > maxSeen {
		lines = append(lines, console.Row("and %d more", count-maxSeen))
	}
	return lines
}

func (s SeenInField) summary() string {
	visited := len(s.Visits) - s.Count(field.NeverSeen)
	if len(s.Readings) == 0 {
		return fmt.Sprintf("no reading; %s in the inventory.",
			wording.Counted(len(s.Visits), "amplifier", "amplifiers"))
	}
	last := slices.MaxFunc(s.Readings, func(a, b field.Reading) int { return a.Time.Compare(b.Time) })
	return fmt.Sprintf("%s at %d of %s, the last on %s; %s.",
		wording.Counted(len(s.Readings), "reading", "readings"), visited,
		wording.Counted(len(s.Visits), "amplifier", "amplifiers"), last.Time.Local().Format(field.Minute),
		s.agreement())
}

// agreement says how many readings match their records, and whether those are any good.
func (s SeenInField) agreement() string {
	text := wording.Counted(s.Count(field.NoTrouble), "matches its record", "match their records")
	if s.Lineup == nil {
		return text + ". The records themselves are not checked" + console.Typed(": add --lineup", "")
	}
	var invalid []string
	for _, v := range s.with(field.NoTrouble) {
		if pilot, told := v.Last.Lamp(); told && s.blocker(v, pilot) != "" {
			invalid = append(invalid, v.ID)
		}
	}
	if n := len(invalid); n > 0 {
		const most = 5
		text += fmt.Sprintf(", but %s on a pilot that is not valid: %s", wording.Counted(n, "is", "are"),
			strings.Join(invalid[:min(n, most)], ", ")+wording.Either(n > most, " and others", ""))
	}
	return text
}

// blocker names the rule by which a pilot is of no use to a visited amplifier, "" if there
// is none, or if a row of the lineup can't be read.
func (s SeenInField) blocker(v field.Visit, pilot channelplan.Pilot) lineup.Rule {
	rule := s.Lineup.CheckOne(pilot, lineup.Context{Amplifier: &v.Amplifier.Amplifier}).Blocker()
	if rule == lineup.RowUnreadable {
		return ""
	}
	return rule
}

func (s SeenInField) visitText(v field.Visit) string {
	text := v.ID
	if v.Node != "" {
		text += " (" + v.Node + ")"
	}
	text += ": " + v.Text
	if pilot, told := v.Last.Lamp(); told && v.Trouble == field.WrongPilot && s.Lineup != nil {
		if rule := s.blocker(v, pilot); rule != "" {
			text += fmt.Sprintf("; %v is not valid here (%s)", pilot, rule)
		}
	}
	if v.Trouble == field.NotLocked && s.Lineup != nil {
		if rule := s.blocker(v, v.Pilot); rule != "" {
			text += fmt.Sprintf("; its pilot, %v, is not valid here (%s)", v.Pilot, rule)
		}
	}
	text += "; " + v.Last.Time.Local().Format(field.Minute)
	if v.Last.Who != "" {
		text += ", " + v.Last.Who
	}
	return console.Shown(wording.Sentence(text))
}

// neverText says which amplifiers nobody has read: counted by node, or one by one.
func neverText(never []field.Visit, all bool) string {
	var names []string
	byNode := map[string]int{}
	for _, v := range never {
		if all {
			names = append(names, v.ID)
			continue
		}
		if byNode[v.Node] == 0 {
			names = append(names, v.Node)
		}
		byNode[v.Node]++
	}
	text := wording.Counted(len(never), "amplifier", "amplifiers") + ": "
	if all {
		return console.Shown(text + strings.Join(names, ", ") + ".")
	}
	var parts []string
	for _, node := range names[:min(len(names), maxSeen)] {
		parts = append(parts, fmt.Sprintf("%d in %s", byNode[node], wording.Either(node == "", "no node", node)))
	}
	text += strings.Join(parts, ", ")
	if more := len(names) - maxSeen; more > 0 {
		text += fmt.Sprintf(" and %d more nodes", more)
	}
	return console.Shown(text) + console.Typed("; --all names them", "") + "."
}

type faultDoc struct {
	Pilot     *channelplan.Pilot `json:"pilot"` // null if the amplifier has none by design
	Above     *string            `json:"above"` // the last that signal passes; null if that is the node or the headend
	Below     *string            `json:"below"` // the first that shows the fault; null if all do
	Nodes     []string           `json:"nodes"`
	Lost      int                `json:"lost"`
	HoursLong float64            `json:"hours_apart"` // between the readings
	Text      string             `json:"text"`
	// All pilots that were lost there, and the amplifier to read next; null if none would
	// show more.
	Pilots   []channelplan.Pilot `json:"pilots"`
	ReadNext *string             `json:"read_next"`
	// NeedPilot holds the amplifiers that need another pilot, not a repair.
	NeedPilot []string `json:"need_pilot,omitempty"`
}

type visitDoc struct {
	Amp      string             `json:"amp"`
	Node     string             `json:"node"`
	Recorded *channelplan.Pilot `json:"recorded"` // null if it has no pilot by design
	Trouble  field.Trouble      `json:"trouble"`
	Text     string             `json:"text,omitempty"`
	Readings int                `json:"readings"`
	Last     *field.Reading     `json:"last"` // null if there is none
	// The previous reading, if it was made minutes earlier and shows something else.
	Changed *field.Reading `json:"changed,omitempty"`
}

type fieldSummaryDoc struct {
	Schema  int `json:"schema"`
	Summary struct {
		Amps       int `json:"amps"`
		Visited    int `json:"visited"`
		Readings   int `json:"readings"`
		WrongPilot int `json:"wrong_pilot"`
		NotLocked  int `json:"not_locked"`
		NotAsMeant int `json:"not_as_designed"`
		Edge       int `json:"edge"`
		Doubtful   int `json:"doubtful"`
		Unlisted   int `json:"unlisted"` // readings at amplifiers that the inventory does not list
		Faults     int `json:"faults"`
		// Lines of the book that can't be read, and problems of the inventory.
		Damaged  []int        `json:"damaged_lines"`
		Problems []problemDoc `json:"problems"`
		Misdated int          `json:"misdated"` // lines of the book whose time can't be right
	} `json:"summary"`
}

// Lines prints everything as JSON lines: amplifiers with trouble or, with --all, every
// one; faults; a summary.
func (s SeenInField) Lines(out *console.Console, all bool) error {
	for _, v := range s.Visits {
		if !all && v.Changed == nil && (v.Trouble == field.NoTrouble || v.Trouble == field.NeverSeen) {
			continue
		}
		d := visitDoc{Amp: v.ID, Node: v.Node, Trouble: v.Trouble, Text: v.Text, Readings: v.Count,
			Last: v.Last, Changed: v.Changed}
		if !v.Pilot.IsZero() {
			d.Recorded = &v.Pilot
		}
		if err := out.JSONLine(d); err != nil {
			return err
		}
	}
	null := func(text string) *string {
		if text == "" {
			return nil
		}
		return &text
	}
	for _, f := range s.Faults {
		pilot := &f.Pilot
		if pilot.IsZero() {
			pilot = nil
		}
		d := faultDoc{pilot, null(f.Above), null(f.Below), f.Nodes, f.Lost, answer.Tenths(f.Apart.Hours()), f.Text,
			append([]channelplan.Pilot{}, f.Pilots...), null(f.ReadNext), f.NeedPilot}
		if err := out.JSONLine(map[string]any{"fault": d}); err != nil {
			return err
		}
	}
	d := fieldSummaryDoc{Schema: answer.Schema}
	d.Summary.Amps, d.Summary.Visited = len(s.Visits), len(s.Visits)-s.Count(field.NeverSeen)
	d.Summary.Readings, d.Summary.Unlisted, d.Summary.Faults = len(s.Readings), len(s.Unlisted), len(s.Faults)
	d.Summary.WrongPilot, d.Summary.NotLocked, d.Summary.NotAsMeant = s.Count(field.WrongPilot),
		s.Count(field.NotLocked), s.Count(field.NotAsMeant)
	d.Summary.Edge, d.Summary.Doubtful = s.Count(field.AtEdge), s.Count(field.Unsure)
	d.Summary.Damaged, d.Summary.Problems = append([]int{}, s.Damaged...), problemDocs(s.Problems)
	d.Summary.Misdated = s.Misdated
	return out.JSONLine(d)
}
