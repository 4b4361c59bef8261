package peak

import (
	"math"
	"time"
)

// callWorth is what a call is worth before, on and after the top, and where
// there is none: an early call wakes a baker for nothing, a late one is only
// late, and one for a dead starter is a lie.
var callWorth = [4]float64{-0.8, 1, 0, -4}

// The outputs of the network of the call: four scores for where the jar
// stands, what waiting is worth, and three quantiles of the time to the top.
const (
	callWait = 4
	callLag  = 5
	callOuts = 8
	lagScale = 20 // the lag over hours so far is asked for as asinh(20·lag)
)

// stopValues returns what a call now is worth and what waiting is.
func (n net) stopValues(s *signs) (now, wait float64) {
	var out [netOutMax]float64
	n.run(s, &out)
	for i, p := range softmax(out[:4]) {
		now += p * callWorth[i]
	}
	return now, out[callWait]
}

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

// topIsHere reports whether the jar stands on its top: a call is worth more
// than waiting, and it is about three to one that the rise is over. The
// second keeps the networks from betting on a top that they only expect. Two
// networks, learnt apart, are asked and averaged, which takes out some of
// their noise.
func (d *Detector) topIsHere() bool {
	now, wait := callNet.stopValues(&d.signs)
	nowB, waitB := callNetB.stopValues(&d.signs)
	now, wait = (now+nowB)/2, (wait+waitB)/2
	return now >= wait-callHaste && now > 0 && d.signs[signSpeed] < callSure
}

// callSure is how far below zero the speed must be, in thirds of a deviation.
const callSure = -0.2

// callHaste is how much less than waiting a call may be worth. What waiting is
// worth was learnt from whole curves and flatters it a little; with this the
// early and the late calls on fresh curves are in balance.
const callHaste = 0.05

// callPeak makes the call.
func (d *Detector) callPeak() {
	var out [netOutMax]float64
	callNet.run(&d.signs, &out)
	q := [3]float64{out[callLag], out[callLag+1], out[callLag+2]}
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
