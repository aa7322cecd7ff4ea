package drift

import (
	"math"
	"slices"
	"sync"
)

// This file has the model of a lamp in ambient light that moves, and the search for the
// most likely sequence of light and dark under it.
//
// Brightness is ambient light, plus the lamp's swing if it is lit, plus noise. Ambient
// light is a process: its level continues along its slope, and either the slope is a random
// walk (a locally linear trend), or the curvature of the slope is (a locally quadratic one),
// or the whole swings back and forth with a period of its own (a stochastic cycle: Harvey,
// Forecasting, Structural Time Series Models and the Kalman Filter, 1989; from memory). The
// swing of the lamp drifts slowly as well. A person sees at once what such a curve means:
// ambient light is slow, and the lamp's edges are sharp.
//
// When the lamp is lit and where ambient light is are found together. Each sequence of
// light and dark that is still likely, a survivor, carries its own estimate of level,
// slope, curvature and swing, a Kalman filter, and is weighed by how well that predicts each
// sample (per-survivor processing: Raheli, Polydoros and Tzou, IEEE Transactions on
// Communications 43, 1995). Of survivors that change at the same time only the best
// continues, as in the Viterbi algorithm. The prior is how long stretches last: all
// magnitudes are equally likely, and hardly any stretch is shorter than the shortest
// mark; or, which is tried as well, every second one is as long as the shortest. How ambient
// light moves, how large the swing is, how long the shortest stretch and how large the noise
// are not known: a grid of values is tried on a window, and the most likely ones are kept.
//
// This was chosen over levels found in a window, which must be straight within it, and
// over differences, which are far noisier. What the curvature and the period are worth is in
// TestWorthOfAModel: at 10 dB, with ambient light that swings by three times the lamp's swing
// every three seconds, a short mark stands out by 24 in natural logarithm with a slope alone,
// 41 with the curvature, 52 with the period, and 54 where ambient light stands still.

// sample is brightness averaged over a short time.
type sample struct {
	seconds, bright float64
	n               float64 // how many were averaged
	full            int     // 1: sensor saturated, maybe brighter; -1: sees nothing, maybe darker
	gap             bool    // no samples were taken for a long time before it
}

// motion is how ambient light moves: one of wild and bend is zero.
type motion struct {
	wild float64 // how fast its slope wanders, swings² a cubic second
	bend float64 // how fast its curvature wanders, swings² a second to the fifth
	turn float64 // how fast it swings back and forth, in radians a second; 0 if it does not
}

// times returns a motion that is so many times faster, at the same period.
func (m motion) times(x float64) motion { return motion{m.wild * x, m.bend * x, m.turn} }

// around returns motions a little slower and faster.
func (m motion) around() []motion {
	all := []motion{m.times(0.2), m.times(5)}
	if m.turn > 0 {
		for _, turn := range []float64{0.97, 0.99, 1.01, 1.03} {
			all = append(all, motion{bend: m.bend, turn: m.turn * turn})
		}
	}
	return all
}

// stride is how ambient light goes on for a time.
type stride struct {
	seconds float64
	// slope is what the slope adds to the level, and the curvature to the slope; bent is what
	// the curvature adds to the level; keeps is how much of slope and curvature stays, and back
	// how the slope turns the curvature back.
	slope, bent, keeps, back float64
	// What level, slope and curvature become more uncertain by: their covariances.
	ll, ls, lc, ss, sc, cc float64
}

// over returns how light that moves like this, in units of brightness, goes on for dt seconds.
func (m motion) over(dt float64) stride {
	half := dt * dt / 2
	at := stride{seconds: dt, slope: dt, bent: half, keeps: 1,
		ll: m.wild*dt*dt*dt/3 + m.bend*dt*half*half/5,
		ls: m.wild*half + m.bend*half*half/2,
		lc: m.bend * dt * half / 3,
		ss: m.wild*dt + m.bend*dt*dt*dt/3,
		sc: m.bend * half,
		cc: m.bend * dt}
	if m.turn > 0 {
		sin, cos := math.Sincos(m.turn * dt)
		at.slope, at.bent, at.keeps, at.back = sin/m.turn, (1-cos)/(m.turn*m.turn), cos, m.turn*sin
	}
	return at
}

