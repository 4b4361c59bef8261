package daemon

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/planning"
)

// Two loaves on one weekend, the night between them with the clocks going back:
// the second is planned as soon as the first is there, both have their hour by the
// clock, and each step is told once.
func TestTwoLoavesOneWeekend(t *testing.T) {
	thursday := time.Date(2026, 10, 22, 16, 4, 0, 0, time.UTC)
	d := planningDaemon(t, t.TempDir(), thursday)
	ctx := context.Background()
	if err := d.plans.SetWeekly(ctx, planning.Weekly{Days: []string{"sat", "sun"}, At: "12:00"}); err != nil {
		t.Fatal(err)
	}
	zone := d.Conf.Timezone
	ready := []time.Time{time.Date(2026, 10, 24, 12, 0, 0, 0, zone), time.Date(2026, 10, 25, 12, 0, 0, 0, zone)}
	var planned []time.Time
	var came, second time.Time
	for now := thursday; now.Before(ready[1].Add(4 * time.Hour)); now = now.Add(10 * time.Minute) {
		d.to(t, now)
		c := d.plans.Chosen()
		if c == nil {
			continue
		}
		if !slices.ContainsFunc(planned, c.Ask.Ready.Equal) {
			if planned = append(planned, c.Ask.Ready); len(planned) == 2 {
				second = now
			}
		}
		if c.Trouble != nil {
			t.Errorf("%v: %s", now, c.Trouble.Text)
		}
		i := slices.IndexFunc(c.Plan.Steps, func(s planning.Step) bool { return s.Kind == "do" && !s.Done })
		if i < 0 || c.Plan.Steps[i].At.After(now) {
			continue
		}
		if c.Plan.Steps[i].Name == "bake" && came.IsZero() {
			came = now.Add(40 * time.Minute)
		}
		if err := d.plans.Done(ctx, c.Plan.Steps[i].Name); err != nil {
			t.Fatal(err)
		}
	}
	if !slices.EqualFunc(planned, ready, time.Time.Equal) {
		t.Errorf("planned for %v, want %v", planned, ready)
	}
	if wait := second.Sub(came); wait < 0 || wait > 30*time.Minute {
		t.Errorf("the second is planned %v after the first came out", wait)
	}
	feeds, bakes := 0, 0
	for _, s := range d.told(t) {
		if strings.HasPrefix(strings.TrimSpace(s), "Feed 1:") {
			feeds++
		}
		if strings.Contains(s, "Bake for") {
			bakes++
		}
	}
	if feeds != 2 || bakes != 2 {
		t.Errorf("feeds are told %d times and bakes %d times: %q", feeds, bakes, d.told(t))
	}
}
