package peak

import (
	"math"
	"time"

	"leavend/peak/fold"
)

// Detector follows one vessel. It is not safe for concurrent use, reads no
// clock and starts nothing.
type Detector struct {
	curve
	model   *model
	events  []Event
	history []Feed

	forecast    Forecast
	hasForecast bool
	forecastAt  float64 // hours at which it was last told

	watch      func(*Detector) bool // tests only: decides in place of the network
	watchAhead func(*Detector)      // tests only: sees the moments of a forecast
}

// curve is the running feed as the readings draw it: what was measured, how
// much of it is noise, and what past feeds expect of it.
type curve struct {
	opts     Opts
	clock    clock
	bin      bin
	noise    noise
	trend    trend
	trendAt  float64 // hours of the bank's state
	shift    levelShift
	gate     gate
	spikes   spikeFilter
	review   review
	path     path
	thermal  thermal
	feed     feed
	refuse   Refused
	lastGood float64      // hours of the last reading that was used
	lost     bool         // it was told that no distance comes
	folds    *fold.Filter // of a bowl; nil before its first reading

	profile    profile
	expected   expectation // what the profile says of the running feed
	expectedAt float64     // for which minute
	expectedN  int         // and for how many points of the path
}

// feed is what is known of the running feed. Times are hours on the clock.
type feed struct {
	at        float64
	source    string
	base      float64 // height at the feed, mm
	base0     float64
	baseN     int
	high      float64 // greatest smoothed height
	highAt    float64
	fastest   float64 // greatest speed of the steady track, mm/h
	fastestAt float64
	called    bool
	call      Event
	target    bool
	collapse  bool
	low       float64    // least smoothed height since the collapse
	absentAt  float64    // hours of the last absence; before the feed when none
	calm      [3]float64 // forecast of the warm hours to the peak, smoothed
	calmAt    float64    // hours at which it was last renewed
	coldAt    float64    // hours at which it was last too cold to tell
}

// baseBins is how many minutes make the height at the feed.
const baseBins = 8

// New returns a detector that waits for its first reading.
func New(o Opts) *Detector {
	if o.TargetRatio == 0 {
		o.TargetRatio = 1.75
	}
	if o.MinRiseMM == 0 {
		o.MinRiseMM = 6
	}
	d := &Detector{curve: curve{opts: o}, model: learnt(), events: make([]Event, 0, 8), history: make([]Feed, 0, historyCap)}
	for _, f := range o.History {
		if f.usable() {
			d.learn(f)
		}
	}
	d.opts.History = nil
	d.thermal.tempC = math.NaN()
	d.begin("")
	return d
}

// begin starts a new feed at the clock's present time.
func (d *Detector) begin(source string) {
	d.feed = feed{at: d.clock.hours, source: source, absentAt: math.Inf(-1), coldAt: math.Inf(-1)}
	d.noise.reset(d.opts.Noise)
	d.trend.begun = false
	d.shift = levelShift{}
	d.gate = gate{}
	d.spikes.n = 0
	d.path.reset()
	d.bin.reset(0)
	d.review.on = false
	d.thermal.reset(d.clock.hours)
	d.hasForecast, d.lost = false, false
	d.lastGood = d.clock.hours
	d.forecastAt = math.Inf(-1)
	d.expectedAt = math.Inf(-1)
	if d.folds != nil {
		d.folds.Reset()
	}
}

// binIndex numbers the minutes from the feed on, so that a detector that is
// rebuilt from the readings since the feed sees the same minutes.
func (c *curve) binIndex(now float64) int64 {
	return int64(math.Floor((now - c.feed.at + 1e-9) / binHours))
}

// Fed tells the detector that the vessel was fed at the given time: the
// baker said so. The reading of the same moment comes after it.
func (d *Detector) Fed(at time.Time) []Event {
	d.events = d.events[:0]
	if d.clock.last.IsZero() || at.After(d.clock.last) {
		d.clock.advance(at)
		// The reading that comes with the mark has the same time and must
		// not count as late.
		d.clock.last = d.clock.last.Add(-time.Nanosecond)
	}
	d.remember()
	d.begin("marked")
	d.say(Event{Kind: EventFed, FeedAt: at, PeakAt: at, RiseRatio: 1, Source: "marked"})
	d.events[len(d.events)-1].At = at
	return d.events
}

