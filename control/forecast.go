package control

import "math"

// plan is what the model would do next: pulses of a share of a window.
type plan struct {
	share  float64 // of the window, 0 to 1
	window float64 // minutes
	gain   float64 // share for a degree
	offset float64 // by which the model's offset is to move, a minute
}

// belief is a candidate worth asking, with its weight.
type belief struct {
	wander, loss, way int
	weight            float64
}

// rank finds the candidates worth asking, to 50 to 1 against the likeliest
// (guess); their weights add up to one.
func (m *model) rank() {
	most := math.Inf(-1)
	m.eachAnswer(func(_ *filter, a *answer, _, _, _ int) { most = math.Max(most, a.score) })
	sum, top := 0.0, make([]belief, 0, 4)
	m.eachAnswer(func(_ *filter, a *answer, w, l, d int) {
		if a.score > most-4 {
			weight := math.Exp(a.score - most)
			sum, top = sum+weight, append(top, belief{w, l, d, weight})
		}
	})
	for i := range top {
		top[i].weight /= sum
	}
	m.top = top
}

// believed calls f for every candidate worth asking.
func (m *model) believed(f func(v view, weight float64)) {
	for _, b := range m.top {
		f(m.view(b.wander, b.loss, b.way), b.weight)
	}
}

// view is the vessel as one candidate sees it.
type view struct {
	c     float64 // its temperature
	s     float64 // the trend at T0 without heat, °C a minute
	q     float64 // the core's pull now
	b, sd float64 // warming at full power, and how sure that is
	loss  float64
	way   way
	owed  float64 // heat on its way, minutes at full power
}

func (m *model) view(w, l, d int) view {
	f := &m.cand[w][l]
	a, h := &f.ans[d], m.heat[l][d]
	b, v := a.rate()
	return view{
		c: f.x[temp] + b*(h-a.x[temp]), s: f.x[trend] - b*a.x[trend], q: f.x[core] - b*a.x[core],
		b: b, sd: math.Sqrt(v), loss: losses[l], way: ways[d], owed: m.x[d].stored(ways[d]),
	}
}

// drift is how fast the vessel would move at c without heat.
func (v *view) drift(c, t0 float64) float64 { return v.s - v.loss*(c-t0) }

// What the model gets wrong in the long run is left to an integral, as in a PI
// controller: it acts near the setpoint, in about resetMinutes, and adds
// mostOffset at most. A vessel is brought to its setpoint in soonTimes its delay
// or a window (guesses, checked by TestHold).
const resetMinutes, mostOffset, soonTimes = 2 * halfHour, 0.3, 1.4

// plan answers how wide the pulse should be that has lasted for gone minutes.
func (m *model) plan(set, gone, cycle, spread float64) (p plan) {
	calm := 4 * rippleC / m.rate()
	uneven := 1 + unevenness*spread*math.Min(1, 2*calm/cycle)
	p.window = clamp(calm, cycle*uneven, 3*cycle)
	m.believed(func(v view, w float64) {
		hold := clamp(-v.drift(set, m.t0)/v.b, 0, 1)
		// Where the vessel will be when heat given now arrives.
		g := (1 - math.Exp(-v.loss*v.way.delay)) / v.loss
		then := v.c + g*(v.drift(v.c, m.t0)+(v.b+v.sd)*v.owed/v.way.delay) + v.q*(1-math.Exp(-v.way.delay/coreMinutes))*coreMinutes
		// A pulse in the middle of its window has given half of what it gives.
		aim := set + v.b*(1-hold)*(gone-hold*p.window/2)
		soon := soonTimes * math.Max(v.way.delay, cycle)
		p.share += w * clamp(hold+(aim-then)/(v.b*soon), -1, 2)
		p.gain += w / (v.b * soon)
	})
	p.share = clamp(p.share+m.offset, 0, 1)
	if off := set - m.last; math.Abs(off) < nearC && (p.share > 0 || off > 0) && (p.share < 1 || off < 0) {
		p.offset = p.gain * off / resetMinutes
	}
	return p
}

// levelsOff is where full power would bring the vessel in the end.
func (m *model) levelsOff() (c float64) {
	m.believed(func(v view, w float64) { c += w * (m.t0 + (v.s+v.b)/v.loss) })
	return c
}

// rate is how fast full power warms the vessel, °C a minute.
func (m *model) rate() (b float64) {
	m.believed(func(v view, w float64) { b += w * v.b })
	return b
}
