package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/channelplan"
	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/fault"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// WorkPlan is a plan, for output.
type WorkPlan struct {
	*cutover.Plan
	Plant    *plant.Plant
	Code     *blink.Code // the code that the lamps use
	Problems []fault.Error
	Followed bool     // a field book says what has been done
	LeftOut  int      // rows that could not be used
	Broken   int      // number of problems with cascades
	Cautions []string // about the lineups
	Assumed  bool     // nobody gave the length of a visit, or the number of crews
	// ChangeGiven reports that somebody said when the headend changes its lineup, and
	// SwingGiven how much warmer the cable is by day.
	ChangeGiven, SwingGiven bool
	Calendar                *cutover.Calendar      // nil if nobody said when crews may work
	Jobs                    map[string]cutover.Job // its visits, see [ByVisit]
}

// CautionsOf says what is odd about two lineups, the second of which is to replace the
// first in a plant or, if a node is given, there.
func CautionsOf(before, after *lineup.Lineup, p *plant.Plant, node string, today time.Time) []string {
	var all []string
	switch {
	case before.Effective.IsZero() || after.Effective.IsZero():
	case before.File == after.File || before.Effective.Equal(after.Effective):
		all = append(all, "the two lineups have the same date: is one of them the wrong file?")
	case before.Effective.After(after.Effective):
		all = append(all, "the lineup given as the old one is the newer one: did you swap the two?")
	case after.Effective.Before(today):
		all = append(all, "the change is past: it is too late to move anything early.")
	}
	for _, l := range []*lineup.Lineup{before, after} {
		n := len(l.LeftOut)
		if n == 0 {
			continue
		}
		blocker := l.Blockers()
		unread := func(p channelplan.Pilot) bool {
			return !p.IsZero() && blocker(p, lineup.Amplifier{}) == lineup.RowUnreadable
		}
		on := 0
		for _, a := range p.Amplifiers {
			here := node == "" || strings.EqualFold(a.Node, node)
			if here && a.Mode == lineup.AGC && (unread(a.Pilot) || unread(a.Slope.Pilot)) {
				on++
			}
		}
		text := fmt.Sprintf("%s of %s can't be read: ", wording.Counted(n, "row", "rows"), l.File)
		if on > 0 {
			text += fmt.Sprintf("%s planned as if the pilot were gone. ",
				wording.Counted(on, "amplifier on a channel there is", "amplifiers on channels there are"))
		}
		all = append(all, text+"Get the lineup fixed, and plan again before anyone goes out.")
	}
	return all
}

// hours writes a time the way dispatch does.
func hours(d time.Duration) string { return fmt.Sprintf("%.1f h", d.Hours()) }

