package daemon

import (
	"errors"
	"math"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/cmd/leavend/internal/planning"
	"leavend/peak/readyby"
	"leavend/sensor/sim/simtest"
)

// TestTargetTimeThroughTheNight sets one for the jar on the mat, restarts the
// daemon, has an hour refused, and lets the last one run out.
func TestTargetTimeThroughTheNight(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		page := pageOf(h.Daemon)
		h.pass(t, 80*time.Minute, nil)
		if len(h.of(event.Fed)) == 0 {
			t.Fatal("the jar was not fed")
		}
		setpoint := func() float64 { return h.Mat.State().SetpointC }
		if got := setpoint(); got != 26 {
			t.Fatalf("without a target time the setpoint is %g", got)
		}
		// An hour that no mat can make.
		target := time.Now().Add(45 * time.Minute)
		if err := page.ReadyBy.SetTargetTime(t.Context(), "bramble", target); err != nil {
			t.Fatal(err)
		}
		w := page.Watch.Now().Vessels[0].TargetTime
		if w == nil || w.Reason != readyby.TooEarly.String() || !w.SoonestAt.After(target) || w.Over {
			t.Fatalf("three quarters of an hour ahead: %+v", w)
		}
		if got := setpoint(); got <= 26 || got > 28 {
			t.Errorf("a target time too early holds %g °C, want the warmest that the plan allows", got)
		}
		// It survives a restart.
		h.close(t)
		h = openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		page = pageOf(h.Daemon)
		h.pass(t, 3*time.Minute, nil)
		if a, ok := h.readyBy.Advice("bramble"); !ok || !a.ReadyBy.Equal(target) || setpoint() <= 26 {
			t.Errorf("after a restart: %v, %v, setpoint %g", a, ok, setpoint())
		}
		// Dropped, the mat goes back at once.
		if err := page.ReadyBy.ClearTargetTime(t.Context(), "bramble"); err != nil {
			t.Fatal(err)
		}
		if got := setpoint(); got != 26 || page.Watch.Now().Vessels[0].TargetTime != nil {
			t.Errorf("dropped: setpoint %g, %+v", got, page.Watch.Now().Vessels[0].TargetTime)
		}
		// A target time in the evening, with the sensor's probe unplugged on the way
		// (from 3:30 on in this kitchen): blind, it goes by the usual setpoint.
		if err := page.ReadyBy.SetTargetTime(t.Context(), "bramble", time.Now().Add(6*time.Hour)); err != nil {
			t.Fatal(err)
		}
		seen := map[readyby.Reason]bool{}
		h.pass(t, 9*time.Hour, func() {
			a, ok := h.readyBy.Advice("bramble")
			if !ok {
				return
			}
			seen[a.Reason] = true
			if got := setpoint(); !(got >= 22 && got <= 28) || math.IsNaN(got) {
				t.Errorf("%v: the setpoint is %g", a, got)
			}
			if a.Reason == readyby.BlindProbe && setpoint() != 26 {
				t.Errorf("%v: the setpoint is %g", a, setpoint())
			}
		})
		if !seen[readyby.BlindProbe] || !(seen[readyby.OnCourse] || seen[readyby.Ahead] || seen[readyby.Behind] || seen[readyby.TooLate]) {
			t.Errorf("seen: %v", seen)
		}
		w = page.Watch.Now().Vessels[0].TargetTime
		if w == nil || !w.Over || setpoint() != 26 {
			t.Errorf("three hours after its hour: %+v, setpoint %g", w, setpoint())
		}
		h.close(t)
	})
}

// Target times that cannot be taken say why, and change nothing.
func TestTargetTimeRefused(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		page := pageOf(h.Daemon)
		h.pass(t, time.Minute, nil)
		if err := page.ReadyBy.SetTargetTime(t.Context(), "unknown", time.Now().Add(time.Hour)); !errors.Is(err, failure.ErrUnknown) {
			t.Errorf("for a vessel that is not there: %v", err)
		}
		for _, at := range []time.Time{time.Now().Add(-time.Minute), time.Now().Add(72 * time.Hour)} {
			if err := h.readyBy.Ask(t.Context(), "bramble", at); err == nil {
				t.Errorf("a target time for %v was taken", at)
			}
		}
		if err := h.link.execute(mqtt.Command{Kind: mqtt.CommandReady, Subject: "bramble", Text: "when it likes"}); err == nil {
			t.Error("no hour was taken for one")
		}
		if _, ok := h.readyBy.Advice("bramble"); ok {
			t.Error("a refused target time stands")
		}
		if err := h.link.execute(mqtt.Command{Kind: mqtt.CommandReady, Subject: "bramble", Text: "23:30"}); err != nil {
			t.Error(err)
		}
		a, ok := h.readyBy.Advice("bramble")
		if got := h.link.vessel(h.Vessel("bramble")); !ok || a.ReadyBy.Format("15:04") != "23:30" || !got.ReadyAt.Equal(a.ReadyBy) || got.Ready != planning.Steered(a).In(h.Conf.Reader()) {
			t.Errorf("by MQTT: %v, sent out %v %q", a, got.ReadyAt, got.Ready)
		}
		if err := h.link.execute(mqtt.Command{Kind: mqtt.CommandReady, Subject: "bramble"}); err != nil {
			t.Error(err)
		}
		if _, ok := h.readyBy.Advice("bramble"); ok {
			t.Error("a target time that was forgotten stands")
		}
		h.close(t)
	})
}