// setting is the unknown values of a recording; the search tries them.
type setting struct {
	swing float64 // of the lamp
	motion
	noise float64 // deviation of a single sample
	// mark is how long the shortest stretches of light and dark last, in seconds; 0 if
	// lengths do not repeat.
	mark float64
	// coarse is how many samples are averaged into one: if each says little, many samples
	// would only crowd out likely survivors.
	coarse int
}

const (
	// swingWanders is how fast the swing may change, as a share of itself, per root
	// second.
	swingWanders = 0.04
	// edgeSeconds is how close to a change a sample may be far off: it was taken while the
	// light changed.
	edgeSeconds = 0.1
	// leastJump is the least jump of another light, as a share of the lamp's swing, by which
	// it could be mistaken for the lamp.
	leastJump = 0.2
	// leastStretch is shorter than the shortest mark, 100 ms, as it is seen.
	leastStretch = 0.07
	// far is the number of deviations from the prediction beyond which a sample only shows
	// that something else happened.
	far = 4.0
	// behindMost is by how much, in natural logarithm, a survivor may be worse than the
	// best, and survivors is the most survivors.
	behindMost  = 22.0
	worthTrying = behindMost / 2 // no change is tried below this
	survivors   = 20
	tryWith     = 8 // survivors while settings are tried
)

// survivor is a sequence of light and dark so far.
type survivor struct {
	score float64
	lit   bool
	first bool    // it began lit
	last  *change // the last change; nil if there is none
	since float64 // the time of that change
	// The level of ambient light, and the swing, as they were known before it, and the level
	// before the change before that.
	was, wasSwing, wasBefore float64
	times                    int // number of changes, up to 2
	// The estimate: level, slope and curvature of ambient light, the swing, and their
	// covariances.
	level, slope, curve, swing             float64
	ll, ls, lc, lw, ss, sc, sw, cc, cw, ww float64
	residual2, residuals, outlay           float64 // squared residuals, their number, and the number far off
	jumps                                  int     // samples far off in the middle of a stretch
	jumped                                 float64 // the time of the last of them
}

// predict moves the estimate forward; swingWild is how fast the swing wanders, in brightness²
// a second.
func (v *survivor) predict(at stride, swingWild float64) {
	a, b, c, d := at.slope, at.bent, at.keeps, at.back
	v.level += a*v.slope + b*v.curve
	v.slope, v.curve = c*v.slope+a*v.curve, c*v.curve-d*v.slope
	// The transition times the covariance, and that times the transition transposed.
	ll, ls, lc := v.ll+a*v.ls+b*v.lc, v.ls+a*v.ss+b*v.sc, v.lc+a*v.sc+b*v.cc
	ss, sc := c*v.ss+a*v.sc, c*v.sc+a*v.cc
	cs, cc := c*v.sc-d*v.ss, c*v.cc-d*v.sc
	v.ll, v.ls, v.lc = ll+a*ls+b*lc+at.ll, c*ls+a*lc+at.ls, c*lc-d*ls+at.lc
	v.ss, v.sc, v.cc = c*ss+a*sc+at.ss, c*sc-d*ss+at.sc, c*cc-d*cs+at.cc
	v.lw += a*v.sw + b*v.cw
	v.sw, v.cw = c*v.sw+a*v.cw, c*v.cw-d*v.sw
	v.ww += swingWild * at.seconds
}

