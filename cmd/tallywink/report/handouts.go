package report

import (
	"cmp"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/plant"
	"tallywink.example/channelplan/plant/cutover"
	"tallywink.example/channelplan/plant/field"
	"tallywink.example/channelplan/plant/station"
	"tallywink.example/channelplan/wording"
	"tallywink.example/cmd/tallywink/console"
	"tallywink.example/cmd/tallywink/handout"
)

// writeHandout writes a page to a file, or to standard output for "-".
func writeHandout(out *console.Console, path string, p *handout.Page) error {
	file, err := console.Render(path, func(w io.Writer) error { _, err := p.WriteTo(w); return err })
	if err != nil {
		return err
	}
	if path == "-" {
		return Deliver(out, file)
	}
	return writeAndSay(out, file)
}

// Deliver writes a file, or prints it if its path is "-".
func Deliver(out *console.Console, file console.File) error {
	if file.Path == "-" {
		_, err := out.Out.Write(file.Data)
		return err
	}
	return writeAndSay(out, file)
}

// writeAndSay writes a file that comes in addition to an answer, or instead of one.
func writeAndSay(out *console.Console, file console.File) error {
	if err := file.Write(); err != nil {
		return err
	}
	out.Remark("wrote %s", console.Shown(file.Path))
	return nil
}

const (
	maxCascades = 40 // drawn on one page
	maxPilots   = 14 // named in one band
	maxSwings   = 75 // stations drawn
	// swingsTogether is how many stations one drawing holds: two drawings fill a sheet of
	// paper.
	swingsTogether = 25
	maxCurves      = 120 // trainees drawn
	curvesTogether = 12
	// maxDrawnNights is how many nights are drawn, nightsTogether in one drawing.
	maxDrawnNights = 28
	nightsTogether = 4
)

// drawCascades draws the cascades in which something is not as it should be, the worst
// first.
func drawCascades(page *handout.Page, p *plant.Plant, c *plant.Cascades, legend string, at func(i int) handout.Amp) {
	type cascade struct{ root, bad, care int }
	root := make([]int, len(p.Amplifiers)) // of each amplifier
	troubled := map[int]*cascade{}
	var all []*cascade
	for _, i := range c.Order {
		root[i] = i
		if up := c.Upstream[i]; up >= 0 {
			root[i] = root[up]
		}
		look := at(i).Look
		if look == handout.Well || look == handout.Unknown && !at(i).Fault {
			continue
		}
		t := troubled[root[i]]
		if t == nil {
			t = &cascade{root: root[i]}
			troubled[root[i]] = t
			all = append(all, t)
		}
		if look == handout.Bad {
			t.bad++
		} else {
			t.care++
		}
	}
	slices.SortStableFunc(all, func(a, b *cascade) int { return cmp.Or(b.bad-a.bad, b.care-a.care) })
	var large []string
	drawn := 0
	for _, t := range all {
		if drawn == maxCascades {
			break
		}
		a := p.Amplifiers[t.root]
		d, count := handout.Cascade(p, c, t.root, at)
		if d == nil {
			large = append(large, fmt.Sprintf("%s (%d)", a.ID, count))
			continue
		}
		heading := "Cascade from " + a.ID
		if a.Node != "" {
			heading = fmt.Sprintf("Node %s, cascade from %s", a.Node, a.ID)
		}
		note := ""
		if drawn == 0 {
			note = legend
		}
		page.Draw(heading, d, note)
		drawn++
	}
	var left []string
	if more := len(all) - drawn - len(large); more > 0 {
		left = append(left,
			fmt.Sprintf("%s more with something to do are not drawn%s.",
				wording.Counted(more, "cascade", "cascades"),
				console.Typed(": use --node, a page for each node", "")))
	}
	if n := len(large); n > 0 {
		left = append(left, fmt.Sprintf("Too large to draw, with how many amplifiers: %s.",
			strings.Join(large[:min(n, 10)], ", ")))
	}
	if len(left) > 0 {
		page.Write([]console.Block{console.Section("Not drawn", strings.Join(left, " "))})
	}
}

