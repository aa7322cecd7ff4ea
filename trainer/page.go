package trainer

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/blink"
	"tallywink.example/blink/picture"
	"tallywink.example/channelplan/wording"
	"tallywink.example/trainer/lesson"
	"tallywink.example/trainer/progress"
)

// The smallest screens on which the trainer fits: a terminal's, and a phone's, which is
// narrow and high.
const (
	leastWidth, leastHeight   = 60, 20
	narrowWidth, narrowHeight = 40, 30
)

func fits(width, height int) bool {
	return width >= leastWidth && height >= leastHeight || width >= narrowWidth && height >= narrowHeight
}

// View returns what to show. All light passes through one shutter, whatever is shown.
func (t *Training) View(now time.Time, width, height int) View {
	lit, again := t.player.Show(now, t.still)
	t.scheduled = time.Time{}
	if lit != t.shownLit {
		t.shownLit, t.scheduled = lit, t.player.ChangedAt(now)
	}
	v := View{Wake: soonest(now.Add(idle), again)}
	put := func(y, x int, text string, style Style) { v.Rows = append(v.Rows, Row{y, x, text, style}) }
	t.tooSmall = !t.options.Scrolls && !fits(width, height)
	if t.tooSmall {
		for y, text := range wrapped(fmt.Sprintf("The trainer needs %d columns and %d rows, or %d and %d: make the window larger or the letters smaller. Esc leaves.", leastWidth, leastHeight, narrowWidth, narrowHeight), width) {
			put(y, 0, text, Plain)
		}
		return v
	}
	put(0, 0, t.top(width), Strong)
	rows := t.body(width, now)
	area := lampRows(height, len(rows))
	showsLamp := len(t.question.Light) > 0 && (t.page == asking || t.page == answered && !t.player.Begin().IsZero())
	if showsLamp && !t.still {
		v.Lamp = &Lamp{X: width / 2, Y: 2, Height: area, Look: t.question.Look, Lit: lit}
	}
	y := 2
	if showsLamp {
		y += area + 1
		if t.still {
			for i, text := range picture.Timeline(t.question.Light, t.unit, width-4) {
				put(2+i, 2, text, Strong)
			}
		}
	}
	keys := t.bottom(width)
	for i, r := range rows[:max(min(len(rows), height-y-len(keys)), 0)] {
		put(y+i, 0, r.text, r.style)
	}
	for i, line := range keys {
		put(height-len(keys)+i, 0, line, Marked)
	}
	return v
}

// Drawn is called when the view is on the screen.
func (t *Training) Drawn(at time.Time) {
	if !t.scheduled.IsZero() && !t.scheduled.After(at) {
		t.trained.Lateness = append(t.trained.Lateness, at.Sub(t.scheduled))
	}
}

// lampRows returns the number of rows for the lamp: fewer if the text below needs the
// room.
func lampRows(height, text int) int {
	const around = 4 // the first line and the last, and one above and below
	most := 5
	if height >= 24 {
		most = 8
	}
	return max(min(most, height-around-text), 2)
}

// top is the first row, which shows where the trainee is.
func (t *Training) top(width int) string {
	left := "TALLYWINK TRAINER"
	switch {
	case t.exam != nil && t.page != menu:
		left += fmt.Sprintf("  qualification, reading %d of %d", min(t.result.Of+1, len(t.exam)), len(t.exam))
	case t.page == asking || t.page == answered:
		left += fmt.Sprintf("  %s  %d of %d right", t.question.Exercise, t.trained.Right, t.trained.Answered)
	}
	right := shownName(t.options.Trainee)
	if gap := width - len(left) - textWidth(right); gap > 0 {
		left += strings.Repeat(" ", gap) + right
	}
	return left
}

// bottom is the last row, which lists the keys, or several on a narrow screen.
func (t *Training) bottom(width int) []string {
	var lines []string
	for _, key := range strings.Split(strings.TrimSpace(t.keys()), "   ") {
		if n := len(lines); n > 0 && len(lines[n-1])+len("   ")+len(key) <= width {
			lines[n-1] += "   " + key
			continue
		}
		lines = append(lines, " "+key)
	}
	return lines
}