// take weighs a sample and updates the estimate with it.
func (v *survivor) take(s sample, variance float64) {
	x := 0.0
	if v.lit {
		x = 1
	}
	r := variance / s.n
	// Covariances of the observed brightness with level, slope, curvature and swing.
	hl, hs, hc, hw := v.ll+x*v.lw, v.ls+x*v.sw, v.lc+x*v.cw, v.lw+x*v.ww
	total := hl + x*hw + r
	off := s.bright - v.level - x*v.swing
	if s.full != 0 && off*float64(s.full) < 0 {
		return // the sensor is at its limit, as predicted
	}
	z := math.Abs(off) / math.Sqrt(total)
	v.score -= math.Log(total) / 2
	v.residuals++
	if z > far {
		// Beyond that the cost grows with the logarithm: one odd sample does not decide
		// anything.
		v.score -= far*far/2 + 2*math.Log(z/far)
		v.outlay++
		if s.seconds-v.since > edgeSeconds && math.Abs(off) > leastJump*v.swing {
			v.jumps++
			v.jumped = s.seconds
		}
		r *= z * z / far
		total = hl + x*hw + r
	} else {
		v.score -= z * z / 2
		v.residual2 += off * off / total * variance
	}
	kl, ks, kc, kw := hl/total, hs/total, hc/total, hw/total
	v.level += kl * off
	v.slope += ks * off
	v.curve += kc * off
	v.swing += kw * off
	v.ll -= kl * hl
	v.ls -= kl * hs
	v.lc -= kl * hc
	v.lw -= kl * hw
	v.ss -= ks * hs
	v.sc -= ks * hc
	v.sw -= ks * hw
	v.cc -= kc * hc
	v.cw -= kc * hw
	v.ww -= kw * hw
}

// edge is how clearly an edge of light stands out, in deviations, at a rate of samples
// a second. The level next to it is known only from the samples during which ambient
// light stands still. Noise over n samples is noise²/n; in the time t that they take,
// ambient light adds wild t³/3, or bend t⁵/20. The optimum is where the two are equal.
func (s setting) edge(rate float64) float64 {
	noise2 := s.noise * s.noise / (s.swing * s.swing)
	t := math.Pow(3*noise2/(s.wild*rate), 0.25)
	if s.bend > 0 {
		t = math.Pow(20*noise2/(s.bend*rate), 1.0/6)
	}
	return 1 / math.Sqrt(2*noise2/(rate*t))
}

// beam is the current survivors of a search.
type beam struct {
	setting
	all     []survivor
	next    []survivor
	last    float64 // time of the previous sample
	started bool
	most    int // the most survivors
	prior   *prior
}

func newBeam(s setting, most int) *beam {
	b := &beam{most: most}
	b.set(s)
	return b
}

// set goes on with another setting.
func (b *beam) set(s setting) {
	b.setting = s
	switch {
	case s.mark == 0:
		b.prior = anyLength()
	case b.prior == nil || b.prior.mark != s.mark:
		b.prior = newPrior(s.mark)
	}
}

// begin starts with the first sample: the lamp may be lit or dark.
func (b *beam) begin(s sample) {
	b.started, b.last = true, s.seconds
	b.all = b.all[:0]
	sw2 := b.swing * b.swing
	for _, lit := range []bool{false, true} {
		v := survivor{lit: lit, first: lit, since: s.seconds - 1, level: s.bright, swing: b.swing,
			ll: b.noise*b.noise/s.n + sw2/100, ss: (b.wild+b.bend)*sw2*0.3 + sw2*1e-4, cc: b.bend * sw2, ww: sw2 * 0.09}
		if b.turn > 0 { // it swings by a few times the lamp's swing
			v.ss = 4 * sw2 * b.turn * b.turn
			v.cc = v.ss * b.turn * b.turn
		}
		if lit {
			v.level -= b.swing
			v.lw = -v.ww // only their sum is known
			v.ll += v.ww
		}
		b.all = append(b.all, v)
	}
}

// forget drops all survivors but the best, and what that one saw: only what it knows of
// ambient light and the lamp stays.
func (b *beam) forget() {
	v := *b.best()
	v.score, v.last, v.first, v.jumps, v.jumped = 0, nil, v.lit, 0, 0
	v.residual2, v.residuals, v.outlay = 0, 0, 0
	b.all = append(b.all[:0], v)
}

// resume takes the first sample after a gap: while nothing was seen, the lamp may have
// changed any number of times, and ambient light went on as it does.
func (b *beam) resume(s sample) {
	dt := b.advance(s)
	moves, swingWild, variance := b.rates()
	ahead := moves.over(dt)
	b.next = b.next[:0]
	for i := range b.all {
		for _, lit := range []bool{false, true} {
			v := b.all[i]
			v.predict(ahead, swingWild)
			v.lit, v.since = lit, s.seconds-1
			if v.last == nil {
				v.first = lit
			}
			v.take(s, variance)
			b.next = append(b.next, v)
		}
	}
	b.all, b.next = b.next, b.all
	b.prune()
}

