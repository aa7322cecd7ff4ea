package cutover

import (
	"fmt"
	"hash/fnv"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"tallywink.example/channelplan/wording"
)

// WriteICalendar writes the calendar as an iCalendar file (RFC 5545), with one event for
// each crew, night and phase, and what it visits when. Times have no zone: they are those
// of the clock on the wall. stamp is when the file was made. The error is the writer's.
func (c *Calendar) WriteICalendar(w io.Writer, stamp time.Time) error {
	var b strings.Builder
	line := func(name, value string) { fold(&b, name+":"+value) }
	line("BEGIN", "VCALENDAR")
	line("VERSION", "2.0")
	line("PRODID", "-//Tallywink//cutover//EN")
	type event struct {
		crew  int
		phase Phase
		night string // the day its window begins
	}
	jobs := map[event][]Job{}
	var order []event
	for _, j := range c.Jobs {
		e := event{j.Crew, j.Phase, c.NightOf(j)}
		if jobs[e] == nil {
			order = append(order, e)
		}
		jobs[e] = append(jobs[e], j)
	}
	const local = "20060102T150405"
	for _, e := range order {
		mine := jobs[e]
		from, to := mine[0].Begin, mine[len(mine)-1].End
		var visits []string
		hash := fnv.New64a()
		for _, j := range mine {
			text := fmt.Sprintf("%s %s", j.Begin.Format("15:04"), j.ID)
			if j.Step.Node != "" {
				text += " in " + j.Step.Node
			}
			switch {
			case j.Phase == ParkNow:
				text += ": manual or thermal"
			case j.To != nil:
				text += ": to " + j.To.Pilot.String()
				if j.SlopeTo != nil {
					text += ", slope pilot to " + j.SlopeTo.Pilot.String()
				}
			}
			visits = append(visits, text)
			fmt.Fprintln(hash, e, text)
		}
		line("BEGIN", "VEVENT")
		line("UID", fmt.Sprintf("%s-%s-crew%d-%016x@tallywink.example", e.night, e.phase, e.crew, hash.Sum64()))
		line("DTSTAMP", stamp.UTC().Format(local+"Z"))
		line("DTSTART", from.Format(local))
		line("DTEND", to.Format(local))
		line("SUMMARY", escaped(fmt.Sprintf("Crew %d: %s", e.crew, [...]string{
			MoveNow:   fmt.Sprintf("move %s to a new pilot", wording.Counted(len(mine), "amplifier", "amplifiers")),
			ParkNow:   fmt.Sprintf("park %s before the change", wording.Counted(len(mine), "amplifier", "amplifiers")),
			LockAfter: fmt.Sprintf("lock %s after the change", wording.Counted(len(mine), "amplifier", "amplifiers")),
		}[e.phase])))
		line("DESCRIPTION", escaped(strings.Join(visits, "\n")))
		line("END", "VEVENT")
	}
	line("END", "VCALENDAR")
	_, err := io.WriteString(w, b.String())
	return err
}

// escaped writes text as RFC 5545, section 3.3.11, asks.
func escaped(text string) string {
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`).Replace(wording.Harmless(line))
	}
	return strings.Join(lines, `\n`)
}

// fold writes a line in pieces of at most 75 octets, section 3.1, between characters.
func fold(b *strings.Builder, text string) {
	const most = 75
	room := most
	for len(text) > 0 {
		_, n := utf8.DecodeRuneInString(text)
		if n > room {
			b.WriteString("\r\n ")
			room = most - 1
		}
		b.WriteString(text[:n])
		room -= n
		text = text[n:]
	}
	b.WriteString("\r\n")
}