// say appends an event of the present moment.
func (d *Detector) say(e Event) {
	e.At = d.clock.last
	if e.FeedAt.IsZero() && d.feed.source != "" {
		e.FeedAt = d.clock.time(d.feed.at)
	}
	d.events = append(d.events, e)
}

// Add takes in one reading: the height in mm (above the vessel's floor, or
// any falling measure of the distance) and the temperature in °C. NaN says
// that a value did not come. The events are valid until the next call.
func (d *Detector) Add(at time.Time, heightMM, tempC float64) []Event {
	d.events = d.events[:0]
	if !d.clock.advance(at) {
		d.refuse.Late++
		return d.events
	}
	now := d.clock.hours
	if d.binIndex(now) != d.bin.index {
		d.closeBin()
		d.bin.reset(d.binIndex(now))
		d.watchGap(now)
		d.aim(now)
	}
	d.addTemp(tempC)
	if d.opts.Kind == Bowl {
		heightMM = d.unfolded(at, heightMM)
	}
	d.addHeight(now, heightMM)
	return d.events
}

// gate is where the readings of the running minute are expected.
type gate struct{ at, h, b, wide float64 }

// aim sets the gate for the minute that begins now. It is wide: within it
// the minute's median and the bank sort things out.
func (c *curve) aim(now float64) {
	c.gate = gate{}
	if !c.trend.begun {
		return
	}
	h, v := c.trend.expects(now-c.trendAt, c.noise.wander)
	b, _ := c.trend.speed()
	c.gate = gate{at: now, h: h, b: b, wide: max(8*c.noise.ofReading(), 12) + 4*math.Sqrt(v)}
}

// addTemp gathers a plausible temperature for the running bin.
func (c *curve) addTemp(tempC float64) {
	if !(tempC > -20 && tempC < 60) {
		return
	}
	if c.bin.tempN > 0 && math.Abs(tempC-c.bin.temp/float64(c.bin.tempN)) > 4 {
		return
	}
	c.bin.temp += tempC
	c.bin.tempN++
}

// addHeight sorts a height into the running bin, or refuses it.
func (d *Detector) addHeight(now, y float64) {
	switch {
	case math.IsNaN(y):
		d.refuse.Missing++
		return
	case math.IsInf(y, 0):
		d.refuse.Bad++
		return
	}
	if d.gate.wide > 0 {
		pred := d.gate.h + d.gate.b*(now-d.gate.at)
		if math.Abs(y-pred) > d.gate.wide {
			d.outlier(now, y, pred)
			return
		}
	}
	d.inlier(now)
	d.lastGood, d.lost = now, false
	d.bin.add(now, y)
}

// closeBin hands the finished minute to the bank and asks the questions.
func (d *Detector) closeBin() {
	d.advanceThermal()
	if d.bin.n == 0 {
		return
	}
	mean, n, variance := d.bin.centre(d.noise.ofReading())
	d.noise.seeStep(d.bin.y[:d.bin.n])
	if n == 0 {
		d.refuse.Wild += d.bin.n
		return
	}
	t := d.bin.t / float64(d.bin.n)
	if !d.trend.begun {
		d.trend.reset(mean, d.noise.ofBin(n), d.noise.wander)
		d.trendAt = t
		d.feed.high = mean
		d.updateBase(mean)
		d.noise.see(t, mean, n, variance)
		return
	}
	d.reviewBin(t, mean)
	if !d.trend.begun {
		return // a feed was found
	}
	if d.hold(t, mean, n) {
		d.judge()
		return
	}
	d.takeIn(t, mean, n)
	d.noise.see(t, mean, n, variance)
	d.updateBase(mean)
	d.judge()
}

// takeIn hands a minute's mean of n readings to the bank.
func (c *curve) takeIn(t, mean float64, n int) {
	c.trend.add(t-c.trendAt, mean, c.noise.ofBin(n), c.noise.wander)
	c.trendAt = t
}