// advance moves on to the time of a sample, and returns how much later that is.
func (b *beam) advance(s sample) (dt float64) {
	dt = max(s.seconds-b.last, 1e-6)
	b.last = s.seconds
	return dt
}

// rates returns, in units of brightness, how ambient light moves, how fast the swing wanders,
// and the variance of a single sample.
func (b *beam) rates() (moves motion, swingWild, variance float64) {
	sw2 := b.swing * b.swing
	return b.motion.times(sw2), swingWanders * swingWanders * sw2, b.noise * b.noise
}

// prior is the cost of a change, in natural logarithm, by how long the stretch before it was.
// A stretch may have any length, with all magnitudes equally likely, but is not shorter than a
// mark. If the length of the shortest ones is known, every second one has it.
type prior struct {
	mark  float64
	short [1024]float64 // the cost for stretches up to eight seconds, which are nearly all
}

// shortStep is the time between two entries of a prior's table, in seconds: half of a sample
// or less.
const shortStep = 1.0 / 128

func newPrior(mark float64) *prior {
	p := &prior{mark: mark}
	for i := range p.short {
		p.short[i] = p.exact((float64(i) + 0.5) * shortStep)
	}
	return p
}

// anyLength returns the prior if lengths do not repeat.
var anyLength = sync.OnceValue(func() *prior { return newPrior(0) })

// cost returns the cost for a change at any time in a second.
func (p *prior) cost(stretch float64) float64 {
	if i := int(stretch / shortStep); i < len(p.short) {
		return p.short[max(i, 0)]
	}
	return p.exact(stretch)
}

func (p *prior) exact(stretch float64) float64 {
	const (
		magnitudes = 4.6  // natural logarithm of the longest over the shortest
		deviation  = 0.15 // of the shortest, relative: jitter, and when samples are taken
	)
	least := max(leastStretch, 0.6*p.mark)
	long := max(stretch, least)
	density := math.Exp(-1) / magnitudes
	if p.mark > 0 {
		z := math.Log(long/p.mark) / deviation
		density = (density + math.Exp(-z*z/2)/(deviation*math.Sqrt(2*math.Pi))) / 2
	}
	cost := math.Log(long / density)
	if stretch < least {
		cost += 12 * (1 - stretch/least)
	}
	return cost
}

// add takes the next sample.
func (b *beam) add(s sample) {
	switch {
	case !b.started:
		b.begin(s)
		return
	case s.gap:
		b.resume(s)
		return
	}
	at := (b.last + s.seconds) / 2
	dt := b.advance(s)
	moves, swingWild, variance := b.rates()
	ahead := moves.over(dt)
	b.next = b.next[:0]
	var turned [2]survivor // the best that just became dark, and the best that just became lit
	var has [2]bool
	best, logStep := b.best().score, math.Log(min(dt, 0.05))
	for i := range b.all {
		v := b.all[i]
		wanders := swingWild
		if v.last == nil {
			// Until the light changes nobody sees the swing. If it were left to wander, having
			// been lit all the time would seem ever less likely than having been dark.
			wanders = 0
		}
		v.predict(ahead, wanders)
		if v.score < best-worthTrying {
			v.take(s, variance)
			b.next = append(b.next, v)
			continue
		}
		other := v
		other.lit, other.was, other.wasSwing, other.wasBefore = !v.lit, v.level, v.swing, v.was
		other.times = min(v.times+1, 2)
		other.score -= b.prior.cost(at-v.since) - logStep
		other.take(s, variance)
		v.take(s, variance)
		b.next = append(b.next, v)
		side := 0
		if other.lit {
			side = 1
		}
		if ok := other.swing > 0.3*b.swing && other.swing < 3*b.swing; ok &&
			(!has[side] || other.score > turned[side].score) {
			has[side], turned[side] = true, other
		}
	}
	for side, v := range turned {
		if has[side] {
			v.last, v.since = &change{at, v.last}, at
			if at-v.jumped < edgeSeconds && v.jumps > 0 {
				v.jumps--
			}
			b.next = append(b.next, v)
		}
	}
	b.all, b.next = b.next, b.all
	b.prune()
}

