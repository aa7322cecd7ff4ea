package field

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"tallywink.example/channelplan"
	"tallywink.example/channelplan/lineup"
	"tallywink.example/channelplan/wording"
)

// This file puts into words where to look for a fault that was found.

func (s *search) id(i int) string { return s.p.Amplifiers[i].ID }

// few lists some names, and says how many of all there are more.
func few(names []string, all int, between string) string {
	text := strings.Join(names, between)
	if more := all - len(names); more > 0 {
		text += fmt.Sprintf(" and %d more", more)
	}
	return text
}

// ids lists the IDs of a few amplifiers.
func (s *search) ids(places []int, between string) string {
	const most = 4
	var names []string
	for _, i := range places[:min(len(places), most)] {
		names = append(names, s.id(i))
	}
	return few(names, len(places), between)
}

// names lists a few pilots.
func names(pilots []channelplan.Pilot) string {
	const most = 3
	var all []string
	for _, p := range pilots[:min(len(pilots), most)] {
		all = append(all, p.String())
	}
	return few(all, len(pilots), " and ")
}

// fault says where to look.
func (s *search) fault(h *head) Fault {
	first := h.at[0]
	f := Fault{Pilot: s.p.Amplifiers[first].Pilot, Pilots: h.pilots, Below: s.id(first), Nodes: s.nodes(h.at),
		Lost: h.lost}
	if len(f.Pilots) == 0 && !f.Pilot.IsZero() {
		f.Pilots = []channelplan.Pilot{f.Pilot}
	}
	if h.own {
		f.Apart = s.apart([]int{h.passing, first})
		what := fmt.Sprintf("has lost %v", f.Pilot)
		if h.shows == isDark {
			what = "is dark"
		}
		check := "the setting and the AGC module"
		if s.p.Amplifiers[first].Mode != lineup.AGC {
			check = "the lamp and the module"
		}
		f.Text = fmt.Sprintf("%s %s, but %s downstream is locked: signal passes, so check %s of %s itself, or it may be working again",
			s.id(first), what, s.id(h.passing), check, s.id(first))
		s.remark(&f, h.at)
		return f
	}
	at := s.ids(h.at, " and ")
	w := s.pathAbove(h)
	next := s.next(h, w, &f)
	is := names(h.pilots) + " is lost"
	if len(h.pilots) > 1 {
		is = names(h.pilots) + " are lost"
	}
	switch {
	case h.shows == isDark && h.dark > 1:
		is = fmt.Sprintf("%d amplifiers in a row are dark", h.dark)
	case h.shows == isDark:
		is = "the lamp is dark"
	case h.shows == isLow:
		is = "the input is too low"
	}
	power := ""
	switch {
	case h.dark > 1:
		power = ": check the power supply that feeds them first"
	case h.shows == isDark && h.above < 0:
		power = ": check the power and the module there first"
	}
	switch {
	case h.above < 0 && h.carrier:
		f.Apart = s.apart([]int{h.passing, first})
		f.Text = fmt.Sprintf("%s at %s, but %s is locked on %v: signal passes. Measure this carrier one amplifier upstream: if it is there, look for a trap, a suck-out or water; if not, ask the headend; and check the pilot setting",
			is, at, s.id(h.passing), s.on[h.passing])
	case h.above < 0:
		f.Apart = s.apart(h.at)
		where := "at " + at
		if h.dark > 1 {
			where = "from " + at + " on"
		}
		before := "" // a lamp that was locked long before does not count
		if slices.ContainsFunc(w.unclear, func(i int) bool { return !s.on[i].IsZero() }) {
			before = " in the hour before"
		}
		f.Text = fmt.Sprintf("%s %s%s. No lamp upstream was read as locked%s: the fault is at %s, or anywhere from the node to it; %s",
			is, where, power, before, at, next)
	default:
		f.Above = s.id(h.above)
		f.Apart = s.apart(append([]int{h.seen}, h.at...))
		from := f.Above
		if h.seen != h.above {
			from += fmt.Sprintf(" (%s downstream of it is locked)", s.id(h.seen))
		}
		switch on := s.on[h.seen]; {
		case h.carrier && h.lost == 1:
			f.Text = fmt.Sprintf("%s at %s and there at %s, but %s is locked on %v: signal passes. Measure %v at the input of %s. Low: look for a trap, a suck-out or water between %s and there; %s. Good: check the setting and the AGC module of %s",
				is, at, from, s.id(h.passing), s.on[h.passing], h.pilots[0], s.id(first), f.Above, next, s.id(first))
		case h.carrier:
			f.Text = fmt.Sprintf("%s at %s and there at %s, but %s is locked on %v: only this carrier is lost between them. Look for a trap, a suck-out or water; %s",
				is, at, from, s.id(h.passing), s.on[h.passing], next)
		case h.shows == lostIt && len(h.pilots) == 1 && on == h.pilots[0]:
			f.Text = fmt.Sprintf("%v is there at %s and lost at %s: the fault is between them; %s", on, from, at, next)
		case h.shows == lostIt && len(h.pilots) == 1:
			read, check := wording.Capital(next)+". ", ""
			if f.ReadNext == "" {
				read, check = "", ": "+next
			}
			from = fmt.Sprintf("%s, locked on %v", f.Above, on)
			if h.seen != h.above {
				from = fmt.Sprintf("%s (%s downstream of it is locked on %v)", f.Above, s.id(h.seen), on)
			}
			f.Text = fmt.Sprintf("%s at %s, but signal passes %s. %sAt %s, measure %v and its neighbors. All low: the fault is between %s and %s%s. Only %v low: measure it one amplifier upstream, then call the headend",
				is, at, from, read, s.id(first), h.pilots[0], f.Above, s.id(first), check, h.pilots[0])
		case h.shows == isDark && h.dark == 1:
			f.Text = fmt.Sprintf("%s at %s, but signal passes %s: the fault is at %s or between the two; %s", is, at,
				from, at, next)
		default:
			f.Text = fmt.Sprintf("%s at %s%s, but signal passes %s: the fault is between them; %s", is, at,
				power, from, next)
		}
	}
	s.remark(&f, h.at)
	return f
}

