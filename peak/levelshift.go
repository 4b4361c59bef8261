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

// outlier takes in a reading that is far from the curve.
func (d *Detector) outlier(now, y, pred float64) {
	a := &d.shift
	if a.n == 0 {
		a.since, a.gap, a.lowest = d.lastGood, now-d.lastGood, y
	}
	a.n++
	if a.n < 3 {
		d.refuse.Spike++
	} else {
		d.refuse.Away++
	}
	a.follow(now, y, max(4*d.noise.ofReading(), 4))
	if now-a.levelAt >= settleHours && a.levelN >= 4 {
		d.newLevel(now, pred)
	}
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
	case f.source == "" && !below && d.wasAway() && d.looksFed(e):
		d.foundFeed(a.since)
	case now-f.at < d.settleIn() && rise < d.opts.MinRiseMM && (f.source != "" || !below):
		// The jar comes to rest only now; its feed is the one we know.
		d.rebase()
	case below && now-a.levelAt < goneHours:
		// Far below the feed's level the jar is not there.
	case !below && d.wasAway() && d.looksFed(e):
		d.foundFeed(a.since)
	case now-a.levelAt > stepHours:
		by := a.level - pred
		d.step(by)
		d.tellStep(by)
	}
}

// wasAway reports whether something else was seen before the new level, or
// nothing for a while. A jar that is knocked or stirred under the sensor stands
// at its new level at once.
func (c *curve) wasAway() bool {
	return c.shift.moved > elsewhereMM || c.shift.gap > 1.6*c.clock.period
}

// elsewhereMM is how far from the new level the place of the jar must have
// looked while it was away: a guess below any jar's height.
const elsewhereMM = 12

// settleIn is how long after a feed the vessel may still be put in its place, in
// hours. A bowl is mixed where it stands, and the first fold comes within the hour.
func (c *curve) settleIn() float64 {
	if c.opts.Kind == Bowl {
		return 15.0 / 60
	}
	return 45.0 / 60
}

// rebase starts the curve over at a new level within the same feed.
func (c *curve) rebase() {
	c.shift, c.spikes.n, c.review.on, c.gate = levelShift{}, 0, false, gate{}
	c.trend.begun = false
	c.feed.base, c.feed.base0, c.feed.baseN = 0, 0, 0
	c.path.reset()
	c.noise.breakOff()
}

// step accepts a new level for the same curve.
func (c *curve) step(by float64) {
	c.trend.shift(by)
	c.trend.loosen(1)
	if c.opts.Kind != Bowl { // a bowl's dough was mixed at the height at which it was mixed
		c.feed.base += by
		c.feed.high += by
	}
	c.shift = levelShift{}
	c.noise.breakOff()
	c.aim(c.clock.hours)
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
		c.beginReview(now, now-a.since, true)
		c.trend.loosen(4)
	case away > 2.0/60 && away > 4*c.clock.period:
		c.beginReview(now, away, false)
		c.trend.loosen(0.5)
	}
	if a.n > 0 {
		*a = levelShift{}
	}
}
