package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// maxNights is how many nights are listed for a person.
const maxNights = 14

// nightsBlock says which night how many amplifiers are visited, and where.
func (w WorkPlan) nightsBlock() console.Block {
	c := w.Calendar
	b := console.Block{Label: "Nights"}
	end := c.Nights.Begin + c.Length
	assumed := wording.Either(w.ChangeGiven, "",
		" (the middle of the window, assumed: ask the headend"+console.Typed(", then give --change-at", "")+")")
	b.Text = append(b.Text,
		console.Text(fmt.Sprintf("crews work %s to %s; the headend changes its lineup on %s%s. Nobody works for %.0f minutes before and after that%s.",
			clock(c.Nights.Begin), clock(end), atOnDay(c.Change), assumed, c.Margin.Minutes(), console.Typed(" (--margin)", ""))))
	if len(c.Jobs) == 0 {
		b.Text = append(b.Text, console.Text("There is nothing to visit."))
		return b
	}
	if c.Late() {
		text := fmt.Sprintf("It does not fit: the first visit would have to begin on %s.", atOnDay(c.Begin()))
		switch crews, err := w.CrewsBy(c.Nights); {
		case err != nil:
		case crews == 0:
			text += " More crews do not help: one cascade by itself takes longer. Ask the headend for a later day, or for both pilots on the air for a while."
		default:
			text += fmt.Sprintf(" With %s it fits%s. Or ask the headend for a later day.",
				wording.Counted(crews, "crew", "crews"), console.Typed(fmt.Sprintf(": give --crews %d", crews), ""))
		}
		b.Text = append(b.Text, console.Text(text))
	} else {
		b.Text = append(b.Text,
			console.Text(fmt.Sprintf("Begin no later than %s. That leaves no night to spare: begin earlier if you can.",
				atOnDay(c.Begin()))))
	}
	if id, longest := c.Unguarded(); id != "" {
		text := fmt.Sprintf("Longest without AGC: %s, %.1f hours by the clock.", id, longest.Hours())
		if longest > shift {
			text += " That is a day's swing of temperature: use more crews, or a change nearer the end of the window."
		}
		b.Text = append(b.Text, console.Text(console.Shown(text)))
	}
	type night struct {
		day   string
		phase cutover.Phase
	}
	var order []night
	count, nodes := map[night]int{}, map[night][]string{}
	crews := map[night]map[string][]int{} // that work in a node
	ends := map[night]time.Time{}
	begins := map[night]time.Time{}
	for _, j := range c.Jobs {
		n := night{c.NightOf(j), j.Phase}
		if count[n] == 0 {
			order = append(order, n)
			begins[n] = j.Begin
		}
		if count[n]++; j.End.After(ends[n]) {
			ends[n] = j.End
		}
		name := j.Step.Node
		if crews[n] == nil {
			crews[n] = map[string][]int{}
		}
		if _, known := crews[n][name]; !known {
			nodes[n] = append(nodes[n], name)
		}
		if !slices.Contains(crews[n][name], j.Crew) {
			crews[n][name] = append(crews[n][name], j.Crew)
		}
	}
	for _, n := range order[:min(len(order), maxNights)] {
		const most = 8
		where := ""
		for i, name := range nodes[n] {
			if i == most {
				where += fmt.Sprintf(" and %d more nodes", len(nodes[n])-most)
				break
			}
			where += wording.Either(i > 0, ", ", "") + orNone(name) + crewText(crews[n][name])
		}
		b.Text = append(b.Text, console.Hung(fmt.Sprintf("%s to %s  ", begins[n].Format(field.Minute),
			ends[n].Format("15:04")), console.Shown(fmt.Sprintf("%v %d: %s", n.phase, count[n], where))))
	}
	if more := len(order) - maxNights; more > 0 {
		b.Text = append(b.Text, console.Row("and %d more: %s has who goes where and when", more, workListName))
	}
	return b
}

// crewText names the crews that work in a node.
func crewText(crews []int) string {
	var names []string
	for _, c := range slices.Sorted(slices.Values(crews)) {
		names = append(names, fmt.Sprint(c))
	}
	return fmt.Sprintf(" (crew %s)", strings.Join(names, ", "))
}

// inOrder returns steps in the order of their visits in a phase; without a calendar, as
// they are.
func (w WorkPlan) inOrder(phase cutover.Phase, steps []cutover.Step) []cutover.Step {
	if w.Calendar == nil {
		return steps
	}
	steps = slices.Clone(steps)
	slices.SortStableFunc(steps, func(a, b cutover.Step) int {
		x, y := w.Jobs[phase.String()+" "+a.ID], w.Jobs[phase.String()+" "+b.ID]
		return cmp.Or(x.Begin.Compare(y.Begin), x.Crew-y.Crew)
	})
	return steps
}

// clock writes a time since midnight as a clock shows it.
func clock(d time.Duration) string {
	d %= 24 * time.Hour
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}

// atOnDay writes a time in a sentence.
func atOnDay(t time.Time) string { return t.Format("2006-01-02 at 15:04") }

// when returns who visits an amplifier in a phase, and when, for the work list; "" if there
// is no calendar or nobody has to go.
func (w WorkPlan) when(phase, id string) (crew, begin, end string) {
	j, ok := w.Jobs[phase+" "+id]
	if !ok {
		return "", "", ""
	}
	return fmt.Sprint(j.Crew), j.Begin.Format(field.Minute), j.End.Format(field.Minute)
}

// ByVisit returns the jobs by phase and amplifier.
func ByVisit(c *cutover.Calendar) map[string]cutover.Job {
	if c == nil {
		return nil
	}
	jobs := make(map[string]cutover.Job, len(c.Jobs))
	for _, j := range c.Jobs {
		jobs[j.Phase.String()+" "+j.ID] = j
	}
	return jobs
}

// WriteICalendar writes the calendar to a file.
func (w WorkPlan) WriteICalendar(out *console.Console, path string) error {
	file, err := console.Render(path, func(to io.Writer) error { return w.Calendar.WriteICalendar(to, time.Now()) })
	if err != nil {
		return err
	}
	return writeAndSay(out, file)
}

type calendarDoc struct {
	Change string   `json:"change"` // on the clock: 2026-12-09 03:00
	Begin  *string  `json:"begin"`  // of the first visit; null if there is none
	Late   bool     `json:"late"`   // that is past
	Jobs   []jobDoc `json:"jobs"`
}

type jobDoc struct {
	Phase string `json:"phase"` // early, park or lock
	Crew  int    `json:"crew"`
	Begin string `json:"begin"`
	End   string `json:"end"`
	Amp   string `json:"amp"`
	Node  string `json:"node"`
}

func (w WorkPlan) calendarDocument() *calendarDoc {
	if w.Calendar == nil {
		return nil
	}
	d := &calendarDoc{Change: w.Calendar.Change.Format(field.Minute), Late: w.Calendar.Late(), Jobs: []jobDoc{}}
	for _, j := range w.Calendar.Jobs {
		d.Jobs = append(d.Jobs, jobDoc{j.Phase.String(), j.Crew, j.Begin.Format(field.Minute),
			j.End.Format(field.Minute), j.ID, j.Step.Node})
	}
	if len(d.Jobs) > 0 {
		d.Begin = &d.Jobs[0].Begin
	}
	return d
}
