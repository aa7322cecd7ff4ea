package lineup

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tallywink.example/channelplan"
)

// Rule is the name of a rule, as used in files, JSON and messages.
type Rule string

// The rules, in the order in which their findings are reported.
const (
	NotInPlan          Rule = "not-in-plan"
	InsideOFDM         Rule = "inside-ofdm"
	RowUnreadable      Rule = "row-unreadable"
	NotInLineup        Rule = "not-in-lineup"
	CarrierMismatch    Rule = "carrier-mismatch"
	OutsideForward     Rule = "outside-forward"
	OutsideDetector    Rule = "outside-detector"
	Overlapped         Rule = "overlapped"
	SyncSuppressed     Rule = "sync-suppressed"
	PartTime           Rule = "part-time"
	LineupProblems     Rule = "lineup-problems"
	NotAssigned        Rule = "not-assigned"
	OtherPilot         Rule = "other-pilot"
	Narrowcast         Rule = "narrowcast"
	AeronauticalOffset Rule = "aeronautical-offset"
	DistressGuard      Rule = "distress-guard"
	OffPlan            Rule = "off-plan"
	NeighborStrong     Rule = "neighbor-strong"
	TestCarrier        Rule = "test-carrier"
	LowPlacement       Rule = "low-placement"
	BandEdge           Rule = "band-edge"
	LevelOdd           Rule = "level-odd"
	StaleLineup        Rule = "stale-lineup"
	OffAirIngress      Rule = "off-air-ingress"
)

// rule is one check of a pilot.
type rule struct {
	name   Rule
	asks   string // what it checks, as half a sentence, for the reader of the table
	source string // where it comes from
	needs  needs
	of     subject
	// points is how many of a carrier's hundred points as a pilot a caution takes, see
	// [Rank]; 0 if the rule says the same about every carrier, is scored separately, or
	// always makes a carrier unusable.
	points float64
	// judge returns what the rule found, "" if nothing.
	judge func(x *exam) (Severity, string)
}

// needs is what must be known before a rule can be applied.
type needs uint8

const (
	carriers needs = iota // a lineup
	passband              // a lineup, or the amplifier's passband
	nothing               // the plan, and the amplifier's record if there is one
)

// subject is what a rule is about: if many pilots are judged by one lineup, a finding
// about the lineup or a carrier is reported once, not for each pilot.
type subject uint8

const (
	thePilot   subject = iota // this pilot, perhaps at this amplifier
	theCarrier                // the carrier, whatever amplifier follows it
	theLineup                 // the lineup as a whole
	theRecord                 // the rest of the amplifier's record, which an audit judges by itself
)

// Sources of the rules.
const (
	fromPlan     = "ANSI/CTA-542"
	fromLineup   = "the lineup"
	fromRecord   = "the amplifier's record"
	fromPractice = "common practice, no source"
	fromOffset   = "47 CFR 76.612"
	fromDistress = "47 CFR 76.616"
	fromLevels   = "Hranac, The Power of QAM, Communications Technology, October 2006; common practice"
)

// Thresholds of the rules, common practice if no source is given.
const (
	neighborStrongDB = 10
	levelOddDB       = 3
	levelNoteDB      = 1.5
	analogOffHz      = 5_000
	edgeChannels     = 2    // next to either end of the passband
	lowShare         = 0.25 // of the top frequency: half of the swing at the top, by the square root law
)

// lineOffHz is how far a spectral line may be from the plan's place and still be found by
// a detector that is set for the other kind of line: offsets are 12.5 and 25 kHz, and an
// AGC's filter is far wider (common practice, no source).
const lineOffHz = 50_000

