package peak

import (
	"math"
	"slices"
	"time"
)

// FanPoints is how many moments a fan has.
const FanPoints = 25

// FanPoint is one moment of the curve ahead. The three rises are in mm since
// the feed: the median, and the 80 % band that holds the curve at this moment
// four times in five.
type FanPoint struct {
	At                   time.Time
	LowMM, MidMM, HighMM float64
}

// Fan is the curve that a forecast expects, from the present moment to a
// little beyond the end of the forecast's interval, in even steps. Each moment
// stands for itself: the median of many curves is flatter at the peak than any
// of them, for their peaks lie at different times. A height is the height at
// the feed plus the rise.
type Fan [FanPoints]FanPoint

const (
	fanBeyond = 1.25 // how far the fan reaches, as a share of the time to the interval's end
	fanLeast  = 1.0  // and at least, in hours
	fanTimes  = 10   // times of the peak that are tried, equally likely
)

// course is one way that the curve may go on: up to a peak some hours ahead,
// and down behind it.
type course struct {
	rise, speed float64 // now: mm, mm/h
	most, at    float64 // at the peak: mm, hours from now
	fall        float64 // hours in which a third of the rise is lost
	on          bool    // it is a bowl's target, behind which it rises on
}

// fanWays are the shares of what is still to rise, and how quickly it falls as
// a share of the way, that each time of the peak is tried with. The spread is a
// guess that holds the curves of the tests about four times in five.
var fanWays = [...][2]float64{{0.4, 0.2}, {1.9, 1.2}}

// Fan works out the curve ahead; false where there is no forecast.
func (d *Detector) Fan() (fan Fan, ok bool) {
	if !d.ahead.has {
		return fan, false
	}
	h, v := d.trend.at(0)
	now := d.clock.time(d.trend.now)
	speed, _ := d.trend.speed()
	rising := course{rise: h - d.feed.base, speed: speed, on: d.opts.Kind == Bowl}
	courses := d.ahead.now.courses(rising, now, d.trend.now-d.feed.at)
	reach := max(d.ahead.now.High.Sub(now).Hours()*fanBeyond, fanLeast)
	var rises [fanTimes * len(fanWays)]float64
	for i := range fan {
		ahead := reach * float64(i) / (FanPoints - 1)
		for k := range courses {
			rises[k] = courses[k].after(ahead)
		}
		slices.Sort(rises[:])
		n := len(rises)
		sd := math.Sqrt(v)
		fan[i] = FanPoint{d.clock.time(d.trend.now + ahead), rises[n/10] - sd, (rises[n/2-1] + rises[n/2]) / 2, rises[n-1-n/10] + sd}
	}
	return fan, true
}

// courses lists the ways on: the peak at ten times that are as likely by the
// forecast, each with more and with less still to rise.
func (f *Forecast) courses(from course, now time.Time, age float64) (all [fanTimes * len(fanWays)]course) {
	soft := 0.05 // hours, keeps the logarithm finite
	left := func(t time.Time) float64 { return math.Log(max(t.Sub(now).Hours(), 0) + soft) }
	low, mid, high := left(f.Low), left(f.PeakAt), left(f.High)
	more := max(f.RiseMM-from.rise, 0)
	for i := range fanTimes {
		z := math.Sqrt2 * math.Erfinv(2*(float64(i)+0.5)/fanTimes-1) / z80
		y := mid + z*(mid-low)
		if z > 0 {
			y = mid + z*(high-mid)
		}
		at := max(math.Exp(y)-soft, 0.02)
		for k, way := range fanWays {
			c := from
			c.at, c.fall = at, way[1]*(age+at)
			c.most = from.rise + max(more*way[0]*math.Sqrt(at/(math.Exp(mid)+soft)), 0)
			all[i*len(fanWays)+k] = c
		}
	}
	return all
}

// after returns the rise some hours on: a cubic from the present height and
// speed to the peak, and a bell behind it.
func (c *course) after(hours float64) float64 {
	gain := c.most - c.rise
	if hours <= c.at {
		x := hours / c.at
		speed := min(max(c.speed, 0), 3*gain/c.at) * c.at // a steeper one would overshoot
		return c.rise + gain*x*x*(3-2*x) + speed*x*(1-x)*(1-x)
	}
	if c.on {
		return c.most + 0.7*gain/c.at*(hours-c.at)
	}
	x := (hours - c.at) / c.fall
	return c.most * (1 - 0.6*-math.Expm1(-x*x))
}
