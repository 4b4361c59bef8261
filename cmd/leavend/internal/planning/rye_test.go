package planning

import (
	"fmt"
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak/dough"
	"leavend/sensor/sim/simtest"
)

// TestRyeIsCalledAtItsOwnRise puts an invented dough into a bowl: rye by a plan, rye mixed
// without one, wheat, which waits for what the config says, and wheat of a kind whose best
// loaves ended their bulk elsewhere.
func TestRyeIsCalledAtItsOwnRise(t *testing.T) {
	rec := simtest.DoughInBowl(11)
	for _, tt := range []struct {
		name, recipe, flour string
		rye                 bool
		own                 float64 // the rise of the best loaves, at 24 °C; 0: none was taken
	}{
		{"a plan of rye", "rye tin", "", true, 0},
		{"a mix of rye", "", "Roggenmehl Type 1150", true, 0},
		{"a mix of wheat", "", "wheat", false, 0},
		{"a mix of wheat, of whose kind the best loaves are known", "", "wheat", false, 0.45},
	} {
		t.Run(tt.name, func(t *testing.T) {
			mixed := leavendtest.ThursdayEvening
			k := newKitchen(t, mixed, leavendtest.PlanBowl+fmt.Sprintf("floor_mm = %g\n", rec.Opts.Vessel.SensorMM))
			if tt.recipe != "" {
				for _, step := range k.chooses(Ask{Vessel: "bramble", Recipe: tt.recipe, Ready: mixed.Add(36 * time.Hour)}).Plan.Steps {
					if step.Name == "feed" || step.Name == "mix" {
						k.to(step.At)
						if err := k.Done(t.Context(), step.Name); err != nil {
							t.Fatal(err)
						}
					}
				}
				mixed = k.m.Clock.Now()
			}
			mix := store.Feed{Vessel: "trough", At: mixed}
			if tt.flour != "" {
				mix.KeptG, mix.WaterG, mix.Flours = 200, 420, []store.Flour{{Kind: tt.flour, Grams: 500}}
			}
			if _, err := k.m.Store.Journal.AddFeed(t.Context(), mix); err != nil {
				t.Fatal(err)
			}
			if tt.own > 0 {
				taken := monitor.OwnStops{{LoafKind: monitor.LoafKind{Cold: true}, Rise: tt.own, TempC: 24}}
				if err := k.m.Store.States.SetSetting(t.Context(), "bulk-stops", taken); err != nil {
					t.Fatal(err)
				}
			}
			v := k.m.Vessel("trough")
			v.Fed(mixed)
			at, ratio, tempC := k.calls(v, mixed)
			want := 1 + k.m.Conf.Plan.Stops.Rise(tempC, dough.RyeBake)
			switch stops := k.m.Conf.Plan.Stops; {
			case tt.own > 0:
				want = 1 + tt.own*stops.Rise(tempC, dough.ColdProof)/stops.Rise(24, dough.ColdProof)
			case !tt.rye:
				want = v.Conf.TargetRatio
			}
			s := v.Status(k.m.Clock.Now())
			if at == 0 || math.Abs(ratio-want) > 0.05 || s.TargetRatio == nil || math.Abs(*s.TargetRatio-want) > 0.02 {
				t.Errorf("called after %v at %.2f, and the status waits for %v; at %.1f °C want %.2f", at, ratio, *s.TargetRatio, tempC, want)
			}
		})
	}
}

// calls replays an invented dough into a bowl until its target is called.
func (k *kitchen) calls(v *monitor.Vessel, mixed time.Time) (after time.Duration, ratio, tempC float64) {
	rec := simtest.DoughInBowl(11)
	next := mixed
	for _, row := range rec.Rows {
		after = row.At.Sub(rec.Rows[0].At)
		for _, e := range v.Replay(mixed.Add(after), row.DistanceMM, row.TempC) {
			if e.Kind == event.Target {
				return after, e.Detected.RiseRatio, row.TempC
			}
		}
		if at := mixed.Add(after); !at.Before(next) {
			k.to(at)
			next = at.Add(time.Minute)
		}
	}
	return 0, 0, 0
}
