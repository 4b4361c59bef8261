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
		own, err := OwnStopsOf(ctx, m.Store)
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
	if known, err := m.Loaves().UseStop(ctx, kind, false); !known || err != nil || rise(25, dough.RoomProof) != table.Rise(25, dough.RoomProof) {
		t.Error("it is not given back")
	}
}
