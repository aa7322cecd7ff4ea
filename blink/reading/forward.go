package reading

import (
	"cmp"
	"math"
	"slices"

	"tallywink.example/blink"
)

// final is the result of a forward pass at one unit.
type final struct {
	bySignal []float64 // the weight of each signal at the end, relative to
	log      float64   // this common factor's logarithm
	began    []int     // for each signal, the interval at which it most likely began
}

// layer holds, for the stretches of one kind, the weight of having been observed to
// their end, times a common factor, and the interval where their signal began.
type layer struct {
	weight []float64
	began  []int32
	sum    float64
}

// layers are the memory of a pass: the last four layers.
type layers [4]layer

func (r *TimedReader) newLayers() *layers {
	var l layers
	for i := range l {
		l[i] = layer{weight: make([]float64, len(r.lit)), began: make([]int32, len(r.lit))}
	}
	return &l
}

// forward runs the pass at a pace over some of the signals, with a chance of change at
// each end of a stretch. If that chance is 0, signals that do not explain anything are
// soon dropped.
func (r *TimedReader) forward(seen []blink.Interval, p pace, of group, change float64, layers *layers) final {
	f := final{bySignal: make([]float64, len(r.signals)), began: make([]int, len(r.signals))}
	if len(seen) == 0 {
		for _, h := range of.signals {
			f.bySignal[h] = r.signals[h].prior
		}
		return f
	}
	t := newLengths(r.model, of.units, p)
	factor := [4]float64{}                     // of each layer, relative to the newest
	back := func(i, n int) (*layer, float64) { // the layer n intervals before i
		if n > i {
			return nil, 0
		}
		return &layers[(i-n)%4], factor[(i-n)%4]
	}
	active := slices.Clone(of.signals)
	for i := range len(seen) - 1 {
		now := &layers[i%4]
		r.step(seen, i, t, now, active, r.changeWeight(i, change, back), math.Exp(-f.log), back)
		if change == 0 && now.sum > 0 {
			active = r.alive(active, now)
		}
		if now.sum == 0 {
			// None of these signals explains the observation at this pace.
			f.log = math.Inf(-1)
			return f
		}
		f.log += math.Log(now.sum)
		for n := range factor {
			factor[n] /= now.sum
		}
		factor[i%4] = 1 / now.sum
		for n := range factor {
			if math.IsInf(factor[n], 0) || math.IsNaN(factor[n]) {
				factor[n] = 0
			}
		}
	}
	r.end(seen, t, active, r.changeWeight(len(seen)-1, change, back), math.Exp(-f.log), back, &f)
	return f
}

// origins are the layers that can lead to an interval, each with the factor that brings
// its weights to the pass's common scale.
type origins struct {
	before       *layer // the interval before; nil for the first
	beforeFactor float64
	third        *layer // three before: that one and this one were one stretch, broken by a false stretch
	broken       float64
	second       *layer // two before: a stretch that never ends, broken by a false stretch
	falseAgain   float64
	brokenFirst  float64 // the first three intervals were the first stretch, which was cut
}

// origins returns what can lead to interval i, and passes the lengths of broken
// stretches to t. Priors are multiplied by initial to bring them to the layers' common
// scale.
func (r *TimedReader) origins(seen []blink.Interval, i int, t *lengths, initial float64, atEnd bool,
	back func(i, n int) (*layer, float64)) origins {
	var from origins
	from.before, from.beforeFactor = back(i, 1)
	if i < 2 {
		return from
	}
	first, false_, d := seen[i-2].Duration.Seconds(), seen[i-1].Duration.Seconds(), seen[i].Duration.Seconds()
	from.second, from.falseAgain = back(i, 2)
	from.falseAgain *= r.model.falseOf(false_)
	if i == 2 {
		from.brokenFirst = initial * r.model.broken(first, false_, d)
		t.observeBroken(first+false_+d, true)
		return from
	}
	from.third, from.broken = back(i, 3)
	from.broken *= r.model.broken(first, false_, d)
	t.observeBroken(first+false_+d, atEnd)
	return from
}

// step computes the layer of interval i, which was observed to its end.
func (r *TimedReader) step(seen []blink.Interval, i int, t *lengths, now *layer, active []int, change,
	initial float64, back func(i, n int) (*layer, float64)) {
	d := seen[i].Duration.Seconds()
	t.observe(d, change > 0)
	from := r.origins(seen, i, t, initial, false, back)
	now.sum = 0
	perUnit := 1 / t.unit
	stretches := r.kind(seen[i].Lit)
	for _, h := range active {
		signal := &r.signals[h]
		for k := signal.first; k < signal.end; k++ {
			s := &stretches[k]
			weight, began := 0.0, int32(i)
			switch {
			case s.units == 0:
			case s.units == endless:
				weight = change * signal.prior * r.model.Muddled
				if from.second != nil {
					if w := from.falseAgain * from.second.weight[k] * r.model.Muddled; w > 0 {
						if w > weight {
							began = from.second.began[k]
						}
						weight += w
					}
				}
			default:
				weight = change * t.longer[s.units] * signal.entry * perUnit
			}
			if from.before != nil && s.units > 0 {
				largest := weight
				w := from.beforeFactor * t.density[s.units] * from.before.weight[s.before]
				if weight += w; w > largest {
					largest, began = w, from.before.began[s.before]
				}
				w = from.beforeFactor * t.lost[s.lost] * t.density[s.three] * from.before.weight[s.before3]
				if weight += w; w > largest {
					largest, began = w, from.before.began[s.before3]
				}
				if from.third != nil {
					w = from.broken * t.densityBroken[s.units] * from.third.weight[s.before]
					if weight += w; w > largest {
						largest, began = w, from.third.began[s.before]
					}
				}
				if from.brokenFirst > 0 {
					w = from.brokenFirst * t.longerBroken[s.units] * signal.entry * perUnit
					if weight += w; w > largest {
						began = 0
					}
				}
			}
			now.weight[k], now.began[k] = weight, began
			now.sum += weight
		}
	}
}