// prune keeps the best survivors.
func (b *beam) prune() {
	best := b.best().score
	b.all = slices.DeleteFunc(b.all, func(v survivor) bool { return v.score < best-behindMost })
	for len(b.all) > b.most {
		worst := 0
		for i := range b.all {
			if b.all[i].score < b.all[worst].score {
				worst = i
			}
		}
		b.all[worst] = b.all[len(b.all)-1]
		b.all = b.all[:len(b.all)-1]
	}
}

func (b *beam) best() *survivor {
	best := &b.all[0]
	for i := range b.all {
		if b.all[i].score > best.score {
			best = &b.all[i]
		}
	}
	return best
}

// decided returns the newest change before a time that all survivors share, after
// dropping those that do not share it with the best. It returns nil if there is none.
func (b *beam) decided(before float64) *change {
	shared := b.best().last
	for shared != nil && shared.seconds >= before {
		shared = shared.before
	}
	if shared == nil {
		return nil
	}
	first := b.best().first
	b.all = slices.DeleteFunc(b.all, func(v survivor) bool {
		c := v.last
		for c != nil && c.seconds > shared.seconds {
			c = c.before
		}
		return c != shared || v.first != first
	})
	base := b.best().score // make scores relative, so that they do not grow forever
	for i := range b.all {
		b.all[i].score -= base
	}
	return shared
}

// motions are the possible ways in which ambient light moves: from the sun to leaves in the
// wind, and smoothly.
var motions = [...]motion{{wild: 1e-5}, {wild: 1e-2}, {wild: 1}, {wild: 30}, {wild: 300}, {bend: 10}, {bend: 200}}

// leastGain is how much better, in natural logarithm, a lamp must explain a window than
// ambient light alone.
const leastGain = 14.0

// near finds the most likely setting for a window, of those near one that was right
// before. The result is false if ambient light and noise alone explain the window as
// well.
func near(window []sample, before setting) (setting, bool) {
	if len(window) < 8 {
		return setting{}, false
	}
	r := newRace(coarser(window, before.coarse))
	for _, m := range append(before.around(), before.motion) {
		s := before
		s.motion = m
		r.alone(s)
		r.run(s)
	}
	if r.score < r.none+leastGain {
		return setting{}, false
	}
	best, _ := refined(r.window, r.best)
	return best, true
}

// searched searches a window with at most most survivors.
func searched(window []sample, s setting, most int) *survivor {
	b := newBeam(s, most)
	for _, x := range window {
		b.add(x)
	}
	return b.best()
}

// race searches a window with one setting after another, to find the most likely one. A setting
// that falls far behind is given up.
type race struct {
	window []sample
	best   setting
	score  float64 // of the best setting; minus infinity if there is none
	none   float64 // of ambient light without a lamp
	// The scores of the best one, and of ambient light without a lamp, at each lap.
	laps, noneLaps [laps]float64
}

const (
	laps = 8
	// farBehind is how much less likely, in natural logarithm, a setting may be at the end of a
	// lap: some fit a window's end better than its beginning.
	farBehind = 40.0
)

func newRace(window []sample) *race {
	return &race{window: window, score: math.Inf(-1), none: math.Inf(-1)}
}

// lap returns the index of the last sample of a lap.
func (r *race) lap(i int) int { return (i+1)*len(r.window)/laps - 1 }

// run searches with a setting.
func (r *race) run(s setting) {
	b := newBeam(s, tryWith)
	var now [laps]float64
	lap := 0
	for i, x := range r.window {
		b.add(x)
		for ; lap < laps && i >= r.lap(lap); lap++ {
			now[lap] = b.best().score
			if !math.IsInf(r.score, -1) && now[lap] < r.laps[lap]-farBehind ||
				!math.IsInf(r.none, -1) && now[lap] < r.noneLaps[lap]-farBehind {
				return
			}
		}
	}
	if score := now[laps-1]; score > r.score {
		r.best, r.score, r.laps = s, score, now
	}
}