// Blocks tells the plan.
func (w WorkPlan) Blocks() []console.Block {
	n := w.Count
	day := "on a date the lineup does not give"
	if !w.After.Effective.IsZero() {
		day = "on " + w.After.Effective.Format(time.DateOnly)
	}
	blocks := []console.Block{
		console.Section("Change", fmt.Sprintf("%s replaces %s %s: %s to be visited.", console.Shown(w.After.File),
			console.Shown(w.Before.File), day,
			wording.Counted(w.Touched(), "amplifier is", "amplifiers are"))),
		{Label: "Amps", Text: w.countLines()},
		console.Section("Time", w.timeText()),
	}
	blocks = append(blocks, w.doneBlocks()...)
	if w.Calendar != nil {
		blocks = append(blocks, w.nightsBlock())
	}
	addable := 0
	for i := range w.Steps {
		if cutover.Spared(&w.Steps[i]) {
			addable++
		}
	}
	if addable > 0 {
		blocks = append(blocks, console.Section("Ask",
			fmt.Sprintf("can the headend turn on the new pilot of %d of the parked now (its place is empty today), and keep the old one on until you are done, %s of work? Then these move early and need no parking.",
				addable, hours(w.Needs(cutover.Spared)))))
	}
	if text := w.parkedText(); text != "" {
		blocks = append(blocks, console.Section("Parked", text))
	}
	if n[cutover.Strand] > 0 {
		blocks = append(blocks, console.Numbered("Stranded", cutover.LeaveParked()))
	}
	if slices.ContainsFunc(w.Steps, func(s cutover.Step) bool { return s.SlopeTo != nil }) {
		blocks = append(blocks, console.Section("Slope", cutover.BothPilots))
	}
	blocks = append(blocks, console.Block{Label: "Levels", Text: w.untouchedLines()})
	if w.Undetected > 0 && w.Touched() > 0 {
		blocks = append(blocks, console.Section("Assumed",
			fmt.Sprintf("the inventory does not say what the detectors of %s can follow: the kinds of their pilot and spare are assumed, and that no detector follows an OFDM block. A column detector says it%s.",
				wording.Counted(w.Undetected, "amplifier", "amplifiers"), console.Typed(" ('tallywink help plants')", ""))))
	}
	for _, caution := range w.Cautions {
		blocks = append(blocks, console.Section("Caution", console.Shown(caution)))
	}
	if w.SparesLost+w.NewSpares > 0 {
		blocks = append(blocks, console.Section("Spares",
			fmt.Sprintf("%s lost with the change. %s has a new spare for %s (column new_spare).",
				wording.Counted(w.SparesLost, "spare pilot is", "spare pilots are"), workListName,
				wording.Counted(w.NewSpares, "amplifier", "amplifiers"))))
	}
	pilots := console.Block{Label: "Pilots"}
	for _, t := range w.Targets {
		pilots.Text = append(pilots.Text, targetLines(w.Code, t)...)
	}
	if len(pilots.Text) > 0 {
		pilots.Text = append(pilots.Text, console.Text(w.designText()))
		blocks = append(blocks, pilots)
	}
	if w.Touched() > 0 {
		blocks = append(blocks, console.Section("Caution", answer.Interrupts))
	}
	if n[cutover.Early] > 0 {
		blocks = append(blocks, console.Numbered("Early", cutover.MoveEarly()))
	}
	if n[cutover.Park]+n[cutover.Strand] > 0 {
		blocks = append(blocks, console.Numbered("Park", cutover.ParkIt(w.Code)))
	}
	if n[cutover.Park] > 0 {
		blocks = append(blocks, console.Numbered("Lock", cutover.LockAgain()))
	}
	if w.Touched() > 0 {
		blocks = append(blocks, console.Numbered("Back out", w.backOut()))
	}
	for _, node := range w.Nodes {
		if lines := nodeLines(node); len(lines) > 0 {
			blocks = append(blocks, console.Block{Label: console.Shown(orNone(node.Name)), Text: lines})
		}
	}
	return append(blocks, CareBlock())
}

// workListName is what the work list is called.
var workListName = console.Typed("--csv", "The work list")

// designText says where the levels to set to are. The lineup's are told nowhere that
// somebody could set an amplifier to them.
func (w WorkPlan) designText() string {
	known, moved := 0, 0
	for _, s := range w.Steps {
		if s.To != nil {
			moved++
			if !w.expected(s).IsZero() {
				known++
			}
		}
	}
	switch known {
	case 0:
		return "No design levels are on file: set outputs by each amplifier's own record. Never set an amplifier to the lineup's levels: they are the headend's."
	case moved:
		return workListName + " has each amplifier's design levels, on the line. Never set an amplifier to the lineup's levels: they are the headend's."
	}
	return workListName + fmt.Sprintf(" has the design levels, on the line, of %d of the %d amplifiers; set the others by their own records. Never set an amplifier to the lineup's levels: they are the headend's.",
		known, moved)
}

// expected returns what an amplifier's design requires at the pilot that it moves to, at
// the time it does.
func (w WorkPlan) expected(s cutover.Step) lineup.Expected {
	l := w.After
	if s.Action == cutover.Early {
		l = w.Before
	}
	return l.Expect(s.To.Pilot, s.Design)
}

func (w WorkPlan) backOut() []string {
	steps := []string{cutover.WhoBacksOut}
	if w.Count[cutover.Early] > 0 {
		steps = append(steps, cutover.BackOut(cutover.Early)...)
	}
	if w.Count[cutover.Park]+w.Count[cutover.Strand] > 0 {
		back := cutover.BackOut(cutover.Park)
		if w.Count[cutover.Park] == 0 { // stranded ones never lock on a new pilot
			back = back[1:]
		}
		steps = append(steps, back...)
	}
	return steps
}

