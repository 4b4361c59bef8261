package peak

import (
	"math"
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
// stands for itself: the median of many curves is flatter at the top than any
// of them, for their tops lie at different times. A height is the height at
// the feed plus the rise.
type Fan [FanPoints]FanPoint

const (
	fanBeyond = 1.25 // how far the fan reaches, as a share of the time to the interval's end
	fanLeast  = 1.0  // and at least, in hours
	fanBins   = 160
	fanFaint  = 1e-7 // the share that a course keeps which the past contradicts
)

// Fan works out the curve ahead; false where there is no forecast. It takes
// about a millisecond, so it is for when somebody looks.
func (d *Detector) Fan() (fan Fan, ok bool) {
	if !d.hasForecast {
		return fan, false
	}
	c := d.weighCourses()
	warm := c.warm
	tempo := pace(d.warmth.tempC)
	h, v := d.trend.at(0)
	now := fanNow{warm: warm, rise: h - d.feed.base, sd: math.Sqrt(v)}
	var share [courseTimes]float64
	d.fanTimes(&share, warm, tempo)
	reach := max(d.forecast.High.Sub(d.clock.time(d.trendAt)).Hours()*fanBeyond, fanLeast)
	for i := range fan {
		ahead := reach * float64(i) / (FanPoints - 1)
		low, mid, high := c.expect(warm+ahead*tempo, &share, now)
		fan[i] = FanPoint{d.clock.time(d.trendAt + ahead), low, mid, high}
	}
	return fan, true
}

// weighCourses weighs the courses against the curve so far.
func (d *Detector) weighCourses() *courses {
	if d.courses == nil {
		d.courses = newCourses()
	}
	size := guess{courseSize, courseSizeSD}
	if d.opts.Kind == Bowl {
		size = guess{1.5 * d.wanted(), 0.5 * d.wanted()}
	} else if d.habit.feeds > 0 {
		size = guess{math.Exp(d.habit.rise), math.Exp(d.habit.rise) * d.habit.riseSD}
	}
	d.courses.renew(&d.path, max(d.warmth.hours, 0.1), d.noise.ofBin(int(d.noise.perBin+0.5))/4, size)
	return d.courses
}

// fanNow is where the curve stands at the moment of the fan.
type fanNow struct{ warm, rise, sd float64 }

// fanTimes says how likely each time of the top is by the stated forecast,
// which knows more than the courses.
func (d *Detector) fanTimes(share *[courseTimes]float64, warm, tempo float64) {
	left := func(t time.Time) float64 {
		return math.Log(max(t.Sub(d.clock.time(d.trendAt)).Hours()*tempo/warm, 0) + outlookSoft)
	}
	lo, mid, hi := left(d.forecast.Low), left(d.forecast.PeakAt), left(d.forecast.High)
	chance := func(j float64) float64 {
		t := d.courses.warm * math.Exp(courseStep*(j-courseBefore))
		y := logLeft(t / warm)
		if t <= warm {
			y = math.Log(outlookSoft) - (warm-t)/warm/outlookSoft
		}
		if y < mid {
			return normalCDF(z80 * (y - mid) / max(mid-lo, 0.02))
		}
		return normalCDF(z80 * (y - mid) / max(hi-mid, 0.02))
	}
	for j := range share {
		share[j] = chance(float64(j)+0.5) - chance(float64(j)-0.5)
	}
	share[0] += chance(-0.5)
}

// expect returns the quantiles of the rise at some warm hours from the feed,
// when the times of the top are as likely as share says.
func (c *courses) expect(at float64, share *[courseTimes]float64, now fanNow) (low, mid, high float64) {
	var bins [fanBins]float64
	most := max(2.5*c.size, 1.5*now.rise, 10)
	for j, p := range share {
		if p < 1e-5 {
			continue
		}
		t := c.warm * math.Exp(courseStep*float64(j-courseBefore))
		whole := float64(c.after[j]) + courseCount*fanFaint
		for k := range c.post {
			w := p * (float64(c.post[k][j]) + fanFaint) / whole
			if w < 1e-6 {
				continue
			}
			a := float64(c.amp[k][j])
			// The course goes through the present point, whatever it
			// thinks of the past.
			y := now.rise + a*(courseAt(k, at/t)-courseAt(k, now.warm/t))
			bins[int(min(max(y/most, 0), 0.9999)*fanBins)] += w
		}
	}
	level := func(q float64) float64 { return most * quantileOf(bins[:], q) }
	return level(0.1) - now.sd, level(0.5), level(0.9) + now.sd
}

// courseAt reads a shape at a share of the way to its top.
func courseAt(k int, x float64) float64 {
	if x <= 0 {
		return 0
	}
	m := courseBefore - math.Log(x)/courseStep
	if m <= 0 {
		return float64(courseShapes[k][0][0])
	}
	i := int(m)
	if i >= 2*courseHalf-1 {
		return 0
	}
	f := m - float64(i)
	a, b := courseShapes[k][i&1][i>>1], courseShapes[k][(i+1)&1][(i+1)>>1]
	return float64(a) + f*float64(b-a)
}

// quantileOf returns where the q-th part of the bins' mass lies, from 0 to 1.
func quantileOf(bins []float64, q float64) float64 {
	total := 0.0
	for _, b := range bins {
		total += b
	}
	sum := 0.0
	for i, b := range bins {
		if sum+b >= q*total && b > 0 {
			return (float64(i) + (q*total-sum)/b) / float64(len(bins))
		}
		sum += b
	}
	return 1
}
