package report

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/audit"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// AuditText returns the text of a line that is the same for all amplifiers with the same
// settings.
func AuditText(j *audit.Judgement) []byte {
	if j.ByDesign {
		return fmt.Appendf(nil, "%-11s %-8s by design", j.Amplifier.Mode, lineup.Usable)
	}
	text := whyText(&j.Report, j.Change)
	switch {
	case j.Spare == nil:
		if j.Report.Verdict == lineup.Unusable {
			text += ", no spare"
		}
	case j.Change != nil && j.Change.Has(lineup.SpareLost):
		text += ", spare lost"
	case j.Report.Verdict != lineup.Unusable:
	case j.Spare.Verdict == lineup.Unusable:
		text += ", spare not valid"
	default:
		text += ", spare ok"
	}
	text = strings.TrimPrefix(text, ", ")
	if j.Slope != nil {
		slope := fmt.Sprintf("slope pilot %v %v", j.Slope.Pilot, j.Slope.Verdict)
		if why := whyText(j.Slope, j.SlopeChange); why != "" {
			slope += ": " + why
		}
		text = strings.TrimPrefix(text+"; "+slope, "; ")
	}
	return fmt.Appendf(nil, "%-11s %-8s %s", j.Report.Pilot, j.Verdict(), text)
}

// whyText says in a few words what is the matter with a pilot and what happens to it; the
// change is nil if there is none.
func whyText(r *lineup.Report, change *lineup.Comparison) string {
	var why []string
	if change != nil {
		for _, c := range change.Changes {
			lost := r.Verdict == lineup.Unusable
			if c.What == lineup.SpareLost || lost && c.What != lineup.PilotLost && c.What != lineup.PilotAbsent ||
				slices.Contains(why, c.What.String()) {
				continue
			}
			why = append(why, strings.TrimPrefix(c.What.String(), "pilot-"))
		}
	}
	for _, f := range r.Findings {
		if f.Severity == lineup.Note || f.Severity == lineup.Caution && r.Verdict == lineup.Unusable {
			break
		}
		why = append(why, string(f.Rule))
	}
	text := strings.Join(why, ", ")
	if change != nil && change.Step.Known && !change.Has(lineup.PilotAbsent) {
		text += fmt.Sprintf(", %+.1f dB", change.Step.DB)
		if change.Step.Held {
			text += ", out of range"
		}
		if change.Has(lineup.CarrierChanged) && (r.Verdict == lineup.Unusable || change.Has(lineup.PilotBack)) {
			text += wording.Either(change.Step.Held, ", if it locks", " if it locks")
		}
	}
	return text
}

// AuditLine appends the line of an amplifier, see [audit.Writer].
func AuditLine(to []byte, r *plant.Row, j *audit.Judgement) []byte {
	start := len(to)
	to = append(padded(to, r.ID, 8), ' ')
	to = append(padded(to, r.Node, 4), ' ')
	to = append(to, j.Text...)
	return append(to[:start+len(bytes.TrimRight(to[start:], " "))], '\n')
}

// padded appends a text, made safe to show, padded with spaces to a width.
func padded(to, text []byte, width int) []byte {
	start := len(to)
	to = wording.AppendHarmless(to, text)
	for range width - utf8.RuneCount(to[start:]) {
		to = append(to, ' ')
	}
	return to
}

// maxAuditNodes is how many nodes a summary lists for a person.
const maxAuditNodes = 10

// JudgedBy is what an audit judges by, and the day on which somebody reads it.
type JudgedBy struct {
	Now, Before *lineup.Lineup // before is nil if there is no change
	Today       time.Time
}

// coming reports whether the lineup is not in effect yet.
func (j JudgedBy) coming() bool { return j.Now.Effective.After(j.Today) }

// what says which lineup the audit judges by and, if it is to come, that nothing is lost
// yet.
func (j JudgedBy) what() string {
	name := wording.Harmless(answer.LineupName(j.Now))
	if j.Before != nil {
		name = wording.Harmless(j.Now.File)
	}
	if j.Now.Effective.IsZero() {
		return fmt.Sprintf("judged by %s, which has no date.", name)
	}
	day := j.Now.Effective.Format(time.DateOnly)
	switch {
	case !j.coming():
		return fmt.Sprintf("judged by %s, in effect since %s.", name, day)
	case j.Before != nil:
		return fmt.Sprintf("what will be from %s on, when %s replaces %s. Until then, every pilot marked 'lost' still works.",
			day, name, wording.Harmless(j.Before.File))
	}
	return fmt.Sprintf("judged by %s, which takes effect on %s: what will be then, not what is now.", name, day)
}

