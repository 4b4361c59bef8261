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

	watch      func(*Detector) bool                // tests only: decides in place of the network
	watchAhead func(d *Detector, past *[3]float64) // tests only: sees the moments of a forecast, and what past feeds alone say before the curve has moved
}

// curve is the running feed as the readings draw it: what was measured, how
// much of it is noise, and what past feeds expect of it.
type curve struct {
	opts     Opts
	clock    clock
	bin      bin
	noise    noise
	trend    trend
	shift    levelShift
	gate     gate
	spikes   spikeFilter
	review   review
	path     path
	thermal  thermal
	feed     feed
	ahead    forecaster
	refuse   Refused
	lastGood float64      // hours of the last reading that was used
	lost     bool         // it was told that no distance comes
	folds    *fold.Filter // of a bowl; nil of a jar

	profile profile
}

// feed is what is known of the running feed. Times are hours on the clock.
type feed struct {
	at         float64
	source     string
	floorKnown bool
	base       float64 // height at the feed, mm
	base0      float64
	baseN      int
	high       float64 // greatest smoothed height
	highAt     float64
	fastest    float64 // greatest speed of the steady track, mm/h
	fastestAt  float64
	score      meanScore
	called     bool
	call       Event
	target     bool
	collapse   bool
	low        float64 // least smoothed height since the collapse
	absentAt   float64 // hours of the last absence; before the feed when none
}

// baseBins is how many minutes make the height at the feed.
const baseBins = 8

// ratio returns a height as a multiple of the height at the feed, NaN where
// the floor is not known.
func (f *feed) ratio(h float64) float64 {
	if !f.floorKnown || f.base <= 0 {
		return math.NaN()
	}
	return h / f.base
}

// wanted is the rise in mm up to a ratio.
func (f *feed) wanted(ratio float64) float64 { return (ratio - 1) * f.base }

// begins takes a minute into the height at the feed.
func (f *feed) begins(mean float64) {
	if f.baseN >= baseBins {
		return
	}
	f.baseN++
	f.base += (mean - f.base) / float64(f.baseN)
	f.base0 = f.base
}

// New returns a detector that waits for its first reading.
func New(o Opts) *Detector {
	if o.TargetRatio == 0 {
		o.TargetRatio = 1.75
	}
	d := &Detector{curve: curve{opts: o}, model: learnt(), events: make([]Event, 0, 8), history: make([]Feed, 0, historyCap)}
	for _, f := range o.History {
		if f.usable() {
			d.history = appendFeed(d.history, f)
		}
	}
	d.profile.learn(d.history)
	d.opts.History = nil
	if o.Kind == Bowl {
		d.folds = fold.New()
	}
	d.thermal.tempC = math.NaN()
	d.begin("")
	return d
}

// begin puts the running feed into the history and starts a new one at the
// clock's present time.
func (d *Detector) begin(source string) {
	if f, ok := d.Record(); ok && f.usable() {
		d.history = appendFeed(d.history, f)
		d.profile.learn(d.history)
	}
	d.feed = feed{at: d.clock.hours, source: source, floorKnown: d.opts.FloorKnown, absentAt: math.Inf(-1)}
	d.noise.reset()
	d.trend.begun, d.review.on, d.lost = false, false, false
	d.shift, d.gate, d.spikes.n = levelShift{}, gate{}, 0
	d.path.reset()
	d.bin.reset(0)
	d.thermal.reset(d.clock.hours)
	d.ahead = forecaster{toldAt: math.Inf(-1)}
	d.lastGood = d.clock.hours
	d.profile.fitAt = math.Inf(-1)
	if d.folds != nil {
		d.folds.Reset()
	}
}

// Fed tells the detector that the vessel was fed at the given time: the
// baker said so. The reading of the same moment comes after it.
func (d *Detector) Fed(at time.Time) []Event {
	d.events = d.events[:0]
	d.clock.mark(at)
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
	if i := minuteOf(now - d.feed.at); i != d.bin.index {
		d.closeBin()
		d.bin.reset(minuteOf(now - d.feed.at)) // a feed may have been found
		d.watchGap(now)
		d.gate = aim(&d.trend, &d.noise, now)
	}
	d.bin.addTemp(tempC)
	if d.folds != nil { // what is left shows the dough's rise alone
		mm, folded := d.folds.Add(at, heightMM)
		if folded {
			d.sayFolded(at)
		}
		if math.IsNaN(mm) && !math.IsNaN(heightMM) {
			d.lastGood = now // it is seen, and waits for the surface to be level
		}
		heightMM = mm
	}
	d.addHeight(now, heightMM)
	return d.events
}

// gate is where the readings of the running minute are expected.
type gate struct{ at, h, b, wide float64 }

// aim returns the gate for the minute that begins now. It is wide: within it
// the minute's median and the bank sort things out.
func aim(b *trend, n *noise, now float64) gate {
	if !b.begun {
		return gate{}
	}
	h, v := b.expects(now-b.now, n.wander)
	speed, _ := b.speed()
	return gate{at: now, h: h, b: speed, wide: max(8*n.ofReading(), 12) + 4*math.Sqrt(v)}
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
			if d.shift.add(now, y, d.lastGood, max(4*d.noise.ofReading(), 4), &d.refuse) {
				d.newLevel(now, pred)
			}
			return
		}
	}
	d.inlier(now)
	d.lastGood, d.lost = now, false
	d.bin.add(now, y)
}

// closeBin hands the finished minute to the bank and asks the questions.
func (d *Detector) closeBin() {
	d.thermal.add(d.clock.hours, d.bin.tempC())
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
		d.trend.reset(t, mean, d.noise.ofBin(n), d.noise.wander)
		d.feed.high = mean
		d.feed.begins(mean)
		d.noise.see(t, mean, n, variance)
		return
	}
	d.reviewBin(t, mean)
	if !d.trend.begun {
		return // a feed was found
	}
	if !d.hold(t, mean, n) {
		d.trend.add(t, mean, d.noise.ofBin(n), d.noise.wander)
		d.noise.see(t, mean, n, variance)
		d.feed.begins(mean)
	}
	d.judge()
}

// judge looks at the curve after a bin.
func (d *Detector) judge() {
	h, v := d.trend.at(0)
	if h > d.feed.high && v < 9 {
		d.feed.high, d.feed.highAt = h, d.trend.now
	}
	if v := d.trend.tracks[steady].x[1]; v > d.feed.fastest {
		d.feed.fastest, d.feed.fastestAt = v, d.trend.now
	}
	d.path.add(d.trend.now-d.feed.at, d.thermal.hours, h-d.feed.base)
	if d.opts.Kind == Bowl {
		d.judgeTarget(h)
		return
	}
	d.judgePeak()
	d.judgeFall(h)
}

// judgePeak asks whether the top is here, and when it will be.
func (d *Detector) judgePeak() {
	if d.feed.called || d.spikes.n > 0 {
		return
	}
	if d.thermal.cold() {
		d.ahead.has = false
		return
	}
	if !d.risenBy(minRiseMM) || !d.judgeCall() {
		d.foresee()
	}
}

// judgeFall tells once that the jar has lost half of its rise, and then looks
// for a feed that was not marked.
func (d *Detector) judgeFall(h float64) {
	f := &d.feed
	if f.called && !f.collapse && h <= f.base+0.5*(f.high-f.base) {
		f.collapse, f.low = true, h
		d.say(Event{Kind: EventCollapse, PeakAt: f.call.PeakAt, RiseRatio: f.ratio(h), RiseMM: h - f.base, HeightMM: h})
	}
	if f.collapse {
		d.hindsight(h)
	}
}