func (w WorkPlan) countLines() []console.Paragraph {
	var lines []console.Paragraph
	for _, c := range []struct {
		action cutover.Action
		text   string
	}{
		{cutover.Early, "early: move before the change, to a pilot that is the same in both lineups."},
		{cutover.Park, "park: put in manual or thermal before the change, lock again after it."},
		{cutover.Strand, "stranded: parked before the change; after it, no carrier fits their detectors."},
		{cutover.Nothing, "keep their pilot as it is."},
		{cutover.ByDesign, "are in manual or thermal by design: no fault, nothing to do."},
	} {
		if n := w.Count[c.action]; n > 0 {
			lines = append(lines, console.Hung(fmt.Sprintf("%5d  ", n), c.text))
		}
	}
	if w.LeftOut > 0 {
		lines = append(lines,
			console.Text(fmt.Sprintf("Also, %s not in this plan: the inventory's text there can't be used.",
				wording.Counted(w.LeftOut, "row is", "rows are"))))
	}
	if w.Broken > 0 {
		lines = append(lines,
			console.Text(fmt.Sprintf("Also, %s: loops, or amplifiers that are not listed. The order there is not known.",
				wording.Counted(w.Broken, "cascade problem", "cascade problems"))))
	}
	return lines
}

func orNone(node string) string { return wording.Either(node == "", "no node", node) }

// shift is how long crews work at a stretch; longer work can't be done in one day (an
// assumption).
const shift = 8 * time.Hour

// timeText says how long the work takes, and how long old and new carriers must be on
// the air together.
func (w WorkPlan) timeText() string {
	early, locked := w.Count[cutover.Early], w.Count[cutover.Park]
	parked := locked + w.Count[cutover.Strand]
	text := fmt.Sprintf("hours of work, at %.0f minutes a visit and %s%s.", w.Visit.Minutes(),
		wording.Counted(w.Crews, "crew", "crews"), wording.Either(w.Assumed, ", both assumed"+console.Typed(" (--visit, --crews)", ""), ""))
	if early > 0 {
		text += fmt.Sprintf(" Early: %s before the change; the headend must not touch the old or the new pilot until the last amplifier has moved.",
			hours(w.Needs(cutover.ToMove)))
	}
	if parked > 0 {
		text += fmt.Sprintf(" Parked: %s before the change", hours(w.Needs(cutover.ToPark)))
		if locked > 0 {
			text += fmt.Sprintf(", and %s after it to lock them again", hours(w.Needs(cutover.ToLock)))
		}
		text += ". Park as late as you can: the first one parked runs longest without AGC."
		if n := w.Count[cutover.Strand]; n > 0 {
			text += fmt.Sprintf(" %s without AGC from then on, until the headend or a new detector gives a pilot that fits.",
				wording.Counted(n, "stays", "stay"))
		}
	}
	if which := cutover.ToPark; parked > 0 && w.Needs(which) > shift {
		switch crews := w.CrewsFor(which, shift); crews {
		case 0:
			text += fmt.Sprintf(" That does not fit in a shift of %s with any number of crews: one cascade by itself takes longer. Move more of them early, or change node by node.",
				hours(shift))
		default:
			text += fmt.Sprintf(" That does not fit in a shift of %s: it takes %s, or a change node by node.",
				hours(shift), wording.Counted(crews, "crew", "crews"))
		}
	}
	if w.Calendar == nil && w.Touched() > 0 {
		text += " That is total work time: spread it over maintenance windows" + console.Typed(" with --window", "") + "."
	}
	if w.Addable == 0 && locked > 0 {
		text += " Putting the new pilots on the air early would not save any parking: their spots are in use today."
	}
	return text
}