// next says what to do about the amplifiers that are listed.
func (j JudgedBy) next(s *audit.Summary) string {
	if c := s.Rules[lineup.RowUnreadable]; c != nil {
		return fmt.Sprintf("get the lineup's rows fixed that can't be read, and audit again: nothing is known of the pilot of %s (such as %s).",
			wording.Counted(c.Amps, "amplifier", "amplifiers"), wording.Harmless(c.ID))
	}
	switch {
	case s.Unusable == 0 || s.Amps == 0:
		return ""
	case j.coming():
		text := fmt.Sprintf("plan the visits before %s%s, and tell the headend which pilots the plant loses.",
			j.Now.Effective.Format(time.DateOnly), console.Typed(" ('tallywink cutover')", ""))
		if c := s.Changes[lineup.PilotAbsent]; c != nil {
			text = fmt.Sprintf("%s a pilot that is not valid today already ('absent' in the list, such as %s): read their lamps first. Then ",
				wording.Counted(c.Amps, "amplifier has", "amplifiers have"), wording.Harmless(c.ID)) + text
		}
		return text
	}
	return "read the lamps of the unusable ones before anyone changes a setting" +
		console.Typed(" ('tallywink decode --amp ID' says what to do)", "") + "; ask the supervisor for another pilot."
}

// Blocks tells an audit's summary.
func (j JudgedBy) Blocks(s *audit.Summary, concerns []lineup.Finding) []console.Block {
	amps := fmt.Sprintf("%s: %d usable, %d with caution, %d unusable.",
		wording.Counted(s.Amps, "amplifier", "amplifiers"), s.Usable, s.WithCare, s.Unusable)
	if s.ByDesign > 0 {
		amps = strings.TrimSuffix(amps, ".") + fmt.Sprintf("; of the usable, %s in manual or thermal by design.",
			wording.Counted(s.ByDesign, "is", "are"))
	}
	if s.LeftOut > 0 {
		amps += fmt.Sprintf(" Also, %s could not be read%s.",
			wording.Counted(s.LeftOut, "row", "rows"), console.Typed(": see above, or --json for all of them", ""))
	}
	blocks := []console.Block{console.Section("Judged", strings.TrimPrefix(j.what(), "judged ")),
		console.Section("Amps", amps)}
	if j.Before != nil {
		blocks = append(blocks, console.Section("Levels",
			"the dB in the list are for each amplifier alone. "+
				console.Typed("'tallywink cutover' adds", "The work plan adds")+" up the cascade."))
	}
	causes := console.Block{Label: "Causes", Text: causeLines(slices.Collect(maps.Values(s.Rules)))}
	changes := console.Block{Label: "Changes", Text: causeLines(slices.Collect(maps.Values(s.Changes)))}
	nodes := console.Block{Label: "Nodes"}
	worst := worstNodes(s)
	for _, n := range worst[:min(len(worst), maxAuditNodes)] {
		nodes.Text = append(nodes.Text, console.Row("%-8s %d of %d unusable, %d with caution", console.Shown(n.name),
			n.Unusable, n.Amps, n.WithCare))
	}
	if more := len(worst) - maxAuditNodes; more > 0 {
		nodes.Text = append(nodes.Text, console.Row("and %d more of %s", more,
			wording.Counted(len(s.Nodes), "node", "nodes")))
	}
	about := console.Block{Label: "Lineup"}
	for _, f := range concerns {
		about.Text = append(about.Text, console.Text(answer.FindingText(f)))
	}
	for _, b := range []console.Block{causes, changes, nodes, about} {
		if len(b.Text) > 0 {
			blocks = append(blocks, b)
		}
	}
	if next := j.next(s); next != "" {
		blocks = append(blocks, console.Section("Next", next))
	}
	return blocks
}