// usesOf counts the pilots that a plant's amplifiers follow, and judges them by a lineup;
// most used first.
func usesOf(p *plant.Plant, l *lineup.Lineup, node string) []handout.Use {
	count := map[channelplan.Pilot]int{}
	for _, a := range p.Amplifiers {
		if a.Mode == lineup.AGC && !a.Pilot.IsZero() && (node == "" || strings.EqualFold(a.Node, node)) {
			count[a.Pilot]++
			if !a.Slope.Pilot.IsZero() {
				count[a.Slope.Pilot]++
			}
		}
	}
	var uses []handout.Use
	for _, pilot := range slices.SortedFunc(maps.Keys(count), func(a, b channelplan.Pilot) int {
		return cmp.Or(count[b]-count[a], a.Channel-b.Channel, int(a.Kind)-int(b.Kind))
	}) {
		r := l.CheckOne(pilot, lineup.Context{})
		uses = append(uses, handout.Use{Pilot: pilot, Amps: count[pilot],
			Valid: r.Verdict != lineup.Unusable || r.Undecided()})
	}
	return uses
}

const bandNote = "A number is how many amplifiers follow that pilot. A cross: it is not a valid pilot there. Lines: analog and cw carriers. Pale: digital. Gray: OFDM."

// drawPilots draws the pilots in use in one lineup or in two.
func drawPilots(page *handout.Page, p *plant.Plant, node string, lineups ...*lineup.Lineup) {
	var rows []handout.Pilots
	more := 0
	for i, l := range lineups {
		label := l.File
		if !l.Effective.IsZero() {
			label += ", from " + l.Effective.Format(time.DateOnly)
		}
		if len(lineups) == 2 {
			label = wording.Either(i == 0, "Before: ", "After: ") + label
		}
		uses := usesOf(p, l, node)
		more = max(len(uses)-maxPilots, 0)
		rows = append(rows, handout.Pilots{Label: label, Lineup: l, Use: uses[:len(uses)-more]})
	}
	note := bandNote
	if more > 0 {
		note += fmt.Sprintf(" The %d most used are shown, %d are not.", maxPilots, more)
	}
	page.Draw("Pilots in the band", handout.Band("pilots in the band", rows), note)
}

// madeOn says what a page was made from.
func madeOn(files ...string) string {
	files = slices.Compact(files)
	return fmt.Sprintf("Made on %s from %s. Local codes, your employer's rules and the training you have come first.",
		time.Now().Format(field.Minute), strings.Join(files, ", "))
}

// Page writes the page of a field book compared with an inventory.
func (s SeenInField) Page(out *console.Console, path string, p *plant.Plant, c *plant.Cascades, all bool) error {
	page := handout.New("What the lamps show", madeOn(p.File))
	page.Write(s.Blocks(all))
	looks := make([]handout.Amp, len(p.Amplifiers))
	for i := range looks {
		looks[i].Note = "not looked at"
	}
	for _, v := range s.Visits {
		i, ok := p.Find(v.ID)
		if !ok {
			continue
		}
		a := handout.Amp{Note: "as it should be"}
		if v.Last != nil {
			a.Note = v.Last.State.String()
			if pilot, told := v.Last.Lamp(); told {
				a.Note = pilot.String()
			}
		}
		switch v.Trouble {
		case field.NeverSeen:
			a = handout.Amp{Look: handout.Unknown, Note: "not read"}
		case field.Unsure:
			a.Look, a.Note = handout.Care, "doubtful"
		case field.AtEdge:
			a.Look, a.Note = handout.Care, v.Last.State.NameAt(v.Last.EdgeEnd)
		case field.WrongPilot, field.NotLocked, field.NotAsMeant:
			a.Look = handout.Bad
		}
		looks[i] = a
	}
	for _, f := range s.Faults {
		if i, ok := p.Find(f.Below); ok {
			looks[i].Fault = true
		}
	}
	drawCascades(page, p, c,
		"White on black: not locked, or on another pilot than its record. Thick frame: edge or doubtful. Dashed: nobody has read it. A cross: look for the fault in this span, or in the amplifier before it.",
		func(i int) handout.Amp { return looks[i] })
	return writeHandout(out, path, page)
}