// parkedText says what parking costs: how far outputs move between day and night; "" if
// nothing is parked.
func (w WorkPlan) parkedText() string {
	worst, unknown, parked := -1, 0, 0
	for i, s := range w.Steps {
		if s.Action != cutover.Park && s.Action != cutover.Strand || s.Stage == cutover.Moved {
			continue
		}
		parked++
		switch {
		case !s.ParkedKnown:
			unknown++
		case worst < 0 || s.ParkedDB > w.Steps[worst].ParkedDB:
			worst = i
		}
	}
	swing := fmt.Sprintf("(%.0f F%s)", float64(w.DaySwing),
		wording.Either(w.SwingGiven, "", ", assumed"+console.Typed("; --day-swing", "")))
	switch {
	case parked == 0:
		return ""
	case worst < 0:
		return fmt.Sprintf("nothing corrects for temperature while an amplifier is parked. How far outputs move between night and day %s is not known: the inventory has no span losses for them.",
			swing)
	}
	text := fmt.Sprintf("nothing corrects for temperature while an amplifier is parked. Between night and day %s an output moves by up to %.1f dB at the top of its band, at %s: all the cable since the last amplifier on AGC counts. What is left parked moves with the season, by more.",
		swing, w.Steps[worst].ParkedDB, console.Shown(w.Steps[worst].ID))
	if unknown > 0 {
		text += fmt.Sprintf(" Not known for %d: the inventory has no span loss for them, or for one before them.", unknown)
	}
	return text
}

// untouchedLines says what happens to outputs if nobody goes anywhere.
func (w WorkPlan) untouchedLines() []console.Paragraph {
	off, held, worst := 0, 0, 0.0
	var at string
	for _, s := range w.Steps {
		u := s.Untouched
		if !u.Known || nonzero(u.DB) == 0 {
			continue
		}
		off++
		if u.Held {
			held++
		}
		if math.Abs(u.DB) > math.Abs(worst) {
			worst, at = u.DB, s.ID
		}
	}
	if off == 0 {
		return nil
	}
	text := fmt.Sprintf("with no visits, %s off level after the change%s; %s is the worst, by %+.1f dB, its own and what comes down the cascade.",
		wording.Counted(off, "output is", "outputs are"),
		wording.Either(off > w.Touched(), ", also at amplifiers that these feed", ""), console.Shown(at), worst)
	if held > 0 {
		text += fmt.Sprintf(" %s at the end of the AGC's range: the next amplifier in the cascade has to correct the rest.",
			wording.Counted(held, "is", "are"))
	}
	return []console.Paragraph{console.Text(text)}
}

// targetLines draws what the lamp must show on a pilot, and says where to measure it.
func targetLines(code *blink.Code, t cutover.Target) []console.Paragraph {
	lines := []console.Paragraph{console.Text(fmt.Sprintf("%v: measure %s MHz. Lamp:", t.Pilot,
		channelplan.FormatMHz(t.MeterHz())))}
	for _, f := range t.Findings {
		if f.Severity != lineup.Note {
			lines = append(lines, console.Hung("  ", answer.FindingText(f)))
		}
	}
	marks, draw := lampFrame(code, t.Pilot)
	if marks == "" {
		return append(lines,
			console.Hung("  ", fmt.Sprintf("the code %s can't name it: measure, because the lamp does not show it.",
				console.Shown(code.Name))))
	}
	return append(lines, console.Row("  %s", marks), console.Drawn(func(width int) []string {
		const indent = "  "
		drawn := draw(width - len(indent))
		for i := range drawn {
			drawn[i] = indent + drawn[i]
		}
		return drawn
	}))
}

// lampFrame returns what the lamp shows when it is locked on a pilot: its marks, and how
// its light is drawn, in lines of a width, with the names of the groups.
func lampFrame(code *blink.Code, p channelplan.Pilot) (marks string, draw func(width int) []string) {
	frame, err := code.Encode(p)
	if err != nil {
		return "", nil // no lamp can show it
	}
	return frame.String(), func(width int) []string { return frameLines(code, p, frame, width) }
}

