package monitor

import (
	"testing"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
)

// TestUsed ends what is expected of dough once it was shaped, and what a jar is
// good for once it was used; a feed begins all of it again, and so does taking
// it back. What was said outlives a restart.
func TestUsed(t *testing.T) {
	now := time.Date(2026, 3, 4, 12, 0, 0, 0, time.UTC)
	ready := func(v *Vessel) {
		v.run.call = peak.Event{Kind: peak.EventTarget, At: now.Add(-time.Hour), PeakAt: now.Add(-time.Hour), RiseRatio: 1.75}
	}
	for _, tt := range []struct {
		name, slug string
		how        Use
		want       Stage
	}{
		{"shaped", "bowl", DoughShaped, Waiting},
		{"chilled", "bowl", DoughChilled, Waiting},
		{"used", "bramble", StarterUsed, AtPeak},
	} {
		t.Run(tt.name, func(t *testing.T) {
			m, v := watched(t, tt.slug, now, ready)
			if err := m.Uses.Set(t.Context(), m.Store, tt.slug, Used{At: now.Add(-time.Minute), How: tt.how}); err != nil {
				t.Fatal(err)
			}
			m.Uses = uses{}
			if err := m.OpenKept(t.Context()); err != nil {
				t.Fatal(err)
			}
			m.Alarms.Raise(now, event.AlarmKey{Subject: tt.slug, Reason: event.UnclearCurve}, event.AlarmText{Say: text.Say("alarm.curve.no_distance")})
			if s := v.Status(now); tt.slug == "bowl" && (s.Stage != tt.want || s.Call != nil || s.Alarm != nil) {
				t.Errorf("the bowl is %s, with the call %v and the alarm %v", s.Stage, s.Call, s.Alarm)
			}
			m.Alarms.Clear(now, event.AlarmKey{Subject: tt.slug, Reason: event.UnclearCurve})
			s := v.Status(now)
			if s.Stage != tt.want || s.Used == nil || s.Used.How != tt.how || s.BestUntil != nil {
				t.Errorf("stage %s, used %v, best until %v; want %s, %s", s.Stage, s.Used, s.BestUntil, tt.want, tt.how)
			}
			v.now.Status.FedAt = now
			if s := v.Status(now); s.Used != nil {
				t.Errorf("after the next feed it counts as %s", s.Used.How)
			}
			v.now.Status.FedAt = now.Add(-3 * time.Hour)
			if err := m.Uses.Set(t.Context(), m.Store, tt.slug, Used{}); err != nil {
				t.Fatal(err)
			}
			if s := v.Status(now); s.Used != nil || s.Call == nil {
				t.Errorf("taken back, it is used %v, called %v", s.Used, s.Call)
			}
		})
	}
}