// updateBase averages the first minutes into the height at the feed.
func (c *curve) updateBase(mean float64) {
	if c.feed.baseN >= baseBins {
		return
	}
	c.feed.baseN++
	c.feed.base += (mean - c.feed.base) / float64(c.feed.baseN)
	c.feed.base0 = c.feed.base
}

// advanceThermal counts warm hours up to now.
func (c *curve) advanceThermal() {
	mean := math.NaN()
	if c.bin.tempN > 0 {
		mean = c.bin.temp / float64(c.bin.tempN)
	}
	c.thermal.add(c.clock.hours, mean)
}

// judge looks at the curve after a bin.
func (d *Detector) judge() {
	h, v := d.trend.at(0)
	if h > d.feed.high && v < 9 {
		d.feed.high, d.feed.highAt = h, d.trendAt
	}
	if v := d.trend.tracks[steady].x[1]; v > d.feed.fastest {
		d.feed.fastest, d.feed.fastestAt = v, d.trendAt
	}
	d.path.add(d.trendAt-d.feed.at, d.thermal.hours, h-d.feed.base)
	if d.opts.Kind == Bowl {
		d.judgeTarget(h)
		return
	}
	d.judgePeak()
	d.judgeCollapse(h)
	d.hindsight(h)
}

// judgePeak asks whether the top is here, and when it will be.
func (d *Detector) judgePeak() {
	if d.feed.called || d.spikes.n > 0 {
		return
	}
	if d.cold() {
		d.hasForecast = false
		return
	}
	if d.risenBy(d.opts.MinRiseMM) && d.judgeCall() {
		return
	}
	if d.moves() {
		d.renewForecast()
	} else {
		d.foretellProfile()
	}
}

// judgeCollapse tells once that the jar has lost half of its rise.
func (d *Detector) judgeCollapse(h float64) {
	f := &d.feed
	if !f.called || f.collapse || h > f.base+0.5*(f.high-f.base) {
		return
	}
	f.collapse, f.low = true, h
	d.say(Event{Kind: EventCollapse, PeakAt: f.call.PeakAt,
		RiseRatio: d.ratio(h), RiseMM: h - f.base, HeightMM: h})
}

// ratio returns a height as a multiple of the height at the feed, NaN where
// the floor is not known.
func (c *curve) ratio(h float64) float64 {
	if !c.opts.FloorKnown || c.feed.base <= 0 {
		return math.NaN()
	}
	return h / c.feed.base
}

// Status returns the detector's view after the last reading.
func (d *Detector) Status() Status {
	s := Status{Stage: d.stage(), HeightMM: math.NaN(), RiseMM: math.NaN(), RiseRatio: math.NaN(),
		NoiseMM: d.noise.ofReading(), WanderMM: math.Sqrt(d.noise.wander), FedSource: d.feed.source, Refused: d.refuse}
	if d.feed.source != "" {
		s.FedAt = d.clock.time(d.feed.at)
	}
	if d.trend.begun {
		s.HeightMM, _ = d.trend.at(0)
		s.RiseMM = s.HeightMM - d.feed.base
		s.RiseRatio = d.ratio(s.HeightMM)
		s.SpeedMMH, s.SpeedSD = d.trend.speed()
	}
	if d.feed.called {
		s.Peak = d.feed.call
	} else {
		s.WhyNoCall = d.whyNoCall()
	}
	if !d.hasForecast {
		s.WhyNoForecast = d.whyNoForecast()
	}
	return s
}

// stage says how far the feed has come.
func (c *curve) stage() Stage {
	if !c.trend.begun {
		return Waiting
	}
	if c.clock.hours-c.lastGood > 1 {
		return Lost
	}
	h, _ := c.trend.at(0)
	f := &c.feed
	rise, most := h-f.base, f.high-f.base
	switch {
	case f.collapse:
		return Collapsed
	case f.called && rise < 0.9*most:
		return Falling
	case f.called:
		return AtPeak
	case most < 3+2*math.Sqrt(c.noise.wander):
		return Lag
	}
	return Rising
}
