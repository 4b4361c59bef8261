package peak

import (
	"math"

	"leavend/peak/growth"
)

// profile is what past feeds say about this starter: the shape of its curve in
// warm time, how long it takes, how far it rises, and how much of that
// changes from feed to feed.
type profile struct {
	feeds  int
	shape  [curveParts + 1]float64 // rise as a share at 0/20 ... 20/20
	warm   float64                 // log of the warm hours to the peak
	warmSD float64
	rise   float64 // log of the rise, mm
	riseSD float64
	tempC  float64 // mean temperature of the past feeds
	perDeg float64 // change of the log of the warm hours per °C: the starter's own warmth response

	fit   expectation // of the running feed
	fitAt float64     // for which minute
	fitN  int         // and for how many points of the path
}

// The spreads that are taken for granted before a starter has shown its own;
// from feed to feed a starter that is kept alike repeats its time within some
// percent. Guesses that the invented histories do not contradict.
const (
	profileWarmSD   = 0.06
	profileRiseSD   = 0.10
	profileTempSD   = 0.015 // per °C, around the yeast's own curve
	profileOwnFeeds = 3     // feeds that the spreads above count for
)

// learn works the past feeds into a habit. The newest count most.
func (b *profile) learn(past []Feed) {
	*b = profile{feeds: len(past), fitAt: math.Inf(-1)}
	if b.feeds == 0 {
		return
	}
	sum := 0.0
	weight := func(i int) float64 { return math.Pow(0.85, float64(len(past)-1-i)) }
	for i, f := range past {
		w := weight(i)
		sum += w
		b.warm += w * math.Log(f.WarmHours)
		b.rise += w * math.Log(f.RiseMM)
		b.tempC += w * f.MeanTempC
		for k, v := range f.Curve {
			b.shape[k+1] += w * float64(v)
		}
	}
	b.warm, b.rise, b.tempC = b.warm/sum, b.rise/sum, b.tempC/sum
	for k := range b.shape {
		b.shape[k] /= sum
	}
	b.learnResponse(past, weight)
	b.learnSpread(past, weight)
}

// learnResponse fits how the time follows the temperature beyond the yeast's
// own curve, shrunk towards nothing.
func (b *profile) learnResponse(past []Feed, weight func(int) float64) {
	var sxy, sxx float64
	for i, f := range past {
		if f.MeanTempC == 0 {
			return
		}
		x := f.MeanTempC - b.tempC
		sxy += weight(i) * x * (math.Log(f.WarmHours) - b.warm)
		sxx += weight(i) * x * x
	}
	b.perDeg = sxy / (sxx + profileWarmSD*profileWarmSD/(profileTempSD*profileTempSD))
}

// learnSpread measures how much the past feeds differ.
func (b *profile) learnSpread(past []Feed, weight func(int) float64) {
	warm, rise, sum := profileOwnFeeds*profileWarmSD*profileWarmSD, profileOwnFeeds*profileRiseSD*profileRiseSD, float64(profileOwnFeeds)
	for i, f := range past {
		w := weight(i)
		e := math.Log(f.WarmHours) - b.warm - b.perDeg*(f.MeanTempC-b.tempC)
		warm += w * e * e
		e = math.Log(f.RiseMM) - b.rise
		rise += w * e * e
		sum += w
	}
	more := 1 + 1/float64(len(past)) // the mean itself is not certain
	b.warmSD, b.riseSD = math.Sqrt(warm/sum*more), math.Sqrt(rise/sum*more)
}

// at returns the share of the rise at x of the warm way to the peak.
func (b *profile) at(x float64) float64 {
	x *= curveParts
	if x <= 0 {
		return 0
	}
	i := int(x)
	if i >= curveParts {
		// Past the peak the habit says nothing; it falls gently.
		return max(b.shape[curveParts]-0.02*(x-curveParts)*(x-curveParts)/4, 0)
	}
	return b.shape[i] + (x-float64(i))*(b.shape[i+1]-b.shape[i])
}

const (
	profileGrid  = 25
	profileReach = 2.5         // standard deviations of the grid to each side
	profileOwn   = 0.02        // the share of the rise by which a shape strays from itself
	profilePoint = 30.0 / 60.0 // and for how many hours it then stays off
)