// alone weighs the window as ambient light without a lamp.
func (r *race) alone(s setting) {
	b := newBeam(s, 1)
	b.begin(r.window[0])
	v := b.all[0]
	last := r.window[0].seconds
	var now [laps]float64
	lap := 0
	for i, x := range r.window {
		if i > 0 {
			v.predict(s.times(s.swing*s.swing).over(max(x.seconds-last, 1e-6)), 0)
			v.take(x, s.noise*s.noise)
			last = x.seconds
		}
		for ; lap < laps && i >= r.lap(lap); lap++ {
			now[lap] = v.score
		}
	}
	if v.score > r.none {
		r.none, r.noneLaps = v.score, now
	}
}

// settle finds the setting for a window of samples. The result is false if ambient
// light and noise alone explain the window as well.
func settle(window []sample) (setting, bool) {
	if len(window) < 8 {
		return setting{}, false
	}
	noise, spread := noiseOf(window), spreadOf(window)
	if !(spread > 0) {
		return setting{}, false
	}
	noise = max(noise, spread*1e-3)
	coarse := 1
	if noise > spread/noisy && len(window) > manyOf*coarsest {
		coarse = coarsest
		window = coarser(window, coarse)
	}
	r := newRace(window)
	turning := swings()
	// Ambient light alone, in units of the spread: the lamp never changes.
	for _, m := range append(turning, motions[:]...) {
		r.alone(setting{swing: spread, motion: m, noise: noise, coarse: coarse})
	}
	const ratio = 1.6
	var grid []setting
	for swing := spread * 1.1; swing > 1.5*noise && swing > spread/30; swing /= ratio {
		grid = append(grid, setting{swing: swing, noise: max(noise, swing/cleanest), coarse: coarse})
	}
	for _, s := range grid {
		for _, m := range motions {
			s := s
			s.motion = m
			r.run(s)
			if noise <= s.swing/6 {
				s.noise = max(noise*1.6, s.swing/cleanest)
				r.run(s)
			}
		}
	}
	if math.IsInf(r.score, -1) {
		return setting{}, false
	}
	// The grid is coarse: search more finely around the best.
	best := r.best
	for _, m := range best.around() {
		s := best
		s.motion = m
		r.run(s)
	}
	r.turn(grid, turning)
	// The same noise for ambient light alone, or light without noise would always be explained
	// better by that.
	for _, m := range append(motions[:], r.best.times(0.2), r.best.motion, r.best.times(5)) {
		s := r.best
		s.motion, s.noise = m, max(noise, r.best.swing/cleanest)
		r.alone(s)
	}
	if r.score+math.Log(0.5) < r.none+leastGain {
		return setting{}, false
	}
	return polished(window, r.best), true
}

// marks returns lengths of the shortest stretches to try: all if it is not known, else some a
// little shorter and longer.
func (s setting) marks() []float64 {
	if s.mark > 0 {
		return []float64{0, s.mark * 0.93, s.mark * 1.07}
	}
	var all []float64
	for mark := 0.1; mark < 0.42; mark *= 1.15 {
		all = append(all, mark)
	}
	return all
}

// polished improves a setting until nothing near it is more likely.
func polished(window []sample, s setting) setting {
	s, found := refined(window, s)
	score := found.score
	const mostRounds = 6
	for range mostRounds {
		at, better := s, false
		var all []setting
		for _, m := range at.around() {
			near := at
			near.motion = m
			all = append(all, near)
		}
		for _, mark := range at.marks() {
			near := at
			near.mark = mark
			all = append(all, near)
		}
		for _, near := range all {
			if now := searched(window, near, survivors).score; now > score {
				s, score, better = near, now, true
			}
		}
		if !better {
			break
		}
		s, found = refined(window, s)
		score = found.score
	}
	return s
}

// turnRatio is the ratio of the periods of ambient light that are tried.
const turnRatio = 1.2

