package monitor

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/store"
)

// BenchmarkKitchen measures a kitchen of which years are on record, and reports the cost
// beside that of reading a day's curve from the same store, which the page does for each
// visit. The jar's probe never goes into the fridge with it, so no stay ends the search.
func BenchmarkKitchen(b *testing.B) {
	now := time.Now().Truncate(time.Hour)
	for _, years := range []int{0, 3} {
		b.Run([]string{"weeks", "years"}[min(years, 1)], func(b *testing.B) {
			m, _ := watched(b, "bramble", now, nil)
			ctx, s := b.Context(), m.Store
			if err := m.OpenKept(ctx); err != nil {
				b.Fatal(err)
			}
			days := years*365 + 21
			for day := days; day > 0; day-- {
				at := now.AddDate(0, 0, -day)
				if _, err := s.Journal.AddFeed(ctx, store.Feed{Vessel: "bramble", At: at, KeptG: 50, WaterG: 100, Flours: []store.Flour{{Kind: "wheat", Grams: 100}}}); err != nil {
					b.Fatal(err)
				}
				if day%3 == 0 {
					for _, in := range []time.Time{at.Add(6 * time.Hour), {}} {
						if err := m.Fridge.Set(ctx, s, "bramble", in); err != nil {
							b.Fatal(err)
						}
					}
				}
				for minute := 0; day < 21 && minute < 24*60; minute++ {
					then := at.Add(time.Duration(minute) * time.Minute)
					for _, c := range []store.Channel{store.Height, store.Warmth, store.RoomTemp} {
						s.Readings.Add(store.Reading{Vessel: "bramble", Channel: c, At: then, Value: 21 + math.Sin(float64(minute)/200)})
					}
				}
			}
			if err := s.Readings.Flush(ctx); err != nil {
				b.Fatal(err)
			}
			day, kitchen := time.Duration(0), time.Duration(0)
			for b.Loop() {
				began := time.Now()
				if _, err := s.Readings.Window(ctx, "bramble", now.AddDate(0, 0, -1), now, 500); err != nil {
					b.Fatal(err)
				}
				read := time.Now()
				if _, err := KitchenOf(ctx, s, m.Conf, "bramble", now); err != nil {
					b.Fatal(err)
				}
				day, kitchen = day+read.Sub(began), kitchen+time.Since(read)
			}
			b.ReportMetric(kitchen.Seconds()/day.Seconds(), "days-read")
			b.ReportMetric(1000*kitchen.Seconds()/float64(b.N), "ms/kitchen")
		})
	}
}

// However many stays are on record, a few are looked at.
func TestFewStaysAreTried(t *testing.T) {
	m, _ := watched(t, "bramble", time.Now(), nil)
	if err := m.OpenKept(t.Context()); err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	for i := range 3 * staysTried {
		if err := m.Fridge.Set(t.Context(), m.Store, "bramble", now.Add(time.Duration(i-100)*time.Hour)); err != nil {
			t.Fatal(err)
		}
	}
	stays, err := staysOf(t.Context(), m.Store)
	if err != nil || len(stays) != staysTried || stays[0].from.Sub(now.Add(time.Duration(3*staysTried-101)*time.Hour)).Abs() > time.Second {
		t.Errorf("%d stays are tried, the first %+v, %v", len(stays), stays[0], err)
	}
}
