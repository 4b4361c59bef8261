package daemon

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/sensor/sim/simtest"
)

// TestOnePeakOfAFeed follows a jar beyond its peak, feeds it and takes that back:
// the page, MQTT, the journal and the comparison have one and the same peak, before
// and after; and the message of its fall comes when the page says so.
func TestOnePeakOfAFeed(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		page := pageOf(h.Daemon)
		v := h.Vessels[0]
		var fallen time.Time
		for began := time.Now(); fallen.IsZero() && time.Since(began) < 20*time.Hour; {
			h.pass(t, 10*time.Second, func() {
				if s := v.Status(time.Now()); s.Stage == monitor.Falling || s.Stage == monitor.Collapsed {
					fallen = time.Now()
				}
			})
		}
		h.pass(t, 10*time.Minute, nil)
		peaks, falls := h.of(event.Peak), h.of(event.Falling)
		if len(peaks) != 1 || len(falls) != 1 {
			t.Fatalf("%d peaks and %d falls are told, want one of each", len(peaks), len(falls))
		}
		if d := falls[0].At.Sub(fallen); d.Abs() > 10*time.Second {
			t.Errorf("the fall is told at %v, the page says so at %v", falls[0].At, fallen)
		}
		onePeak := func(when string) {
			t.Helper()
			want := peaks[0].Detected.PeakAt
			look := shown(h.Daemon, v.Conf.Slug)
			book, err := page.Journal.Book(context.Background(), "bramble", time.Now().Add(time.Minute), 5)
			if err != nil || look.Top == nil {
				t.Fatal(err, look.Top)
			}
			feed := book.Feeds[0]
			curve, err := page.History.FeedCurve(context.Background(), "bramble", feed.ID)
			if err != nil {
				t.Fatal(err)
			}
			for says, at := range map[string]time.Time{
				"page": look.Top.TopAt, "MQTT": h.link.vessel(v).PeakAt.Time,
				"journal":    feed.At.Add(time.Duration(float64(feed.Outcome.HoursToTop) * float64(time.Hour))),
				"comparison": curve.At.Add(time.Duration(float64(curve.PeakHours) * float64(time.Hour))),
			} {
				if at.Sub(want).Abs() > time.Second {
					t.Errorf("%s: the %s has the peak at %v, it was told for %v", when, says, at, want)
				}
			}
			if feed.Outcome.RiseRatio != curve.PeakRatio {
				t.Errorf("%s: %v times in the journal, %v in the comparison", when, feed.Outcome.RiseRatio, curve.PeakRatio)
			}
		}
		onePeak("at first")
		fed, err := h.Fed(context.Background(), "bramble", store.Feed{})
		if err != nil {
			t.Fatal(err)
		}
		h.pass(t, time.Minute, nil)
		if err := h.Unfed(context.Background(), "bramble", fed.ID); err != nil {
			t.Fatal(err)
		}
		h.pass(t, time.Minute, nil)
		onePeak("after a feed was taken back")
		if n := len(h.of(event.Peak)); n != 1 {
			t.Errorf("the peak is told %d times", n)
		}
		h.close(t)
	})
}