// nodeLines lists the work at a node, in order down the cascades; similar steps in a row
// share a line.
func nodeLines(node cutover.Node) []console.Paragraph {
	var leads []string
	var ids [][]string
	add := func(lead string, s *cutover.Step) {
		if s.After != "" {
			lead = "after " + s.After + ", " + lead
		}
		lead, id := console.Shown(lead), s.ID
		if n := len(leads); n == 0 || leads[n-1] != lead {
			leads, ids = append(leads, lead), append(ids, nil)
		}
		ids[len(ids)-1] = append(ids[len(ids)-1], console.Shown(id))
	}
	for _, s := range node.Steps {
		slope := ""
		switch {
		case s.SlopeTo != nil && s.SlopeTo.Pilot == s.Slope.Pilot:
			slope = fmt.Sprintf(", slope pilot %v again", s.Slope.Pilot)
		case s.SlopeTo != nil:
			slope = fmt.Sprintf(", slope pilot to %v from %v", s.SlopeTo.Pilot, s.Slope.Pilot)
		case !s.Slope.Pilot.IsZero():
			slope = fmt.Sprintf(", slope pilot stays %v", s.Slope.Pilot)
		}
		switch {
		case s.Stage == cutover.Moved:
			continue // done
		case s.Stage == cutover.Parked && s.Action == cutover.Park:
			add(fmt.Sprintf("parked, lock on %v after the change, from %v%s", s.To.Pilot, s.Pilot, slope), s)
			continue
		case s.Stage == cutover.Parked && s.Action == cutover.Strand:
			add("parked, stranded: leave it parked", s)
			continue
		}
		switch s.Action {
		case cutover.Early:
			lead := fmt.Sprintf("early to %v, from %v%s", s.To.Pilot, s.Pilot, slope)
			if s.To.Pilot == s.Pilot {
				lead = fmt.Sprintf("early%s; stays on %v", slope, s.Pilot)
			}
			add(lead, s)
		case cutover.Park:
			lead := fmt.Sprintf("park, then lock on %v, from %v%s", s.To.Pilot, s.Pilot, slope)
			if s.To.Pilot == s.Pilot {
				lead = fmt.Sprintf("park, then lock on %v again%s", s.Pilot, slope)
			}
			add(lead, s)
		case cutover.Strand:
			on, detector := s.Pilot.String(), "detector"
			switch {
			case s.SlopeStrands:
				on, detector = "slope pilot "+s.Slope.Pilot.String(), "slope detector"
			case !s.Slope.Pilot.IsZero():
				on += " + " + s.Slope.Pilot.String()
			}
			lead := fmt.Sprintf("park and leave parked, stranded: on %s, and after the change no carrier fits its %s",
				on, detector)
			if o := s.OtherDetector; o != nil {
				lead = fmt.Sprintf("park and leave parked, stranded: on %s; with a %s for %v it could follow %v%s",
					on, detector, o.Pilot.Kind.Label(), o.Pilot,
					wording.Either(s.OtherEarly, ", and move early", ""))
			}
			add(lead, s)
		}
	}
	var lines []console.Paragraph
	for i, lead := range leads {
		lines = append(lines, console.Text(lead+": "+strings.Join(ids[i], ", ")))
	}
	return lines
}

type targetDoc struct {
	Pilot     *answer.PilotDocument    `json:"pilot"`
	LevelDBmV *float64                 `json:"level_dbmv"`     // at the reference point, after the change; null if the lineup does not say
	LevelNow  *float64                 `json:"level_now_dbmv"` // before the change; null if it is not carried, or the lineup does not say
	Lamp      string                   `json:"lamp"`           // the frame it must show
	Findings  []answer.FindingDocument `json:"findings"`
}

func newTargetDoc(code *blink.Code, t *cutover.Target, plan channelplan.Plan) *targetDoc {
	if t == nil {
		return nil
	}
	d := &targetDoc{Pilot: answer.NewPilotDocument(&t.Report, plan), Findings: answer.FindingDocuments(t.Findings)}
	d.Lamp, _ = lampFrame(code, t.Pilot)
	if t.Then.HasLevel {
		d.LevelDBmV = &t.Then.LevelDBmV
	}
	if t.Listed && t.Now.HasLevel {
		d.LevelNow = &t.Now.LevelDBmV
	}
	return d
}

