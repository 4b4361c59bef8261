package peak

import (
	"math"
	"slices"
	"time"

	"leavend/peak/quadratic"
)

// historyCap is how many past feeds are used.
const historyCap = 12

// curveParts is in how many equal parts of the warm time to the peak a past
// curve is kept.
const curveParts = 20

// Feed is what is worth keeping of a feed that is over, small enough for one
// row of a store. It is JSON-able as it is.
type Feed struct {
	At        time.Time `json:"at"`
	PeakAt    time.Time `json:"peak_at"`
	WarmHours float64   `json:"warm_hours"`           // feed to peak in hours at 25 °C
	MeanTempC float64   `json:"mean_temp_c"`          // over the same time; 0 when no temperature came
	RiseMM    float64   `json:"rise_mm"`              // at the peak
	RiseRatio float64   `json:"rise_ratio,omitempty"` // 0 where the floor is not known

	// Curve is the rise as a share of RiseMM at 1/20, 2/20 ... 20/20 of
	// WarmHours.
	Curve []float32 `json:"curve,omitempty"`
}

// usable reports whether a feed that came from outside can teach anything.
func (f Feed) usable() bool {
	if len(f.Curve) != curveParts || !(f.WarmHours > 0.2 && f.WarmHours < 200) || !(f.RiseMM > 1 && f.RiseMM < 2000) {
		return false
	}
	for _, v := range f.Curve {
		if !(v > -1 && v < 2) {
			return false
		}
	}
	return true
}

// History returns the past feeds that the detector uses, oldest first: those
// it was given and those it has seen to their end. It is for reading only
// and valid until the next call of Add or Fed.
func (d *Detector) History() []Feed { return d.history }

// Record returns what is worth keeping of the running feed; false before its
// top is called. It grows better with the fall, so a store asks at the call
// and again when the next feed begins (there History has it as its last).
func (c *curve) Record() (Feed, bool) {
	f := &c.feed
	if !f.called || f.source == "" {
		return Feed{}, false
	}
	t, warm, rise := c.path.top()
	if t <= 0 || warm <= 0 || rise <= 0 {
		return Feed{}, false
	}
	out := Feed{
		At: c.clock.time(f.at), PeakAt: c.clock.time(f.at + t),
		WarmHours: warm, RiseMM: rise, Curve: make([]float32, curveParts),
	}
	if !math.IsNaN(c.thermal.tempC) {
		out.MeanTempC = paceTemp(warm / t)
	}
	if c.opts.FloorKnown && f.base > 0 {
		out.RiseRatio = (f.base + rise) / f.base
	}
	for k := range out.Curve {
		out.Curve[k] = float32(c.path.riseAtWarm(warm*float64(k+1)/curveParts) / rise)
	}
	return out, true
}

// appendFeed adds a past feed in place of the oldest where there are enough.
func appendFeed(past []Feed, f Feed) []Feed {
	if len(past) == historyCap {
		past = slices.Delete(past, 0, 1)
	}
	return append(past, f)
}

// top returns where the curve so far was highest: hours since the feed, warm
// hours, and the rise, from a parabola through the points near the top.
func (p *path) top() (t, warm, rise float64) {
	if p.n < 3 {
		return 0, 0, 0
	}
	best := 0
	for i, h := range p.h[:p.n] {
		if h > p.h[best] {
			best = i
		}
	}
	lo, hi := best, best
	floor := p.h[best] * 0.95
	for lo > 0 && p.h[lo-1] > floor {
		lo--
	}
	for hi < p.n-1 && p.h[hi+1] > floor {
		hi++
	}
	mid := float64(p.t[best])
	var fit quadratic.Fit
	for i := lo; i <= hi; i++ {
		fit.Add(float64(p.t[i])-mid, float64(p.h[i]), 1)
	}
	t, rise = mid, float64(p.h[best])
	if a, b, c, ok := fit.Solve(); ok && c < 0 {
		if x := -b / (2 * c); x > float64(p.t[lo])-mid && x < float64(p.t[hi])-mid {
			t, rise = mid+x, a+b*x/2
		}
	}
	return t, p.warmAt(t), rise
}
