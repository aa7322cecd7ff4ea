package report

import (
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"tallywink.example/channelplan/answer"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/trainer/progress"
)

type itemDoc struct {
	Item  string `json:"mark"`
	Seen  int    `json:"seen"`
	Right int    `json:"right"`
}

type confusionDoc struct {
	Shown string `json:"shown"`
	Read  string `json:"read"`
	Count int    `json:"count"`
}

type dayDoc struct {
	Date     string `json:"date"`
	Attempts int    `json:"attempts"`
	Right    int    `json:"right"`
	TookMS   int64  `json:"took_ms"`
}

type traineeDoc struct {
	Trainee    string         `json:"trainee"`
	Attempts   int            `json:"attempts"`
	Right      int            `json:"right"`
	Last       time.Time      `json:"last"`
	Marks      []itemDoc      `json:"marks"`
	Confusions []confusionDoc `json:"confusions"`
	Days       []dayDoc       `json:"days"`
	Due        []string       `json:"due"`
	Runs       []runDoc       `json:"runs"` // qualification runs
	// Whether the latest readings in training would have passed a run, and when one was
	// last passed; null if never.
	Ready     bool       `json:"ready"`
	Qualified *time.Time `json:"qualified"`
}

type runDoc struct {
	Run     string    `json:"run"`
	Last    time.Time `json:"last"`
	Right   int       `json:"right"`
	Of      int       `json:"of"`
	Misread int       `json:"misread"`
	Still   bool      `json:"still"`
	Passed  bool      `json:"passed"`
	// The ID of its sitting, null in records from before sittings had one; answers given
	// before enough of the lamp was shown; readings answered twice.
	RunID    *string `json:"run_id"`
	Early    int     `json:"early"`
	Repeated int     `json:"repeated"`
}

type progressDoc struct {
	Schema       int          `json:"schema"`
	Trainees     []traineeDoc `json:"trainees"`
	DamagedLines []int        `json:"damaged_lines"`
	Damaged      []damagedDoc `json:"damaged"`  // the same, with the book that each is in
	Misdated     int          `json:"misdated"` // attempts whose time can't be right
}

type damagedDoc struct {
	Book string `json:"book"`
	Line int    `json:"line"`
}

// NewProgressDoc returns the JSON document of how trainees stand.
func NewProgressDoc(standings []progress.Standing, attempts progress.Attempts) any {
	d := progressDoc{Schema: answer.Schema, Trainees: []traineeDoc{}, DamagedLines: []int{}, Damaged: []damagedDoc{}}
	for _, at := range attempts.Damaged {
		d.DamagedLines, d.Damaged = append(d.DamagedLines, at.Line), append(d.Damaged, damagedDoc{at.Book, at.Line})
	}
	for _, c := range attempts.Clocks {
		d.Misdated += c.Count
	}
	for _, s := range standings {
		t := traineeDoc{Trainee: s.Trainee, Attempts: s.Attempts, Right: s.Right, Last: s.Last, Marks: []itemDoc{},
			Confusions: []confusionDoc{}, Days: []dayDoc{}, Due: append([]string{}, s.Due...)}
		for _, m := range s.Items {
			t.Marks = append(t.Marks, itemDoc(m))
		}
		for _, c := range s.Confusions {
			t.Confusions = append(t.Confusions, confusionDoc(c))
		}
		for _, day := range s.Days {
			t.Days = append(t.Days, dayDoc{day.Date.Format(time.DateOnly), day.Attempts, day.Right,
				day.Took.Milliseconds()})
		}
		t.Runs = []runDoc{}
		for _, r := range s.Runs {
			d := runDoc{Run: r.Name, Last: r.Last, Right: r.Right, Of: r.Of, Misread: r.Misread, Still: r.Still,
				Passed: r.Passed(), Early: r.Early, Repeated: r.Repeated}
			if r.ID != "" {
				d.RunID = &r.ID
			}
			t.Runs = append(t.Runs, d)
		}
		t.Ready = s.Ready
		if at := s.Qualified(); !at.IsZero() {
			t.Qualified = &at
		}
		d.Trainees = append(d.Trainees, t)
	}
	return d
}