type stepDoc struct {
	Amp           string             `json:"amp"`
	Upstream      string             `json:"upstream"`
	After         string             `json:"after,omitempty"` // an amplifier of another node to do first
	Depth         int                `json:"depth"`
	Action        cutover.Action     `json:"action"`
	From          *channelplan.Pilot `json:"from"`                 // null if it has no pilot by design
	To            *channelplan.Pilot `json:"to"`                   // null if it does not move to a pilot
	SlopeFrom     *channelplan.Pilot `json:"slope_from,omitempty"` // of an amplifier with two pilots
	SlopeTo       *channelplan.Pilot `json:"slope_to,omitempty"`   // if its slope pilot moves, too
	Why           string             `json:"why"`
	OtherDetector *channelplan.Pilot `json:"other_detector,omitempty"` // what a detector of another kind could follow
	OtherEarly    bool               `json:"other_early,omitempty"`
	Addable       bool               `json:"addable,omitempty"` // its new pilot's place is empty in the old lineup
	// How many dB its output is off if nobody goes anywhere; null if that is not known.
	// Held: its AGC is then at the end of its range.
	UntouchedDB *float64 `json:"untouched_db"`
	Held        bool     `json:"untouched_held,omitempty"`
	// How far its output moves between night and day while it is parked, at the top of its
	// band; null if that is not known or it is not parked.
	ParkedSwingDB *float64 `json:"parked_swing_db,omitempty"`
	// A new spare for its record; null if it needs none or there is none.
	NewSpare *channelplan.Pilot `json:"new_spare"`
	// With a field book: how far it has come (waiting, parked or moved), when its lamp was
	// last read, and what it showed if the plan does not expect that.
	Stage    string     `json:"stage,omitempty"`
	SeenAt   *time.Time `json:"seen_at,omitempty"`
	Surprise string     `json:"surprise,omitempty"`
}

func untouchedDB(s lineup.LevelStep) *float64 {
	if !s.Known {
		return nil
	}
	db := answer.Tenths(nonzero(s.DB))
	return &db
}

type nodeDoc struct {
	Node  string    `json:"node"`
	Steps []stepDoc `json:"steps"`
}

type cutoverDoc struct {
	Schema    int     `json:"schema"`
	Before    string  `json:"before"`
	After     string  `json:"after"`
	Effective *string `json:"effective"`
	Early     int     `json:"early"`
	Park      int     `json:"park"`
	Strand    int     `json:"strand"`
	Unchanged int     `json:"unchanged"`
	ByDesign  int     `json:"by_design"`
	VisitMin  float64 `json:"visit_minutes"`
	Crews     int     `json:"crews"`
	// EarlyHours is how long the early visits take, ParkedHours how long those to park
	// before the change, and LockHours how long those to lock again after it;
	// OverlapHours is how long old and new carriers would have to be on the air together
	// so that Addable amplifiers need not be parked.
	EarlyHours   float64             `json:"early_hours"`
	ParkedHours  float64             `json:"parked_hours"`
	LockHours    float64             `json:"lock_hours"`
	Addable      int                 `json:"addable"`
	SparesLost   int                 `json:"spares_lost"`
	OverlapHours float64             `json:"overlap_hours"`
	DaySwingF    float64             `json:"day_swing_f"` // of cable, for parked_swing_db
	Pilots       []*targetDoc        `json:"pilots"`
	Nodes        []nodeDoc           `json:"nodes"`
	Procedures   map[string][]string `json:"procedures"`
	Problems     []problemDoc        `json:"problems"` // of the inventory and its cascades
	Calendar     *calendarDoc        `json:"calendar"` // null without --window
	LeftOut      int                 `json:"left_out"` // rows of the inventory that could not be used
	Cautions     []string            `json:"cautions"` // about the lineups
}

func coded(p channelplan.Pilot) *channelplan.Pilot {
	if p.IsZero() {
		return nil
	}
	return &p
}

func codedTarget(t *cutover.Target) *channelplan.Pilot {
	if t == nil {
		return nil
	}
	return coded(t.Pilot)
}