// negligibleSignal is the share of a layer's weight below which a signal is dropped.
const negligibleSignal = 1e-13

// alive returns the active signals that still have weight. Signals that never change
// stay: their weight is 0 while a false stretch passes.
func (r *TimedReader) alive(active []int, now *layer) []int {
	kept := active[:0]
	for _, h := range active {
		sum := 0.0
		for k := r.signals[h].first; k < r.signals[h].end; k++ {
			sum += now.weight[k]
		}
		if sum >= now.sum*negligibleSignal || r.signals[h].entry == 0 {
			kept = append(kept, h)
		}
	}
	return kept
}

// changeWeight is the weight of the lamp beginning another signal before interval i:
// all the weight at the beginning, otherwise a change at the end of the previous
// interval or within it.
func (r *TimedReader) changeWeight(i int, change float64, back func(i, n int) (*layer, float64)) float64 {
	if i == 0 {
		return 1
	}
	sum := 0.0
	if l, factor := back(i, 1); l != nil {
		sum += l.sum * factor
	}
	if l, factor := back(i, 2); l != nil {
		sum += l.sum * factor * r.model.Muddled
	}
	return change * sum
}

// end weighs the last interval, which was cut, and adds it to the signals.
func (r *TimedReader) end(seen []blink.Interval, t *lengths, active []int, change, initial float64,
	back func(i, n int) (*layer, float64), f *final) {
	i := len(seen) - 1
	d := seen[i].Duration.Seconds()
	t.observe(d, true)
	from := r.origins(seen, i, t, initial, true, back)
	var excessBroken []float64
	if from.brokenFirst > 0 {
		first, false_ := seen[0].Duration.Seconds(), seen[1].Duration.Seconds()
		from.brokenFirst *= first + d // the end is open
		t.seconds = first + false_ + d
		excessBroken = t.excess()
		t.seconds = d
	}
	excess := t.excess()
	largest := make([]float64, len(r.signals))
	for h := range f.began {
		f.began[h] = i
	}
	add := func(h int, w float64, began int) {
		f.bySignal[h] += w
		if w > largest[h] {
			largest[h], f.began[h] = w, began
		}
	}
	stretches := r.kind(seen[i].Lit)
	for _, h := range active {
		signal := &r.signals[h]
		for k := signal.first; k < signal.end; k++ {
			s := &stretches[k]
			switch {
			case s.units == 0:
				continue
			case s.units == endless:
				add(h, change*signal.prior, i)
				if from.second != nil {
					add(h, from.falseAgain*from.second.weight[k], int(from.second.began[k]))
				}
				continue
			}
			add(h, change*excess[s.units]*signal.entry/t.unit, i)
			if from.brokenFirst > 0 {
				add(h, from.brokenFirst*excessBroken[s.units]*signal.entry/t.unit, 0)
			}
			if from.before == nil {
				continue
			}
			add(h, from.beforeFactor*t.longer[s.units]*from.before.weight[s.before], int(from.before.began[s.before]))
			add(h, from.beforeFactor*t.lost[s.lost]*t.longer[s.three]*from.before.weight[s.before3],
				int(from.before.began[s.before3]))
			if from.third != nil {
				add(h, from.broken*t.longerBroken[s.units]*from.third.weight[s.before], int(from.third.began[s.before]))
			}
		}
	}
}

func (r *TimedReader) kind(lit bool) []stretch {
	if lit {
		return r.lit
	}
	return r.dark
}

// lengths holds the duration model's values for one observed length, by the number of
// units sent.
type lengths struct {
	model   DurationModel
	units   []int
	unit    float64 // seconds
	jitter  float64
	seconds float64   // observed
	lost    []float64 // chance of not being observed at all
	// density of the observed length and chance of a longer one, and the same for three
	// observed intervals that were one stretch
	density, longer             []float64
	densityBroken, longerBroken []float64
}

func newLengths(m DurationModel, units []int, p pace) *lengths {
	n := 1
	if len(units) > 0 { // a code may have only rhythms without end
		n += units[len(units)-1]
	}
	memory := make([]float64, 5*n)
	t := &lengths{model: m, units: units, unit: math.Exp(p.logUnit), jitter: p.jitter,
		lost: memory[:n], density: memory[n : 2*n], longer: memory[2*n : 3*n], densityBroken: memory[3*n : 4*n],
		longerBroken: memory[4*n:]}
	for _, u := range units {
		t.lost[u] = m.lost(u, t.unit)
	}
	return t
}

