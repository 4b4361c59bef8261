package peak

import "math"

// spikeFilter holds back minutes that lie off the curve all at once. Dough does not
// jump: a wet spot, a reflection or a bubble under the beam does, and goes
// away again within minutes. A slump or a shifted jar stays.
type spikeFilter struct {
	n    int
	held [spikeCap]heldMinute
}

// heldMinute is a minute's mean y of count readings, e mm off the curve.
type heldMinute struct {
	t, y, e float64
	count   int
}

const (
	spikeCap   = 16
	spikeSigma = 3.3 // standard deviations off the curve
	spikeMM    = 1.5 // and at least this far
	spikeBack  = 2.5 // standard deviations within which the curve is back
	spikeBins  = 10  // minutes after which a new level counts as real
)

// hold takes in one minute and reports whether it was held back.
func (d *Detector) hold(t, mean float64, n int) bool {
	g := &d.spikes
	pred, v := d.trend.expects(t-d.trend.now, d.noise.wander)
	s := math.Sqrt(v + d.noise.ofBin(n))
	e := mean - pred
	limit := max(spikeSigma*s, spikeMM, 1.2*d.noise.step)
	if g.n > 0 {
		limit = max(spikeBack*s, spikeMM*0.8, 1.2*d.noise.step)
	}
	if math.Abs(e) <= limit || g.n > 0 && e*g.held[0].e < 0 {
		g.n = 0
		return false
	}
	g.held[g.n] = heldMinute{t, mean, e, n}
	g.n++
	switch {
	case g.ramp(math.Sqrt(d.noise.ofBin(n))):
		d.releaseHeld(0)
	case g.n >= spikeBins || g.n == spikeCap:
		d.releaseHeld(g.level())
	}
	return true
}

// ramp reports whether the held minutes leave the curve step by step, as a
// collapse does.
func (g *spikeFilter) ramp(sd float64) bool {
	if g.n < 3 {
		return false
	}
	sign := math.Copysign(1, g.held[g.n-1].e)
	now, before := sign*(g.held[g.n-1].e-g.held[g.n-2].e), sign*(g.held[g.n-2].e-g.held[g.n-3].e)
	return before > 2*sd && now > max(2*sd, 0.5*before) // a glint jumps once and then stands
}

// level returns how far the later held minutes lie off the curve.
func (g *spikeFilter) level() float64 {
	s, n := 0.0, 0
	for i := g.n / 3; i < g.n; i++ {
		s += g.held[i].e
		n++
	}
	return s / float64(n)
}

// returned reports whether the held minutes are back where the curve was a while
// before them: then it was the curve that had followed a glint.
func (g *spikeFilter) returned(c *curve, by float64) bool {
	level, n, from := 0.0, 0.0, g.held[0].t-c.feed.at
	for _, m := range g.held[g.n/3 : g.n] {
		level, n = level+m.y-c.feed.base, n+1
	}
	return from > glintHours && math.Abs(level/n-c.path.riseAt(from-glintHours)) < math.Abs(by)/2
}

// glintHours is how long ago a glint's beginning surely was.
const glintHours = 0.25

// releaseHeld hands the held minutes to the bank, after moving the curve by
// the given number of mm.
func (d *Detector) releaseHeld(by float64) {
	g := &d.spikes
	from := 0
	switch {
	case by != 0 && g.returned(&d.curve, by):
		d.trend.loosen(by * by)
	case by != 0:
		d.step(by)
		from = g.n / 3
	}
	for _, m := range g.held[from:g.n] {
		d.trend.add(m.t, m.y, d.noise.ofBin(m.count), d.noise.wander)
	}
	g.n = 0
}