// WriteAttempts writes attempts for a spreadsheet.
func WriteAttempts(out *console.Console, attempts progress.Attempts, trainee string) error {
	w := workList{',', false, out.Terminal}
	rows := w.append(nil, "time", "trainee", "exercise", "mark", "shown", "read", "right", "unit_ms", "took_ms",
		"plays", "run")
	for _, a := range attempts.All {
		if trainee != "" && !progress.SameName(a.Trainee, trainee) {
			continue
		}
		rows = w.append(rows, a.Time.Format(time.RFC3339), a.Trainee, a.Exercise, a.Item, a.Shown, a.Read,
			fmt.Sprint(a.Right),
			fmt.Sprint(a.UnitMS), fmt.Sprint(a.TookMS), fmt.Sprint(a.Plays), a.Run)
	}
	_, err := out.Out.Write(rows)
	return err
}

// Classroom is a class, for output.
type Classroom struct {
	progress.Class
	ValidDays int // for which a qualification counts
	Now       time.Time
}

// until returns when a trainee's qualification ends, or the zero time.
func (c Classroom) until(s progress.Standing) time.Time {
	at := s.Qualified()
	if at.IsZero() {
		return at
	}
	return at.AddDate(0, 0, c.ValidDays)
}

// standing says whether a trainee has a qualification that counts, or is ready for one.
func (c Classroom) standing(s progress.Standing) string {
	until := c.until(s)
	switch {
	case c.Now.Before(until):
		return "qualified until " + until.Format(time.DateOnly)
	case !until.IsZero():
		return "expired " + until.Format(time.DateOnly)
	case s.Ready:
		return "ready"
	}
	return "learning"
}

// maxHard is how many of the hardest marks and most frequent confusions are shown.
const maxHard = 8

// Blocks tells how the class stands.
func (c Classroom) Blocks() []console.Block {
	if len(c.Trainees) == 0 {
		return []console.Block{console.Section("Nothing", "no attempts yet: 'tallywink train' records them.")}
	}
	class := console.Block{Label: "Class"}
	wide := 0
	for _, s := range c.Trainees {
		wide = max(wide, utf8.RuneCountInString(wording.Clipped(console.Shown(s.Trainee), maxNameColumn)))
	}
	for _, s := range c.Trainees {
		class.Text = append(class.Text, console.Row("%-*s %5d, %3d%% right, %2d due  %s", wide,
			wording.Clipped(console.Shown(s.Trainee), maxNameColumn), s.Attempts,
			percentRight(s.Right, s.Attempts), len(s.Due), c.standing(s)))
	}
	hard := console.Block{Label: "Hard"}
	for _, m := range c.Items[:min(len(c.Items), maxHard)] {
		if m.Right < m.Seen {
			hard.Text = append(hard.Text, console.Row("%3d%% of %4d  %s", percentRight(m.Right, m.Seen), m.Seen,
				console.Shown(progress.ItemText(m.Item))))
		}
	}
	misread := console.Block{Label: "Misread"}
	for _, one := range c.Confusions[:min(len(c.Confusions), maxHard)] {
		misread.Text = append(misread.Text, console.Row("%4dx  %s read as %s", one.Count,
			wording.Clipped(console.Shown(progress.ItemText(one.Shown)), 30),
			wording.Clipped(console.Shown(progress.ItemText(one.Read)), 30)))
	}
	blocks := []console.Block{class}
	for _, b := range []console.Block{hard, misread} {
		if len(b.Text) > 0 {
			blocks = append(blocks, b)
		}
	}
	return append(blocks, console.Section("Means",
		fmt.Sprintf("ready: the last %d readings in training would have passed. A qualification counts %d days here%s; your employer decides.",
			progress.RunLength, c.ValidDays, console.Typed(" (--valid-days)", ""))))
}

// List is the class for a spreadsheet.
func (c Classroom) List(screen bool) []byte {
	w := workList{',', false, screen}
	rows := w.append(nil, "trainee", "answers", "right", "last", "due", "ready", "qualified", "valid_until", "standing")
	day := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return t.Format(time.DateOnly)
	}
	for _, s := range c.Trainees {
		rows = w.append(rows, s.Trainee, fmt.Sprint(s.Attempts), fmt.Sprint(s.Right), day(s.Last),
			fmt.Sprint(len(s.Due)), wording.Either(s.Ready, "yes", "no"), day(s.Qualified()), day(c.until(s)),
			c.standing(s))
	}
	return rows
}

