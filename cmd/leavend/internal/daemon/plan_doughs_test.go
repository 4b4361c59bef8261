package daemon

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// A dough that is mixed into a bowl is foretold at once, on the page and by MQTT,
// from the doughs before it; after a restart the same is said.
func TestDoughIsForetoldAtTheMix(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		leavendtest.DoughsPast(t, filepath.Join(dir, "leavend.db"), "bramble", time.Now().AddDate(0, 0, -3), 4, 4*time.Hour)
		k := invented(t)
		text := "timezone = \"UTC\"\n" + strings.Replace(leavendtest.JarConfig(dir), "name = \"Bramble\"\n", "name = \"Bramble\"\nkind = \"bowl\"\n", 1)
		h := openTestDaemon(t, k, text, nil)
		h.pass(t, 3*time.Minute, nil)
		look := func() web.Vessel { return shown(h.Daemon, "bramble") }
		if v := look(); v.Forecast != nil && v.Stage == web.Unfed {
			t.Errorf("foretold before the mixing: %+v", v.Forecast)
		}
		mixed := time.Now()
		if _, err := h.Fed(context.Background(), "bramble", store.Feed{KeptG: 100, WaterG: 330, Flours: []store.Flour{{Kind: "wheat", Grams: 500}}}); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 2*time.Minute, nil)
		first := look()
		if first.Forecast == nil || !strings.Contains(first.Note, "from your last 4 doughs") {
			t.Fatalf("at the mixing %+v, %q", first.Forecast, first.Note)
		}
		// The mat holds 26 °C; at 24 it took four hours.
		if d := first.Forecast.TopAt.Sub(mixed); d < 3*time.Hour || d > 4*time.Hour+10*time.Minute || !first.Forecast.LowAt.Before(first.Forecast.TopAt) || !first.Forecast.TopAt.Before(first.Forecast.HighAt) {
			t.Errorf("foretold for %v after the mixing, %v to %v", d, first.Forecast.LowAt.Sub(mixed), first.Forecast.HighAt.Sub(mixed))
		}
		if out := h.link.vessel(h.Vessel("bramble")); !out.PeakAt.Equal(first.Forecast.TopAt) || !out.PeakLow.Equal(first.Forecast.LowAt) {
			t.Errorf("by MQTT %v, on the page %v", out.PeakAt, first.Forecast.TopAt)
		}
		h.close(t)
		h = openTestDaemon(t, k, text, nil)
		h.pass(t, 3*time.Minute, nil)
		again := look()
		if again.Forecast == nil || again.Note != first.Note || again.Forecast.TopAt.Sub(first.Forecast.TopAt).Abs() > 10*time.Minute {
			t.Errorf("after a restart %+v, %q; before %+v", again.Forecast, again.Note, first.Forecast)
		}
		h.close(t)
	})
}

// Which plan a dough was mixed by is read from the plans that were chosen.
func TestBakedBy(t *testing.T) {
	ctx := context.Background()
	s, _, err := store.Open(ctx, filepath.Join(t.TempDir(), "leavend.db"), store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	for _, r := range []string{"pan loaf", "rye tin"} {
		ask := planning.Ask{Recipe: r, Ready: time.Now().Add(24 * time.Hour)}
		if err := s.States.SetSetting(ctx, monitor.PlanSetting, map[string]any{"ask": ask, "plan": planning.Plan{}}); err != nil {
			t.Fatal(err)
		}
	}
	named, err := monitor.BakedBy(ctx, s)
	if err != nil {
		t.Fatal(err)
	}
	got := fmt.Sprint(named(time.Now().Add(time.Hour)), ", ", named(time.Now().Add(-time.Hour)), ", ", named(time.Now().Add(25*time.Hour)))
	if got != "rye tin, , " {
		t.Errorf("mixed within, before and after it: %q", got)
	}
}
