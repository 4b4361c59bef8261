package planning

import (
	"slices"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/peak/plan"
)

// TestFirstStepIsToldTheEveningBefore follows a loaf for Saturday that was chosen on
// Wednesday: whatever begins it on Friday is told on Thursday evening, once.
func TestFirstStepIsToldTheEveningBefore(t *testing.T) {
	begin := leavendtest.ThursdayEvening.Add(-30 * time.Hour) // Wednesday noon in Oslo
	k := newKitchen(t, begin, "[plan]\nasleep_from = \"22:30\"\nasleep_to = \"06:30\"\n")
	c := k.chooses(Ask{Vessel: "bramble", Ready: time.Date(2026, 11, 28, 17, 0, 0, 0, time.UTC), Fridge: true})
	first := c.Plan.Steps[0]
	bed := time.Date(first.At.Year(), first.At.Month(), first.At.Day()-1, 21, 30, 0, 0, time.UTC) // 22:30 in Oslo
	if first.At.In(k.m.Conf.Timezone).Hour() < 6 {
		t.Fatalf("the first step is at %v", first.At)
	}
	var at []time.Time
	for now := begin; now.Before(bed.Add(9 * time.Hour)); now = now.Add(10 * time.Minute) {
		k.to(now)
		if slices.Contains(k.takes(), "ahead "+first.Name) {
			at = append(at, now)
		}
	}
	if len(at) != 1 || at[0].Before(bed.Add(-eveningFrom)) || at[0].After(bed.Add(-eveningUntil)) {
		t.Errorf("%s at %v is told ahead at %v", first.Name, first.At, at)
	}
}

// What was chosen this very evening is not told again, nor what the baker waits for.
func TestWhatIsNotToldAhead(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, "")
	c := k.chooses(Ask{Vessel: "bramble", Ready: time.Date(2026, 11, 28, 17, 0, 0, 0, time.UTC)})
	if c.Plan.Steps[0].At.Before(leavendtest.ThursdayEvening.Add(6 * time.Hour)) {
		t.Fatalf("the plan begins at %v", c.Plan.Steps[0].At)
	}
	for now := leavendtest.ThursdayEvening; now.Before(c.Plan.Steps[0].At.Add(-time.Hour)); now = now.Add(10 * time.Minute) {
		k.to(now)
	}
	if told := k.takes(); len(told) > 0 {
		t.Errorf("told %q", told)
	}
}

// A jar counts as in the fridge while its plan has it there: until the step that takes it
// out, and while its ripe starter waits.
func TestPlanCountsOnTheFridge(t *testing.T) {
	c := &chosenPlan{Ask: Ask{Vessel: "bramble", Fridge: true}, Shown: Plan{Steps: []Step{{Kind: "do", Name: plan.OutOfFridge}, {Kind: "do", Name: plan.FeedName}}}}
	if c.inFridge() != "bramble" {
		t.Error("the plan does not count on it before it is taken out")
	}
	c.Shown.Steps[0].Done = true
	if c.inFridge() != "" {
		t.Error("the plan counts on it after it was taken out")
	}
	c.Running = &runningWait{Held: true}
	if c.inFridge() != "bramble" || (*chosenPlan)(nil).inFridge() != "" {
		t.Error("the plan does not count on ripe starter that waits there")
	}
}
