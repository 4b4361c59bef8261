package peak

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"leavend/sensor/sim"

	"leavend/peak/quadratic"
)

// Two yardsticks frame what can be reached on the kitchen's recordings: the
// parabola, which anyone could write, and a smoother that sees the whole
// recording, which no detector can be.

// hindsightTops puts the top of each feed where a local quadratic with a bell
// of some hours, laid over the whole recording, is highest.
func hindsightTops(rec invented, start time.Time, bell float64) (events []Event) {
	t, y := plainMinutes(rec.rows, start)
	for k, f := range rec.feeds {
		end := math.Inf(1)
		if k+1 < len(rec.feeds) {
			end = rec.feeds[k+1].feed - 0.2
		}
		best, at := math.Inf(-1), f.feed
		for i := range t {
			if t[i] < f.feed+0.2 || t[i] >= end {
				continue
			}
			if h, ok := smoothAt(t, y, i, f.feed, end, bell); ok && h > best {
				best, at = h, t[i]
			}
		}
		when := start.Add(time.Duration(at * float64(time.Hour)))
		events = append(events, Event{Kind: EventPeak, At: when, PeakAt: when})
	}
	return events
}

// smoothAt is the height of a local quadratic at minute i.
func smoothAt(t, y []float64, i int, from, to, bell float64) (float64, bool) {
	reach := 3 * bell
	lo, hi := i, i
	for lo > 0 && t[lo-1] > max(from, t[i]-reach) {
		lo--
	}
	for hi < len(t) && t[hi] < min(to, t[i]+reach) {
		hi++
	}
	var q quadratic.Fit
	for j := lo; j < hi; j++ {
		x := (t[j] - t[i]) / bell
		q.Add(t[j]-t[i], y[j], math.Exp(-x*x/2))
	}
	h, _, _, ok := q.Solve()
	return h, ok
}

// plainMinutes returns the medians of whole minutes, in hours from start; one
// that is far from the median of the quarter of an hour around it is replaced
// by that.
func plainMinutes(rows []sample, start time.Time) (t, y []float64) {
	var of []float64
	minute := math.Inf(-1)
	for i, s := range rows {
		m := math.Floor(s.at.Sub(start).Minutes())
		if m != minute && len(of) > 0 {
			slices.Sort(of)
			t, y = append(t, (minute+0.5)/60), append(y, of[len(of)/2])
			of = of[:0]
		}
		minute = m
		if !math.IsNaN(rows[i].height) {
			of = append(of, s.height)
		}
	}
	calm := make([]float64, len(y))
	for i := range y {
		w := append([]float64(nil), y[max(0, i-7):min(len(y), i+8)]...)
		slices.Sort(w)
		if calm[i] = y[i]; math.Abs(y[i]-w[len(w)/2]) > 6 {
			calm[i] = w[len(w)/2]
		}
	}
	return t, calm
}

// TestCallYardsticks measures the detector and both yardsticks on the very same
// recordings of the kitchen.
func TestCallYardsticks(t *testing.T) {
	n := campaignSize(10)
	family := func(r *sim.Recording) string { return r.Truth.Family }
	var figs [3]map[string]figures
	var falseCalls [3]int
	for i, run := range []func(rec invented, start time.Time) []Event{
		func(rec invented, _ time.Time) []Event { return runInvented(rec, Opts{}) },
		func(rec invented, _ time.Time) []Event { return runParabola(rec) },
		func(rec invented, start time.Time) []Event { return hindsightTops(rec, start, 10.0/60) },
	} {
		sum := kitchenTally(n, family, run)
		figs[i], falseCalls[i] = byName(sum.rows), sum.falseCalls
	}
	table := "                 leavend              parabola        sees the future\n" +
		"           on-top early late   on-top early late   on-top early late   %\n"
	for _, name := range append(kitchenFamilies(), "ALL") {
		table += fmt.Sprintf("%-9s", name)
		for i := range figs {
			f := figs[i][name]
			share := 100 / float64(max(f.n, 1))
			table += fmt.Sprintf("  %6.1f %5.1f %4.1f", f.onTop, float64(f.early)*share, float64(f.late+f.miss)*share)
		}
		table += "\n"
	}
	t.Logf("late counts the missed as well\n%sfalse calls %d, %d, -", table, falseCalls[0], falseCalls[1])
	ours, base, best := figs[0]["ALL"].onTop, figs[1]["ALL"].onTop, figs[2]["ALL"].onTop
	if ours < base+10 || best < ours-5 {
		t.Errorf("on-top: leavend %.1f %%, the parabola %.1f %%, in hindsight %.1f %%", ours, base, best)
	}
}

func kitchenFamilies() []string {
	return []string{"dome", "flat", "sharp", "shoulder", "slow", "crater", "weak", "jerky", "wide", "double"}
}

// byName parts outcomes by their names; ALL holds them together.
func byName(rows []outcome) map[string]figures {
	groups := map[string][]outcome{"ALL": rows}
	for _, r := range rows {
		groups[r.name] = append(groups[r.name], r)
	}
	figs := map[string]figures{}
	for name, g := range groups {
		figs[name] = figuresOf(g)
	}
	return figs
}
