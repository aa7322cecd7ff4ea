package lineup

import (
	"slices"
	"time"

	"tallywink.example/channelplan"
)

// Severity is how serious a finding is.
type Severity uint8

// The severities.
const (
	Note    Severity = iota // good to know
	Caution                 // usable, with something to watch
	Blocker                 // not usable
)

// String returns note, caution or blocker.
func (s Severity) String() string { return [...]string{"note", "caution", "blocker"}[min(s, Blocker)] }

// MarshalText returns [Severity.String].
func (s Severity) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Verdict is the overall result of all findings.
type Verdict uint8

// The verdicts.
const (
	Usable   Verdict = iota // no blocker or caution
	WithCare                // no blocker, but a caution
	Unusable                // a blocker
)

// String returns usable, caution or unusable.
func (v Verdict) String() string {
	return [...]string{"usable", "caution", "unusable"}[min(v, Unusable)]
}

// MarshalText returns [Verdict.String].
func (v Verdict) MarshalText() ([]byte, error) { return []byte(v.String()), nil }

// Finding is what a rule found about a pilot.
type Finding struct {
	Rule     Rule
	Severity Severity
	Text     string // a sentence without its final period
	Source   string // where the rule comes from
}

// Report is the result of judging a pilot.
type Report struct {
	Pilot    channelplan.Pilot
	Located  Located // where the pilot is
	InPlan   bool    // the plan has its channel; if not, Located is zero
	Carrier  Carrier // what the lineup carries in that place
	Listed   bool    // the lineup carries something in that place
	Verdict  Verdict
	Findings []Finding // the most serious first; within a severity, in the order of the rules
}

// Context is what judging takes into account apart from the lineup.
type Context struct {
	Amplifier *Amplifier // nil if none is known
	Today     time.Time  // for the age of the lineup
}

// Check judges a pilot by all rules.
func (l *Lineup) Check(p channelplan.Pilot, with Context) Report {
	return l.judge(p, with, func(rule) bool { return true })
}

// CheckOne is Check limited to the rules about the pilot itself, for callers that judge
// many pilots: it leaves out what [Lineup.Concerns] returns.
func (l *Lineup) CheckOne(p channelplan.Pilot, with Context) Report {
	return l.judge(p, with, func(r rule) bool { return r.of == thePilot })
}

// Blockers returns a function that names the rule by which a pilot is of no use to an
// amplifier, as [Report.Blocker] does. It judges a pilot once for all amplifiers whose records
// are alike in what the rules look at.
func (l *Lineup) Blockers() func(p channelplan.Pilot, a Amplifier) Rule {
	type question struct {
		pilot channelplan.Pilot
		alike Amplifier
	}
	const most = 10_000 // that are remembered: most plants have a few kinds of amplifiers
	known := map[question]Rule{}
	return func(p channelplan.Pilot, a Amplifier) Rule {
		q := question{p, a}
		// No blocker depends on these.
		q.alike.Line, q.alike.ID, q.alike.Node, q.alike.Upstream = 0, "", "", ""
		q.alike.Spare, q.alike.Design, q.alike.Range, q.alike.Slope.Range = channelplan.Pilot{}, Design{}, Range{}, Range{}
		rule, judged := known[q]
		if !judged {
			rule = l.CheckOne(p, Context{Amplifier: &a}).Blocker()
			if len(known) >= most {
				clear(known)
			}
			known[q] = rule
		}
		return rule
	}
}

// Concerns returns the findings about the lineup as a whole and about single carriers,
// which do not depend on the pilot that is judged: the lineup's age, rows that can't be
// read, and frequency offsets.
func (l *Lineup) Concerns(today time.Time) []Finding {
	about := func(p channelplan.Pilot, of subject) []Finding {
		return l.judge(p, Context{Today: today}, func(r rule) bool { return r.of == of }).Findings
	}
	found := about(channelplan.Pilot{}, theLineup)
	for _, c := range l.Carriers {
		p := channelplan.Pilot{Channel: c.Channel, Kind: c.Kind}
		if c.Kind != channelplan.Analog && c.Kind != channelplan.CW {
			continue // no rule of this kind is about it
		}
		if c.Channel == 0 || c.Kind == channelplan.CW {
			p = channelplan.Pilot{Kind: channelplan.CW, FrequencyHz: c.FrequencyHz}
		}
		for _, f := range about(p, theCarrier) {
			f.Text = c.String() + ": " + f.Text
			found = append(found, f)
		}
	}
	return found
}

// Neighbors returns the carriers right next to a pilot, in order of frequency.
func (l *Lineup) Neighbors(p channelplan.Pilot) []Carrier {
	x := l.examine(p, Context{})
	if !x.inPlan && !x.listed {
		return nil
	}
	if !x.listed {
		// If nothing is carried there, the neighbors are those of the empty channel.
		x.row = Carrier{Band: x.at.Band, Channel: p.Channel, Kind: p.Kind}
	}
	return slices.Collect(x.neighbors)
}

// Standing returns what an AGC finds in the pilot's place: the carrier there, or the OFDM
// block that now covers it.
func (l *Lineup) Standing(p channelplan.Pilot) (Carrier, bool) {
	if c, ok := l.find(p); ok {
		return c, true
	}
	return l.examine(p, Context{}).swallowedBy()
}

