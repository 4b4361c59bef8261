package planning

import (
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
)

// TestPlanEndsTheBulkWhereTheBestLoavesDid takes the target that five invented loaves
// offer, and gives it back.
func TestPlanEndsTheBulkWhereTheBestLoavesDid(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, leavendtest.PlanBowl)
	ask := Ask{Vessel: "bramble", Recipe: "pan loaf", Ready: time.Date(2026, 11, 28, 17, 0, 0, 0, time.UTC)}
	rise := func() float64 {
		t.Helper()
		_, _, courses, err := k.planner().Answer(t.Context(), ask, leavendtest.ThursdayEvening)
		if err != nil || len(courses) == 0 {
			t.Fatal(err)
		}
		for _, w := range courses[0].Waits {
			if w.Rise > 0 {
				return w.Rise
			}
		}
		t.Fatal("no dough rises")
		return 0
	}
	usual := rise()
	for i, one := range []struct {
		stars int
		rise  float64
	}{{5, 0.45}, {4, 0.48}, {5, 0.46}, {2, 0.95}, {1, 0.2}} {
		for _, cold := range []bool{false, true} {
			at := leavendtest.ThursdayEvening.AddDate(0, 0, i-10)
			d := &store.Dough{Bowl: "trough", Mixed: at.Add(-8 * time.Hour), Recipe: "pan loaf", Cold: cold, Rise: one.rise, TempC: 21}
			if _, err := k.m.Store.Journal.AddBake(t.Context(), store.Bake{Vessel: "bramble", At: at, Stars: one.stars, Dough: d}); err != nil {
				t.Fatal(err)
			}
		}
	}
	if got := rise(); got != usual {
		t.Errorf("before it is taken, the bulk ends at %g and not at %g", got, usual)
	}
	for _, use := range []bool{true, false} {
		for _, cold := range []bool{false, true} {
			if known, err := k.m.Loaves().UseStop(t.Context(), monitor.LoafKind{Recipe: "pan loaf", Cold: cold}, use); err != nil || !known {
				t.Fatal(known, err)
			}
		}
		if got := rise(); use != (got < usual-0.1) || !use && math.Abs(got-usual) > 1e-9 {
			t.Errorf("taken %v, the bulk ends at %g; by the table at %g", use, got, usual)
		}
	}
}
