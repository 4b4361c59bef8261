package main

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak/plan"
	"leavend/sensor/sim"
)

// doughsPast fills a store with an invented baker's doughs in a bowl, one a week
// up to a moment, each 1.75 times its height after so long at 24 °C. Every other
// one was mixed by a plan.
func doughsPast(t *testing.T, path, bowl string, last time.Time, doughs int, after time.Duration) {
	t.Helper()
	ctx := context.Background()
	s, _, err := store.Open(ctx, path, store.Opts{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	must := func(_ any, err error) {
		if err != nil {
			t.Fatal(err)
		}
	}
	for i := range doughs {
		at := last.AddDate(0, 0, 7*(i-doughs+1))
		must(s.AddFeed(ctx, store.Feed{Vessel: bowl, At: at, KeptG: 100, WaterG: 330, Flours: []store.Flour{{Kind: "wheat", Grams: 500}}}))
		for m := range 60 {
			s.Add(store.Reading{Vessel: bowl, Channel: store.Warmth, At: at.Add(time.Duration(m) * 10 * time.Minute), Value: 24})
		}
		ratio := 1.75
		came, err := json.Marshal(monitor.EventData{PeakAt: at.Add(after), RiseRatio: &ratio})
		must(nil, err)
		must(s.AddEvent(ctx, store.Event{Vessel: bowl, At: at.Add(after + 3*time.Minute), Kind: string(event.Target), Data: came}))
	}
}

// Past doughs draw the plan's bulk to their own time and narrow it, and the plan
// says so; a top of another vessel, or a mix that never came to its target,
// teaches nothing.
func TestPlanLearnsFromDoughs(t *testing.T) {
	conf := planConfig + planBowl + planMat + "vessel = \"Bramble\"\n[plan]\ndough_on_mat = true\n"
	last := thursdayEvening.AddDate(0, 0, -5)
	bulk := func(args ...string) (sheet planning.Sheet, width time.Duration) {
		t.Helper()
		out, errs, code := planned(t, conf, append([]string{"Saturday 07:30", "--from", "2026-11-26 18:04", "--json"}, args...)...)
		if err := json.Unmarshal([]byte(out), &sheet); err != nil || code != 0 || len(sheet.Plans) == 0 {
			t.Fatalf("%v, exit %d, %s", err, code, errs)
		}
		return sheet, spreadOf(t, args)
	}
	_, wide := bulk()
	for _, n := range []int{1, 6} {
		path := filepath.Join(t.TempDir(), "leavend.db")
		doughsPast(t, path, "trough", last, n, 4*time.Hour)
		sheet, narrow := bulk("--store", path)
		if sheet.DoughsUsed != n || narrow >= wide {
			t.Errorf("%d doughs on record: %d are used, and the bulk is foretold to %v, before to %v", n, sheet.DoughsUsed, narrow, wide)
		}
		if want := map[int]string{1: "The bulk's rests on the recipe and on your last dough.", 6: "The bulk's rests on your last 6 doughs."}[n]; !strings.HasSuffix(sheet.Grounds.Text, want) {
			t.Errorf("it says %q, want %q", sheet.Grounds.Text, want)
		}
		wide = narrow
	}
	path := filepath.Join(t.TempDir(), "leavend.db")
	doughsPast(t, path, "bramble", last, 3, 4*time.Hour)
	if sheet, _ := bulk("--store", path); sheet.DoughsUsed != 0 {
		t.Errorf("what a jar did counts for %d doughs", sheet.DoughsUsed)
	}
}

// spreadOf is how wide the bulk of a pan loaf at 24 °C is foretold.
func spreadOf(t *testing.T, args []string) time.Duration {
	t.Helper()
	p := planning.Planner{Conf: configtest.Parse(t, planConfig+planBowl)}
	if len(args) == 2 {
		s, _, err := store.Open(context.Background(), args[1], store.Opts{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		defer s.Close()
		p.Store = s
	}
	a, err := p.Prepare(context.Background(), planning.Ask{Ready: thursdayEvening.Add(36 * time.Hour)}, thursdayEvening)
	if err != nil {
		t.Fatal(err)
	}
	ripe := a.Rise(plan.Recipes()[0].Stages[1], 24, 0)
	if proof := a.Rise(plan.Recipes()[0].Stages[3], 24, 0); proof != nil {
		t.Error("the proof is foretold from what a bowl shows of the bulk")
	}
	return ripe(0.9) - ripe(0.1)
}

// A dough that is mixed into a bowl is foretold at once, on the page and by MQTT,
// from the doughs before it; after a restart the same is said.
func TestDoughIsForetoldAtTheMix(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		doughsPast(t, filepath.Join(dir, "leavend.db"), "bramble", time.Now().AddDate(0, 0, -3), 4, 4*time.Hour)
		k, err := sim.Demo(time.Now, 1)
		if err != nil {
			t.Fatal(err)
		}
		text := "timezone = \"UTC\"\n" + strings.Replace(jarConfig(dir), "name = \"Bramble\"\n", "name = \"Bramble\"\nkind = \"bowl\"\n", 1)
		h := openHouse(t, k, text, nil)
		h.pass(t, 3*time.Minute, nil)
		look := func() web.Vessel { return (&pageHouse{d: h.daemon}).vessel(h.Vessel("bramble")) }
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
		if out := h.vesselState(h.Vessel("bramble")); !out.PeakAt.Equal(first.Forecast.TopAt) || !out.PeakLow.Equal(first.Forecast.LowAt) {
			t.Errorf("by MQTT %v, on the page %v", out.PeakAt, first.Forecast.TopAt)
		}
		h.close(t)
		h = openHouse(t, k, text, nil)
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
		if err := s.SetSetting(ctx, monitor.PlanSetting, map[string]any{"ask": ask, "plan": planning.Plan{}}); err != nil {
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