func (t *Training) keys() string {
	switch t.page {
	case menu:
		if t.exam != nil {
			return " Enter begin   m still mode   Esc leave"
		}
		mode := "m still mode"
		if t.still {
			mode = "m flashing"
		}
		return fmt.Sprintf(" Enter begin   1-%d one exercise   %s   Esc leave", len(lesson.Exercises(t.code)), mode)
	case teaching:
		return " Enter try it   Esc menu"
	case asking:
		keys := " Enter answer"
		if len(t.question.Light) > 0 && !t.question.Look.Once {
			keys += "   r again"
		}
		if t.exam != nil {
			return keys + "   Esc leave"
		}
		return keys + "   ? help   Esc menu"
	case answered:
		if len(t.question.Light) > 0 {
			return " Enter next   r play again   Esc menu"
		}
		return " Enter next   Esc menu"
	}
	return " Enter leave"
}

// Letters returns the keys, apart from the named ones, that do something now.
func (t *Training) Letters() string {
	switch t.page {
	case menu:
		if t.exam != nil {
			return "m"
		}
		return "1234567890"[:len(lesson.Exercises(t.code))] + "m"
	case asking:
		letters := t.question.Letters() + "u"
		if len(t.question.Light) > 0 {
			letters += "r"
		}
		if t.exam == nil {
			letters += "?"
		}
		return letters
	case answered:
		if len(t.question.Light) > 0 {
			return "r"
		}
	}
	return ""
}

// body is what is below the lamp.
func (t *Training) body(width int, now time.Time) []row {
	switch t.page {
	case menu:
		return t.menuRows(width, now)
	case teaching:
		return t.teachingRows(width)
	case asking:
		return t.askingRows(width)
	case answered:
		return t.answeredRows(width)
	}
	return t.finishedRows(width)
}

// teachingRows say how the lamp is counted, before the first question.
func (t *Training) teachingRows(width int) []row {
	if len(t.code.Groups) == 0 {
		rows := text([]string{"This lamp shows no pilot, only states, each by a rhythm of its own:", ""}, width)
		for _, s := range t.code.States() {
			rows = append(rows,
				text([]string{fmt.Sprintf("%s: %s.", s.State.NameAt(s.End), t.code.Look(s.State, s.End))}, width)...)
		}
		return append(rows, text([]string{"", "? shows them again any time."}, width)...)
	}
	intro := "Wait for the long dark, then count the pulses. A short pulse is written . and a long one _. A short pause ends a group, and each group is a digit."
	if _, most := t.code.FrameLengths(); most == 1 {
		intro = "Wait for the long dark, then count the pulses. A short pulse is written . and a long one _."
	}
	rows := text([]string{intro + t.rule(), ""}, width)
	digits := t.code.ShownDigits()
	half := (len(digits) + 1) / 2
	marks := func(d int) string { return fmt.Sprintf("   %d  %-10s", d, shownMarks(t.code.Patterns[d])) }
	for i := range half {
		line := marks(digits[i])
		if i+half < len(digits) {
			line += marks(digits[i+half])[2:]
		}
		rows = append(rows, row{strings.TrimRight(line, " "), Plain})
	}
	rows = append(rows, row{})
	for _, line := range helpLines(t.code, lesson.Question{Way: lesson.ByPilot})[1:] {
		rows = append(rows, text([]string{line}, width)...)
	}
	return append(rows,
		text([]string{"", "The first questions show one group at a time. ? shows the digits any time."}, width)...)
}

func text(lines []string, width int) []row {
	var rows []row
	for _, line := range lines {
		for _, l := range wrapped(line, width) {
			rows = append(rows, row{l, Plain})
		}
	}
	return rows
}

