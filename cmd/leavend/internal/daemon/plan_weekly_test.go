package daemon

import (
	"context"
	"errors"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/planning"
)

// A loaf of every Saturday is planned three days ahead, skipped once, planned
// again the week after, not planned again when it is dropped, and is still there
// after a restart.
func TestLoafOfEveryWeek(t *testing.T) {
	d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
	ctx := context.Background()
	zone := d.Conf.Timezone
	saturday := func(week int) time.Time { return time.Date(2026, 11, 28+7*week, 7, 30, 0, 0, zone) }
	var refusal *failure.Refusal
	for _, bad := range []planning.Weekly{{Days: []string{"someday"}, At: "07:30"}, {Days: []string{"sat"}, At: "25:00"}, {Days: []string{"sat"}, At: "07:30", Recipe: "stone"}, {Days: []string{"sat"}, At: "07:30", Vessel: "stone"}} {
		if err := d.plans.SetWeekly(ctx, bad); !errors.As(err, &refusal) {
			t.Errorf("%+v: %v", bad, err)
		}
	}
	if err := d.plans.SkipWeekly(ctx); !errors.Is(err, failure.ErrUnknown) {
		t.Errorf("nothing to skip: %v", err)
	}
	if err := d.plans.SetWeekly(ctx, planning.Weekly{Days: []string{"sat"}, At: "07:30"}); err != nil {
		t.Fatal(err)
	}
	planned := func() (at time.Time) {
		if c := d.plans.Chosen(); c != nil {
			at = c.Ask.Ready
		}
		return at
	}
	d.to(t, leavendtest.ThursdayEvening.Add(time.Minute))
	if !planned().Equal(saturday(0)) {
		t.Fatalf("planned for %v, want %v", planned(), saturday(0))
	}
	if err := d.plans.SkipWeekly(ctx); err != nil {
		t.Fatal(err)
	}
	d.to(t, leavendtest.ThursdayEvening.Add(2*time.Minute))
	if w := d.plans.Weekly(); !planned().IsZero() || !w.Skipped.Equal(saturday(0)) || !w.Next.Equal(saturday(1)) {
		t.Errorf("skipped, and planned for %v: %+v", planned(), w)
	}
	d.to(t, saturday(1).Add(-73*time.Hour))
	if !planned().IsZero() {
		t.Errorf("planned for %v, 73 hours ahead", planned())
	}
	if err := d.openPlans(ctx); err != nil {
		t.Fatal(err)
	}
	d.to(t, saturday(1).Add(-71*time.Hour))
	if !planned().Equal(saturday(1)) {
		t.Fatalf("planned for %v, want %v", planned(), saturday(1))
	}
	if err := d.plans.Drop(ctx); err != nil {
		t.Fatal(err)
	}
	d.to(t, saturday(1).Add(-70*time.Hour))
	if w := d.plans.Weekly(); !planned().IsZero() || !w.Next.Equal(saturday(2)) {
		t.Errorf("dropped, and planned for %v, next %v", planned(), w.Next)
	}
	if err := d.plans.SetWeekly(ctx, planning.Weekly{}); err != nil || d.plans.Weekly() != nil {
		t.Errorf("ended: %v, %+v", err, d.plans.Weekly())
	}
}