func causeLines(causes []*audit.Cause) []console.Paragraph {
	var lines []console.Paragraph
	for _, c := range byAmps(causes) {
		lines = append(lines, console.Hung(fmt.Sprintf("%5d  ", c.Amps),
			console.Shown(fmt.Sprintf("%s. At %s, for example: %s", c.Name, c.ID, wording.Sentence(c.Text)))))
	}
	return lines
}

// byAmps sorts causes by how many amplifiers they concern, most first.
func byAmps(causes []*audit.Cause) []*audit.Cause {
	slices.SortFunc(causes, func(a, b *audit.Cause) int {
		return cmp.Or(b.Amps-a.Amps, cmp.Compare(a.Name, b.Name))
	})
	return causes
}

type nodeCount struct {
	name string
	*audit.Count
}

// worstNodes returns the nodes with an amplifier that is not plainly usable, the worst
// first.
func worstNodes(s *audit.Summary) []nodeCount {
	var nodes []nodeCount
	for name, count := range s.Nodes {
		if count.Unusable+count.WithCare > 0 {
			nodes = append(nodes, nodeCount{cmp.Or(name, "(none)"), count})
		}
	}
	slices.SortFunc(nodes, func(a, b nodeCount) int {
		return cmp.Or(b.Unusable-a.Unusable, b.WithCare-a.WithCare, cmp.Compare(a.name, b.name))
	})
	return nodes
}

// AuditJSON writes JSON lines.
type AuditJSON struct {
	plan channelplan.Plan
	own  []ownColumn // columns that are the inventory owner's own
}

type ownColumn struct {
	place int
	name  string
}

// NewAuditJSON returns how to write the audit of an inventory by a lineup.
func NewAuditJSON(inv *plant.Inventory, l *lineup.Lineup) AuditJSON {
	a := AuditJSON{plan: l.Plan}
	for i, f := range inv.Header {
		if f.Text != "" && !plant.Column(f.Text) {
			a.own = append(a.own, ownColumn{i, inv.Titles[i]})
		}
	}
	return a
}

type changeDoc struct {
	What string `json:"what"`
	Text string `json:"text"`
}

// auditedDoc holds what is the same for all amplifiers of a judgement.
type auditedDoc struct {
	Mode  lineup.Mode           `json:"mode"`
	Pilot *answer.PilotDocument `json:"pilot"` // null if it has no pilot by design
	answer.VerdictDocument
	LevelStepDB    *float64    `json:"level_step_db"` // null if none is expected, or if it is not known
	LevelStepTopDB *float64    `json:"level_step_top_db,omitempty"`
	StepHeld       bool        `json:"level_step_held,omitempty"` // the AGC's range ends first
	Before         string      `json:"before,omitempty"`          // the verdict by the previous lineup
	Changes        []changeDoc `json:"changes,omitempty"`
	Spare          *spareDoc   `json:"spare,omitempty"`
	Role           string      `json:"role,omitempty"`  // low: the row is that of a slope pilot
	Slope          *slopeDoc   `json:"slope,omitempty"` // the second pilot, if the row gives one
}

// slopeDoc is about the slope pilot of an amplifier with two pilots. The verdict of the
// line is the worse one of both.
type slopeDoc struct {
	spareDoc
	Before  string      `json:"before,omitempty"`
	Changes []changeDoc `json:"changes,omitempty"`
}

type spareDoc struct {
	Pilot *answer.PilotDocument `json:"pilot"`
	answer.VerdictDocument
}

