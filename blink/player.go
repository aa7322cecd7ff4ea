package blink

import "time"

// Player plays light on a screen, in true time: where it is lit is a function of the
// time alone, each change placed by the time since the play began, never by adding
// up waits. Between the light and the screen is a [Shutter]: whatever is begun anew,
// put aside or late, no more than [MaxFlashes] flashes pass in a second.
//
// The zero Player is dark. One player stands for all of a screen's light.
type Player struct {
	light   []Interval // one period
	period  time.Duration
	begin   time.Time // dark before
	skip    time.Duration
	once    bool // dark after one period
	shutter Shutter
}

// LeadIn is the dark before a play begins: time to look there, and longer than any
// two flashes of two plays may lie apart.
const LeadIn = 1200 * time.Millisecond

// Play is one play of a light.
type Play struct {
	Light []Interval    // one period, played again and again
	Once  bool          // or once, and dark from then on
	Skip  time.Duration // how far into its period it is met
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

// Stop ends the play: it is dark.
func (p *Player) Stop() { p.light, p.begin = nil, time.Time{} }

// Begin returns when the play begins, or began; the zero time without one.
func (p *Player) Begin() time.Time { return p.begin }

// LitAt returns whether the light is lit, and when that ends; the zero time where
// it does not. What may be shown of it is what [Player.Show] says.
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

// Show returns what is to be shown now, and when to ask again; the zero time where
// nothing is to change. With hidden the light is not shown: it is as dark.
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

// ChangedAt returns when the light's last change up to now was to be.
func (p *Player) ChangedAt(now time.Time) time.Time {
	at := p.begin
	for next := at; !next.IsZero() && !next.After(now); {
		at = next
		_, next = p.LitAt(at)
	}
	return at
}
