package monitor

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/store"
	"leavend/peak/dough"
)

// TestLoafBelongsToItsDough follows an invented loaf from the plan that was chosen to the
// oven.
func TestLoafBelongsToItsDough(t *testing.T) {
	now := time.Now()
	m, v := watched(t, "bowl", now, nil)
	ctx, mixed, baked := t.Context(), now.Add(-20*time.Hour), now.Add(time.Minute)
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	mix := func(at time.Time) {
		_, err := m.Store.Journal.AddFeed(ctx, store.Feed{Vessel: "bowl", At: at, KeptG: 100, Flours: []store.Flour{{Kind: "wheat", Grams: 500}}, WaterG: 350})
		must(err)
	}
	if d, err := m.Loaves().DoughOf(ctx, baked); err != nil || d != nil {
		t.Errorf("without a dough: %+v, %v", d, err)
	}
	mix(mixed)
	if d, err := m.Loaves().DoughOf(ctx, baked); err != nil || d == nil || d.Mixed.Sub(mixed).Abs() > time.Second || d.Recipe != "" || d.Rise != 0 {
		t.Errorf("mixed without a plan: %+v, %v", d, err)
	}
	_, err := m.UseNow(ctx, v.Status(now), DoughChilled, mixed.Add(2*time.Hour)) // pressed by mistake
	must(err)
	must(m.Uses.Set(ctx, m.Store, "bowl", Used{}))
	if d, _ := m.Loaves().DoughOf(ctx, baked); d.Rise != 0 || d.Cold {
		t.Errorf("taken back, it still counts: %+v", d)
	}
	_, err = m.UseNow(ctx, v.Status(now), DoughShaped, mixed.Add(3*time.Hour))
	must(err)
	d, err := m.Loaves().DoughOf(ctx, baked)
	must(err)
	if math.Abs(d.Rise-(100.0/60-1)) > 1e-9 || d.TempC != 20 || d.Cold {
		t.Errorf("shaped at 67 %% and 20 °C, it is %+v", d)
	}
	if d, err := m.Loaves().DoughOf(ctx, mixed.Add(bakedWithin+time.Hour)); err != nil || d != nil {
		t.Errorf("days later it is %+v, %v", d, err)
	}
	if ask, err := m.Loaves().Unrated(ctx); err != nil || ask == nil {
		t.Errorf("it is not asked for: %v", err)
	}
	_, err = m.Store.Journal.AddBake(ctx, store.Bake{Vessel: "bramble", At: now, Stars: 4, Dough: d})
	must(err)
	if ask, err := m.Loaves().Unrated(ctx); err != nil || ask != nil {
		t.Errorf("it is asked for again: %+v, %v", ask, err)
	}
	mix(now.Add(-time.Hour))
	if ask, err := m.Loaves().Unrated(ctx); err != nil || ask != nil {
		t.Errorf("the next is asked for before it can be baked: %+v, %v", ask, err)
	}
}