// Document returns the JSON document of the plan.
func (w WorkPlan) Document() any {
	n := w.Count
	d := cutoverDoc{Schema: answer.Schema, Calendar: w.calendarDocument(), Before: w.Before.File, After: w.After.File,
		Early: n[cutover.Early], Park: n[cutover.Park], Strand: n[cutover.Strand],
		Unchanged: n[cutover.Nothing], ByDesign: n[cutover.ByDesign], VisitMin: answer.Tenths(w.Visit.Minutes()),
		Crews:       w.Crews,
		EarlyHours:  answer.Tenths(w.Needs(cutover.ToMove).Hours()),
		ParkedHours: answer.Tenths(w.Needs(cutover.ToPark).Hours()),
		LockHours:   answer.Tenths(w.Needs(cutover.ToLock).Hours()), Addable: w.Addable, SparesLost: w.SparesLost,
		OverlapHours: answer.Tenths(w.Needs(cutover.Spared).Hours()),
		DaySwingF:    answer.Tenths(float64(w.DaySwing)), Pilots: []*targetDoc{}, Nodes: []nodeDoc{},
		Problems: problemDocs(w.Problems), LeftOut: w.LeftOut, Cautions: append([]string{}, w.Cautions...),
		Procedures: map[string][]string{"early": cutover.MoveEarly(), "park": cutover.ParkIt(w.Code),
			"lock": cutover.LockAgain(), "strand": cutover.LeaveParked(), "back_out": w.backOut(),
			"both_pilots": {cutover.BothPilots}}}
	if !w.After.Effective.IsZero() {
		day := w.After.Effective.Format(time.DateOnly)
		d.Effective = &day
	}
	for _, t := range w.Targets {
		d.Pilots = append(d.Pilots, newTargetDoc(w.Code, &t, w.After.Plan))
	}
	for _, node := range w.Nodes {
		nd := nodeDoc{Node: node.Name, Steps: make([]stepDoc, 0, len(node.Steps))}
		for _, s := range node.Steps {
			sd := stepDoc{Amp: s.ID, Upstream: s.Upstream, After: s.After, Depth: s.Depth, Action: s.Action,
				From: coded(s.Pilot), To: codedTarget(s.To), Why: s.Why,
				SlopeFrom: coded(s.Slope.Pilot), SlopeTo: codedTarget(s.SlopeTo),
				OtherDetector: codedTarget(s.OtherDetector), OtherEarly: s.OtherEarly, Addable: s.Addable,
				UntouchedDB: untouchedDB(s.Untouched), Held: s.Untouched.Held, NewSpare: coded(s.NewSpare)}
			if s.ParkedKnown {
				db := answer.Tenths(s.ParkedDB)
				sd.ParkedSwingDB = &db
			}
			if w.Followed && s.Action >= cutover.Early {
				sd.Stage, sd.Surprise = s.Stage.String(), s.Surprise
				if !s.SeenAt.IsZero() {
					sd.SeenAt = &s.SeenAt
				}
			}
			nd.Steps = append(nd.Steps, sd)
		}
		d.Nodes = append(d.Nodes, nd)
	}
	return d
}

// cutoverColumns are the work list's own columns, before the inventory owner's.
var cutoverColumns = []string{"visit", "phase", "node", "amp", "upstream", "pilot_now", "pilot_to", "meter_mhz",
	"level_dbmv", "lamp", "lamp_light", "steps", "why", "back_out",
	"design_input_dbmv", "design_output_dbmv", "test_point_db", "after", "new_spare", "crew", "begin", "end",
	"level_notes", "done", "slope_now", "slope_to", "slope_meter_mhz", "slope_lamp", "parked_swing_db"}

