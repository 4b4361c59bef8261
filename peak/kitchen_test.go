package peak

import (
	"fmt"
	"sync"
	"testing"

	"leavend/sensor/kitchen"
)

// fromKitchen takes a recording of the simulated kitchen, which was written
// apart from this package and its families of curves.
func fromKitchen(r *kitchen.Recording) invented {
	rec := invented{name: r.Truth.Family, hours: r.Rows[len(r.Rows)-1].Elapsed.Hours()}
	for _, row := range r.Rows {
		rec.rows = append(rec.rows, sample{at: row.At, height: -row.DistanceMM, temp: row.TempC, fed: row.Fed})
	}
	any := false
	for _, f := range r.Truth.Feeds {
		hour := func(at interface{ Unix() int64 }) float64 { return float64(at.Unix()-r.Truth.Start.Unix()) / 3600 }
		tr := truth{feed: hour(f.Fed), marked: f.Marked, peaked: f.Peaked, rise: f.RiseMM}
		if f.Peaked {
			any = true
			tr.peak, tr.lo, tr.hi = hour(f.Top), hour(f.Lo), hour(f.Hi)
		}
		rec.feeds = append(rec.feeds, tr)
	}
	if !any {
		rec.feeds = nil
	}
	return rec
}

// kitchenTally judges over consecutive seeds, which walk through the whole
// range of the kitchen. by groups the outcome by family or by case.
func kitchenTally(n int, by func(r *kitchen.Recording) string, run func(invented) []Event) *tally {
	var sum tally
	var mu sync.Mutex
	var wg sync.WaitGroup
	for w := range 2 {
		wg.Go(func() {
			for seed := w; seed < n; seed += 2 {
				r := kitchen.RandomRecording(uint64(seed))
				rec := fromKitchen(r)
				rec.name = by(r)
				events := run(rec)
				mu.Lock()
				sum.add(rec, r.Truth.Start, events)
				mu.Unlock()
			}
		})
	}
	wg.Wait()
	return &sum
}

func TestKitchen(t *testing.T) {
	n := 22
	if s := campaignSize(0); s > 0 {
		n = s
	}
	run := func(rec invented) []Event { return runInvented(rec, Opts{}) }
	sum := kitchenTally(n, func(r *kitchen.Recording) string { return r.Truth.Family }, run)
	t.Log("\n" + sum.report())
	if n > 100 {
		sum := kitchenTally(n, func(r *kitchen.Recording) string { return "~" + r.Truth.Case }, run)
		t.Log("\n" + sum.report())
	}
}

func TestCatalogue(t *testing.T) {
	for _, e := range kitchen.Catalogue() {
		for seed := range uint64(3) {
			r := e.Record(seed)
			rec := fromKitchen(r)
			line := fmt.Sprintf("%-45s %d:", e.Name, seed)
			for _, f := range rec.feeds {
				line += fmt.Sprintf(" feed %.2f top %.2f (%.2f-%.2f)", f.feed, f.peak, f.lo, f.hi)
			}
			line += " |"
			for _, ev := range runInvented(rec, Opts{}) {
				if ev.Kind != EventForecast {
					line += fmt.Sprintf(" %s%s %.2f", ev.Kind, ev.Source, ev.At.Sub(r.Truth.Start).Hours())
				}
			}
			t.Log(line)
		}
	}
}