// Where the best loaves ended is offered, and plans go by it only once it is taken.
func TestOwnStops(t *testing.T) {
	now := time.Now().Truncate(time.Minute)
	m, _ := watched(t, "bowl", now, nil)
	ctx, table := t.Context(), m.Conf.Plan.Stops
	kind := LoafKind{Recipe: "pan loaf"}
	if known, err := m.Loaves().UseStop(ctx, kind, true); known || err != nil {
		t.Errorf("of no loaf it is %v, %v", known, err)
	}
	for i, one := range []struct {
		stars int
		rise  float64
	}{{5, 0.55}, {4, 0.58}, {5, 0.56}, {2, 0.95}, {1, 0.3}} {
		at := now.Add(time.Duration(i-10) * 24 * time.Hour)
		_, err := m.Store.Journal.AddBake(ctx, store.Bake{Vessel: "bramble", At: at, Stars: one.stars, Dough: &store.Dough{Bowl: "bowl", Mixed: at.Add(-8 * time.Hour), Recipe: "pan loaf", Rise: one.rise, TempC: 25}})
		if err != nil {
			t.Fatal(err)
		}
	}
	best, err := m.Loaves().BestStops(ctx)
	if err != nil || len(best) != 1 || best[0].LoafKind != kind || best[0].Rated != 5 || best[0].Middle != 0.56 || best[0].InUse {
		t.Fatalf("offered is %+v, %v", best, err)
	}
	rise := func(c float64, next dough.Next) float64 {
		own, err := OwnStopsOf(ctx, m.Store, m.Conf)
		if err != nil {
			t.Fatal(err)
		}
		return own.Rise(table, "pan loaf", c, next)
	}
	if got := rise(25, dough.RoomProof); got != table.Rise(25, dough.RoomProof) {
		t.Errorf("before it is taken, plans end at %g", got)
	}
	if known, err := m.Loaves().UseStop(ctx, kind, true); !known || err != nil {
		t.Fatal(known, err)
	}
	if got := rise(25, dough.RoomProof); math.Abs(got-0.56) > 1e-9 {
		t.Errorf("taken, plans end at %g", got)
	}
	if warm, cool := rise(25, dough.RoomProof), rise(20, dough.RoomProof); cool <= warm {
		t.Errorf("a cool dough ends at %g, a warm one at %g", cool, warm)
	}
	if got := rise(25, dough.ColdProof); got != table.Rise(25, dough.ColdProof) {
		t.Errorf("loaves from the fridge go by others: %g", got)
	}
	if best, _ := m.Loaves().BestStops(ctx); !best[0].InUse {
		t.Error("it is not shown as taken")
	}
	renamed, _ := m.Conf.Plan.FindRecipe("pan loaf")
	renamed.Name, kind.Recipe = "tin loaf", "tin loaf"
	if err := m.Rules().SetRecipe(ctx, "pan loaf", renamed); err != nil {
		t.Fatal(err)
	}
	if best, err := m.Loaves().BestStops(ctx); err != nil || len(best) != 1 || best[0].LoafKind != kind || best[0].Rated != 5 || !best[0].InUse {
		t.Errorf("of the renamed recipe is known %+v, %v", best, err)
	}
	if known, err := m.Loaves().UseStop(ctx, kind, false); !known || err != nil || rise(25, dough.RoomProof) != table.Rise(25, dough.RoomProof) {
		t.Error("it is not given back")
	}
}

// The weights of a mix say by which recipe it was mixed, whatever its size.
func TestKindOfMix(t *testing.T) {
	m, _ := watched(t, "bowl", time.Now(), nil)
	mix := func(starter float64, flour string, flourG, water float64) store.Feed {
		return store.Feed{KeptG: starter, Flours: []store.Flour{{Kind: flour, Grams: flourG}}, WaterG: water}
	}
	for _, tt := range []struct {
		name string
		mix  store.Feed
		want LoafKind
	}{
		{"the pan loaf", mix(100, "wheat", 500, 330), LoafKind{Recipe: "pan loaf"}},
		{"two pan loaves, nearly", mix(205, "Weizen 550", 1000, 655), LoafKind{Recipe: "pan loaf"}},
		{"the overnight loaf", mix(45, "wheat", 500, 325), LoafKind{Recipe: "overnight loaf"}},
		{"the rye tin", mix(200, "Roggenmehl 1150", 500, 420), LoafKind{Recipe: "rye tin"}},
		{"rye of his own", mix(100, "rye", 500, 380), LoafKind{Rye: true}},
		{"wheat of his own", mix(100, "wheat", 500, 400), LoafKind{}},
		{"as much starter and water as the rye tin, of wheat", mix(200, "wheat", 500, 420), LoafKind{}},
		{"no weights", store.Feed{}, LoafKind{}},
	} {
		if got := m.Loaves().KindOf(tt.mix); got != tt.want {
			t.Errorf("%s: %+v, want %+v", tt.name, got, tt.want)
		}
	}
}

