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
	c := d.weighTemplates()
	warm := c.warm
	tempo := pace(d.thermal.tempC)
	h, v := d.trend.at(0)
	now := fanNow{warm: warm, rise: h - d.feed.base, sd: math.Sqrt(v)}
	var share [templateTimes]float64
	d.fanTimes(&share, warm, tempo)
	reach := max(d.forecast.High.Sub(d.clock.time(d.trendAt)).Hours()*fanBeyond, fanLeast)
	for i := range fan {
		ahead := reach * float64(i) / (FanPoints - 1)
		low, mid, high := c.expect(warm+ahead*tempo, &share, now)
		fan[i] = FanPoint{d.clock.time(d.trendAt + ahead), low, mid, high}
	}
	return fan, true
}

// weighTemplates weighs the courses against the curve so far.
func (d *Detector) weighTemplates() *templates {
	if d.templates == nil {
		d.templates = newTemplates(d.model)
	}
	size := guess{templateSize, templateSizeSD}
	if d.opts.Kind == Bowl {
		size = guess{1.5 * d.wanted(), 0.5 * d.wanted()}
	} else if d.profile.feeds > 0 {
		size = guess{math.Exp(d.profile.rise), math.Exp(d.profile.rise) * d.profile.riseSD}
	}
	d.templates.renew(&d.path, max(d.thermal.hours, 0.1), d.noise.ofMinute()/4, size)
	return d.templates
}

// fanNow is where the curve stands at the moment of the fan.
type fanNow struct{ warm, rise, sd float64 }

// fanTimes says how likely each time of the top is by the stated forecast,
// which knows more than the courses.
func (d *Detector) fanTimes(share *[templateTimes]float64, warm, tempo float64) {
	left := func(t time.Time) float64 {
		return math.Log(max(t.Sub(d.clock.time(d.trendAt)).Hours()*tempo/warm, 0) + forecastSoft)
	}
	lo, mid, hi := left(d.forecast.Low), left(d.forecast.PeakAt), left(d.forecast.High)
	chance := func(j float64) float64 {
		t := d.templates.warm * math.Exp(templateStep*(j-templateBefore))
		y := logLeft(t / warm)
		if t <= warm {
			y = math.Log(forecastSoft) - (warm-t)/warm/forecastSoft
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
func (c *templates) expect(at float64, share *[templateTimes]float64, now fanNow) (low, mid, high float64) {
	var bins [fanBins]float64
	most := max(2.5*c.size, 1.5*now.rise, 10)
	for j, p := range share {
		if p < 1e-5 {
			continue
		}
		t := c.warm * math.Exp(templateStep*float64(j-templateBefore))
		whole := float64(c.after[j]) + templateCount*fanFaint
		for k := range c.post {
			w := p * (float64(c.post[k][j]) + fanFaint) / whole
			if w < 1e-6 {
				continue
			}
			a := float64(c.amp[k][j])
			// The course goes through the present point, whatever it
			// thinks of the past.
			y := now.rise + a*(c.templateAt(k, at/t)-c.templateAt(k, now.warm/t))
			bins[int(min(max(y/most, 0), 0.9999)*fanBins)] += w
		}
	}
	level := func(q float64) float64 { return most * quantileOf(bins[:], q) }
	return level(0.1) - now.sd, level(0.5), level(0.9) + now.sd
}

// templateAt reads a shape at a share of the way to its top.
func (c *templates) templateAt(k int, x float64) float64 {
	if x <= 0 {
		return 0
	}
	m := templateBefore - math.Log(x)/templateStep
	if m <= 0 {
		return float64(c.m.template(k, 0)[0])
	}
	i := int(m)
	if i >= 2*templateHalf-1 {
		return 0
	}
	f := m - float64(i)
	a, b := c.m.template(k, i&1)[i>>1], c.m.template(k, (i+1)&1)[(i+1)>>1]
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