// rules holds all rules, in the order in which their findings are reported.
var rules = []rule{
	{NotInPlan, "whether the plan has the channel", fromPlan, nothing, thePilot, 0, notInPlan},
	{InsideOFDM, "whether an OFDM block covers the channel", fromLineup, carriers, thePilot, 0, insideOFDM},
	{RowUnreadable, "whether the lineup's row for it could be read", fromLineup, carriers, thePilot, 0, rowUnreadable},
	{NotInLineup, "whether anything is carried there", fromLineup, carriers, thePilot, 0, notInLineup},
	{CarrierMismatch, "whether the carrier is the same kind as the pilot", fromLineup, carriers, thePilot, 0,
		carrierMismatch},
	{OutsideForward, "whether the carrier is inside the passband", fromLineup, passband, thePilot, 0, outsideForward},
	{OutsideDetector, "whether this amplifier's detector can follow it", fromRecord, nothing, thePilot, 0,
		outsideDetector},
	{Overlapped, "whether another carrier is in its 6 MHz", fromLineup, carriers, thePilot, 0, overlapped},
	{SyncSuppressed, "whether the sync level, which the detector follows, is constant", fromPractice, carriers,
		thePilot, 0, syncSuppressed},
	{PartTime, "whether the carrier goes off the air", fromLineup, carriers, thePilot, 0, partTime},
	{LineupProblems, "whether all rows of the lineup could be read", fromLineup, carriers, theLineup, 0,
		lineupProblems},
	{NotAssigned, "whether it is this amplifier's pilot on record", fromRecord, nothing, thePilot, 0, notAssigned},
	{OtherPilot, "whether the other pilot of an amplifier with two is valid, too", fromRecord, nothing, theRecord, 0,
		otherPilot},
	{Narrowcast, "whether the carrier is the same at every node", fromPractice, carriers, thePilot, 25, narrowcast},
	{AeronauticalOffset, "whether an analog or cw carrier keeps its offset in the aeronautical bands", fromOffset,
		carriers, theCarrier, 5, aeronauticalOffset},
	{DistressGuard, "whether an analog or cw carrier keeps clear of distress frequencies", fromDistress, carriers,
		thePilot, 0, distressGuard},
	{OffPlan, "whether the listed frequency matches the plan", fromPlan, carriers, thePilot, 5, offPlan},
	{NeighborStrong, "whether an adjacent carrier is much stronger", fromPractice, carriers, thePilot, 15,
		neighborStrong},
	{TestCarrier, "whether a sweep or leakage test carrier is in or beside the channel", fromPractice, carriers,
		thePilot, 30, testCarrier},
	{LowPlacement, "whether it is high enough in the band to see the cable's level change", fromPractice, passband,
		thePilot, 0, lowPlacement},
	{BandEdge, "whether it keeps clear of the passband's ends, where filters roll off", fromPractice, passband,
		thePilot, 15, bandEdge},
	{LevelOdd, "whether its level is in line with its neighbors'", fromLevels, carriers, thePilot, 8, levelOdd},
	{StaleLineup, "whether the lineup is current", fromPractice, carriers, theLineup, 0, staleLineup},
	{OffAirIngress, "whether a strong local transmitter shares its frequency", fromPractice, carriers, thePilot, 24,
		offAirIngress},
}

func mhz(hz int64) string { return channelplan.FormatMHz(hz) + " MHz" }

func notInPlan(x *exam) (Severity, string) {
	if x.inPlan {
		return Note, ""
	}
	return Blocker, fmt.Sprintf("the %s plan has no channel %d", x.l.Plan.Name(), x.pilot.Channel)
}

func insideOFDM(x *exam) (Severity, string) {
	block, in := x.swallowedBy()
	if !x.inPlan || !in {
		return Note, ""
	}
	shared := sharedHz(block.Band, x.at.Band)
	if shared >= x.at.HighHz-x.at.LowHz && x.amp != nil && x.amp.Detector.Power &&
		x.amp.Detector.Follows(channelplan.OFDM) {
		return Caution,
			fmt.Sprintf("%s covers its channel: this amplifier's detector measures power and follows the block, whose level must be constant",
				block)
	}
	if shared >= x.at.HighHz-x.at.LowHz {
		return Blocker, fmt.Sprintf("%s covers its channel: there is no such pilot", block)
	}
	return Blocker, fmt.Sprintf("%s reaches %s into its channel", block, mhz(shared))
}

