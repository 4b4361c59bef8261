package peak

import (
	"math"

	"leavend/peak/growth"
	"leavend/peak/quadratic"
)

// A feature is a number without a unit and of size one, so that a slow small
// jar and a quick big one look the same to a network.

// featureWriter fills a row of features.
type featureWriter struct {
	out []float32
	n   int
}

// put writes v in units of scale, bounded; what is not a number is 0.
func (p *featureWriter) put(v, scale, limit float64) {
	if v != v {
		v = 0
	}
	p.out[p.n] = float32(min(max(v/scale, -limit), limit))
	p.n++
}

// signed is the logarithm of a number that may be of either sign.
func (p *featureWriter) signed(v, limit float64) { p.put(math.Asinh(v), 1.5, limit) }

// scales are the units that a curve is measured in.
type scales struct {
	h, most     float64 // rise now and at most, mm
	hours, warm float64 // since the feed: at the present pace, and thermal time
	clock       float64 // the same by the clock
	perHour     float64 // mean speed so far, mm/h
	tol         float64 // what counts as on top, mm
	sd          float64 // of the height, mm
	speed       float64 // mm/h
	speedSD     float64
}

func measure(c *curve) scales {
	h, v := c.trend.at(0)
	s := scales{h: h - c.feed.base, hours: c.thermal.age(), warm: max(c.thermal.hours, 0.1), clock: max(c.trend.now-c.feed.at, 0.1), sd: math.Sqrt(v)}
	s.most = max(c.feed.high-c.feed.base, s.h, 1)
	s.perHour = s.most / s.hours
	s.tol = max(1, 0.02*s.most)
	s.speed, s.speedSD = c.trend.speed()
	return s
}

// featureTracks are the tracks of the bank whose speed is a feature.
var featureTracks = [...]int{1, 2, 3, 4, 5, 6}

// featureBends are those whose acceleration is one.
var featureBends = [...]int{1, 2, 3, 4}

// putBank writes speeds and accelerations as the tracks see them.
func (p *featureWriter) putBank(b *trend, s *scales) {
	for _, k := range featureTracks {
		t := &b.tracks[k]
		p.put(t.x[1]/math.Sqrt(t.p[pSS]+1e-9), 3, 3)
		p.put(math.Asinh(t.x[1]/s.perHour*2), 1, 4)
	}
	for _, k := range featureBends {
		t := &b.tracks[k]
		p.put(t.x[2]/math.Sqrt(t.p[pAA]+1e-9), 3, 3)
		p.signed(t.x[2]*s.hours/s.perHour, 3)
	}
	p.put(s.speed/(s.speedSD+1e-9), 3, 3)
	p.put(math.Asinh(s.speed/s.perHour*2), 1, 4)
	p.put(math.Log(s.speedSD/s.perHour), 1.5, 3)
	p.put(b.tracks[6].w+b.tracks[7].w, 1, 1)
	p.put(b.tracks[3].w+b.tracks[5].w, 1, 1)
	p.put(b.tracks[0].w+b.tracks[1].w, 1, 1)
}

// putThermal writes what the temperature does to the pace.
func (p *featureWriter) putThermal(d *curve, s *scales) {
	p.put(math.Log(s.warm/6), 0.5, 4)
	p.put(math.Log(s.clock/6), 0.5, 4)
	p.put(math.Log(growth.Pace(d.thermal.tempC)*s.clock/s.warm), 0.2, 3)
	p.put(d.thermal.trend(), 0.5, 3)
}

// featureLevels are shares of the present rise; the times at which the curve
// passed them are features.
var featureLevels = [...]float64{0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 0.95}

func (p *featureWriter) putLevels(d *curve, s *scales) {
	var levels, at [len(featureLevels)]float64
	for k, share := range featureLevels {
		levels[k] = share * s.most
	}
	d.path.crossings(levels[:], at[:])
	for k := range at {
		p.put(1-at[k]/s.warm, 0.3, 4)
	}
}

// putFastest writes how the speed compares with the greatest of the feed.
func (p *featureWriter) putFastest(d *curve, s *scales) {
	f := &d.feed
	p.put(d.trend.tracks[steady].x[1]/max(f.fastest, 0.1), 0.5, 3)
	p.put((d.trend.now-f.fastestAt)/s.hours, 0.3, 3)
	p.put(math.Log(max(f.fastest, 0.1)/s.perHour), 0.5, 3)
}