// Page writes a work plan's page.
func (w WorkPlan) Page(out *console.Console, path string, c *plant.Cascades) error {
	page := handout.New("Work plan: "+w.After.File, madeOn(w.Plant.File, w.Before.File, w.After.File))
	drawPilots(page, w.Plant, w.Node, w.Before, w.After)
	page.Write(w.Blocks())
	w.drawNights(page)
	looks := make([]handout.Amp, len(w.Plant.Amplifiers))
	for _, s := range w.Steps {
		i, ok := w.Plant.Find(s.ID)
		if !ok {
			continue
		}
		switch s.Action {
		case cutover.Early:
			looks[i] = handout.Amp{Look: handout.Care, Note: "to " + s.To.Pilot.String()}
			if s.SlopeTo != nil {
				looks[i].Note += " + " + s.SlopeTo.Pilot.String()
			}
		case cutover.Park:
			looks[i] = handout.Amp{Look: handout.Bad, Note: "park"}
		case cutover.Strand:
			looks[i] = handout.Amp{Look: handout.Bad, Note: "park, no pilot"}
		case cutover.ByDesign:
			looks[i].Note = s.Mode.String()
		default:
			looks[i].Note = "stays"
		}
	}
	drawCascades(page, w.Plant, c,
		"White on black: park it before the change. Thick frame: move it before the change. Thin frame: nothing to do.",
		func(i int) handout.Amp { return looks[i] })
	return writeHandout(out, path, page)
}

// drawNights draws the crews' calendar, if there is one.
func (w WorkPlan) drawNights(page *handout.Page) {
	if w.Calendar == nil {
		return
	}
	nights := w.nights()
	for i, part := range slices.Collect(slices.Chunk(nights[:min(len(nights), maxDrawnNights)], nightsTogether)) {
		note := ""
		if i == 0 {
			note = "White on black: park. Thick frame: move early. Thin frame: lock again after the change, which is the dashed line."
			if more := len(nights) - maxDrawnNights; more > 0 {
				note += fmt.Sprintf(" The first %d nights are drawn, %d are not.", maxDrawnNights, more)
			}
		}
		page.Draw("Crews, night by night", handout.Nights(part), note)
	}
}

// nights returns the calendar as it is drawn: visits of one kind at one node, one after the
// other, are one piece of work.
func (w WorkPlan) nights() []handout.Night {
	c := w.Calendar
	at := map[time.Time]int{}
	var nights []handout.Night
	for _, j := range c.Jobs {
		begin := c.WindowOf(j)
		k, known := at[begin]
		if !known {
			k = len(nights)
			at[begin] = k
			n := handout.Night{Begin: begin, End: begin.Add(c.Length)}
			if !c.Change.Before(n.Begin) && !c.Change.After(n.End) {
				n.Change = c.Change
			}
			nights = append(nights, n)
		}
		n := &nights[k]
		for len(n.Crews) < j.Crew {
			n.Crews = append(n.Crews, handout.Crew{Name: fmt.Sprintf("crew %d", len(n.Crews)+1)})
		}
		look := map[cutover.Phase]handout.Look{cutover.MoveNow: handout.Care, cutover.ParkNow: handout.Bad,
			cutover.LockAfter: handout.Well}[j.Phase]
		crew := &n.Crews[j.Crew-1]
		work := handout.Work{Begin: j.Begin, End: j.End, Place: orNone(j.Step.Node), What: j.Phase.String(), Look: look}
		if last := len(crew.Work) - 1; last >= 0 && crew.Work[last].Place == work.Place &&
			crew.Work[last].What == work.What && crew.Work[last].End.Equal(j.Begin) {
			crew.Work[last].End = j.End
			continue
		}
		crew.Work = append(crew.Work, work)
	}
	return nights
}