func notInLineup(x *exam) (Severity, string) {
	if _, swallowed := x.swallowedBy(); !x.inPlan || x.listed || swallowed {
		return Note, ""
	}
	if _, text := rowUnreadable(x); text != "" {
		return Note, "" // nobody knows what is carried there
	}
	if x.pilot.Channel == 0 {
		return Blocker, fmt.Sprintf("the lineup carries no cw carrier at %s", mhz(x.pilot.FrequencyHz))
	}
	for c := range x.others {
		if Collide(c.Band, x.at.Band) {
			return Blocker, fmt.Sprintf("the lineup has no separate carrier on channel %d: %s overlaps it",
				x.pilot.Channel, c)
		}
	}
	return Blocker, fmt.Sprintf("the lineup carries nothing on channel %d", x.pilot.Channel)
}

// rowUnreadable gives a verdict on the file, not on the plant: nothing is known about the
// pilot.
func rowUnreadable(x *exam) (Severity, string) {
	for _, row := range x.l.LeftOut {
		if x.inPlan && !row.Band.IsZero() && Collide(row.Band, x.at.Band) {
			return Blocker,
				fmt.Sprintf("the lineup's row for %s (line %d) can't be read, and a block there may cover its channel: correct it and check again",
					row.Band, row.Line)
		}
		if !x.listed && row.Channel != 0 && row.Channel == x.pilot.Channel {
			return Blocker,
				fmt.Sprintf("the lineup's row for channel %d (line %d) can't be read: correct it and check again",
					row.Channel, row.Line)
		}
	}
	return Note, ""
}

func carrierMismatch(x *exam) (Severity, string) {
	listed := x.row.Kind.Family()
	if !x.listed || listed == x.pilot.Kind {
		return Note, ""
	}
	severity := Blocker
	if x.amp != nil && x.amp.Detector.Power && x.amp.Detector.Follows(listed) {
		return Caution,
			fmt.Sprintf("the pilot is %s, but channel %d carries %s: this amplifier's detector measures power and follows it, at another level",
				x.pilot.Kind.Label(), x.row.Channel, x.row.Kind.Label())
	}
	c, ok := x.l.Plan.Channel(x.row.Channel)
	off := x.row.FrequencyHz - c.VisualHz()
	if bothLines(listed, x.pilot.Kind) && ok && max(off, -off) <= lineOffHz {
		severity = Caution // the detector finds a carrier either way
	}
	return severity, fmt.Sprintf("the pilot is %s, but channel %d carries %s", x.pilot.Kind.Label(), x.row.Channel,
		x.row.Kind.Label())
}

func outsideForward(x *exam) (Severity, string) {
	if !x.inPlan {
		return Note, ""
	}
	why := outside(x.at.Band, x.pass, x.l.Plan)
	if why == "" && x.pass != x.l.Forward {
		// The amplifier passes it, but does the system?
		if system := outside(x.at.Band, x.l.Forward, x.l.Plan); system != "" {
			return Blocker, fmt.Sprintf("it %s of the forward passband, %s", system, x.l.Forward)
		}
	}
	if why == "" {
		return Note, ""
	}
	return Blocker, fmt.Sprintf("it %s of %s, %s", why, x.passOf, x.pass)
}

// outsideDetector goes by the record: some detectors follow one kind of carrier alone, or
// have a filter that reaches a part of the band.
func outsideDetector(x *exam) (Severity, string) {
	if x.amp == nil || !x.amp.Detector.Known() || !x.inPlan {
		return Note, ""
	}
	d := x.amp.Detector
	if slope := x.amp.Slope; !slope.Pilot.IsZero() && x.pilot != x.amp.Pilot &&
		(!slope.Detector.Known() || slope.Detector.Follows(x.pilot.Kind)) {
		return Note, "" // the slope pilot's detector may be set to it
	}
	if !d.Follows(x.pilot.Kind) {
		return Blocker, fmt.Sprintf("this amplifier's detector (%s) does not follow %s", d, x.pilot.Kind.Label())
	}
	if at := x.at.FrequencyHz; !d.Band.IsZero() && (at < d.Band.LowHz || at > d.Band.HighHz) {
		return Blocker, fmt.Sprintf("this amplifier's detector can be set from %s, and it is at %s", d.Band, mhz(at))
	}
	return Note, ""
}

