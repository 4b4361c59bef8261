package peak

import "math"

// templates weighs the ways a curve may go on. It holds a set of shapes of
// whole rises (weights_courses.go) against the curve so far, each with its
// top at each of many times, the size free: how well the past agrees says how
// likely each time of the top is. Shapes and curve are laid out over the
// logarithm of warm time, so that moving the top means moving an index.
type templates struct {
	warm  float64                               // warm hours since the feed when it was last renewed
	post  [templateCount][templateTimes]float32 // probability of each shape and time
	amp   [templateCount][templateTimes]float32 // the rise that goes with it, mm
	after [templateTimes]float32                // the same over all shapes
	over  [templateCount][templateTimes]float32 // Σ white², the same for every curve
	bare  [templateCount][templateTimes]float32 // half the logarithm of over, and how usual the shape is
	m     *model
	size  float64                                 // expected rise at the top, mm
	white [templateCount][2][templateHalf]float32 // the shapes as the straying sees them
}

const (
	// A curve strays from every shape by a share of its rise, and what strays
	// stays off for about half of the way. Chosen on invented curves by the
	// quantile loss of the time of the top.
	templateOwn  = 0.1
	templateLong = 0.7 // of the logarithm of warm time

	templateCount  = 64
	templateStep   = 0.03 // of the logarithm of warm time, between tops
	templateLook   = 24   // points of the past, two steps apart
	templateBefore = 8    // tops that lie in the past
	templateTimes  = 67
	templateHalf   = 57 // points of a shape at even and at odd steps

	templateFaint = 0.002 // keeps a shape that has not begun from an endless size

	// How long the way to the top takes and how far it goes, before anything
	// is seen: between the trade's quickest and slowest feeds.
	templateWarm, templateWarmSD = 1.95, 0.45 // logarithm of warm hours
	templateSize, templateSizeSD = 50.0, 30.0 // mm
)

// newTemplates fills in what does not depend on the curve: the shapes as the
// straying sees them, and how much they weigh.
func newTemplates(m *model) *templates {
	c := &templates{m: m}
	keep := float32(math.Exp(-2 * templateStep / templateLong))
	for k := range c.white {
		for odd := range 2 {
			s := m.template(k, odd)
			for i := range templateHalf - 1 {
				c.white[k][odd][i] = s[i] - keep*s[i+1]
			}
		}
		for j := range templateTimes {
			sum := 0.0
			for _, v := range c.white[k][j&1][j>>1 : j>>1+templateLook] {
				sum += float64(v) * float64(v)
			}
			c.over[k][j] = float32(sum)
			c.bare[k][j] = m.usual[k] - float32(0.5*math.Log(sum+templateFaint))
		}
	}
	return c
}

// template returns a shape at even or at odd steps.
func (m *model) template(k, odd int) []float32 {
	return m.templates[(2*k+odd)*templateHalf:][:templateHalf]
}

// guess is what is thought of a rise in mm before anything is seen.
type guess struct{ mm, sd float64 }

// renew weighs all courses against the path, which has come to warm hours and
// a noise of noiseVar mm² in a point.
func (c *templates) renew(p *path, warm, noiseVar float64, size guess) {
	c.warm = warm
	keep := math.Exp(-2 * templateStep / templateLong)
	var y [templateLook]float32 // what is new in each point against the one before
	rise := 0.0
	next := p.riseAtWarm(warm * math.Exp(-2*templateStep*templateLook))
	for i := templateLook - 1; i >= 0; i-- {
		h := p.riseAtWarm(warm * math.Exp(-2*templateStep*float64(i)))
		e := h - keep*next
		y[i], next = float32(e), h
		rise = max(rise, h)
	}
	v := noiseVar + templateOwn*templateOwn*rise*rise*(1-keep*keep)
	scale := 1 / v
	prior := 1 / (size.sd * size.sd)
	top := math.Inf(-1)
	var timePrior [templateTimes]float64
	for j := range timePrior {
		z := (math.Log(warm) + templateStep*float64(j-templateBefore) - templateWarm) / templateWarmSD
		timePrior[j] = -0.5 * z * z
	}
	for k := range c.post {
		even, odd := c.white[k][0][:], c.white[k][1][:]
		for j := range templateTimes {
			s := even
			if j&1 == 1 {
				s = odd
			}
			sy := scale * float64(dot(s[j>>1:], y[:]))
			ss := scale*float64(c.over[k][j]) + prior
			b := sy + size.mm*prior
			l := float64(c.bare[k][j]) + timePrior[j] + 0.5*b*b/ss
			c.post[k][j], c.amp[k][j] = float32(l), float32(b/ss)
			top = max(top, l)
		}
	}
	c.settle(top)
}

// settle turns logarithms into probabilities.
func (c *templates) settle(top float64) {
	sum := float32(0)
	c.after = [templateTimes]float32{}
	for k := range c.post {
		for j, l := range c.post[k] {
			e := l - float32(top)
			w := float32(0)
			if e > -14 {
				w = float32(math.Exp(float64(e)))
			}
			c.post[k][j] = w
			c.after[j] += w
			sum += w
		}
	}
	c.size = 0
	for k := range c.post {
		for j := range c.post[k] {
			c.post[k][j] /= sum
			c.size += float64(c.post[k][j] * c.amp[k][j])
		}
	}
	for j := range c.after {
		c.after[j] /= sum
	}
}