func (t *Training) menuRows(width int, now time.Time) []row {
	lines := []string{
		"A lamp will flash here, slowly. If you must not watch flashing light, press m for still mode: it draws the pulses.",
		"",
	}
	if t.still {
		lines[0] = "Still mode: the pulses are drawn, nothing flashes. m switches back."
	}
	if t.neverFlashes() {
		lines[0] = fmt.Sprintf("The code %s flashes too fast to show: the pulses are drawn, nothing flashes.",
			wording.Harmless(t.code.Name))
	}
	if t.options.Exam != nil {
		lines = append(lines,
			fmt.Sprintf("Qualification: %d readings as in the field, no feedback. You pass with %d right and no pilot misread; press u if you are not sure.",
				len(t.exam), progress.PassMark),
			fmt.Sprintf("Everybody with the seed %d gets the same readings. Enter begins.", t.result.Seed))
	} else {
		lines = append(lines, t.todayText(now)+" Or choose:", "")
		for i, e := range lesson.Exercises(t.code) {
			state := t.exerciseText(e, now)
			if width < leastWidth {
				lines = append(lines, fmt.Sprintf("%d: %s (%s)", i+1, e.Title, state))
				continue
			}
			lines = append(lines, fmt.Sprintf(" %d  %-52s %s", i+1, e.Title, state))
		}
	}
	if t.note != "" {
		lines = append(lines, "", t.note)
	}
	var rows []row
	for _, line := range lines {
		if strings.HasPrefix(line, " ") {
			rows = append(rows, row{line, Plain})
		} else {
			rows = append(rows, text([]string{line}, width)...)
		}
	}
	return rows
}

// rule says how digits are counted, if the code counts as on an abacus; "" if not.
func (t *Training) rule() string {
	for d, g := range t.code.Patterns {
		want := strings.Repeat(string(blink.LongMark), d/5) + strings.Repeat(string(blink.ShortMark), d%5)
		if d == 0 {
			want = strings.Repeat(string(blink.LongMark), 2)
		}
		if string(g) != want {
			return ""
		}
	}
	return " A long counts five, a short one. Two longs are zero:"
}

// exerciseText says how an exercise stands.
func (t *Training) exerciseText(e lesson.Exercise, now time.Time) string {
	var asked []string
	items := e.Items()
	for _, m := range items {
		if _, ok := t.chooser.Due(m); ok {
			asked = append(asked, m)
		}
	}
	due, fresh := len(t.chooser.DueOf(asked, now)), len(items)-len(asked)
	switch {
	case len(asked) == 0:
		return "new"
	case passedOut(t.trained.Attempts, e) && due == 0:
		return "passed"
	case due > 0 && fresh > 0:
		return fmt.Sprintf("%d due, %d new", due, fresh)
	case due > 0:
		return fmt.Sprintf("%d due", due)
	case fresh > 0:
		return fmt.Sprintf("%d new", fresh)
	}
	return "done for today"
}

// todayText says what Enter does, and whether that is needed today.
func (t *Training) todayText(now time.Time) string {
	done := len(t.options.Attempts) > 0
	for _, e := range lesson.Exercises(t.code) {
		for _, m := range e.Items() {
			if _, asked := t.chooser.Due(m); asked && t.chooser.IsDue(m, now) {
				done = false
			}
		}
	}
	switch {
	case progress.IsReady(t.trained.Attempts):
		return "Ready to qualify: you read well enough for a qualification run. Enter practices what is due."
	case done:
		return "Done for today: nothing is due. Enter goes on to what is new."
	case len(t.trained.Attempts) == 0:
		return "Enter shows how the lamp is counted, then begins."
	}
	return "Enter practices what is due."
}

// lookText describes how the lamp is shown.
func lookText(l lesson.Look) string {
	var words []string
	for _, w := range []struct {
		is   bool
		text string
	}{{l.MidFrame, "you start in the middle of its rhythm"}, {l.Once, "one look only"},
		{l.Second, "read the big lamp; the one beside it is another"}} {
		if w.is {
			words = append(words, w.text)
		}
	}
	if len(words) == 0 {
		return ""
	}
	return "(" + strings.Join(words, "; ") + ")"
}

func (t *Training) askingRows(width int) []row {
	var rows []row
	for _, line := range t.question.Ask {
		if strings.HasPrefix(line, " ") { // a line of a table
			rows = append(rows, row{line, Plain})
			continue
		}
		rows = append(rows, text([]string{line}, width)...)
	}
	if look := lookText(t.question.Look); look != "" && !t.still {
		rows = append(rows, text([]string{look}, width)...)
	}
	rows = append(rows, t.choiceRows(width)...)
	if t.helped || t.beside {
		rows = append(rows, text(helpLines(t.code, t.question), width)...)
	}
	rows = append(rows, row{"Answer: " + t.entry.Text(), Strong})
	for _, line := range wrapped(t.question.Keys()+", or u if you are not sure.", width-2) {
		rows = append(rows, row{"  " + line, Plain})
	}
	if t.note != "" {
		rows = append(rows, text([]string{t.note}, width)...)
	}
	return rows
}

