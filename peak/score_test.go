package peak

import (
	"fmt"
	"math"
	"sort"
	"strings"
	"time"
)

// This file scores a detector the way a baker would: was the call made while
// the jar stood on its peak, and were the forecasts any good.

// outcome is what a detector made of one feed.
type outcome struct {
	name              string
	calls             int
	verdict           string
	errMin, delayMin  float64    // NaN when missed
	near              bool       // within 5 % of the rise, at least 2 mm: what a baker still calls ripe
	held              [4]float64 // whether the interval held the top at stages of the way; NaN without one
	back              float64    // whether who comes at the interval's begin, as said at 62 %, is in time
	eta               [2]float64
	covered, offered  int
	history           bool
	found, wantsFound bool
}

// heldStages are the shares of the way from feed to top at which intervals are
// judged.
var heldStages = [4]float64{0.3, 0.5, 0.62, 0.8}

// tally gathers outcomes.
type tally struct {
	rows       []outcome
	falseCalls int
	falseFeeds int
	quietHours float64
}

// runInvented drives a detector over an invented recording.
func runInvented(rec invented, o Opts) (events []Event) {
	d := newTried(o)
	for _, s := range rec.rows {
		if s.fed {
			events = append(events, d.Fed(s.at)...)
		}
		events = append(events, d.Add(s.at, s.height, s.temp)...)
	}
	return events
}

// add scores the events of one recording.
func (t *tally) add(rec invented, start time.Time, events []Event) {
	hour := func(at time.Time) float64 { return at.Sub(start).Hours() }
	if len(rec.feeds) == 0 {
		t.quietHours += rec.hours
		for _, e := range events {
			switch {
			case e.Kind == EventPeak:
				t.falseCalls++
			case e.Kind == EventFed && e.Source == "found":
				t.falseFeeds++
			}
		}
		return
	}
	for _, e := range events {
		if e.Kind == EventFed && e.Source == "found" && !nearFeed(rec.feeds, hour(e.FeedAt)) {
			t.falseFeeds++
		}
	}
	for k, f := range rec.feeds {
		end := math.Inf(1)
		if k+1 < len(rec.feeds) {
			end = rec.feeds[k+1].feed
		}
		if f.peaked {
			t.rows = append(t.rows, scoreFeed(rec, k, f, end, events, hour))
		}
	}
}

func nearFeed(feeds []truth, h float64) bool {
	for _, f := range feeds {
		if math.Abs(h-f.feed) < 25.0/60 {
			return true
		}
	}
	return false
}

func scoreFeed(rec invented, k int, f truth, end float64, events []Event, hour func(time.Time) float64) outcome {
	o := outcome{name: rec.name, verdict: "miss", errMin: math.NaN(), delayMin: math.NaN(),
		eta: [2]float64{math.NaN(), math.NaN()}, history: rec.history && k >= 4, wantsFound: !f.marked && k > 0,
		back: math.NaN()}
	var last [4]Event
	for _, e := range events {
		h := hour(e.At)
		if e.Kind == EventFed && math.Abs(h-f.feed) < 25.0/60 {
			o.found = true
		}
		if h < f.feed || h >= end {
			continue
		}
		switch e.Kind {
		case EventPeak:
			o.calls++
			if o.calls == 1 {
				o.judge(h, hour(e.PeakAt), f)
			}
		case EventForecast:
			for i, share := range heldStages {
				if h <= f.feed+share*(f.peak-f.feed) {
					last[i] = e
				}
			}
		}
	}
	for i, e := range last {
		o.held[i] = math.NaN()
		if !e.At.IsZero() {
			o.held[i] = 0
			if hour(e.Low) <= f.peak && f.peak <= hour(e.High) {
				o.held[i] = 1
			}
		}
	}
	if e := last[2]; !e.At.IsZero() {
		o.back = 0
		if hour(e.Low) <= f.hi5 {
			o.back = 1
		}
	}
	for i, e := range last[2:] {
		if e.At.IsZero() {
			continue
		}
		o.eta[i] = math.Abs(hour(e.PeakAt)-f.peak) * 60
		o.offered++
		if hour(e.Low) <= f.peak && f.peak <= hour(e.High) {
			o.covered++
		}
	}
	return o
}

// judge fills the verdict of a call made at h for a top at said.
func (o *outcome) judge(h, said float64, f truth) {
	const minute = 1.0 / 60
	switch {
	case h < f.lo-minute:
		o.verdict = "early"
	case h > f.hi+minute:
		o.verdict = "late"
	default:
		o.verdict = "on-top"
	}
	o.near = h >= f.lo5-minute && h <= f.hi5+minute
	o.errMin = math.Abs(said-f.peak) * 60
	o.delayMin = (h - f.peak) * 60
}