// List writes the work list for dispatch: one row per visit, first all early ones, then
// those before the change, those after, and records that need a new spare. The steps are in the first row of each
// phase: they are the same for all.
func (w WorkPlan) List(screen bool) []byte {
	list := newWorkList(w.Plant, screen)
	titles, own := ownOf(w.Plant, cutoverColumns)
	rows := list.append(list.mark(), append(slices.Clone(cutoverColumns), titles...)...)
	visit := 0
	told := map[string]bool{}
	add := func(phase string, s cutover.Step, to *cutover.Target, lamp string, steps []string) {
		both := s.SlopeTo != nil && to != nil
		if told[phase] && !both {
			steps = nil
		}
		told[phase] = true
		if both {
			steps = append(slices.Clone(steps), cutover.BothPilots)
		}
		values := w.visitValues(list, phase, s)
		values["lamp"], values["steps"] = lamp, strings.Join(steps, " ")
		if phase != "strand" && phase != "record" && values["done"] == "" { // nobody has to go there, or the supervisor decides
			visit++
			values["visit"] = fmt.Sprint(visit)
		}
		if to != nil {
			w.targetValues(list, s, to, values)
		}
		row, _ := w.Plant.Find(s.ID)
		rows = list.append(rows, append(inColumns(cutoverColumns, values), own(row)...)...)
	}
	parked := func(s cutover.Step) bool { return s.Action == cutover.Park || s.Action == cutover.Strand }
	for _, s := range w.inOrder(cutover.MoveNow, w.Steps) {
		if s.Action == cutover.Early {
			add("early", s, s.To, "", cutover.MoveEarly())
		}
	}
	for _, s := range w.inOrder(cutover.ParkNow, w.Steps) {
		if parked(s) {
			add("park", s, nil, "manual or thermal", cutover.ParkIt(w.Code))
		}
	}
	for _, s := range w.inOrder(cutover.LockAfter, w.Steps) {
		switch {
		case s.Action == cutover.Park:
			add("lock", s, s.To, "", cutover.LockAgain())
		case parked(s):
			add("strand", s, nil, "", cutover.LeaveParked())
		}
	}
	for _, s := range w.Steps {
		if s.Action < cutover.Early && !s.NewSpare.IsZero() {
			add("record", s, nil, "", []string{"Write the new spare into the record. Nobody has to go there."})
		}
	}
	return rows
}

// visitValues returns what a row says of a visit, by column, but for the target.
func (w WorkPlan) visitValues(list workList, phase string, s cutover.Step) map[string]string {
	v := map[string]string{"phase": phase, "node": s.Node, "amp": s.ID, "upstream": s.Upstream,
		"pilot_now": s.Pilot.String(), "why": s.Why, "after": s.After, "done": doneIn(phase, s)}
	if phase != "record" {
		v["back_out"] = strings.Join(cutover.BackOut(s.Action), " ")
	}
	if !s.NewSpare.IsZero() {
		v["new_spare"] = s.NewSpare.String()
	}
	if s.ParkedKnown && (phase == "park" || phase == "strand") {
		v["parked_swing_db"] = list.tenths(s.ParkedDB)
	}
	if !s.Slope.Pilot.IsZero() {
		v["slope_now"] = s.Slope.Pilot.String()
	}
	v["crew"], v["begin"], v["end"] = w.when(phase, s.ID)
	return v
}

// targetValues adds what a row says of the pilots that an amplifier moves to, and of the
// levels there.
func (w WorkPlan) targetValues(list workList, s cutover.Step, to *cutover.Target, v map[string]string) {
	lamp, draw := lampFrame(w.Code, to.Pilot)
	v["lamp"] = lamp
	if draw != nil {
		v["lamp_light"] = draw(math.MaxInt)[0]
	}
	v["pilot_to"], v["meter_mhz"] = to.Pilot.String(), list.number(channelplan.FormatMHz(to.MeterHz()))
	e := w.expected(s)
	notes := "design levels are on the line"
	if e.IsZero() {
		notes = "no design level on file"
	}
	if dBmV, ok := to.LevelFor(s.Action); ok {
		v["level_dbmv"] = list.tenths(dBmV)
		notes += "; level_dbmv is the headend's: never set an amplifier to it"
	}
	v["level_notes"] = notes
	if e.InputKnown {
		v["design_input_dbmv"] = list.tenths(e.Input)
	}
	if e.OutputKnown {
		v["design_output_dbmv"] = list.tenths(e.Output)
	}
	if !e.IsZero() && e.TestPointDB > 0 {
		v["test_point_db"] = list.number(fmt.Sprint(e.TestPointDB))
	}
	if s.SlopeTo != nil && !s.Slope.Pilot.IsZero() {
		v["slope_to"] = s.SlopeTo.Pilot.String()
		v["slope_meter_mhz"] = list.number(channelplan.FormatMHz(s.SlopeTo.MeterHz()))
		v["slope_lamp"], _ = lampFrame(w.Code, s.SlopeTo.Pilot)
	}
}
