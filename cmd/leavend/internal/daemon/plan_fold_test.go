package daemon

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak"
)

// TestFoldsOfThePlan: the hearth loaf's folds are steps of the plan; the baker is told
// of the first, and each one that is seen or pressed is done.
func TestFoldsOfThePlan(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	ctx := context.Background()
	sheet, err := d.plans.Offer(ctx, web.PlanAsk{Ready: leavendtest.ThursdayEvening.Add(49 * time.Hour), Recipe: "hearth loaf"})
	if err != nil || len(sheet.Plans) == 0 {
		t.Fatal(err, sheet.NoPlan)
	}
	if err := d.plans.Choose(ctx, sheet.Plans[0].ID); err != nil {
		t.Fatal(err)
	}
	c := d.plans.Chosen()
	autolyse, mix, first := stepOf(t, c, "autolyse"), stepOf(t, c, "mix"), stepOf(t, c, "fold 1")
	if !autolyse.At.Before(mix.At) || first.At.Sub(mix.Until) != 30*time.Minute || first.Kind != "fold" {
		t.Errorf("autolyse %v, mix %v to %v, first fold %v", autolyse.At, mix.At, mix.Until, first.At)
	}
	for _, name := range []string{"feed", "autolyse", "mix"} {
		at := stepOf(t, d.plans.Chosen(), name).At
		d.Clock.Advance(at.Sub(d.Clock.Now()))
		if err := d.plans.Done(ctx, name); err != nil {
			t.Fatal(name, err)
		}
	}
	first = stepOf(t, d.plans.Chosen(), "fold 1")
	d.plans.Hear(monitor.Item{Event: &event.Event{Kind: event.Folded, Subject: "bowl", At: first.At.Add(5 * time.Minute)}})
	if got := stepOf(t, d.plans.Chosen(), "fold 1"); !got.Done {
		t.Errorf("a fold that was seen is not done: %+v", got)
	}
	if got := stepOf(t, d.plans.Chosen(), "fold 2"); got.Done {
		t.Error("the next fold is done too")
	}
}

// TestFoldPressed: the press is an event, and the level says nothing for a while.
func TestFoldPressed(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	v := monitor.NewVessel(config.Vessel{Name: "Bowl", Slug: "bowl", Kind: config.Bowl, FloorMM: 250, TargetRatio: 1.75, Every: 15 * time.Second}, nil)
	d.Vessels = append(d.Vessels, v)
	v.Fed(leavendtest.ThursdayEvening.Add(-time.Hour))
	p := pageOf(d)
	if err := p.Doughs.Fold(t.Context(), "bowl"); err != nil {
		t.Fatal(err)
	}
	var refused *failure.Refusal
	if err := p.Doughs.Fold(t.Context(), "bramble"); !errors.As(err, &refused) {
		t.Errorf("a jar was folded: %v", err)
	}
	if err := p.Doughs.Fold(t.Context(), "nowhere"); !errors.Is(err, failure.ErrUnknown) {
		t.Errorf("what is not there was folded: %v", err)
	}
	for i := range 40 {
		v.Replay(leavendtest.ThursdayEvening.Add(time.Duration(i+1)*15*time.Second), 150, 24)
	}
	if s := v.Curve(); s.Stage != peak.Waiting && !math.IsNaN(s.HeightMM) {
		t.Errorf("ten minutes after a fold the level is told as %g mm", s.HeightMM)
	}
}