// choiceRows returns the options, with the ten states in two columns.
func (t *Training) choiceRows(width int) []row {
	choices := t.question.Choices()
	if t.question.Way != lesson.ByState || width < leastWidth {
		var rows []row
		for _, c := range choices {
			for i, line := range wrapped(c, width-4) {
				lead := "  "
				if i > 0 {
					lead = "    "
				}
				rows = append(rows, row{lead + line, Plain})
			}
		}
		return rows
	}
	var rows []row
	half := (len(choices) + 1) / 2
	for i := range half {
		second := ""
		if i+half < len(choices) {
			second = choices[i+half]
		}
		rows = append(rows, row{strings.TrimRight(fmt.Sprintf("  %-24s %s", choices[i], second), " "), Plain})
	}
	return rows
}

// helpLines describes what a question is about in a few lines: the states, the rules, or
// the digits and groups.
func helpLines(code *blink.Code, q lesson.Question) []string {
	if q.Way == lesson.ByOption && q.Meant == nil {
		return []string{"Not usable: not in the lineup, another kind of carrier there, under an OFDM block, outside the passband, part-time. With caution: narrowcast, low in the band, another pilot on record, an old lineup."}
	}
	if q.Way == lesson.ByState || q.Way == lesson.ByOption {
		var parts []string
		if code.Bars(blink.EndLow) > 0 {
			parts = append(parts, fmt.Sprintf("In the long dark after a frame %s: the low end; %s: the high end.",
				code.BarWords(blink.EndLow), code.BarWords(blink.EndHigh)))
		}
		for _, s := range code.States() {
			if s.End != blink.NoEnd && code.HasRhythm(s) {
				parts = append(parts, fmt.Sprintf("%s: %s.", wording.Capital(code.Look(s.State, s.End)),
					s.State.NameAt(s.End)))
			}
		}
		for _, s := range blink.States() {
			if brief := code.Brief(s); brief != "" {
				parts = append(parts, fmt.Sprintf("%s: %v.", wording.Capital(brief), s))
			}
		}
		return []string{strings.Join(parts, " ")}
	}
	var digits, groups []string
	for _, d := range code.ShownDigits() {
		digits = append(digits, fmt.Sprintf("%d=%s", d, shownMarks(code.Patterns[d])))
	}
	for _, g := range code.Groups {
		name := wording.Harmless(g.Name)
		if g.DropZero {
			name += " (unless it is a leading zero)"
		}
		groups = append(groups, name)
	}
	if q.Way == lesson.ByDigit || q.Way == lesson.ByYesNo {
		return []string{"Digits: " + strings.Join(digits, " ")}
	}
	lines := []string{"Digits: " + strings.Join(digits, " "), "Groups, from the long dark on: " +
		strings.Join(groups, ", ") + "."}
	for _, g := range code.Groups {
		if own := ownMarks(g); own != "" && g.From != blink.FromKind {
			lines = append(lines, fmt.Sprintf("Group %s: %s", wording.Harmless(g.Name), own))
		}
	}
	for _, more := range []string{code.KindsText(), code.PresetsText()} {
		if more != "" {
			lines = append(lines, wording.Harmless(more))
		}
	}
	return lines
}

// shownMarks writes a group's marks, or that it shows none.
func shownMarks(g blink.Group) string {
	if g == blink.EmptyGroup {
		return g.Words()
	}
	return string(g)
}

// ownMarks lists the marks of a group that has its own; "" if it has none.
func ownMarks(g blink.GroupRule) string {
	var marks []string
	for d, own := range g.Marks {
		if own != "" {
			marks = append(marks, fmt.Sprintf("%d=%s", d, shownMarks(own)))
		}
	}
	return strings.Join(marks, " ")
}