func overlapped(x *exam) (Severity, string) {
	if _, swallowed := x.swallowedBy(); !x.listed || swallowed {
		return Note, ""
	}
	for c := range x.others {
		if shared := sharedHz(c.Band, x.row.Band); shared > shareableHz {
			name := c.String()
			if c.Channel == x.row.Channel && c.Kind != channelplan.CW {
				name = fmt.Sprintf("a second carrier on channel %d (line %d)", c.Channel, c.Line)
			}
			return Blocker, fmt.Sprintf("%s is in the same 6 MHz", name)
		}
	}
	return Note, ""
}

func syncSuppressed(x *exam) (Severity, string) {
	if !x.listed || !x.row.SyncSuppressed {
		return Note, ""
	}
	return Blocker,
		"its video is scrambled by sync suppression: the sync level, which the detector follows, is not constant"
}

func partTime(x *exam) (Severity, string) {
	if !x.listed || !x.row.PartTime {
		return Note, ""
	}
	return Blocker, "it is a part-time carrier: when it goes off the air, the AGC loses its pilot"
}

func notAssigned(x *exam) (Severity, string) {
	if x.amp == nil || x.amp.Pilot.IsZero() || x.pilot == x.amp.Pilot {
		return Note, ""
	}
	own := x.amp.Pilot
	switch {
	case x.pilot == x.amp.Spare:
		return Caution, fmt.Sprintf("the main pilot of %s is %s; this is its spare", x.amp.ID, own)
	case x.pilot.Channel == 0 && own.Kind == channelplan.CW && own.Channel == x.row.Channel && x.listed:
		return Note, "" // the same carrier, named by its frequency
	case x.pilot.Channel == own.Channel && bothLines(x.pilot.Kind, own.Kind):
		return Caution, fmt.Sprintf("%s has %s on record: same channel, different detector setting", x.amp.ID, own)
	}
	return Caution, fmt.Sprintf("%s has %s on record, not %s", x.amp.ID, x.amp.Pilot, x.pilot)
}

// otherPilot judges the other pilot of an amplifier that has one for gain and one for
// slope: locked on one of them, its lamp does not tell how the other one fares.
func otherPilot(x *exam) (Severity, string) {
	a := x.with.Amplifier
	if a == nil || a.Slope.Pilot.IsZero() {
		return Note, ""
	}
	what, other, text := "slope", a.Slope.Pilot, ""
	switch x.pilot {
	case a.Slope.Pilot:
		what, other = "main", a.Pilot
		text = fmt.Sprintf("it is the slope pilot of %s, whose main pilot is %v", a.ID, a.Pilot)
	case a.Pilot:
	default:
		return Note, "" // neither of its pilots
	}
	if len(x.l.Carriers) == 0 {
		return Note, text // there is no lineup to judge by
	}
	if r := x.check(other, x.with); r.Verdict == Unusable {
		return Caution, fmt.Sprintf("its %s pilot, %v, is not valid here (%s): %s", what, other, r.Findings[0].Rule,
			r.Findings[0].Text)
	}
	return Note, text
}

// bothLines reports whether two kinds of carrier both are, or contain, a single spectral
// line: analog and cw.
func bothLines(a, b channelplan.Kind) bool {
	return (a == channelplan.Analog || a == channelplan.CW) && (b == channelplan.Analog || b == channelplan.CW)
}

func lineupProblems(x *exam) (Severity, string) {
	switch rows := x.l.LeftOut; len(rows) {
	case 0:
		return Note, ""
	case 1:
		return Caution, fmt.Sprintf("line %d of the lineup can't be read: what it says was left out", rows[0].Line)
	default:
		return Caution,
			fmt.Sprintf("%d lines of the lineup can't be read, starting at line %d: what they say was left out",
				len(rows), rows[0].Line)
	}
}

