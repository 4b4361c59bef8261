package daemon

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/mqtt"
	"leavend/control"
	"leavend/sensor/sim/simtest"
)

// In a fresh data folder the mat stays off until a person has accepted its
// cautions; a home hub is no person. After that it heats, also after a restart.
func TestCautionsAreAcceptedByAPerson(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		fresh := func(p *Parts) { p.Agreed = false }
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), fresh)
		heat := mqtt.Command{Kind: mqtt.CommandMode, Mode: mqtt.ModeHeat}
		h.pass(t, 20*time.Minute, func() {
			if drawing(t, k) {
				t.Fatal("it heats, and the cautions are not accepted")
			}
		})
		page := pageOf(h.Daemon)
		if err := h.link.execute(heat); err == nil || !strings.Contains(err.Error(), "cautions") {
			t.Errorf("a hub's command: %v", err)
		}
		var refused *failure.Refusal
		if err := page.Mats.Allow(t.Context(), event.SubjectMat, true, false); !errors.As(err, &refused) || refused.Code != "cautions" {
			t.Errorf("the page, without accepting: %v", err)
		}
		if m := shownMat(h.Daemon); m.Accepted || m.Allowed {
			t.Errorf("the page says accepted %v, allowed %v", m.Accepted, m.Allowed)
		}
		if n := h.Alarms.Of(event.SubjectDaemon); !slices.ContainsFunc(n, func(a event.Alarm) bool { return a.Key == heating.AlarmCautions }) {
			t.Errorf("nothing says what the mat waits for: %v", n)
		}
		if err := page.Mats.Allow(t.Context(), event.SubjectMat, true, true); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 10*time.Minute, nil)
		if !drawing(t, k) {
			t.Error("it does not heat after the cautions were accepted")
		}
		if err := h.link.execute(mqtt.Command{Kind: mqtt.CommandMode, Mode: mqtt.ModeOff}); err != nil {
			t.Error(err)
		}
		if err := h.link.execute(heat); err != nil {
			t.Errorf("a hub's command, once they are accepted: %v", err)
		}
		h.close(t)
		again := openTestDaemon(t, k, leavendtest.JarConfig(dir), fresh)
		again.pass(t, 20*time.Minute, nil)
		if again.Mat.State().OnSwitches < 2 {
			t.Error("it does not heat after a restart")
		}
		again.close(t)
	})
}

// What mat off has asked for holds over a restart and against a hub, until a
// person allows the mat to heat.
func TestHeldOff(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		h.pass(t, 10*time.Minute, nil)
		if !drawing(t, k) {
			t.Fatal("it does not heat before")
		}
		if a := newLocal(h.Daemon).holdOff(t.Context()); a.Output != "off" || a.Trouble != "" || a.Unkept != "" || drawing(t, k) {
			t.Errorf("%+v, drawing %v", a, drawing(t, k))
		}
		heat := mqtt.Command{Kind: mqtt.CommandMode, Mode: mqtt.ModeHeat}
		cold := func(h *testDaemon) {
			t.Helper()
			if err := h.link.execute(heat); err == nil || !strings.Contains(err.Error(), "mat off") {
				t.Errorf("a hub's command: %v", err)
			}
			h.pass(t, 20*time.Minute, func() {
				if drawing(t, k) {
					t.Error("it heats again")
				}
			})
		}
		cold(h)
		h.close(t)
		again := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		cold(again)
		if err := again.heat.Allow(t.Context(), false); err != nil {
			t.Fatal(err)
		}
		again.pass(t, 10*time.Minute, nil)
		if !drawing(t, k) {
			t.Error("it does not heat after a person has allowed it")
		}
		again.close(t)

		// The word that mat off leaves where no daemon answers.
		if err := heating.HoldOff(dir); err != nil {
			t.Fatal(err)
		}
		third := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
		cold(third)
		third.close(t)
	})
}

// How long the mat has been on is known after a restart, and so is a panic.
func TestLimitsOutliveARestart(t *testing.T) {
	simtest.NotUnderRace(t)
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		duty := 0.0
		for run := range 4 {
			h := openTestDaemon(t, k, leavendtest.JarConfig(dir), nil)
			if now := h.Mat.State().DutyDay; now < duty || run > 0 && now == 0 {
				t.Errorf("run %d begins with a duty of %.4f after %.4f", run, now, duty)
			}
			h.pass(t, 25*time.Minute, nil)
			duty = h.Mat.State().DutyDay
			h.close(t)
		}
	})
}

// panicky is an output whose driver fails in the worst way.
type panicky struct{ control.Dry }

func (*panicky) On(context.Context, time.Duration) error { panic("a nil map") }

// A panic while the mat is run is on record before the process can end.
func TestPanicIsOnRecord(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, heating.MemoryName)
	keeper := heating.NewKeeper(file, slog.New(slog.DiscardHandler))
	keeper.Recall(t.Context(), &noStore{}, false)
	conf := configtest.Parse(t, "[[sensor]]\nname = \"crumb\"\nchip = \"ds18b20\"\n[mat]\noutput = \"gpio\"\nline = 17\nprobe = \"crumb\"\nanticipate = false\n"+leavendtest.NoNetwork)
	w, err := heating.NewMat(conf, &panicky{}, keeper.Saved)
	if err != nil {
		t.Fatal(err)
	}
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the output did not panic")
			}
		}()
		now := time.Now()
		if err := w.SetMode(now, control.Hold); err != nil {
			t.Fatal(err)
		}
		for range 60 {
			now = now.Add(10 * time.Second)
			w.Temperature(now, "crumb", 20, now)
		}
	}()
	var kept struct {
		Memory heating.Memory `json:"memory"`
	}
	text, err := os.ReadFile(file)
	if err == nil {
		err = json.Unmarshal(text, &kept)
	}
	if err != nil || !slices.Contains(kept.Memory.Kept.Latched, control.FaultPanic) {
		t.Errorf("kept is %s, %v", text, err)
	}
}

// noStore is a history that takes nothing.
type noStore struct{}

func (*noStore) State(context.Context, string, any) (bool, error) { return false, nil }
func (*noStore) SetState(context.Context, string, any) error      { return errors.New("the disk is full") }

// A slot that holds now by the configured zone holds on a board whose own clock
// is in another one.
func TestScheduleGoesByTheConfiguredZone(t *testing.T) {
	home := time.Local
	time.Local = time.UTC
	t.Cleanup(func() { time.Local = home })
	at := time.Date(2026, 1, 15, 11, 0, 0, 0, time.UTC) // 22:00 in Sydney, daylight saving (IANA: AEDT, UTC+11)
	for zone, want := range map[string]float64{"Australia/Sydney": 21, "UTC": 26} {
		conf := configtest.Parse(t, "timezone = \""+zone+"\"\n[[sensor]]\nname = \"crumb\"\nchip = \"ds18b20\"\n[mat]\noutput = \"gpio\"\nline = 17\nprobe = \"crumb\"\nsetpoint_c = 26\n"+
			"[[mat.schedule]]\nfrom = \"21:30\"\nto = \"06:00\"\nsetpoint_c = 21\n"+leavendtest.NoNetwork)
		w, err := heating.NewMat(conf, &control.Dry{}, nil)
		if err != nil {
			t.Fatal(err)
		}
		w.Tick(at)
		if got := w.State().SetpointC; got != want {
			t.Errorf("%s: setpoint %v, want %v", zone, got, want)
		}
	}
}