// Judged returns what is the same for all amplifiers of a judgement, see [audit.Writer].
func (a AuditJSON) Judged(j *audit.Judgement) []byte {
	d := auditedDoc{Mode: j.Amplifier.Mode, VerdictDocument: *answer.NewVerdictDocument(&j.Report)}
	if !j.ByDesign {
		d.Pilot = answer.NewPilotDocument(&j.Report, a.plan)
	}
	d.Verdict = j.Verdict()
	if j.Amplifier.Role == lineup.LowPilot {
		d.Role = j.Amplifier.Role.String()
	}
	judged := func(r *lineup.Report) spareDoc {
		return spareDoc{answer.NewPilotDocument(r, a.plan), *answer.NewVerdictDocument(r)}
	}
	if j.Spare != nil {
		spare := judged(j.Spare)
		d.Spare = &spare
	}
	if j.Slope != nil {
		d.Slope = &slopeDoc{spareDoc: judged(j.Slope)}
		if c := j.SlopeChange; c != nil {
			d.Slope.Before, d.Slope.Changes = c.Before.Verdict.String(), changeDocs(c)
		}
	}
	if c := j.Change; c != nil {
		d.Before, d.Changes = c.Before.Verdict.String(), changeDocs(c)
		if c.Step.Known {
			at, top := answer.Tenths(c.Step.DB), answer.Tenths(c.Step.TopDB)
			d.LevelStepDB, d.LevelStepTopDB, d.StepHeld = &at, &top, c.Step.Held
		}
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(d); err != nil {
		panic(err) // documents of our own types can always be encoded
	}
	return wording.HarmlessJSON(bytes.TrimSuffix(bytes.TrimPrefix(b.Bytes(), []byte("{")), []byte("}\n")))
}

func changeDocs(c *lineup.Comparison) (docs []changeDoc) {
	for _, ch := range c.Changes {
		docs = append(docs, changeDoc{ch.What.String(), ch.Text})
	}
	return docs
}

// Row appends the line of an amplifier.
func (a AuditJSON) Row(to []byte, r *plant.Row, j *audit.Judgement) []byte {
	to = append(to, `{"amp":`...)
	to = appendJSONString(to, r.ID)
	to = append(to, `,"node":`...)
	to = appendJSONString(to, r.Node)
	to = append(to, `,"line":`...)
	to = strconv.AppendInt(to, int64(r.Line), 10)
	to = append(to, ',')
	to = append(to, j.Text...)
	lead := `,"more":{`
	for _, own := range a.own {
		if own.place >= len(r.Values) || len(r.Values[own.place]) == 0 {
			continue
		}
		to = append(to, lead...)
		to = append(appendJSONString(to, []byte(own.name)), ':')
		to = appendJSONString(to, r.Values[own.place])
		lead = ","
	}
	if lead == "," {
		to = append(to, '}')
	}
	return append(to, "}\n"...)
}

// appendJSONString appends a JSON string; most need no escapes.
func appendJSONString(to, text []byte) []byte {
	for _, c := range text {
		if c < ' ' || c == '"' || c == '\\' || c >= 0x7f {
			quoted, err := json.Marshal(string(text))
			if err != nil {
				panic(err) // a string can always be encoded
			}
			return append(to, wording.HarmlessJSON(quoted)...)
		}
	}
	to = append(to, '"')
	to = append(to, text...)
	return append(to, '"')
}

// rowErrorDoc reports a row that can't be used, or only in part.
type rowErrorDoc struct {
	Line   int    `json:"line"`
	Column int    `json:"column"`
	Error  string `json:"error"`
}

// Problem appends the line of a row that has a problem.
func (AuditJSON) Problem(to []byte, p fault.Error) []byte {
	line, err := json.Marshal(rowErrorDoc{p.Line, p.Column, p.Said()})
	if err != nil {
		panic(err) // documents of our own types can always be encoded
	}
	return append(append(to, wording.HarmlessJSON(line)...), '\n')
}

type auditCountDoc struct {
	Amps     int `json:"amps"`
	Usable   int `json:"usable"`
	WithCare int `json:"caution"`
	Unusable int `json:"unusable"`
	ByDesign int `json:"by_design"` // of the usable ones: set by hand or by temperature
}

type auditNodeDoc struct {
	Node string `json:"node"`
	auditCountDoc
}

type auditCauseDoc struct {
	Name string `json:"name"`
	Amps int    `json:"amps"`
	Text string `json:"text"` // about the first amplifier
}

type auditTotalDoc struct {
	auditCountDoc
	LeftOut  int                      `json:"left_out"` // rows that could not be used
	Problems int                      `json:"problems"` // of rows; each is reported on its own line
	Rules    []auditCauseDoc          `json:"rules"`
	Changes  []auditCauseDoc          `json:"changes"`
	Nodes    []auditNodeDoc           `json:"nodes"`
	Lineup   []answer.FindingDocument `json:"lineup"` // about the lineup, reported once
}

type auditSummaryDoc struct {
	Schema  int           `json:"schema"`
	Summary auditTotalDoc `json:"summary"`
}

// NewAuditSummaryDoc returns the JSON document that ends an audit's lines.
func NewAuditSummaryDoc(s *audit.Summary, concerns []lineup.Finding) any {
	d := auditTotalDoc{auditCountDoc: auditCountDoc(s.Count), LeftOut: s.LeftOut, Problems: s.Told,
		Rules:   causeDocs(slices.Collect(maps.Values(s.Rules))),
		Changes: causeDocs(slices.Collect(maps.Values(s.Changes))),
		Nodes:   []auditNodeDoc{}, Lineup: answer.FindingDocuments(concerns)}
	for _, name := range slices.Sorted(maps.Keys(s.Nodes)) {
		d.Nodes = append(d.Nodes, auditNodeDoc{name, auditCountDoc(*s.Nodes[name])})
	}
	return auditSummaryDoc{answer.Schema, d}
}

func causeDocs(causes []*audit.Cause) []auditCauseDoc {
	docs := []auditCauseDoc{}
	for _, c := range byAmps(causes) {
		docs = append(docs, auditCauseDoc{c.Name, c.Amps, c.Text})
	}
	return docs
}

// AuditCSV writes a work list: the inventory's columns, followed by what the audit says.
type AuditCSV struct {
	workList
	titles []string
	keep   []int // indexes of the columns that are kept
	own    []string
	slope  bool // the inventory has a column for a slope pilot, so the list says how that fares
}

// auditColumns are the work list's own columns, after the inventory's.
var auditColumns = []string{"pilot_verdict", "pilot_why", "pilot_change", "level_step_db", "spare_verdict"}

// slopeColumns come after them if the inventory gives slope pilots.
var slopeColumns = []string{"slope_verdict", "slope_why", "slope_change", "amp_verdict"}

// NewAuditCSV returns how to write the work list of an audit; screen reports that it goes to
// a terminal.
func NewAuditCSV(inv *plant.Inventory, screen bool) AuditCSV {
	a := AuditCSV{workList: workList{inv.Comma, inv.BOM, screen}, own: auditColumns}
	if _, a.slope = inv.Place("slope_channel"); a.slope {
		a.own = slices.Concat(auditColumns, slopeColumns)
	}
	for i, f := range inv.Header {
		if !slices.Contains(a.own, f.Text) { // columns of an earlier audit are replaced
			a.keep = append(a.keep, i)
			a.titles = append(a.titles, inv.Titles[i])
		}
	}
	return a
}

// Head returns the header line.
func (a AuditCSV) Head() []byte {
	return a.append(a.mark(), append(slices.Clone(a.titles), a.own...)...)
}

// Judged writes the columns that are the same for all amplifiers of a judgement.
func (a AuditCSV) Judged(j *audit.Judgement) []byte {
	step, spare := "", ""
	if c := j.Change; c != nil && c.Step.Known {
		step = a.tenths(c.Step.DB)
	}
	if j.Spare != nil {
		spare = j.Spare.Verdict.String()
	}
	why, changes := inFull(&j.Report, j.Change)
	values := []string{j.Report.Verdict.String(), why, changes, step, spare}
	switch {
	case j.Slope != nil:
		why, changes := inFull(j.Slope, j.SlopeChange)
		values = append(values, j.Slope.Verdict.String(), why, changes, j.Verdict().String())
	case a.slope:
		values = append(values, "", "", "", j.Verdict().String())
	}
	return a.append(nil, values...)
}

// inFull says what is the matter with a pilot and what happens to it, in sentences.
func inFull(r *lineup.Report, change *lineup.Comparison) (why, changes string) {
	var all, after []string
	for _, f := range r.Findings {
		if f.Severity != lineup.Note {
			all = append(all, string(f.Rule)+": "+f.Text)
		}
	}
	if change != nil {
		for _, c := range change.Changes {
			after = append(after, c.What.String()+": "+c.Text)
		}
	}
	return strings.Join(all, "; "), strings.Join(after, "; ")
}

// Row appends the row of an amplifier.
func (a AuditCSV) Row(to []byte, r *plant.Row, j *audit.Judgement) []byte {
	for _, i := range a.keep {
		if i < len(r.Values) {
			to = a.bytes(to, r.Values[i])
		}
		to = append(to, byte(a.comma))
	}
	return append(to, j.Text...)
}