// callInputs is how many features the network of the call has.
const callInputs = 2*(len(featureTracks)+len(featureBends)) + 6 + 4 + len(featureLevels) + 3 + 9 + 2*len(callBack) + len(callPaces) + 4 + 2*len(callQuick) + 4 + 2 + profileInputs

// callWander is the place of the wander's feature, the logarithm of its size in
// tolerances: the score from which the peak is called depends on it.
const callWander = 2*(len(featureTracks)+len(featureBends)) + 6 + 4 + len(featureLevels) + 3 + 4

// callBack are shares of the feed's age at which the curve so far is looked at.
var callBack = [...]float64{0.97, 0.93, 0.88, 0.8, 0.7, 0.5}

// callPaces are shares of the feed's age since which the pace that the
// temperature sets is compared with the present one: what slows down in a
// cooling room may stand on no peak.
var callPaces = [...]float64{0.93, 0.8, 0.5}

// callFeatures fills the features of the call.
func callFeatures(c *curve, out *[callInputs]float32) {
	s := measure(c)
	p := featureWriter{out: out[:]}
	p.putBank(&c.trend, &s)
	p.putThermal(c, &s)
	p.putLevels(c, &s)
	p.putFastest(c, &s)
	f := &c.feed
	p.signed((f.high-c.feed.base-s.h)/s.tol, 3)
	p.put((f.high-c.feed.base-s.h)/(s.sd+0.05), 2, 3)
	p.put((c.trend.now-f.highAt)/s.hours, 0.1, 3)
	p.put(math.Log(s.sd/s.tol), 1, 3)
	p.put(math.Log(math.Sqrt(c.noise.wander)/s.tol), 1, 4)
	p.put(math.Log(math.Sqrt(c.noise.ofBin(int(c.noise.perBin+0.5)))/s.tol), 1, 4)
	p.put(math.Log(s.most/s.tol/50), 0.5, 4)
	p.put(2*c.trend.falling(0)-1, 1, 1)
	p.put(2*c.trend.falling(-0.1*s.perHour)-1, 1, 1)
	for _, share := range callBack {
		below := s.h - c.path.riseAtWarm(share*s.warm)
		p.signed(below/s.tol, 3)
		p.put(below/s.most, 0.6, 3)
	}
	for _, share := range callPaces {
		mean := (c.thermal.hours - c.path.warmAt(share*s.clock)) / ((1 - share) * s.clock)
		p.put(math.Log(growth.Pace(c.thermal.tempC)/max(mean, 0.02)), 0.2, 3)
	}
	for _, k := range featureBends {
		p.signed(toTurn(&c.trend.tracks[k])/s.tol, 3)
	}
	for _, k := range callQuick {
		t := &c.trend.tracks[k]
		p.signed(t.x[1]/4/s.tol, 3)
		p.put(math.Log(math.Sqrt(t.p[pSS])/4/s.tol), 1.5, 3)
	}
	for _, k := range featureBends {
		p.signed(c.trend.tracks[k].x[2]/8/s.tol, 3)
	}
	for _, k := range [...]int{0, 7} {
		t := &c.trend.tracks[k]
		p.put(t.x[1]/math.Sqrt(t.p[pSS]+1e-9), 3, 3)
	}
	p.putProfile(c, &s)
}

// callQuick are the tracks whose speed is also read in tolerances a quarter of
// an hour.
var callQuick = [...]int{1, 2, 3, 5, 6, 7}

// toTurn is how far a track has still to rise before it turns, if its
// acceleration goes on; below zero how far it has fallen since.
func toTurn(t *track) float64 {
	v, a := t.x[1], min(t.x[2], -0.1)
	return math.Copysign(v*v/(-2*a), v)
}

// profileInputs is how many features past feeds of the starter add.
const profileInputs = 7

