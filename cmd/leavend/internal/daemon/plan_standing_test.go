package daemon

import (
	"context"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
)

// TestPlanUsesTheRisingJar: a jar that was fed two hours ago and whose peak is
// forecast is used, and the plan moves as it rises. The curve is invented.
func TestPlanUsesTheRisingJar(t *testing.T) {
	ctx := context.Background()
	fed := leavendtest.ThursdayEvening.Add(-10 * time.Hour) // 08:04 in Oslo
	now := fed.Add(2 * time.Hour)
	d := planningDaemon(t, t.TempDir(), now)
	if _, err := d.Store.Journal.AddFeed(ctx, store.Feed{Vessel: "bramble", At: fed, KeptG: 60, WaterG: 60, Flours: []store.Flour{{Kind: "wheat", Grams: 60}}}); err != nil {
		t.Fatal(err)
	}
	expect := func(peakAfter time.Duration) {
		d.plans.StatusOf = func(*monitor.Vessel, time.Time) monitor.Status {
			return monitor.Status{Stage: monitor.Rising, Feed: &monitor.FeedStatus{At: fed}, Forecast: foretold(fed.Add(peakAfter), 20*time.Minute)}
		}
	}
	expect(4 * time.Hour)
	sheet, err := d.plans.Offer(ctx, planning.Ask{Ready: now.Add(26 * time.Hour)})
	if err != nil || len(sheet.Plans) == 0 {
		t.Fatal(err, sheet.NoPlan)
	}
	first := sheet.Plans[0]
	if s := first.Steps[0]; s.Name != "top" || !strings.Contains(s.Text, "use 100 g and keep 20 g") {
		t.Fatalf("the first step is %q", s.Text)
	}
	for _, s := range first.Steps {
		if s.Name == "feed" {
			t.Errorf("it feeds a rising jar: %q", s.Text)
		}
	}
	if err := d.plans.Choose(ctx, first.ID); err != nil {
		t.Fatal(err)
	}
	mix := stepOf(t, d.plans.Chosen(), "mix").At
	expect(5*time.Hour + 30*time.Minute)
	d.to(t, now.Add(30*time.Minute))
	if moved := stepOf(t, d.plans.Chosen(), "mix").At.Sub(mix); moved < time.Hour {
		t.Errorf("the peak comes an hour and a half later; the mixing moved by %v", moved)
	}
}