// observe sets the observed length. Chances of a longer one are expensive, so they are
// computed only where they are needed, at the ends.
func (t *lengths) observe(seconds float64, atEnd bool) {
	t.seconds = seconds
	t.fill(seconds, t.density, t.longer, atEnd)
}

// observeBroken sets three observed lengths that may have been one stretch.
func (t *lengths) observeBroken(seconds float64, atEnd bool) {
	t.fill(seconds, t.densityBroken, t.longerBroken, atEnd)
}

func (t *lengths) fill(seconds float64, density, longer []float64, atEnd bool) {
	for _, u := range t.units {
		sent := float64(u) * t.unit
		density[u] = t.model.density(seconds, sent, t.jitter)
		if atEnd {
			longer[u] = t.model.longer(seconds, sent, t.jitter)
		}
	}
}

// excess returns, by units, by how many seconds a stretch is longer than the observed
// length on average, counting 0 if it is shorter.
func (t *lengths) excess() []float64 {
	excess := make([]float64, len(t.density))
	for _, u := range t.units {
		excess[u] = t.model.excess(t.seconds, float64(u)*t.unit, t.jitter)
	}
	return excess
}

// pace is a length of a unit and how much lengths jitter around it, with a score: the
// logarithm of how well the intervals can be explained at best.
type pace struct {
	logUnit float64 // natural logarithm of seconds
	jitter  float64
	width   float64 // of the range of logUnit that it represents
	score   float64
}

// maxPaces is the most paces at which the pass runs over frames.
const maxPaces = 16

const paceStep = 0.015 // of a grid of paces, as a ratio

// allPaces returns a grid of all paces.
func (r *TimedReader) allPaces() []pace {
	low, high := math.Log(r.minUnit.Seconds()), math.Log(r.maxUnit.Seconds())
	var grid []pace
	for x := low; x < high+paceStep/2; x += paceStep {
		for _, j := range r.model.Jitters {
			grid = append(grid, pace{logUnit: x, jitter: j, width: paceStep})
		}
	}
	return grid
}

// framePaces returns the paces that are worth a pass over all frames. It scores a grid
// by matching each interval with the length of a frame that fits it best, in any order.
// That is quick, and no frame can fit much better.
func (r *TimedReader) framePaces(seen []blink.Interval) []pace {
	const worst = 10 // natural logarithm of how much less likely a pace may be
	kept := r.within(seen, r.allPaces(), r.frames.single, worst)
	// The more intervals, the sharper the unit: use a finer grid where it may be.
	spacing := func(p pace) float64 { return min(p.jitter/math.Sqrt(float64(len(seen)+1)), paceStep) }
	var grid []pace
	for _, p := range kept {
		for x := p.logUnit - paceStep/2; x < p.logUnit+paceStep/2; x += spacing(p) {
			grid = append(grid, pace{logUnit: x, jitter: p.jitter})
		}
	}
	// Of points too close to distinguish, the best one is enough. If too many remain,
	// widen that distance a little.
	kept = r.within(seen, grid, r.frames.single, worst)
	for apart := 1.5; ; apart *= 1.3 {
		var paces []pace
		for _, p := range kept {
			near := func(q pace) bool {
				return q.jitter == p.jitter && math.Abs(q.logUnit-p.logUnit) < apart*spacing(p)
			}
			if !slices.ContainsFunc(paces, near) {
				p.width = apart * spacing(p)
				paces = append(paces, p)
			}
		}
		if len(paces) <= maxPaces {
			return paces
		}
	}
}

// within scores paces by how well some lengths fit, and returns those that are not much
// worse than the best, the best first.
func (r *TimedReader) within(seen []blink.Interval, grid []pace, units []int, worst float64) []pace {
	top := math.Inf(-1)
	for g := range grid {
		grid[g].score = r.score(seen, grid[g], units)
		top = max(top, grid[g].score)
	}
	var kept []pace
	for _, p := range grid {
		if p.score >= top-worst {
			kept = append(kept, p)
		}
	}
	slices.SortStableFunc(kept, func(a, b pace) int { return cmp.Compare(b.score, a.score) })
	return kept
}

func (r *TimedReader) score(seen []blink.Interval, p pace, units []int) float64 {
	score, unit := 0.0, math.Exp(p.logUnit)
	longest := float64(units[len(units)-1]) * unit
	for i, iv := range seen {
		d := iv.Duration.Seconds()
		if i == 0 || i == len(seen)-1 {
			score += math.Log(r.model.longer(d, longest, p.jitter) + 1e-9)
			continue
		}
		fit := 0.01 // something else happened
		for _, u := range units {
			// Nothing fits lengths farther off than this.
			if ratio := d / (float64(u) * unit); ratio > 0.4 && ratio < 2.5 {
				fit = max(fit, r.model.density(d, float64(u)*unit, p.jitter))
			}
		}
		score += math.Log(fit)
	}
	return score
}