// putProfile writes when past feeds expect the peak, and how well the curve
// follows them: nothing at all where there are none.
func (p *featureWriter) putProfile(d *curve, s *scales) {
	e := d.profile.expects(d)
	if !e.ok {
		for range profileInputs {
			p.put(0, 1, 1)
		}
		return
	}
	p.put(float64(min(d.profile.feeds, 6)), 3, 2)
	for _, z := range [...]float64{-z80, 0, z80} {
		p.signed(lagScale*(math.Exp(e.mean+z*e.sd)/s.warm-1), 3)
	}
	p.put(e.shift, 2, 2)
	p.put(math.Log(e.misfit+0.05), 1, 3)
	p.put((math.Log(s.most)-d.profile.rise)/d.profile.riseSD, 2, 3)
}

// forecastBack says at which points of the past the rise is read, as steps of
// the logarithm of thermal time; forecastSpan over which shares of the way
// parabolas are laid.
var (
	forecastBack = [...]float64{0.04, 0.1, 0.2, 0.36, 0.6, 0.95, 1.5}
	forecastSpan = [...]float64{0.12, 0.25, 0.45}
)

const forecastInputs = 2*(len(featureTracks)+len(featureBends)) + 6 + 4 + len(featureLevels) + 3 + 4 + len(forecastBack) + 3*len(forecastSpan) + profileInputs

// forecastFeatures fills the features of the forecast. The absolute rise is none:
// a small glass must not look like a weak starter.
func forecastFeatures(c *curve, out *[forecastInputs]float32) {
	s := measure(c)
	p := featureWriter{out: out[:]}
	p.putBank(&c.trend, &s)
	p.putThermal(c, &s)
	p.putLevels(c, &s)
	p.putFastest(c, &s)
	p.put((c.feed.high-c.feed.base-s.h)/s.most, 0.04, 3)
	p.put((c.trend.now-c.feed.highAt)/s.hours, 0.1, 3)
	p.put(math.Log(s.sd/s.most*50), 1, 4)
	p.put(math.Log(math.Sqrt(c.noise.ofMinute())/s.most*50), 1, 4)
	for _, back := range forecastBack {
		x := math.Exp(-back)
		p.put((s.h-c.path.riseAtWarm(s.warm*x))/(s.most*(1-x))-1, 1, 4)
	}
	p.putBends(&c.path, &s)
	p.putProfile(c, &s)
}

// putBends lays parabolas over the last part of the way: slope, bend and where
// they would turn.
func (p *featureWriter) putBends(path *path, s *scales) {
	for _, span := range forecastSpan {
		var fit quadratic.Fit
		for i := path.n - 1; i >= 0; i-- {
			x := (float64(path.warm[i]) - s.warm) / (span * s.warm)
			if x < -1 {
				break
			}
			fit.Add(x, float64(path.h[i])/s.most, 1)
		}
		_, b, c, ok := fit.Solve()
		if !ok {
			b, c = 0, 0
		}
		p.put(math.Asinh(b/span*2), 1, 4)
		p.put(math.Asinh(c/span*4), 1, 4)
		turn := 3.0 // of the span ahead: it does not turn
		if c < 0 {
			turn = b / (-2 * c)
		}
		p.put(turn*span, 0.3, 4)
	}
}

// bowlInputs is how many features the forecast of a bowl's target has.
const bowlInputs = 14

// bowlFeatures fills them: how far the target is, and when each track of the bank
// would pass it.
func bowlFeatures(c *curve, out *[bowlInputs]float32) {
	s := measure(c)
	p := featureWriter{out: out[:]}
	want := c.feed.wanted(c.opts.TargetRatio)
	left := max(want-s.h, 0)
	p.put(left/s.most, 1, 4)
	p.put(math.Log(max(want, 1)/s.most), 1, 3)
	for _, k := range [...]int{1, 2, 3} {
		t := &c.trend.tracks[k]
		on := 4.0 // of the way so far
		if t.x[1] > 0.05*s.perHour {
			on = min(drawnOn(left, t.x[1], t.x[2])/s.hours, on)
		}
		p.put(logLeft(1+on)+1, 1, 4)
		p.put(t.x[2]*s.hours/s.perHour, 2, 3)
	}
	p.put(math.Log(s.warm/6), 0.5, 4)
	p.put(math.Log(s.sd/s.most*50), 1, 4)
	p.putFastest(c, &s)
	p.put(c.thermal.trend(), 0.5, 3)
}