func (t *Training) answeredRows(width int) []row {
	f := t.feedback
	title := row{" NOT RIGHT ", Marked}
	switch {
	case f.Right:
		title = row{"Right.", Strong}
	case f.Unsure:
		title = row{"NOT SURE: no misread, but it doesn't count as right.", Strong}
	}
	rows := append([]row{title}, text(f.Lines, width)...)
	switch {
	case f.Shown != "" && f.Read == "":
		rows = append(rows, row{}, row{"  shown     " + f.Shown, Plain})
	case f.Shown != "":
		rows = append(rows, row{}, row{"  shown     " + f.Shown, Plain}, row{"  you read  " + f.Read, Plain},
			row{"            " + f.Differ, Strong})
		if t.question.Way == lesson.BySending {
			rows[len(rows)-2].text = "  you sent  " + f.Read
			rows[len(rows)-3].text = "  wanted    " + f.Shown
		}
	}
	return rows
}

func (t *Training) finishedRows(width int) []row {
	return text(t.result.Lines(t.options.Trainee), width)
}

// Lines returns the result of a qualification run, in lines.
func (e *ExamResult) Lines(trainee string) []string {
	lines := e.head(trainee)
	var wrong []string
	for i, a := range e.Answers {
		if !a.Right {
			wrong = append(wrong, fmt.Sprint(i+1))
		}
	}
	if len(wrong) > 0 {
		// Only the supervisor sees what they were, on the page: a trainee who knew them could
		// pass the same seed blind.
		lines = append(lines, "Not right: readings "+strings.Join(wrong, ", ")+".")
	}
	return lines
}

// head returns the lines without the readings.
func (e *ExamResult) head(trainee string) []string {
	verdict := "NOT PASSED"
	if e.Passed() {
		verdict = "PASSED"
	}
	lines := []string{
		fmt.Sprintf("%s: %s, qualification run of %s, seed %d.", verdict,
			wording.Harmless(strings.TrimSpace(trainee)), e.Last.Format("2006-01-02 15:04"), e.Seed),
		fmt.Sprintf("%d of %d right; %d needed. Pilots misread: %d; none allowed.", e.Right, e.Of,
			progress.PassMark, e.Misread),
	}
	if e.Still {
		lines = append(lines, "In still mode: the pulses were drawn, nothing flashed. That is easier.")
	}
	if e.Before > 0 {
		lines = append(lines, fmt.Sprintf("Times this seed was taken before: %d.", e.Before))
	}
	if e.Known > 0 {
		lines = append(lines,
			fmt.Sprintf("Others have begun a run with this seed in this book: %d. They may know its questions.",
				e.Known))
	}
	if e.Early > 0 {
		lines = append(lines, fmt.Sprintf("Answers before enough of the lamp was shown: %d; none allowed.", e.Early))
	}
	return lines
}

// late is how far a change of the lamp may be off before its rhythm misleads: half of the
// fastest unit that is shown (an assumption).
const late = 60 * time.Millisecond

// LatenessText says that the lamp was drawn too late to be trusted; "" if it was not.
func (t Trained) LatenessText() string {
	if len(t.Lateness) == 0 {
		return ""
	}
	sorted := slices.Sorted(slices.Values(t.Lateness))
	most := sorted[(len(sorted)*99-1)/100]
	if most < late {
		return ""
	}
	return fmt.Sprintf("this screen was slow: pulses came up to %d ms late, so the rhythm may have been hard to read. Don't judge anyone by this session.",
		most.Milliseconds())
}

// DueText says which of a trainee's items are due now, and which come back tomorrow.
func DueText(attempts []progress.Attempt, code *blink.Code, now time.Time) string {
	var items []string
	for _, a := range attempts {
		if !slices.Contains(items, a.Item) {
			items = append(items, a.Item)
		}
	}
	chooser := progress.NewChooser(attempts, code, nil)
	due := chooser.DueOf(items, now)
	later := slices.DeleteFunc(chooser.DueOf(items, now.AddDate(0, 0, 1)),
		func(m string) bool { return slices.Contains(due, m) })
	var parts []string
	for _, p := range []struct {
		when  string
		items []string
	}{{"Due now: ", due}, {"Due tomorrow: ", later}} {
		if len(p.items) == 0 {
			continue
		}
		const most = 6
		var names []string
		for _, m := range p.items[:min(len(p.items), most)] {
			names = append(names, progress.ItemText(m))
		}
		text := p.when + strings.Join(names, "; ")
		if more := len(p.items) - most; more > 0 {
			text += fmt.Sprintf("; and %d more", more)
		}
		parts = append(parts, text+".")
	}
	if parts == nil {
		return "Nothing is due tomorrow."
	}
	return strings.Join(parts, " ")
}