// StandingBlocks tells how one trainee stands.
func StandingBlocks(s progress.Standing) []console.Block {
	blocks := []console.Block{console.Section("Trainee",
		fmt.Sprintf("%s: %s, %d%% right, last on %s.", console.Shown(s.Trainee),
			wording.Counted(s.Attempts, "answer", "answers"), percentRight(s.Right, s.Attempts),
			s.Last.Format(time.DateOnly)))}
	blocks = append(blocks, console.Block{Label: "Days", Text: dayLines(s.Days)})
	var weak []string
	for _, m := range s.Items {
		if 10*m.Right < 9*m.Seen {
			weak = append(weak, fmt.Sprintf("%s, %d of %d", console.Shown(progress.ItemText(m.Item)), m.Right, m.Seen))
		}
	}
	if len(weak) > 0 {
		blocks = append(blocks, console.Section("Weak", strings.Join(weak, "; ")+"."))
	}
	if len(s.Confusions) > 0 {
		b := console.Block{Label: "Misread"}
		const most = 8
		for _, c := range s.Confusions[:min(len(s.Confusions), most)] {
			b.Text = append(b.Text, console.Row("%3dx  %s read as %s", c.Count,
				wording.Clipped(console.Shown(progress.ItemText(c.Shown)), 30),
				wording.Clipped(console.Shown(progress.ItemText(c.Read)), 30)))
		}
		if more := len(s.Confusions) - most; more > 0 {
			b.Text = append(b.Text, console.Row("and %d more%s", more, console.Typed(": --json has all", "")))
		}
		blocks = append(blocks, b)
	}
	if len(s.Runs) > 0 {
		blocks = append(blocks, console.Block{Label: "Runs", Text: runLines(s.Runs)})
	}
	due := "nothing."
	if len(s.Due) > 0 {
		var names []string
		for _, m := range s.Due {
			names = append(names, progress.ItemText(m))
		}
		due = console.Shown(strings.Join(names, "; ")) + "."
	}
	return append(blocks, console.Section("Due", due))
}

// percentRight returns a share in whole percent: 100 only if all are right.
func percentRight(right, of int) int {
	percent := int(math.Round(100 * float64(right) / float64(max(of, 1))))
	if right < of {
		return min(percent, 99)
	}
	return percent
}

// runLines lists the last qualification runs.
func runLines(runs []progress.Run) []console.Paragraph {
	var lines []console.Paragraph
	for _, r := range runs[max(len(runs)-6, 0):] {
		verdict := "not passed"
		switch {
		case r.Of < progress.RunLength:
			verdict = "not finished"
		case r.Passed():
			verdict = "passed"
		}
		lines = append(lines, console.Row("%s  %s: %s, %d of %d right, %d misread%s", r.Last.Format(time.DateOnly),
			console.Shown(r.Name), verdict, r.Right, r.Of, r.Misread, wording.Either(r.Still, ", still mode", "")))
	}
	return lines
}

// dayLines plots the last days: how many answers were right, and how long a right answer
// took.
func dayLines(days []progress.Day) []console.Paragraph {
	const most, width = 14, 25
	var lines []console.Paragraph
	if more := len(days) - most; more > 0 {
		lines = append(lines, console.Row("%d more before%s", more, console.Typed(": --json has all", "")))
	}
	for _, d := range days[max(len(days)-most, 0):] {
		took := "none right"
		if d.Took > 0 {
			took = fmt.Sprintf("%.1f s each", d.Took.Seconds())
		}
		share := float64(d.Right) / float64(d.Attempts)
		lines = append(lines, console.Row("%s  %-*s %3d%% of %3d, %s", d.Date.Format(time.DateOnly), width,
			strings.Repeat("#", int(share*width+0.5)), percentRight(d.Right, d.Attempts), d.Attempts, took))
	}
	return lines
}