// TestEndOfBulkByItsCurve looks for the end of an invented bulk in its level.
func TestEndOfBulkByItsCurve(t *testing.T) {
	mixed := time.Date(2026, 11, 28, 8, 0, 0, 0, time.UTC)
	const base = 60.0
	curve := func(rises, all time.Duration, then func(after time.Duration) float64) (out []level) {
		for after := time.Duration(0); after < all; after += emptiedStep {
			mm := base * (1 + 0.6*after.Hours()/rises.Hours())
			if after >= rises {
				mm = then(after - rises)
			}
			out = append(out, level{mixed.Add(after), mm})
		}
		return out
	}
	empty := func(time.Duration) float64 { return 3 }
	for _, tt := range []struct {
		name   string
		levels []level
		rise   float64 // 0: none is found
	}{
		{"taken out", curve(4*time.Hour, 10*time.Hour, empty), 0.6},
		{"the bowl is washed and dough for another loaf put in, which is noted as mixed", curve(4*time.Hour, 5*time.Hour, empty), 0.6},
		{"lifted off to fold, and put back", curve(2*time.Hour, 6*time.Hour, func(after time.Duration) float64 {
			if after < 16*time.Minute {
				return 3
			}
			return base * 1.6
		}), 0},
		{"it collapses in the bowl", curve(4*time.Hour, 20*time.Hour, func(time.Duration) float64 { return 0.8 * base }), 0},
		{"just taken out", curve(4*time.Hour, 4*time.Hour+12*time.Minute, empty), 0},
		{"it never rose", []level{{mixed, base}, {mixed.Add(time.Hour), base}, {mixed.Add(2 * time.Hour), 3}, {mixed.Add(3 * time.Hour), 3}}, 0},
		{"no readings", nil, 0},
	} {
		at, rise, ok := endOf(tt.levels)
		if ok != (tt.rise > 0) || ok && (math.Abs(rise-tt.rise) > 0.05 || at.Sub(mixed.Add(4*time.Hour)).Abs() > emptiedStep) {
			t.Errorf("%s: at %v by %g, %v", tt.name, at, rise, ok)
		}
	}
}

// A loaf that was baked without a plan, and of whose dough no button was pressed, is told
// from its curve, and teaches.
func TestLoafWithoutAPlan(t *testing.T) {
	now := time.Now().Truncate(time.Hour)
	m, _ := watched(t, "bowl", now, nil)
	ctx := t.Context()
	for i, one := range []struct {
		stars int
		rise  float64
	}{{5, 0.55}, {4, 0.58}, {5, 0.56}, {2, 0.95}, {1, 0.3}} {
		mixed := now.Add(time.Duration(i-10) * 24 * time.Hour)
		if _, err := m.Store.Journal.AddFeed(ctx, store.Feed{Vessel: "bowl", At: mixed, KeptG: 90, Flours: []store.Flour{{Kind: "wheat", Grams: 500}}, WaterG: 380}); err != nil {
			t.Fatal(err)
		}
		for after := time.Duration(0); after < 6*time.Hour; after += time.Minute {
			mm := 50 * (1 + one.rise*min(max(after.Hours()-0.5, 0)/3.5, 1))
			if after > 4*time.Hour+15*time.Minute {
				mm = 2
			}
			m.Store.Readings.Add(store.Reading{Vessel: "bowl", Channel: store.Height, At: mixed.Add(after), Value: mm})
			m.Store.Readings.Add(store.Reading{Vessel: "bowl", Channel: store.Warmth, At: mixed.Add(after), Value: 25})
		}
		d, err := m.Loaves().DoughOf(ctx, mixed.Add(8*time.Hour))
		if err != nil || d == nil || math.Abs(d.Rise-one.rise) > 0.02 || d.TempC != 25 || d.Recipe != "" || !d.Plan.IsZero() {
			t.Fatalf("loaf %d is of %+v, %v", i, d, err)
		}
		if _, err := m.Store.Journal.AddBake(ctx, store.Bake{Vessel: "bramble", At: mixed.Add(8 * time.Hour), Stars: one.stars, Dough: d}); err != nil {
			t.Fatal(err)
		}
	}
	best, err := m.Loaves().BestStops(ctx)
	if err != nil || len(best) != 1 || best[0].LoafKind != (LoafKind{}) || best[0].Rated != 5 || math.Abs(best[0].Middle-0.56) > 0.03 {
		t.Errorf("offered is %+v, %v", best, err)
	}
}
