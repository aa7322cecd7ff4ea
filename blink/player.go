package blink

import "time"

// Player plays light on a screen in real time. Whether it is lit depends on the time
// alone: each change is placed by the time since the play began, never by adding up
// waits. A [Shutter] is between the light and the screen: no matter what is restarted,
// put aside or late, no more than [MaxFlashes] flashes pass in a second.
//
// The zero Player is dark. Use one player for all light on a screen.
type Player struct {
	light   []Interval // one period
	period  time.Duration
	begin   time.Time // dark before
	skip    time.Duration
	once    bool // dark after one period
	shutter Shutter
}

// LeadIn is the dark time before a play begins. It gives time to look at the lamp, and
// it is longer than a second, so flashes of two plays do not add up.
const LeadIn = 1200 * time.Millisecond

// Play is one play of a light.
type Play struct {
	Light []Interval    // one period, repeated
	Once  bool          // one period only, then dark
	Skip  time.Duration // how far into the period the play starts
}

// Play begins a play, [LeadIn] from now on.
func (p *Player) Play(play Play, now time.Time) {
	p.light, p.begin, p.once, p.skip, p.period = play.Light, now.Add(LeadIn), play.Once, 0, 0
	for _, iv := range play.Light {
		p.period += iv.Duration
	}
	if p.period > 0 {
		p.skip = play.Skip % p.period
	}
}

// Stop ends the play; the light goes dark.
func (p *Player) Stop() { p.light, p.begin = nil, time.Time{} }

// Begin returns when the play begins or began, or the zero time if there is none.
func (p *Player) Begin() time.Time { return p.begin }

// LitAt returns whether the light is lit and when that ends, or the zero time if it
// does not end. Use [Player.Show] for what may actually be shown.
func (p *Player) LitAt(now time.Time) (lit bool, until time.Time) {
	if len(p.light) == 0 {
		return false, time.Time{}
	}
	if now.Before(p.begin) {
		return false, p.begin
	}
	if len(p.light) == 1 { // steady, or dark
		return p.light[0].Lit, time.Time{}
	}
	since := now.Sub(p.begin) + p.skip
	if p.once && since >= p.period {
		return false, time.Time{}
	}
	at := since / p.period * p.period
	for _, iv := range p.light {
		if at += iv.Duration; since < at {
			return iv.Lit, p.begin.Add(at - p.skip)
		}
	}
	return false, time.Time{} // periods add up to their intervals
}

// Show returns what to show now and when to ask again, or the zero time if nothing will
// change. If hidden is true the light is not shown: the result is dark.
func (p *Player) Show(now time.Time, hidden bool) (lit bool, again time.Time) {
	want, until := p.LitAt(now)
	if hidden {
		want, until = false, time.Time{}
	}
	lit, again = p.shutter.Show(want, now)
	if again.IsZero() || !until.IsZero() && until.Before(again) {
		again = until
	}
	return lit, again
}

// ChangedAt returns when the light's latest change before or at now was due.
func (p *Player) ChangedAt(now time.Time) time.Time {
	at := p.begin
	for next := at; !next.IsZero() && !next.After(now); {
		at = next
		_, next = p.LitAt(at)
	}
	return at
}
