package peak

import "math"

// glint holds back minutes that lie off the curve all at once. Dough does not
// jump: a wet spot, a reflection or a bubble under the beam does, and goes
// away again within minutes. A slump or a shifted jar stays.
type glint struct {
	n     int
	t     [glintCap]float64
	y     [glintCap]float64
	count [glintCap]int
	e     [glintCap]float64 // distance from the curve, mm
}

const (
	glintCap   = 16
	glintSigma = 3.3 // standard deviations off the curve
	glintMM    = 1.5 // and at least this far
	glintBack  = 2.5 // standard deviations within which the curve is back
	glintBins  = 14  // minutes after which a new level counts as real
)

// hold takes in one minute and reports whether it was held back.
func (d *Detector) hold(t, mean float64, n int) bool {
	g := &d.glint
	pred, v := d.trend.at(t - d.trendAt)
	s := math.Sqrt(v + d.noise.ofBin(n))
	e := mean - pred
	limit := max(glintSigma*s, glintMM)
	if g.n > 0 {
		limit = max(glintBack*s, glintMM*0.8)
	}
	if math.Abs(e) <= limit || g.n > 0 && e*g.e[0] < 0 {
		g.n = 0
		return false
	}
	g.t[g.n], g.y[g.n], g.count[g.n], g.e[g.n] = t, mean, n, e
	g.n++
	switch {
	case g.ramp(math.Sqrt(d.noise.ofBin(n))):
		d.releaseGlint(0)
	case g.n >= glintBins || g.n == glintCap:
		d.releaseGlint(g.level())
	}
	return true
}

// ramp reports whether the held minutes leave the curve step by step, as a
// collapse does.
func (g *glint) ramp(sd float64) bool {
	if g.n < 3 {
		return false
	}
	sign := math.Copysign(1, g.e[g.n-1])
	step := 2 * sd
	return sign*(g.e[g.n-1]-g.e[g.n-2]) > step && sign*(g.e[g.n-2]-g.e[g.n-3]) > step
}

// level returns how far the later held minutes lie off the curve.
func (g *glint) level() float64 {
	s, n := 0.0, 0
	for i := g.n / 3; i < g.n; i++ {
		s += g.e[i]
		n++
	}
	return s / float64(n)
}

// releaseGlint hands the held minutes to the bank, after moving the curve by
// the given number of mm.
func (d *Detector) releaseGlint(by float64) {
	g := &d.glint
	from := 0
	if by != 0 {
		d.step(by)
		d.tellStep(by)
		from = g.n / 3
	}
	for i := from; i < g.n; i++ {
		d.takeIn(g.t[i], g.y[i], g.count[i])
	}
	g.n = 0
}
