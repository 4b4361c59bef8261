package peak

import "math"

// callChance is the probability that the rise is over at which the call is
// made.
const callChance = 0.94

// topIsHere reports whether the jar stands on its top.
func (d *Detector) topIsHere(h float64) bool {
	rise := d.feed.high - d.feed.base
	if d.feed.baseN < 8 || rise < max(d.opts.MinRiseMM, 4*math.Sqrt(d.noise.ofBin(1))) {
		return false
	}
	return d.trend.falling(0) > callChance
}

// callPeak makes the call.
func (d *Detector) callPeak(h float64) {
	lag := d.trend.topLag(1.5)
	at := min(max(d.trendAt-lag, d.feed.at), d.trendAt+0.5)
	f := &d.feed
	f.called = true
	sd := max(math.Abs(lag), 0.15)
	f.call = Event{Kind: EventPeak, PeakAt: d.clock.time(at),
		Low: d.clock.time(at - sd), High: d.clock.time(at + sd),
		RiseRatio: d.ratio(f.high), RiseMM: f.high - f.base, HeightMM: f.high}
	d.say(f.call)
	f.call = d.events[len(d.events)-1]
	d.hasForecast = false
}

// whyNoCall says what a call is waiting for.
func (d *Detector) whyNoCall() string {
	switch {
	case !d.trend.begun || d.feed.baseN < 8:
		return "too few readings since the feed"
	case d.feed.high-d.feed.base < d.opts.MinRiseMM:
		return "it has not risen enough"
	}
	return "still rising"
}
