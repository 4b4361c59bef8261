package daemon

import (
	"context"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
)

// The step after a watched peak is told with the peak, in one message; where the jar is
// not seen, or the peak does not come, it is told by itself.
func TestStepAfterThePeakIsToldWithIt(t *testing.T) {
	for name, tt := range map[string]struct {
		seen, comes, alone bool
	}{
		"the peak comes":     {seen: true, comes: true},
		"no peak comes":      {seen: true, alone: true},
		"the jar is unseen":  {alone: true},
		"an unseen jar's is": {comes: true, alone: true},
	} {
		t.Run(name, func(t *testing.T) {
			d := planningDaemon(t, t.TempDir(), leavendtest.ThursdayEvening)
			c := d.chooses(t)
			fed := stepOf(t, c, "feed").At
			d.to(t, fed)
			if err := d.plans.Done(context.Background(), "feed"); err != nil {
				t.Fatal(err)
			}
			mix := stepOf(t, d.plans.Chosen(), "mix")
			if next, ok := d.plans.Awaits("bramble"); !ok || next.Name != "mix" {
				t.Errorf("the bake waits for %+v, %v", next, ok)
			}
			if _, ok := d.plans.Awaits("pilot"); ok {
				t.Error("a bake waits for another jar")
			}
			d.plans.StatusOf = func(_ *monitor.Vessel, now time.Time) monitor.Status {
				s := monitor.Status{At: now, Feed: &monitor.FeedStatus{At: fed}}
				if tt.seen {
					s.SeenAt = &now
				}
				if tt.comes && !now.Before(mix.At) {
					s.Call = &monitor.Call{MadeAt: mix.At, At: mix.At}
				}
				return s
			}
			early := 0
			for now := mix.At.Add(-30 * time.Minute); !now.After(mix.At.Add(25 * time.Minute)); now = now.Add(5 * time.Minute) {
				d.to(t, now)
				if now.Before(mix.At) {
					early = len(mixes(d.told(t)))
				}
			}
			got := mixes(d.told(t))
			if tt.alone != (len(got) == 1) || len(got) > 1 || tt.seen && early > 0 {
				t.Errorf("the mixing is told %d times by itself, %d before its hour: %q", len(got), early, got)
			}
		})
	}
}

// mixes are the messages that tell of the mixing.
func mixes(told []string) (out []string) {
	for _, s := range told {
		if strings.HasPrefix(s, "Mix") {
			out = append(out, s)
		}
	}
	return out
}
