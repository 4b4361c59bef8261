package peak

import "math"

// prospect is what the forecast is made from: numbers without units and of
// size one, like the signs, but about the whole way up to now and not about
// the last hour. Time counts in warm hours.
type prospect [prospectCount]float64

const prospectCount = 65

// prospectBack says at which points of the past the rise is read, as steps of
// the logarithm of warm time.
var prospectBack = [...]float64{0.04, 0.09, 0.16, 0.25, 0.36, 0.5, 0.7, 0.95, 1.3, 1.8}

// prospectSpan says over which shares of the way parabolas are laid.
var prospectSpan = [...]float64{0.12, 0.25, 0.45}

// pen writes signs one after the other.
type pen struct {
	out []float64
	n   int
}

// put writes v in units of scale, bounded; what is not a number is 0.
func (p *pen) put(v, scale, limit float64) {
	if v != v {
		v = 0
	}
	p.out[p.n] = min(max(v/scale, -limit), limit)
	p.n++
}

// read fills the prospect from the detector's state after a bin.
func (s *prospect) read(d *Detector) {
	p := pen{out: s[:]}
	g := newGauge(d)
	s.readScale(&p, d, &g)
	s.readPast(&p, d, &g)
	s.readSpeed(&p, d, &g)
	s.readBends(&p, d, &g)
	if d.opts.Kind == Bowl {
		s.readTarget(&p, d, &g)
	} else {
		s.readHabit(&p, d, &g)
	}
}

// gauge holds the units that a curve is measured in.
type gauge struct {
	h, rise, most float64 // height above the floor's base, now and at most, mm
	hours, warm   float64
	perHour       float64 // mean speed so far, mm/h
	noise         float64 // of a minute, mm
}

func newGauge(d *Detector) gauge {
	h, _ := d.trend.at(0)
	g := gauge{h: h - d.feed.base, hours: max(d.trendAt-d.feed.at, 0.1), warm: max(d.warmth.hours, 0.1)}
	g.rise = max(g.h, 1)
	g.most = max(d.feed.high-d.feed.base, g.rise)
	g.perHour = g.most / g.hours
	g.noise = math.Sqrt(d.noise.ofBin(int(d.noise.perBin + 0.5)))
	return g
}

func (s *prospect) readScale(p *pen, d *Detector, g *gauge) {
	p.put(math.Log(g.warm/6), 0.5, 4)
	p.put(math.Log(g.hours/6), 0.5, 4)
	p.put(math.Log(g.most/50), 0.5, 4)
	p.put(math.Log(g.noise/g.most*50), 1, 4)
	p.put(math.Log(pace(d.warmth.tempC)*g.hours/g.warm), 0.2, 3)
	p.put(d.warmth.trend(), 0.5, 3)
	p.put(d.warmth.tempC-25, 4, 3)
	p.put(g.most-g.h, max(1, 0.02*g.most)*2, 4)
	p.put((d.trendAt-d.feed.highAt)/g.hours, 0.1, 3)
}

// readPast reads where the curve was, and when it first passed shares of the
// present rise.
func (s *prospect) readPast(p *pen, d *Detector, g *gauge) {
	for _, back := range prospectBack {
		x := math.Exp(-back)
		p.put((g.h-d.path.riseAtWarm(g.warm*x))/(g.most*(1-x))-1, 1, 4)
	}
	var levels, at [len(signLevels)]float64
	for k, share := range signLevels {
		levels[k] = share * g.most
	}
	d.path.crossings(levels[:], at[:])
	for k := range at {
		p.put(1-at[k]/g.warm, 0.3, 4)
	}
	since := d.trendAt - d.feed.at
	for _, back := range [...]float64{0.25, 0.5, 1, 2} {
		p.put((g.h-d.path.riseAt(since-back))/g.most/min(back, g.hours)*g.hours, 1, 4)
	}
}

func (s *prospect) readSpeed(p *pen, d *Detector, g *gauge) {
	b, f := &d.trend, &d.feed
	for _, k := range [...]int{1, 2, 3, 5} {
		t := &b.tracks[k]
		p.put(t.x[1]/math.Sqrt(t.p[3]+1e-9), 3, 3)
		p.put(math.Asinh(t.x[1]/g.perHour*2), 1, 4)
	}
	for _, k := range [...]int{1, 2, 3} {
		p.put(math.Asinh(b.tracks[k].x[2]*g.hours/g.perHour), 1.5, 3)
	}
	v, sd := b.speed()
	p.put(v/(sd+1e-9), 3, 3)
	p.put(math.Asinh(v/g.perHour*2), 1, 4)
	p.put(math.Log(sd/g.perHour), 1.5, 3)
	p.put(b.tracks[6].w+b.tracks[7].w, 1, 1)
	p.put(b.tracks[3].w+b.tracks[5].w, 1, 1)
	p.put(b.tracks[0].w+b.tracks[1].w, 1, 1)
	p.put(b.tracks[2].x[1]/max(f.fastest, 0.1), 0.5, 3)
	p.put((d.trendAt-f.fastestAt)/g.hours, 0.3, 3)
	p.put(math.Log(f.fastest/g.perHour), 0.5, 3)
}

// readBends lays parabolas over the last part of the way: slope, bend and
// where they would turn.
func (s *prospect) readBends(p *pen, d *Detector, g *gauge) {
	for _, span := range prospectSpan {
		var fit quadratic
		for i := d.path.n - 1; i >= 0; i-- {
			x := (float64(d.path.warm[i]) - g.warm) / (span * g.warm)
			if x < -1 {
				break
			}
			fit.add(x, float64(d.path.h[i])/g.most, 1)
		}
		_, b, c, ok := fit.solve()
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

// expects is what past feeds expect of the running one. The call and the
// forecast both ask in the same minute; it is worked out once.
func (d *Detector) expects() *expectation {
	if d.expectedAt != d.trendAt || d.expectedN != d.path.n {
		d.expectedAt, d.expectedN = d.trendAt, d.path.n
		g := newGauge(d)
		d.expected = d.habit.expect(&d.path, g.noise*g.noise, paceTemp(g.warm/g.hours))
	}
	return &d.expected
}

// readHabit reads what past feeds of this starter expect: nothing at all
// where there are none.
func (s *prospect) readHabit(p *pen, d *Detector, g *gauge) {
	e := d.expects()
	if !e.ok {
		for range 6 {
			p.put(0, 1, 1)
		}
		return
	}
	p.put(float64(min(d.habit.feeds, 6)), 3, 2)
	for _, z := range [...]float64{-z80, 0, z80} {
		p.put(logLeft(math.Exp(e.mean+z*e.sd)/g.warm)+1, 1, 4)
	}
	p.put(e.shift, 2, 2)
	p.put(math.Log(e.misfit+0.05), 1, 3)
}

// logLeft is the logarithm of what is left when the whole way is the given
// multiple of the way so far, kept finite at the top.
func logLeft(whole float64) float64 { return math.Log(max(whole-1, 0) + outlookSoft) }