func narrowcast(x *exam) (Severity, string) {
	if !x.listed || !x.row.Narrowcast {
		return Note, ""
	}
	return Caution, "it is narrowcast: it may be absent at this node, or come and go with node splits"
}

// analogOrCW reports whether the listed carrier has its power in a single line: the rules
// that protect radio services concern only those. The power of a QAM carrier is spread so
// thin that it stays below their threshold.
func (x *exam) analogOrCW() bool {
	return x.listed && (x.row.Kind == channelplan.Analog || x.row.Kind == channelplan.CW)
}

func aeronauticalOffset(x *exam) (Severity, string) {
	if !x.analogOrCW() {
		return Note, ""
	}
	v := channelplan.Aeronautical(x.row.FrequencyHz)
	if v.Passes {
		return Note, ""
	}
	if v.AwayHz == 0 {
		return Caution, fmt.Sprintf("its carrier is on %s; the rule requires it %s kHz away: tell the headend",
			mhz(v.NearestHz), kilohertz(v.Band.OffsetHz))
	}
	return Caution,
		fmt.Sprintf("its carrier at %s is %s kHz from %s; the rule requires it %s kHz away: tell the headend",
			mhz(x.row.FrequencyHz), kilohertz(v.AwayHz), mhz(v.NearestHz), kilohertz(v.Band.OffsetHz))
}

func kilohertz(hz int64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%d.%03d", hz/1000, hz%1000), "0"), ".")
}

// distressGuard does not look at levels: 76.616 limits the power at any point of the
// system, and a lineup gives the level at its reference point only.
func distressGuard(x *exam) (Severity, string) {
	if !x.analogOrCW() {
		return Note, ""
	}
	guard, in := channelplan.DistressGuard(x.row.FrequencyHz)
	if !in {
		return Note, ""
	}
	return Blocker, fmt.Sprintf("its carrier is at %s, in the guard band of %s: call the headend now",
		mhz(x.row.FrequencyHz), guard.Name)
}

func offPlan(x *exam) (Severity, string) {
	c, ok := x.l.Plan.Channel(x.row.Channel)
	if !x.listed || !x.row.Listed || !ok {
		return Note, ""
	}
	want := planFrequency(x.row.Kind, c)
	off := x.row.FrequencyHz - want
	tolerance := int64(analogOffHz)
	switch x.row.Kind.Family() {
	case channelplan.CW:
		if off == 0 {
			return Note, ""
		}
		return Note, fmt.Sprintf("the cw carrier of channel %d is at %s", c.Number(), mhz(x.row.FrequencyHz))
	case channelplan.Digital:
		tolerance = channelplan.CenterToleranceHz
	}
	if max(off, -off) <= tolerance {
		return Note, ""
	}
	return Caution, fmt.Sprintf("the lineup lists it at %s, %s kHz off the plan's %s", mhz(x.row.FrequencyHz),
		kilohertz(max(off, -off)), mhz(want))
}

func neighborStrong(x *exam) (Severity, string) {
	if !x.listed || !x.row.HasLevel {
		return Note, ""
	}
	for c := range x.neighbors {
		if c.HasLevel && c.LevelDBmV-x.row.LevelDBmV > neighborStrongDB {
			return Caution, fmt.Sprintf("%s, next to it, is %.1f dB higher", c, c.LevelDBmV-x.row.LevelDBmV)
		}
	}
	return Note, ""
}

// testWords, in a cw carrier's service, say that it is used for sweep or leakage tests.
var testWords = []string{"sweep", "leak", "test", "tag"}

func namesTest(service string) bool {
	for _, w := range strings.FieldsFunc(strings.ToLower(service), func(r rune) bool { return r < 'a' || r > 'z' }) {
		for _, t := range testWords {
			if w == t || t != "tag" && strings.HasPrefix(w, t) {
				return true
			}
		}
	}
	return false
}