// Page writes a class's page.
func (c Classroom) Page(out *console.Console, path string) error {
	page := handout.New("How the class reads the lamp", fmt.Sprintf("Made on %s.", c.Now.Format(field.Minute)))
	page.Write(c.Blocks())
	note := "Each point is a day: at the lower line nothing was right, at the upper one everything."
	if more := len(c.Trainees) - maxCurves; more > 0 {
		note += fmt.Sprintf(" The first %d trainees are drawn, %d are not.", maxCurves, more)
	}
	for part := range slices.Chunk(c.Trainees[:min(len(c.Trainees), maxCurves)], curvesTogether) {
		var curves []handout.Curve
		for _, s := range part {
			curve := handout.Curve{Name: s.Trainee, Note: c.standing(s)}
			for _, d := range s.Days {
				curve.Days = append(curve.Days, handout.Share{Day: d.Date,
					Right: float64(d.Right) / float64(max(d.Attempts, 1))})
			}
			curves = append(curves, curve)
		}
		page.Draw("Right answers, day by day", handout.Curves(curves), note)
		note = ""
	}
	return writeHandout(out, path, page)
}

// AuditPage writes an audit's page: the pilots in use, before a change if there is one and
// now, and the cascades with what was found about each amplifier.
func AuditPage(out *console.Console, path string, p *plant.Plant, c *plant.Cascades, node string,
	now, before *lineup.Lineup, blocks []console.Block) error {
	page := handout.New("Amplifiers and their pilots", madeOn(p.File, now.File))
	page.Write(blocks)
	if before != nil {
		drawPilots(page, p, node, before, now)
	} else {
		drawPilots(page, p, node, now)
	}
	verdicts := make([]handout.Amp, len(p.Amplifiers))
	for i := range p.Amplifiers {
		amp := &p.Amplifiers[i]
		if amp.Mode != lineup.AGC {
			verdicts[i].Note = amp.Mode.String()
			continue
		}
		verdicts[i].Note = amp.Pilot.String()
		if node != "" && !strings.EqualFold(amp.Node, node) {
			continue
		}
		with := lineup.Context{Amplifier: &amp.Amplifier}
		verdict := now.CheckOne(amp.Pilot, with).Verdict
		if slope := amp.Slope.Pilot; !slope.IsZero() {
			verdict = max(verdict, now.CheckOne(slope, with).Verdict)
			verdicts[i].Note += " + " + slope.String()
		}
		switch verdict {
		case lineup.Unusable:
			verdicts[i].Look = handout.Bad
		case lineup.WithCare:
			verdicts[i].Look = handout.Care
		}
	}
	drawCascades(page, p, c,
		"White on black: the pilot is not usable. Thick frame: usable with caution. Thin frame: usable.",
		func(i int) handout.Amp { return verdicts[i] })
	return writeHandout(out, path, page)
}

// SeasonPage writes the page of stations through the year; from is what they were read from,
// and short is how many of them are not covered.
func SeasonPage(out *console.Console, path, from string, stations []station.Station, q station.Conditions,
	short int) error {
	page := handout.New("Gain controls through the year", madeOn(from))
	page.Write(stationBlocks(stations, q, short))
	var known []station.Station
	for _, st := range stations {
		if st.Unknown == "" {
			known = append(known, st)
		}
	}
	note := "In dB from the middle of the range. Pale: the AGC's range. Black: where it stands from the hottest day to the coldest, if it is set today as the white line shows and the last column says."
	if more := len(known) - maxSwings; more > 0 {
		note += fmt.Sprintf(" The %d stations with the least to spare are drawn, %d are not.", maxSwings, more)
	}
	for part := range slices.Chunk(known[:min(len(known), maxSwings)], swingsTogether) {
		page.Draw("Swing through the year, from "+part[0].ID, handout.Swings(part), note)
		note = ""
	}
	return writeHandout(out, path, page)
}