// percentile interpolates between order statistics; NaN are left out.
func percentile(v []float64, p float64) float64 {
	var x []float64
	for _, e := range v {
		if !math.IsNaN(e) {
			x = append(x, e)
		}
	}
	if len(x) == 0 {
		return math.NaN()
	}
	sort.Float64s(x)
	k := float64(len(x)-1) * p / 100
	i := int(k)
	return x[i] + (x[min(i+1, len(x)-1)]-x[i])*(k-float64(i))
}

// figures are what the tally comes to.
type figures struct {
	n                          int
	onTop, near                float64    // %
	held                       [4]float64 // %
	back                       float64    // %
	early, late, miss, extra   int
	errMed, err90              float64
	delay10, delayMed, delay90 float64
}

func figuresOf(rows []outcome) figures {
	var f figures
	var err, delay []float64
	for _, r := range rows {
		f.n++
		switch r.verdict {
		case "on-top":
			f.onTop++
		case "early":
			f.early++
		case "late":
			f.late++
		default:
			f.miss++
		}
		if r.calls > 1 {
			f.extra++
		}
		if r.near {
			f.near++
		}
		err, delay = append(err, r.errMin), append(delay, r.delayMin)
	}
	f.onTop *= 100 / float64(max(f.n, 1))
	f.near *= 100 / float64(max(f.n, 1))
	for i := range f.held {
		f.held[i] = shareOf(rows, func(o *outcome) float64 { return o.held[i] })
	}
	f.back = shareOf(rows, func(o *outcome) float64 { return o.back })
	f.errMed, f.err90 = percentile(err, 50), percentile(err, 90)
	f.delay10, f.delayMed, f.delay90 = percentile(delay, 10), percentile(delay, 50), percentile(delay, 90)
	return f
}

// shareOf is the mean in percent of what is a number.
func shareOf(rows []outcome, of func(*outcome) float64) float64 {
	sum, n := 0.0, 0.0
	for i := range rows {
		if v := of(&rows[i]); !math.IsNaN(v) {
			sum, n = sum+v, n+1
		}
	}
	return 100 * sum / n
}

// outlookOf returns median and p90 of the forecast error in minutes at 62 and
// 80 % of the way, the share of intervals that held the top, and the share of
// feeds that had a forecast.
func outlookOf(rows []outcome) (med, p90 [2]float64, cover, given float64) {
	var held, offered int
	for i := range med {
		var v []float64
		for _, r := range rows {
			v = append(v, r.eta[i])
		}
		med[i], p90[i] = percentile(v, 50), percentile(v, 90)
	}
	for _, r := range rows {
		held += r.covered
		offered += r.offered
	}
	return med, p90, 100 * float64(held) / float64(offered), 50 * float64(offered) / float64(len(rows))
}

// report prints the table of the results page.
func (t *tally) report() string {
	var b strings.Builder
	var names []string
	groups := map[string][]outcome{}
	for _, r := range t.rows {
		if groups[r.name] == nil {
			names = append(names, r.name)
		}
		groups[r.name] = append(groups[r.name], r)
	}
	groups["ALL"] = t.rows
	for _, name := range append(names, "ALL") {
		f := figuresOf(groups[name])
		med, p90, _, given := outlookOf(groups[name])
		fmt.Fprintf(&b, "%-10s n=%4d on-top %5.1f%% near %5.1f%% early %3d late %3d miss %3d extra %2d  err %5.1f/%5.1f  delay %6.1f %6.1f %6.1f | eta62 %5.1f/%5.1f eta80 %5.1f/%5.1f given %3.0f%% held %3.0f %3.0f %3.0f %3.0f back %3.0f\n",
			name, f.n, f.onTop, f.near, f.early, f.late, f.miss, f.extra, f.errMed, f.err90, f.delay10, f.delayMed, f.delay90,
			med[0], p90[0], med[1], p90[1], given, f.held[0], f.held[1], f.held[2], f.held[3], f.back)
	}
	var learnt []outcome
	found, wanted := 0, 0
	for _, r := range t.rows {
		if r.history {
			learnt = append(learnt, r)
		}
		if r.wantsFound {
			wanted++
			if r.found {
				found++
			}
		}
	}
	if len(learnt) > 0 {
		med, p90, cover, _ := outlookOf(learnt)
		fmt.Fprintf(&b, "learnt eta62 %.1f/%.1f eta80 %.1f/%.1f cover %.0f%% (n=%d)\n", med[0], p90[0], med[1], p90[1], cover, len(learnt))
	}
	fmt.Fprintf(&b, "false calls %d in %.0f h, feeds found %d of %d, feeds invented %d\n", t.falseCalls, t.quietHours, found, wanted, t.falseFeeds)
	return b.String()
}