func testCarrier(x *exam) (Severity, string) {
	if x.listed && x.row.TestCarrier {
		return Caution, fmt.Sprintf("it is a test carrier (%s): it may be moved or switched off without notice",
			x.row.Service)
	}
	if !x.inPlan {
		return Note, ""
	}
	for c := range x.others {
		beside := c.FrequencyHz >= x.at.LowHz-channelplan.ChannelWidthHz &&
			c.FrequencyHz <= x.at.HighHz+channelplan.ChannelWidthHz
		if beside && c.TestCarrier {
			return Caution, fmt.Sprintf("a test carrier (%s, %s) is in or next to its channel", c.Service,
				mhz(c.FrequencyHz))
		}
	}
	return Note, ""
}

func lowPlacement(x *exam) (Severity, string) {
	top := x.pass.HighHz
	if !x.inPlan || x.amp != nil && x.amp.Role == LowPilot || float64(x.at.FrequencyHz) >= lowShare*float64(top) {
		return Note, ""
	}
	share := math.Sqrt(float64(x.at.FrequencyHz) / float64(top))
	return Caution, fmt.Sprintf("it is low in the band: its level moves only %.0f%% as much as at %s",
		100*share, mhz(top))
}

func bandEdge(x *exam) (Severity, string) {
	if !x.inPlan || outside(x.at.Band, x.pass, x.l.Plan) != "" {
		return Note, ""
	}
	middle := (x.at.LowHz + x.at.HighHz) / 2
	const reach = edgeChannels * channelplan.ChannelWidthHz
	switch {
	case middle-x.pass.LowHz < reach:
		return Caution, fmt.Sprintf("it is next to the lower end of %s, %s, where filters roll off", x.passOf,
			mhz(x.pass.LowHz))
	case x.pass.HighHz-middle < reach:
		return Caution, fmt.Sprintf("it is next to the upper end of %s, %s, where filters roll off", x.passOf,
			mhz(x.pass.HighHz))
	}
	return Note, ""
}

func levelOdd(x *exam) (Severity, string) {
	if x.levelMissing() {
		return Note, "the lineup does not list its level, so it can't be compared with its neighbors'"
	}
	off, across, ok := x.offLine()
	size := math.Abs(off)
	if !ok || size < levelNoteDB {
		return Note, ""
	}
	side := "above"
	if off < 0 {
		side = "below"
	}
	severity := Note
	if size > levelOddDB {
		severity = Caution
	}
	if across {
		return severity, fmt.Sprintf("its level of %.1f dBmV is %.1f dB %s what its neighbors of other kinds suggest",
			x.row.LevelDBmV, size, side)
	}
	return severity, fmt.Sprintf("its level of %.1f dBmV is %.1f dB %s the line through its neighbors",
		x.row.LevelDBmV, size, side)
}

func staleLineup(x *exam) (Severity, string) {
	effective := x.l.Effective
	switch {
	case effective.IsZero() && x.l.dateUnread:
		return Caution, "the lineup says when it took effect, but the date can't be read"
	case effective.IsZero():
		return Note, "the lineup does not say when it took effect"
	case x.with.Today.IsZero():
		return Note, ""
	case effective.After(x.with.Today):
		return Caution, fmt.Sprintf("the lineup takes effect on %s: another one may be in use today",
			effective.Format(time.DateOnly))
	case effective.AddDate(1, 0, 0).Before(x.with.Today):
		return Caution, fmt.Sprintf("the lineup is dated %s, over a year old: ask the headend for a newer one",
			effective.Format(time.DateOnly))
	}
	return Note, ""
}

func offAirIngress(x *exam) (Severity, string) {
	if !x.inPlan {
		return Note, ""
	}
	for _, b := range x.l.OffAir {
		inside := x.at.FrequencyHz >= b.LowHz && x.at.FrequencyHz <= b.HighHz
		if inside || Collide(x.at.Band, b) {
			return Note,
				fmt.Sprintf("it is in an off-air band, %s: where shielding is poor, ingress gets into the pilot", b)
		}
	}
	return Note, ""
}
