package daemon

import (
	"context"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// The bowl is mixed, which is the plan's mixing; then its target is foretold
// for another hour than planned, and reached. The shaping follows it.
func TestBowlMovesThePlan(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	conf, err := config.Parse([]byte(leavendtest.PlanConfig+leavendtest.PlanBowl+leavendtest.PlanMat+"vessel = \"Bramble\"\n"+tellPhone), "test.toml")
	if err != nil {
		t.Fatal(err)
	}
	bowl := monitor.NewVessel(conf.Vessels[1], nil)
	d.Conf, d.Vessels = conf, append(d.Vessels, bowl)
	c := d.chooses(t)
	d.to(t, stepOf(t, c, "feed").At)
	if err := d.plans.Done(context.Background(), "feed"); err != nil {
		t.Fatal(err)
	}
	mixed := stepOf(t, d.plans.Chosen(), "mix").At.Add(10 * time.Minute)
	d.Clock.Advance(mixed.Sub(d.Clock.Now()))
	d.plans.Hear(monitor.Item{Event: &event.Event{Kind: event.Fed, Subject: "trough", At: mixed, Detected: peak.Event{FeedAt: mixed}}})
	got := d.plans.Chosen()
	if s := stepOf(t, got, "mix"); !s.Done || !s.At.Equal(mixed) {
		t.Fatalf("the bowl is mixed, and the step is %+v", s)
	}
	shape := stepOf(t, got, "shape")
	status := monitor.Status{Feed: &monitor.FeedStatus{At: mixed}}
	d.plans.StatusOf = func(*monitor.Vessel, time.Time) monitor.Status { return status }
	later := shape.At.Add(50 * time.Minute)
	status.Forecast = foretold(later, 15*time.Minute)
	d.to(t, mixed.Add(time.Hour))
	moved := stepOf(t, d.plans.Chosen(), "shape")
	if by := moved.At.Sub(shape.At); by < 20*time.Minute || by > 2*time.Hour {
		t.Errorf("the target is foretold 50 minutes later, and the shaping moves by %v", by)
	}
	d.to(t, moved.At.Add(-5*time.Minute))
	d.to(t, moved.At.Add(-4*time.Minute))
	told := 0
	for _, s := range d.told(t) {
		if strings.HasPrefix(s, "Shape") {
			told++
		}
	}
	if told != 1 {
		t.Errorf("the shaping is told %d times: %q", told, d.told(t))
	}
	came := moved.At.Add(-4 * time.Minute)
	status.Call = &monitor.Call{MadeAt: came, At: came.Add(-5 * time.Minute)}
	d.to(t, came)
	if s := stepOf(t, d.plans.Chosen(), "shape"); s.At.Sub(came).Abs() > time.Hour {
		t.Errorf("the dough is at its target at %v, and the shaping stands at %v", came, s.At)
	}
}

// The dough stands in a bowl on the mat: the plan has it steered to its target,
// or held at the plan's warmth if the baker drops that, and the mat is given back. An hour that no mat can
// reach is told once, early. The plan keeps its hands off where it was told to.
func TestPlanWarmsTheDough(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		var phone testPhone
		text := strings.Replace(leavendtest.JarConfig(dir), "name = \"Bramble\"\n", "name = \"Bramble\"\nkind = \"bowl\"\n", 1) + tellPhone +
			"[plan]\nasleep_from = \"00:00\"\nasleep_to = \"00:00\"\n[[sensor]]\nname = \"nose\"\nchip = \"kitchen\"\n[[vessel]]\nname = \"Pilot\"\ndistance = \"nose\"\ntemperature = \"nose\"\n"
		h := openTestDaemon(t, k, "timezone = \"UTC\"\n"+text, phone.parts)
		ctx := context.Background()
		goes := func(byHand bool) {
			t.Helper()
			sheet, err := h.plans.Offer(ctx, planning.Ask{Vessel: "pilot", Ready: time.Now().Add(17 * time.Hour), ByHand: byHand})
			if err != nil || len(sheet.Plans) == 0 {
				t.Fatalf("%v, %+v", err, sheet)
			}
			for _, err := range []error{h.plans.Choose(ctx, sheet.Plans[0].ID), h.plans.Done(ctx, "feed"), h.plans.Done(ctx, "mix")} {
				if err != nil {
					t.Fatal(err)
				}
			}
			if _, err := h.Fed(ctx, "bramble", store.Feed{}); err != nil {
				t.Fatal(err)
			}
			h.pass(t, 2*time.Minute, nil)
		}
		setpoint := func() float64 { return h.Mat.State().SetpointC }
		goes(true)
		if request := h.readyBy.Request(); !request.At.IsZero() || setpoint() != 26 {
			t.Errorf("the baker keeps the mat, and it is steered to %v at %g °C", request.At, setpoint())
		}
		goes(false)
		mix := stepOf(t, h.plans.Chosen(), "mix")
		if request := h.readyBy.Request(); !mix.Mat || *mix.WarmthC == 26 || request.At.IsZero() || !request.Plan {
			t.Fatalf("the dough is mixed, %+v, and the request is %+v", mix, request)
		}
		if err := h.readyBy.Drop(ctx, "bramble"); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 2*time.Minute, nil)
		if request := h.readyBy.Request(); !request.At.IsZero() || math.Abs(setpoint()-float64(*mix.WarmthC)) > 1e-9 {
			t.Errorf("the plan's target time is dropped, it is steered to %v at %g °C, want the plan's %g", request.At, setpoint(), float64(*mix.WarmthC))
		}
		if err := h.plans.Drop(ctx); err != nil || setpoint() != 26 {
			t.Errorf("dropped: %v, the mat holds %g °C, want its own 26", err, setpoint())
		}
		if err := h.readyBy.Ask(ctx, "bramble", time.Now().Add(20*time.Minute)); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 40*time.Minute, nil)
		h.close(t)
		letters, _ := phone.of(notify.PlanStep)
		missed := 0
		for _, l := range letters {
			if strings.HasPrefix(l.Title, "Bramble will not be ready at ") && strings.Contains(l.Text, "will not have risen enough before") {
				missed++
			}
		}
		if missed != 1 {
			t.Errorf("that the hour cannot be met is told %d times: %+v", missed, letters)
		}
	})
}
