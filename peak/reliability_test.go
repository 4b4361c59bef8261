package peak

import (
	"fmt"
	"math"
	"strings"
	"sync"
	"testing"
	"time"

	"leavend/sensor/sim/simtest"
)

// This file measures the forecast: how far off and how honest it is at every
// stage of the way.

// stagesOfWay are the shares of the way from feed to top that are looked at.
var stagesOfWay = [...]float64{0.3, 0.5, 0.62, 0.8, 0.9, 0.97}

// reliability gathers what was forecast at each stage.
type reliability struct {
	feeds int
	miss  [len(stagesOfWay)][]float64 // minutes off, one for each forecast
	wide  [len(stagesOfWay)][]float64 // half the interval, minutes
	below [len(stagesOfWay)]int       // tops before the interval
	above [len(stagesOfWay)]int       // tops behind it
}

// add takes in the forecasts of a recording's feeds from the first-th on.
func (r *reliability) add(rec invented, start time.Time, events []Event, first int) {
	hour := func(at time.Time) float64 { return at.Sub(start).Hours() }
	for k, f := range rec.feeds {
		if !f.peaked || k < first {
			continue
		}
		r.feeds++
		for i, share := range stagesOfWay {
			var last Event
			for _, e := range events {
				if h := hour(e.At); e.Kind == EventForecast && h >= f.feed && h <= f.feed+share*(f.peak-f.feed) {
					last = e
				}
			}
			if last.At.IsZero() {
				continue
			}
			r.miss[i] = append(r.miss[i], 60*math.Abs(hour(last.PeakAt)-f.peak))
			r.wide[i] = append(r.wide[i], 30*last.High.Sub(last.Low).Hours())
			switch {
			case f.peak < hour(last.Low):
				r.below[i]++
			case f.peak > hour(last.High):
				r.above[i]++
			}
		}
	}
}

// held returns the share of intervals that held the top at a stage, in %.
func (r *reliability) held(i int) float64 {
	n := float64(len(r.miss[i]))
	return 100 * (n - float64(r.below[i]+r.above[i])) / n
}

func (r *reliability) String() string {
	var b strings.Builder
	b.WriteString("way   given  median   p90   half width   held  before  after\n")
	for i, share := range stagesOfWay {
		n := float64(len(r.miss[i]))
		fmt.Fprintf(&b, "%3.0f %%  %3.0f %%  %6.1f %6.1f  %8.1f min  %3.0f %%  %3.0f %%  %3.0f %%\n", 100*share, 100*n/float64(r.feeds),
			percentile(r.miss[i], 50), percentile(r.miss[i], 90), percentile(r.wide[i], 50),
			r.held(i), 100*float64(r.below[i])/n, 100*float64(r.above[i])/n)
	}
	return b.String()
}

// TestReliability: at every stage of the way the interval holds the top about
// four times in five. The kitchen's seeds are those of TestKitchen, the
// histories' are their own; none was learnt from.
func TestReliability(t *testing.T) {
	n := campaignSize(25)
	var mu sync.Mutex
	var alone, learnt reliability
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for seed := w; seed < n; seed += 2 {
				r := simtest.RandomRecording(uint64(seed))
				rec := fromKitchen(r)
				events := runInvented(rec, Opts{})
				mu.Lock()
				alone.add(rec, r.Truth.Start, events, 0)
				mu.Unlock()
				if seed%12 != 0 {
					continue
				}
				r = simtest.History(uint64(seed), 6)
				rec = fromKitchen(r)
				events = runInvented(rec, Opts{})
				mu.Lock()
				learnt.add(rec, r.Truth.Start, events, 4)
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	t.Logf("nothing known of the starter\n%safter four feeds\n%s", &alone, &learnt)
	for i, share := range stagesOfWay {
		if h := alone.held(i); share <= 0.8 && h < 55 || n > 200 && h > 95 {
			t.Errorf("at %.0f %% of the way the interval held the top in %.0f %%, want about 80", 100*share, h)
		}
	}
}
