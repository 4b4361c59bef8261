package peak

import (
	"math"
	"time"
)

// lagScale shapes the lag that a juror states: asinh(20·lag), with the lag
// over the hours since the feed.
const lagScale = 20

// softmax turns four scores into chances.
func softmax(x []float64) (p [4]float64) {
	top := math.Inf(-1)
	for _, v := range x {
		top = max(top, v)
	}
	sum := 0.0
	for i, v := range x {
		p[i] = math.Exp(v - top)
		sum += p[i]
	}
	for i := range p {
		p[i] /= sum
	}
	return p
}

// risen reports whether the rise is more than a dead starter's creeping.
func (d *Detector) risen() bool {
	rise := d.feed.high - d.feed.base
	return d.feed.baseN >= baseBins && rise >= max(d.opts.MinRiseMM, 4*math.Sqrt(d.noise.ofBin(1)))
}

// topIsHere reports whether the jar stands on its top: the jury says so.
func (d *Detector) topIsHere() bool {
	if d.climbing() {
		return false
	}
	d.view.read(d)
	d.verdict = hear(&d.view, d.habit.feeds > 0)
	return d.verdict[jurorCall] > juryLimit
}

// climbing reports whether the rise goes on so plainly that nobody need be
// asked.
func (d *Detector) climbing() bool { return d.signs[signSpeed] > climbingSpeed }

const (
	juryLimit     = 1
	climbingSpeed = 1.5 // thirds of a deviation above zero
)

// callPeak makes the call.
func (d *Detector) callPeak() {
	q := [3]float64{d.verdict[jurorLag], d.verdict[jurorLag+1], d.verdict[jurorLag+2]}
	sort3(&q)
	hours := max(d.trendAt-d.feed.at, 0.1)
	at := func(i int) time.Time { return d.clock.time(d.trendAt + math.Sinh(q[i])/lagScale*hours) }
	f := &d.feed
	f.called = true
	f.call = Event{Kind: EventPeak, PeakAt: at(1), Low: at(0), High: at(2),
		RiseRatio: d.ratio(f.high), RiseMM: f.high - f.base, HeightMM: f.high}
	d.say(f.call)
	f.call = d.events[len(d.events)-1]
	d.hasForecast = false
}

// whyNoCall says what a call is waiting for.
func (d *Detector) whyNoCall() string {
	switch {
	case !d.trend.begun || d.feed.baseN < baseBins:
		return "too few readings since the feed"
	case !d.risen():
		return "it has not risen enough"
	}
	if d.cold() {
		return "too cold to tell; it goes on when it is warm again"
	}
	return "still rising"
}
