package main

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
)

// This file lays a cutover's visits on nights, for --window.

// nights lays a plan on the nights that the flags give; nil if they give none.
func (c *cuttingOver) nights(plan *cutover.Plan) (*cutover.Calendar, error) {
	if c.window == "" {
		if c.changeAt != "" || c.ics != "" {
			return nil, misuse("add --window, such as --window 00:00-06:00",
				"--change-at and --ics need the hours in which crews may work")
		}
		return nil, nil
	}
	if plan.After.Effective.IsZero() {
		return nil, misuse("add '# effective: 2026-12-09' to it", "%s does not say on which day it takes effect",
			plan.After.File)
	}
	from, to, ok := strings.Cut(c.window, "-")
	begin, err := timeOfDay("window", c.window, from)
	if err != nil {
		return nil, err
	}
	end, err := timeOfDay("window", c.window, to)
	if err != nil {
		return nil, err
	}
	if !ok || begin == end {
		return nil, misuse("write it like 00:00-06:00", "--window can't be %q", c.window)
	}
	n := cutover.Nights{Begin: begin, Length: end - begin, Margin: c.margin}
	if n.Length < 0 {
		n.Length += 24 * time.Hour
	}
	at := begin + n.Length/2
	if c.changeAt != "" {
		if at, err = timeOfDay("change-at", c.changeAt, c.changeAt); err != nil {
			return nil, err
		}
	}
	if n.From, err = dayOf(c.on, c.lineup); err != nil {
		return nil, err
	}
	n.Change = plan.After.Effective.Add(at % (24 * time.Hour))
	calendar, err := plan.Calendar(n)
	if errors.Is(err, cutover.ErrWindow) {
		return nil, misuse("give a longer --window or a shorter --visit", "no visit of %v fits in the window %s",
			plan.Visit, c.window)
	}
	return calendar, err
}

// timeOfDay reads a time of day, as the time since midnight.
func timeOfDay(flag, whole, text string) (time.Duration, error) {
	hour, minute, ok := strings.Cut(strings.TrimSpace(text), ":")
	h, errH := strconv.Atoi(hour)
	m, errM := strconv.Atoi(minute)
	if !ok || errH != nil || errM != nil || h < 0 || h > 24 || m < 0 || m > 59 || h == 24 && m > 0 {
		return 0, misuse("write hours and minutes of a day of 24 hours, such as 03:00", "--%s can't be %q", flag, whole)
	}
	return time.Duration(h%24)*time.Hour + time.Duration(m)*time.Minute, nil
}

// maxNights is how many nights are listed for a person.
const maxNights = 14

// nightsBlock says which night how many amplifiers are visited, and where.
func (w workPlan) nightsBlock() console.Block {
	c := w.calendar
	b := console.Block{Label: "Nights"}
	end := c.Nights.Begin + c.Length
	assumed := either(w.changeGiven, "", " (the middle of the window, assumed: ask the headend, then give --change-at)")
	b.Text = append(b.Text,
		console.Text(fmt.Sprintf("crews work %s to %s; the headend changes its lineup on %s%s. Nobody works for %.0f minutes before and after that (--margin).",
			clock(c.Nights.Begin), clock(end), atOnDay(c.Change), assumed, c.Margin.Minutes())))
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
			text += fmt.Sprintf(" With %s it fits: give --crews %d. Or ask the headend for a later day.",
				wording.Counted(crews, "crew", "crews"), crews)
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
			where += either(i > 0, ", ", "") + orNone(name) + crewText(crews[n][name])
		}
		b.Text = append(b.Text, console.Hung(fmt.Sprintf("%s to %s  ", begins[n].Format(field.Minute),
			ends[n].Format("15:04")), console.Shown(fmt.Sprintf("%v %d: %s", n.phase, count[n], where))))
	}
	if more := len(order) - maxNights; more > 0 {
		b.Text = append(b.Text, console.Row("and %d more: --csv has who goes where and when", more))
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
func (w workPlan) inOrder(phase cutover.Phase, steps []cutover.Step) []cutover.Step {
	if w.calendar == nil {
		return steps
	}
	steps = slices.Clone(steps)
	slices.SortStableFunc(steps, func(a, b cutover.Step) int {
		x, y := w.jobs[phase.String()+" "+a.ID], w.jobs[phase.String()+" "+b.ID]
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
func (w workPlan) when(phase, id string) (crew, begin, end string) {
	j, ok := w.jobs[phase+" "+id]
	if !ok {
		return "", "", ""
	}
	return fmt.Sprint(j.Crew), j.Begin.Format(field.Minute), j.End.Format(field.Minute)
}

// byVisit returns the jobs by phase and amplifier.
func byVisit(c *cutover.Calendar) map[string]cutover.Job {
	if c == nil {
		return nil
	}
	jobs := make(map[string]cutover.Job, len(c.Jobs))
	for _, j := range c.Jobs {
		jobs[j.Phase.String()+" "+j.ID] = j
	}
	return jobs
}

// writeICalendar writes the calendar to a file.
func (w workPlan) writeICalendar(out *console.Console, path string) error {
	file, err := console.Render(path, func(to io.Writer) error { return w.calendar.WriteICalendar(to, time.Now()) })
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

func (w workPlan) calendarDocument() *calendarDoc {
	if w.calendar == nil {
		return nil
	}
	d := &calendarDoc{Change: w.calendar.Change.Format(field.Minute), Late: w.calendar.Late(), Jobs: []jobDoc{}}
	for _, j := range w.calendar.Jobs {
		d.Jobs = append(d.Jobs, jobDoc{j.Phase.String(), j.Crew, j.Begin.Format(field.Minute),
			j.End.Format(field.Minute), j.ID, j.Step.Node})
	}
	if len(d.Jobs) > 0 {
		d.Begin = &d.Jobs[0].Begin
	}
	return d
}
