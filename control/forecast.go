package control

import "math"

// plan is what the model would do next: pulses of a share of a window.
type plan struct {
	share  float64 // of the window, 0 to 1
	window float64 // minutes
	gain   float64 // share for a degree
	offset float64 // by which the model's offset is to move, a minute
}

// believed calls f for every candidate worth asking, with a weight; the
// weights add up to one.
func (m *model) believed(f func(v view, weight float64)) {
	most := math.Inf(-1)
	m.eachAnswer(func(_ *filter, a *answer, _, _ int) { most = math.Max(most, a.score) })
	sum := 0.0
	m.eachAnswer(func(_ *filter, a *answer, _, _ int) {
		if a.score > most-4 {
			sum += math.Exp(a.score - most)
		}
	})
	m.eachAnswer(func(g *filter, a *answer, l, d int) {
		if a.score > most-4 {
			f(m.view(g, a, l, d), math.Exp(a.score-most)/sum)
		}
	})
}

// view is the vessel as one candidate sees it.
type view struct {
	c     float64 // its temperature
	s     float64 // the trend at T0 without heat, °C a minute
	b, sd float64 // warming at full power, and how sure that is
	loss  float64
	delay float64
	owed  float64 // heat on its way, minutes at full power
}

func (m *model) view(f *filter, a *answer, l, d int) view {
	b, v := a.rate()
	return view{
		c: f.t + b*(a.heat.h-a.heat.t), s: f.s - b*a.heat.s,
		b: b, sd: math.Sqrt(v), loss: losses[l], delay: delays[d], owed: m.x[d].stored(delays[d]),
	}
}

// drift is how fast the vessel would move at c without heat.
func (v *view) drift(c, t0 float64) float64 { return v.s - v.loss*(c-t0) }

// What the model gets wrong in the long run is left to an integral, as in a PI
// controller: it acts within nearC of the setpoint, in about resetMinutes, and
// adds mostOffset at most (guesses, checked by TestHold).
const nearC, resetMinutes, mostOffset = 0.6, 60, 0.3

// plan answers how wide the pulse should be that has lasted for gone minutes.
func (m *model) plan(set, gone, cycle float64) (p plan) {
	p.window = clamp(4*rippleC/m.rate(), cycle, 3*cycle)
	m.believed(func(v view, w float64) {
		hold := clamp(-v.drift(set, m.t0)/v.b, 0, 1)
		// Where the vessel will be when heat given now arrives.
		g := (1 - math.Exp(-v.loss*v.delay)) / v.loss
		then := v.c + g*(v.drift(v.c, m.t0)+(v.b+v.sd)*v.owed/v.delay)
		// A pulse in the middle of its window has given half of what it gives.
		aim := set + v.b*(1-hold)*(gone-hold*p.window/2)
		soon := math.Max(1.4*v.delay, 1.4*cycle)
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