func (l *Lineup) judge(p channelplan.Pilot, with Context, by func(rule) bool) Report {
	x := l.examine(p, with)
	x.check = l.CheckOne
	r := Report{Pilot: p, Located: x.at, InPlan: x.inPlan, Carrier: x.row, Listed: x.listed}
	for _, rule := range rules {
		if !by(rule) {
			continue
		}
		severity, text := rule.judge(x)
		if text == "" {
			continue
		}
		r.Findings = append(r.Findings, Finding{rule.name, severity, text, rule.source})
		switch {
		case severity == Blocker:
			r.Verdict = Unusable
		case severity == Caution && r.Verdict == Usable:
			r.Verdict = WithCare
		}
	}
	slices.SortStableFunc(r.Findings, func(a, b Finding) int { return int(b.Severity) - int(a.Severity) })
	return r
}

// CheckRecord judges a pilot without a lineup: by the plan and the amplifier's record
// alone.
func CheckRecord(p channelplan.Pilot, plan channelplan.Plan, with Context) Report {
	unknown := &Lineup{Plan: plan, Forward: Band{0, channelplan.MaxHz}}
	bounded := with.Amplifier != nil && !with.Amplifier.Passband.IsZero()
	if bounded {
		unknown.Forward = with.Amplifier.Passband
	}
	return unknown.judge(p, with, func(r rule) bool { return r.needs == nothing || r.needs == passband && bounded })
}

// Has reports whether there is a finding of a rule.
func (r Report) Has(rule Rule) bool {
	return slices.ContainsFunc(r.Findings, func(f Finding) bool { return f.Rule == rule })
}

// Blocker returns the rule by which the pilot is of no use, "" if there is none: a rule
// about the pilot before [RowUnreadable], which is about the file.
func (r Report) Blocker() (rule Rule) {
	for _, f := range r.Findings {
		if f.Severity == Blocker && (rule == "" || rule == RowUnreadable) {
			rule = f.Rule
		}
	}
	return rule
}

// Undecided reports whether nothing is known about the pilot, because a row of the lineup
// can't be read: a fault of the file, not of the plant.
func (r Report) Undecided() bool { return r.Blocker() == RowUnreadable }

// exam is a pilot that is being judged.
type exam struct {
	l      *Lineup
	pilot  channelplan.Pilot
	with   Context
	amp    *Amplifier // as the pilot sees it, see [Amplifier.AtSlope]
	inPlan bool
	at     Located // as the lineup lists it, else by the plan
	row    Carrier // what the lineup carries there
	listed bool
	// check is [Lineup.CheckOne] of the same lineup, for rules that judge another pilot.
	check  func(channelplan.Pilot, Context) Report
	pass   Band // the amplifier's own passband if known, else the system's
	passOf string
}

func (l *Lineup) examine(p channelplan.Pilot, with Context) *exam {
	x := &exam{l: l, pilot: p, with: with, amp: with.Amplifier, pass: l.Forward, passOf: "the forward passband"}
	if x.amp != nil && !x.amp.Passband.IsZero() {
		x.pass, x.passOf = x.amp.Passband, "this amplifier's passband"
	}
	if x.amp != nil && p == x.amp.Slope.Pilot && p != x.amp.Pilot {
		if at, ok := x.amp.AtSlope(); ok {
			x.amp = &at
		}
	}
	x.at, x.inPlan = Locate(p, l.Plan)
	x.row, x.listed = l.find(p)
	if x.listed && (x.row.Kind.Family() == p.Kind || bothLines(x.row.Kind, p.Kind)) {
		x.at = Located{x.row.FrequencyHz, x.row.Band}
	}
	return x
}

// find returns the lineup's carrier for a pilot.
func (l *Lineup) find(p channelplan.Pilot) (Carrier, bool) {
	if p.Channel != 0 {
		return l.InChannel(p.Channel, p.Kind)
	}
	var nearest Carrier
	least := int64(analogOffHz) + 1
	for _, c := range l.Carriers {
		off := c.FrequencyHz - p.FrequencyHz
		if off = max(off, -off); c.Kind == channelplan.CW && off < least {
			nearest, least = c, off
		}
	}
	return nearest, least <= analogOffHz
}

// others calls yield with every carrier of the lineup except the pilot's own, in place.
func (x *exam) others(yield func(*Carrier) bool) {
	for i := range x.l.Carriers {
		c := &x.l.Carriers[i]
		if x.listed && c.Line == x.row.Line {
			continue
		}
		if !yield(c) {
			return
		}
	}
}

// widened returns a carrier's band, or the channel's band for a cw carrier inside a
// channel of its own.
func (x *exam) widened(c *Carrier) Band {
	ch, ok := x.l.Plan.Channel(c.Channel)
	if c.Kind != channelplan.CW || !ok || !c.ownsChannel(x.l.Plan) {
		return c.Band
	}
	return Band{ch.LowHz(), ch.HighHz()}
}

// swallowedBy returns the OFDM block that covers the pilot.
func (x *exam) swallowedBy() (Carrier, bool) {
	for c := range x.others {
		if c.Kind == channelplan.OFDM && Collide(c.Band, x.at.Band) {
			return *c, true
		}
	}
	return Carrier{}, false
}

// besideHz is how far a neighbor may be from a carrier's edge: carriers that are off plan
// are neighbors, too.
const besideHz = 1_000_000

// neighbors calls yield with the carriers right next to the pilot: those that begin or
// end about where its channel does. A cw carrier has no width, so the channel that it is
// in counts.
func (x *exam) neighbors(yield func(Carrier) bool) {
	own := x.widened(&x.row)
	for c := range x.others {
		other := x.widened(c)
		below, above := own.LowHz-other.HighHz, other.LowHz-own.HighHz
		if max(below, -below) <= besideHz || max(above, -above) <= besideHz {
			if !yield(*c) {
				return
			}
		}
	}
}