// expectation is what a habit, fitted to the curve so far, expects of it.
type expectation struct {
	ok       bool    // there is a habit, and a curve to fit it to
	mean, sd float64 // of the logarithm of the warm hours from feed to peak
	shift    float64 // how far that is from the usual, in the habit's own deviations
	misfit   float64 // how far the curve is from the shape, one being as usual
}

// expect fits the habit to the curve so far.
func (b *profile) expect(p *path, noiseVar, tempC float64) expectation {
	if b.feeds == 0 || p.n < 3 {
		return expectation{}
	}
	centre := b.warm
	if b.tempC != 0 && !math.IsNaN(tempC) {
		centre += b.perDeg * (tempC - b.tempC)
	}
	step := 1 + p.n/48
	hours := p.every * float64(step)
	size := math.Exp(b.rise)
	v := noiseVar*min(1, binHours/hours*4) + profileOwn*profileOwn*size*size
	weight := min(1, hours/profilePoint) / v
	var logP [profileGrid]float64
	top, misfit, points := math.Inf(-1), math.Inf(1), (p.n+step-1)/step
	for g := range logP {
		z := profileReach * (2*float64(g)/(profileGrid-1) - 1)
		theta := math.Exp(centre + z*b.warmSD)
		// The rise is free, with its prior: y = size·(1+a)·s.
		pr := 1 / (b.riseSD * b.riseSD)
		var ss, sy, yy float64
		for i := 0; i < p.n; i += step {
			s := size * b.at(float64(p.warm[i])/theta)
			y := float64(p.h[i]) - s
			ss += s * s
			sy += s * y
			yy += y * y
		}
		ss, sy, yy = ss*weight, sy*weight, yy*weight
		off := yy - sy*sy/(ss+pr)
		logP[g] = -0.5*(z*z+off) - 0.5*math.Log(ss+pr)
		top, misfit = max(top, logP[g]), min(misfit, off)
	}
	var sum, m, m2 float64
	for g, l := range logP {
		z := profileReach * (2*float64(g)/(profileGrid-1) - 1)
		w := math.Exp(l - top)
		sum += w
		m += w * z
		m2 += w * z * z
	}
	m /= sum
	cell := 2 * profileReach / (profileGrid - 1)
	return expectation{ok: true, mean: centre + m*b.warmSD, sd: b.warmSD * math.Sqrt(m2/sum-m*m+cell*cell/12),
		shift: m, misfit: math.Sqrt(max(misfit, 0) / (float64(points) * min(1, hours/profilePoint)))}
}

// ahead returns quantiles of the logarithm of what is left as past feeds alone
// expect it; false when the curve should have moved by now.
func (b *profile) ahead(w *thermal) (q [3]float64, ok bool) {
	total := b.warm
	if b.tempC != 0 && !math.IsNaN(w.tempC) {
		total += b.perDeg * (min(max(w.tempC, b.tempC-8), b.tempC+8) - b.tempC)
	}
	warm := max(w.hours, 0.1)
	for i, z := range [...]float64{-z80, 0, z80} {
		q[i] = logLeft(math.Exp(total+z*b.warmSD) / warm)
	}
	return q, warm <= 0.6*math.Exp(total)
}

// doubt is how far the curve is from what past feeds expect, in their usual
// spreads beyond the first.
func (e *expectation) doubt() float64 { return max(math.Abs(e.shift)-1, 0) }

// expects is what past feeds expect of the running one. The call and the
// forecast both ask in the same minute; it is worked out once.
func (b *profile) expects(c *curve) *expectation {
	if b.fitAt != c.trend.now || b.fitN != c.path.n {
		b.fitAt, b.fitN = c.trend.now, c.path.n
		hours, warm := max(c.trend.now-c.feed.at, 0.1), max(c.thermal.hours, 0.1)
		b.fit = b.expect(&c.path, c.noise.ofMinute(), paceTemp(warm/hours))
	}
	return &b.fit
}

// paceTemp returns the temperature below the optimum at which a starter
// lives at the given pace.
func paceTemp(want float64) float64 {
	lo, hi := growth.TMin, growth.TOpt
	for range 40 {
		if m := (lo + hi) / 2; growth.Pace(m) < want {
			lo = m
		} else {
			hi = m
		}
	}
	return (lo + hi) / 2
}