// remark adds what makes a fault less certain: that its readings are far apart in time, and
// that lamps at these amplifiers do not show which of two pilots is lost.
func (s *search) remark(f *Fault, at []int) {
	two := slices.DeleteFunc(slices.Clone(at), func(i int) bool {
		return s.shown[i] != lostIt || s.p.Amplifiers[i].Slope.Pilot.IsZero()
	})
	switch len(two) {
	case 0:
	case 1:
		f.Text += fmt.Sprintf("; the lamp does not show which of the two pilots of %s is lost: measure its slope pilot, %v, too",
			s.id(two[0]), s.p.Amplifiers[two[0]].Slope.Pilot)
	default:
		f.Text += fmt.Sprintf("; the lamps do not show which of the two pilots of %s is lost: measure their slope pilots, too",
			s.ids(two, ", "))
	}
	if f.Apart > staleApart {
		f.Text += fmt.Sprintf("; the readings are %d days apart: take them again", int(f.Apart.Hours()/24))
	}
}

// next says what to do next, and sets the amplifier to read next.
func (s *search) next(h *head, w path, f *Fault) string {
	var steps []string
	then := ""
	if n := len(w.unclear); n > 0 {
		var seen []string
		for _, i := range w.unclear[:min(n, 4)] {
			what := s.last[i].Words()
			if !s.on[i].IsZero() && s.last[i].Time.Before(h.first) {
				what += ", at " + s.last[i].Time.Local().Format(Minute) + ", before the first loss: read it again now"
			}
			seen = append(seen, fmt.Sprintf("%s (%s)", s.id(i), what))
		}
		steps = append(steps, "go first to "+strings.Join(seen, ", ")+": the last reading there does not tell")
		then = "then "
		f.ReadNext = s.id(w.unclear[0])
	}
	if n := len(w.between); n > 0 && f.ReadNext == "" {
		f.ReadNext = s.id(w.between[n/2])
	}
	first := s.id(h.at[0])
	switch n := len(w.between); {
	case n > 0 && len(h.at) > 1:
		if then == "" {
			f.ReadNext = s.id(w.between[0])
		}
		steps = append(steps, fmt.Sprintf("%sread %s next: it is upstream of all of them", then, s.id(w.between[0])))
	case n == 1:
		steps = append(steps, fmt.Sprintf("%sread %s next: it is in between", then, s.id(w.between[0])))
	case n > 1:
		// Halving the unread ones finds it in the fewest visits.
		steps = append(steps, fmt.Sprintf("%sread %s next: it cuts the stretch in half", then, s.id(w.between[n/2])))
	case len(w.unclear) == 0 && len(w.mute) == 0 && len(h.at) > 1 && h.above < 0:
		steps = append(steps, "check the node itself, they have nothing else in common")
	case len(w.unclear) == 0 && len(w.mute) == 0:
		steps = append(steps, "check the span before "+first+", and its own input")
	case len(w.unclear) == 0:
		steps = append(steps,
			fmt.Sprintf("check the span before %s, and its own input; also %s and the spans before: their lamps can't show it",
				first, s.ids(w.mute, ", ")))
	}
	return strings.Join(steps, "; ")
}

func (s *search) nodes(places []int) []string {
	var nodes []string
	met := map[string]bool{}
	for _, i := range places {
		node := s.p.Amplifiers[i].Node
		if key := strings.ToLower(node); !met[key] {
			met[key] = true
			nodes = append(nodes, node)
		}
	}
	return nodes
}

// apart returns the longest time between readings.
func (s *search) apart(places []int) time.Duration {
	first, latest := s.last[places[0]].Time, s.last[places[0]].Time
	for _, i := range places {
		if t := s.last[i].Time; t.Before(first) {
			first = t
		} else if t.After(latest) {
			latest = t
		}
	}
	return latest.Sub(first)
}
