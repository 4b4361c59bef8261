package peak

import (
	"math"

	"leavend/peak/growth"
)

// A feed that was not marked shows in four things: the jar was away for some
// minutes, its level came back lower, its temperature jumped, and it had
// done its work before. None is enough alone, since a jar is also lifted to
// be looked at; so each adds to a balance.

// evidence is what an absence left behind.
type evidence struct {
	away   float64 // hours
	seen   bool    // something else was under the sensor meanwhile
	drop   float64 // mm that the level came back lower
	spread float64 // standard deviation of the drop
	level  float64 // height after it, mm
	before float64 // °C before it; NaN when not known
}

const (
	fedBalance   = 2.0
	reviewHours  = 7.0 / 60 // minutes after the return that are looked at
	lateRiseMM   = 6        // a rise after the collapse that shows a feed in hindsight
	lateRisePart = 0.15     // and at least this part of the last rise
	spentPart    = 0.15     // of its rise is left of a starter that has done its work
)

// looksFed weighs the evidence; the weights are judgement, tried on the
// invented families (lifts without a feed, feeds without a mark).
func (e *evidence) looksFed(c *curve) bool {
	f := &c.feed
	rise := max(f.high-f.base, 0)
	base := max(f.base, f.base0)
	if e.away < liftHours || e.level > base+max(15, 0.35*rise) {
		return false
	}
	balance := 0.0
	h, _ := c.trend.at(0)
	left := max(h-f.base, 0) // of the rise, mm
	switch {
	case f.called && left < spentPart*rise:
		balance += 2 // it is hungry: who takes it away comes back with flour
	case f.called && left < 0.5*rise:
		balance += 0.5
	case f.called:
		balance -= 0.5
	case f.source == "":
		balance -= 1 // nothing is known of the feed before
	default:
		balance -= 3
	}
	switch minutes := e.away * 60; {
	case minutes < 2:
		balance -= 1.5
	case minutes < 15:
		balance += 0.5
	default:
		balance -= 2
	}
	if e.seen {
		balance += 0.5
	}
	drop := e.drop - 2*e.spread
	if drop > max(10, 0.3*rise) {
		balance += 4
	} else {
		balance += min(max((e.drop-2)/1.5, -min(left/5, 2)), 3) // what has fallen back cannot come back lower
	}
	balance -= min(max((e.level-base-8)/2, 0), 2) // a feed comes back near where the last one began
	return balance+c.thermal.jump(e.before, e.away) > fedBalance
}

// review compares the curve before an absence with the minutes after it.
type review struct {
	on      bool
	due     float64 // hours
	from    float64 // hours of the state below
	h, b    float64 // height and speed before
	spread  float64
	sum     float64
	n       int
	e       evidence
	startAt float64 // when the absence began
	high    float64 // the feed's high before it, mm
	highAt  float64
}

// begin remembers the curve as it was before the absence.
func (r *review) begin(c *curve, now, away float64, seen bool) {
	if r.on && !seen {
		return
	}
	h, v := c.trend.at(now - c.trend.now)
	b, _ := c.trend.speed()
	*r = review{on: true, due: now + reviewHours, from: now, h: h, b: b, spread: math.Sqrt(v), startAt: now - away,
		high: c.feed.high, highAt: c.feed.highAt,
		e: evidence{away: away, seen: seen, before: c.thermal.before(now - away)}}
	c.feed.absentAt = now - away
}

// reviewBin takes in a minute after the return and decides when enough have
// come.
func (d *Detector) reviewBin(t, mean float64) {
	r := &d.review
	if !r.on || t < r.from {
		return
	}
	r.sum += mean - (r.h + r.b*(t-r.from))
	r.n++
	if t < r.due {
		return
	}
	r.on = false
	r.e.drop, r.e.level, r.e.spread = -r.sum/float64(r.n), mean, r.spread
	if r.e.looksFed(&d.curve) {
		d.foundFeed(r.startAt)
	} else if r.e.seen && d.opts.Kind != Bowl {
		r.realign(&d.curve, -r.e.drop)
	}
}

// putBackMM is how far off a lifted jar is usually put back, one standard
// deviation: a guess that the kitchen's lifts of up to 4 mm meet.
const putBackMM = 2.3

// realign moves what is remembered of the curve by the part of a jump of the
// level that is surely one: the jar was put back higher or lower, and a top
// that lies millimetres off would be taken for a fall or hide one.
func (r *review) realign(c *curve, jump float64) {
	f := &c.feed
	_, sd := c.trend.speed()
	doubt := r.spread*r.spread + sd*sd*reviewHours*reviewHours/4 + c.noise.wander + c.noise.ofBin(1)/4
	by := jump * putBackMM * putBackMM / (putBackMM*putBackMM + doubt)
	f.base += by
	if h, _ := c.trend.at(0); r.high+by >= h {
		f.high, f.highAt = r.high+by, r.highAt
	} else {
		f.high, f.highAt = h, c.trend.now
	}
}

// foundFeed starts a feed that was not marked.
func (d *Detector) foundFeed(since float64) {
	d.begin("found")
	d.feed.at = since
	d.thermal.hours = (d.clock.hours - since) * growth.Pace(d.thermal.tempC)
	at := d.clock.time(since)
	d.say(Event{Kind: EventFed, FeedAt: at, PeakAt: at, RiseRatio: 1, Source: "found"})
}

// hindsight finds a feed by its rise: after a collapse, a jar that was away
// for a moment and climbs again was fed, however little its level moved.
func (d *Detector) hindsight(h float64) {
	f := &d.feed
	f.low = min(f.low, h)
	rise := f.high - f.base
	if f.absentAt <= f.highAt || h-f.low < max(lateRiseMM, lateRisePart*rise) || d.trend.falling(0) > 0.01 {
		return
	}
	since, low := f.absentAt, f.low
	trend, noise := d.trend, d.noise
	d.foundFeed(since)
	d.trend, d.noise = trend, noise
	d.feed.base, d.feed.base0, d.feed.baseN, d.feed.high, d.feed.highAt = low, low, baseBins, h, trend.now
}
