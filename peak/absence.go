package peak

import "math"

// absence follows readings that do not fit the curve: a spike, a hand, the
// jar lifted off, a new level.
type absence struct {
	n       int     // suspects in a row
	since   float64 // hours of the last good reading before them
	missing float64 // hours of the first missing reading in a row; 0 when none
	level   float64 // mean of the suspects that agree with each other
	levelN  int
	levelAt float64 // hours of the first of them
	lastY   float64
}

const (
	awayMin     = 40.0 / 3600 // an absence shorter than this is noise
	settleHours = 4.0 / 60    // a new level must hold this long
)

// miss notes a reading that did not come.
func (a *absence) miss(now float64) {
	if a.missing == 0 {
		a.missing = now
	}
}

// suspect takes in a reading that is far from the curve.
func (d *Detector) suspect(now, y, pred float64) {
	a := &d.absent
	if a.n == 0 {
		a.since = d.lastGood
	}
	a.n++
	if a.n < 3 {
		d.refuse.Spike++
	} else {
		d.refuse.Away++
	}
	tol := max(4*d.noise.ofReading(), 4)
	if a.levelN > 0 && math.Abs(y-a.level) > tol {
		if math.Abs(y-a.lastY) <= tol || a.levelN < 3 {
			a.level, a.levelN, a.levelAt = y, 0, now
		}
	}
	if a.levelN == 0 {
		a.level, a.levelAt = y, now
	}
	a.lastY = y
	if math.Abs(y-a.level) <= tol {
		a.levelN++
		a.level += (y - a.level) / float64(a.levelN)
	}
	if now-a.levelAt >= settleHours && a.levelN >= 4 {
		d.newLevel(now, pred)
	}
}

// newLevel decides what a steady new level means.
func (d *Detector) newLevel(now, pred float64) {
	a := &d.absent
	f := &d.feed
	drop := pred - a.level
	rise := max(f.high-f.base, 0)
	away := a.levelAt - a.since
	switch {
	case a.level < f.base-max(20, 0.5*rise) && now-a.levelAt < 6:
		// Far below the feed's level: the jar is not there.
	case drop > max(8, 0.25*rise) && away >= awayMin && rise > 5 && a.level < f.base+max(15, 0.35*rise):
		d.foundFeed(now)
	case now-a.levelAt > 10.0/60:
		d.step(-drop)
	}
}

// step accepts a new level for the same curve.
func (d *Detector) step(by float64) {
	d.trend.shift(by)
	d.trend.loosen(1)
	d.feed.base += by
	d.feed.high += by
	d.absent = absence{}
	d.noise.breakBlocks()
}

// foundFeed starts a feed that nobody marked.
func (d *Detector) foundFeed(now float64) {
	since := d.absent.since
	d.remember()
	d.begin("found")
	d.feed.at = since
	d.say(Event{Kind: EventFed, FeedAt: d.clock.time(since), PeakAt: d.clock.time(since), RiseRatio: 1, Source: "found"})
}

// welcome notes a reading that fits the curve again.
func (d *Detector) welcome(now float64) {
	a := &d.absent
	if a.n >= 3 && now-a.since > awayMin {
		// Put back, perhaps some millimetres off: the level is open again,
		// the speed is not.
		d.trend.loosen(4)
		d.noise.breakBlocks()
	} else if a.missing > 0 && now-a.missing > 2.0/60 {
		d.trend.loosen(0.5)
		d.noise.breakBlocks()
	}
	*a = absence{}
}
