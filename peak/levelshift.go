package peak

import "math"

// levelShift follows readings that do not fit the curve or do not come: a spike,
// a hand, the jar lifted off, a new level.
type levelShift struct {
	n       int     // suspects in a row
	since   float64 // hours of the last good reading before them
	level   float64 // mean of the suspects that agree with each other
	levelN  int
	levelAt float64 // hours of the first of them
	moved   float64 // mm between the levels that were settled on one after the other
	lowest  float64 // the lowest level that was seen on the way
	gap     float64 // hours between the last good reading and the first suspect
	lastY   float64
}

const (
	liftHours   = 40.0 / 3600 // suspects for longer than this were no spike
	settleHours = 4.0 / 60    // a new level must hold this long
	stepHours   = 10.0 / 60   // and this long to be taken for the jar's own
	goneHours   = 6           // a far level is taken for a new vessel after this
)

// add takes in a reading that is far from the curve, counts it, and reports
// whether a new level has settled within tol.
func (a *levelShift) add(now, y, lastGood, tol float64, count *Refused) (settled bool) {
	if a.n == 0 {
		a.since, a.gap, a.lowest = lastGood, now-lastGood, y
	}
	a.n++
	if a.n < 3 {
		count.Spike++
	} else {
		count.Away++
	}
	a.follow(now, y, tol)
	return now-a.levelAt >= settleHours && a.levelN >= 4
}

// follow averages the suspects that agree, and starts over where they settle
// somewhere else.
func (a *levelShift) follow(now, y, tol float64) {
	far := math.Abs(y-a.level) > tol
	if a.levelN == 0 || far && (math.Abs(y-a.lastY) <= tol || a.levelN < 3) {
		if a.levelN > 0 {
			a.moved = max(a.moved, math.Abs(y-a.level))
			a.lowest = min(a.lowest, a.level)
		}
		a.level, a.levelN, a.levelAt = y, 0, now
		far = false
	}
	a.lastY = y
	if !far {
		a.levelN++
		a.level += (y - a.level) / float64(a.levelN)
	}
}

// newLevel decides what a steady new level means.
func (d *Detector) newLevel(now, pred float64) {
	a, f := &d.shift, &d.feed
	rise := max(f.high-f.base, 0)
	below := a.level < f.base-max(20, 0.5*rise)
	if f.source == "" && (a.level > a.lowest+elsewhereMM || a.gap > liftHours) {
		below = false // what the curve began with was no feed's level, and this is not the bare table
	}
	e := evidence{away: a.levelAt - a.since, seen: true, drop: pred - a.level, level: a.level, before: d.thermal.before(a.since)}
	switch {
	case f.source == "" && !below && a.wasAway(d.clock.period) && e.looksFed(&d.curve):
		d.foundFeed(a.since)
	case now-f.at < d.opts.Kind.settleIn() && rise < minRiseMM && (f.source != "" || !below):
		// The jar comes to rest only now; its feed is the one we know.
		d.shift, d.spikes.n, d.review.on, d.gate = levelShift{}, 0, false, gate{}
		d.trend.begun = false
		f.base, f.base0, f.baseN = 0, 0, 0
		d.path.reset()
		d.noise.breakOff()
	case below && now-a.levelAt < goneHours:
		// Far below the feed's level the jar is not there.
	case !below && a.wasAway(d.clock.period) && e.looksFed(&d.curve):
		d.foundFeed(a.since)
	case now-a.levelAt > stepHours:
		d.step(a.level - pred)
	}
}

// wasAway reports whether something else was seen before the new level, or
// nothing for a while. A jar that is knocked or stirred under the sensor stands
// at its new level at once.
func (a *levelShift) wasAway(period float64) bool {
	return a.moved > elsewhereMM || a.gap > 1.6*period
}

// elsewhereMM is how far from the new level the place of the jar must have
// looked while it was away: a guess below any jar's height.
const elsewhereMM = 12

// settleIn is how long after a feed the vessel may still be put in its place, in
// hours. A bowl is mixed where it stands, and the first fold comes within the hour.
func (k Kind) settleIn() float64 {
	if k == Bowl {
		return 15.0 / 60
	}
	return 45.0 / 60
}

// tellStepMM is a jump of the level that a person is told of.
const tellStepMM = 5

// step accepts a new level for the same curve, and says so.
func (d *Detector) step(by float64) {
	d.trend.shift(by)
	d.trend.loosen(1)
	if d.opts.Kind != Bowl { // a bowl's dough was mixed at the height at which it was mixed
		d.feed.base += by
		d.feed.high += by
	}
	d.shift = levelShift{}
	d.noise.breakOff()
	d.gate = aim(&d.trend, &d.noise, d.clock.hours)
	if math.Abs(by) >= tellStepMM {
		d.say(Event{Kind: EventFault, Fault: Fault{Kind: LevelJumped, MM: by}})
	}
}

// inlier notes a reading that fits the curve again.
func (c *curve) inlier(now float64) {
	a := &c.shift
	away := now - c.lastGood
	seen := a.n >= 3 && now-a.since > liftHours
	switch {
	case seen:
		// Put back, perhaps some millimetres off: the level is open again,
		// the speed is not.
		c.review.begin(c, now, now-a.since, true)
		c.trend.loosen(4)
	case away > 2.0/60 && away > 2.5*c.clock.period:
		c.review.begin(c, now, away, false)
		c.trend.loosen(0.5)
	}
	if a.n > 0 {
		*a = levelShift{}
	}
}

const (
	lostHours = 1.0  // without a usable distance for this long, nothing can be told
	gapHours  = 12.0 // and after this long the feed itself is no longer known
)

// watchGap looks at how long no usable distance has come.
func (d *Detector) watchGap(now float64) {
	if !d.trend.begun {
		return
	}
	gap := now - d.lastGood
	if gap > lostHours && !d.lost {
		d.lost = true
		d.ahead.has = false
		d.say(Event{Kind: EventFault, Fault: Fault{Kind: NoDistance}})
	}
	if gap > gapHours {
		d.say(Event{Kind: EventFault, Fault: Fault{Kind: FeedLost}})
		d.begin("")
	}
}
