package daemon

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// levainDaemon has the mother in Bramble, and a second jar to build levains in.
func levainDaemon(t *testing.T) *Daemon {
	t.Helper()
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	d.Conf = configtest.Parse(t, leavendtest.PlanConfig+leavendtest.PlanMat+"vessel = \"Bramble\"\n[[sensor]]\nname = \"nose\"\nchip = \"kitchen\"\n[[vessel]]\nname = \"Levain\"\ndistance = \"nose\"\n"+tellPhone)
	d.Vessels = nil
	for _, v := range d.Conf.Vessels {
		d.Vessels = append(d.Vessels, monitor.NewVessel(v, nil))
	}
	return d
}

// A levain is built in a jar of its own: all of it is for the dough, the mother and her
// curve stay, and the plan follows the levain's jar.
func TestPlanBuildsALevain(t *testing.T) {
	d := levainDaemon(t)
	ctx := context.Background()
	ask := planning.Ask{Vessel: "bramble", Ready: leavendtest.ThursdayEvening.Add(37*time.Hour + 26*time.Minute), Levain: "levain"}
	sheet, err := d.plans.Offer(ctx, ask)
	if err != nil || len(sheet.Plans) == 0 {
		t.Fatalf("%v, %+v", err, sheet)
	}
	feed := stepOf(t, &planning.Chosen{Plan: sheet.Plans[0]}, "feed")
	for _, want := range []string{"Build a levain 1:", "in Levain", "of Bramble", "Bramble stays as it is"} {
		if !strings.Contains(feed.Text, want) {
			t.Errorf("the step says %q, want %q", feed.Text, want)
		}
	}
	if err := d.plans.Choose(ctx, sheet.Plans[0].ID); err != nil {
		t.Fatal(err)
	}
	d.to(t, feed.At)
	fed := func(slug string) {
		d.plans.Hear(monitor.Item{Event: &event.Event{Kind: event.Fed, Subject: slug, At: feed.At, Detected: peak.Event{FeedAt: feed.At}}})
	}
	fed("bramble")
	if stepOf(t, d.plans.Chosen(), "feed").Done {
		t.Error("a feed of the mother is taken for the levain")
	}
	fed("levain")
	if !stepOf(t, d.plans.Chosen(), "feed").Done {
		t.Error("the levain is built, and the plan does not see it")
	}
	if _, ok := d.plans.Awaits("levain"); !ok {
		t.Error("no bake waits for the levain")
	}
	if _, ok := d.plans.Awaits("bramble"); ok {
		t.Error("a bake waits for the mother")
	}
	for _, bad := range []string{"bramble", "nowhere"} {
		ask.Levain = bad
		var refusal *failure.Refusal
		if _, err := d.plans.Offer(ctx, ask); !errors.As(err, &refusal) {
			t.Errorf("a levain in %q: %v", bad, err)
		}
	}
	ask.Levain = "-"
	if sheet, err = d.plans.Offer(ctx, ask); err != nil || !strings.Contains(stepOf(t, &planning.Chosen{Plan: sheet.Plans[0]}, "feed").Text, "in a clean jar") {
		t.Errorf("a levain in a jar that is not watched: %v, %+v", err, sheet.Plans)
	}
}

// What goes into a levain is missing in the mother's jar; her feed and her curve stay.
func TestLevainLeavesTheMother(t *testing.T) {
	d := levainDaemon(t)
	ctx := context.Background()
	flours := []store.Flour{{Kind: "wheat", Grams: 50}}
	mother, err := d.Fed(ctx, "bramble", store.Feed{KeptG: 50, Flours: flours, WaterG: 50})
	if err != nil {
		t.Fatal(err)
	}
	d.Clock.Advance(3 * time.Hour)
	levain, err := d.Fed(ctx, "levain", store.Feed{KeptG: 30, Flours: flours, WaterG: 50, From: "bramble"})
	if err != nil || levain.From != "bramble" {
		t.Fatalf("%+v, %v", levain, err)
	}
	last, _, err := d.Store.Journal.LastFeed(ctx, "bramble")
	if err != nil || last.ID != mother.ID || d.Vessel("bramble").Curve().FedAt.Sub(mother.At).Abs() > time.Second {
		t.Errorf("the mother's last feed is %+v, %v; her curve began at %v", last, err, d.Vessel("bramble").Curve().FedAt)
	}
	if d.Vessel("levain").Curve().FedAt.Sub(levain.At).Abs() > time.Second {
		t.Errorf("the levain's curve began at %v", d.Vessel("levain").Curve().FedAt)
	}
	p, err := monitor.ProfileOf(ctx, d.Store, d.Conf.Vessels, d.Vessel("bramble").Conf)
	if err != nil || p.TakenG != 30 {
		t.Errorf("%g g were taken from the mother, %v", p.TakenG, err)
	}
	for _, bad := range []string{"levain", "nowhere"} {
		if _, err := d.Fed(ctx, "levain", store.Feed{From: bad}); err == nil {
			t.Errorf("a levain from %q is taken", bad)
		}
	}
}