// swings returns motions back and forth, as behind a branch, a boat, a hand, with periods from
// 2 to 12 seconds.
func swings() []motion {
	var all []motion
	for period := 2.0; period < 12; period *= turnRatio {
		turn := 2 * math.Pi / period
		all = append(all, motion{bend: 0.1 * math.Pow(turn, 5), turn: turn})
	}
	return all
}

// turn searches under ambient light that swings back and forth. Its period is found so well
// that hardly anything of the lamp's light is taken for ambient light.
func (r *race) turn(grid []setting, turning []motion) {
	own := *r
	own.score = math.Inf(-1)
	for _, m := range turning {
		for _, s := range grid {
			s.motion = m
			own.run(s)
		}
	}
	for by := (turnRatio - 1) / 2; by > 0.01; by /= 2 {
		at := own.best
		for _, bend := range []float64{0.1, 1} {
			for _, turn := range []float64{1 - by, 1, 1 + by} {
				s := at
				s.bend *= bend
				s.turn *= turn
				if s != at {
					own.run(s)
				}
			}
		}
	}
	if own.score > r.score+leastTurning {
		*r = own
	}
}

const (
	// leastTurning is how much better, in natural logarithm, light that swings must explain a
	// window than light that just moves.
	leastTurning = 6.0
	noisy        = 8.0 // if the spread has fewer deviations than this, samples are averaged
	coarsest     = 2
	cleanest     = 25.0 // the least noise assumed is the lamp's swing divided by this
	manyOf       = 100  // the fewest samples if they are averaged
)

// coarser averages every k samples into one.
func coarser(window []sample, k int) []sample {
	out := make([]sample, 0, len(window)/k+1)
	var a averaging
	for _, s := range window {
		if m, whole := a.add(s, k); whole {
			out = append(out, m)
		}
	}
	return out
}

// averaging averages a number of samples into one.
type averaging struct {
	sum   sample
	count int
}

// add takes a sample, and returns the average once it is complete.
func (a *averaging) add(s sample, k int) (average sample, whole bool) {
	if s.gap {
		a.count = 0 // nothing is averaged across a gap
	}
	if a.count == 0 {
		a.sum = sample{full: s.full, gap: s.gap}
	}
	if s.full != a.sum.full {
		a.sum.full = 0
	}
	a.sum.seconds += s.seconds
	a.sum.bright += s.bright * s.n
	a.sum.n += s.n
	if a.count++; a.count < k {
		return sample{}, false
	}
	average = a.sum
	average.seconds /= float64(a.count)
	average.bright /= average.n
	a.count = 0
	return average, true
}

// refined sets the swing and noise of a setting to what the search with it found, as long as
// that is more likely, and returns the most likely sequence.
func refined(window []sample, s setting) (setting, *survivor) {
	best := searched(window, s, survivors)
	for range 2 {
		now := s
		if best.swing > 0 {
			now.swing = best.swing
		}
		if n := best.residuals - best.outlay; n > 8 {
			now.noise = max(math.Sqrt(best.residual2/n), now.swing/cleanest)
		}
		v := searched(window, now, survivors)
		if v.score <= best.score {
			break
		}
		s, best = now, v
	}
	return s, best
}

// noiseOf is the typical deviation of a single sample, from how far each one is off the
// line through its neighbors. Few of these have an edge of light between them.
func noiseOf(window []sample) float64 {
	var off []float64
	for i := 1; i+1 < len(window); i++ {
		a, b, c := window[i-1], window[i], window[i+1]
		if b.full != 0 {
			continue
		}
		share := (b.seconds - a.seconds) / max(c.seconds-a.seconds, 1e-9)
		off = append(off, math.Abs(b.bright-a.bright-share*(c.bright-a.bright))*math.Sqrt(b.n/1.5))
	}
	if len(off) == 0 {
		return 0
	}
	slices.Sort(off)
	// With normal noise, a third of them are within 0.43 deviations. The others may
	// include edges.
	return off[len(off)/3] / 0.43
}

// spreadOf returns the range of brightness.
func spreadOf(window []sample) float64 {
	all := make([]float64, len(window))
	for i, s := range window {
		all[i] = s.bright
	}
	slices.Sort(all)
	return all[len(all)*98/100] - all[len(all)*2/100]
}
