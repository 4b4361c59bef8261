package daemon

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/planning"
	"leavend/control"
	"leavend/peak/plan"
	"leavend/sensor/sim/simtest"
)

// shareConfig is an invented kitchen with a jar and a bowl, of which only the
// first, Bramble, stands on the mat.
func shareConfig(dir, bramble, trough, more string) string {
	return "timezone = \"UTC\"\n" + strings.Replace(leavendtest.JarConfig(dir), "name = \"Bramble\"\n", "name = \"Bramble\"\nkind = \""+bramble+"\"\n", 1) +
		"[plan]\nasleep_from = \"00:00\"\nasleep_to = \"00:00\"\n" + more +
		"[[sensor]]\nname = \"nose\"\nchip = \"kitchen\"\n[[vessel]]\nname = \"Trough\"\nkind = \"" + trough + "\"\ndistance = \"nose\"\ntemperature = \"nose\"\n"
}

// shareDaemon is a daemon whose plan for a loaf is chosen and fed.
type shareDaemon struct {
	*testDaemon
	usual float64
}

func (h *shareDaemon) setpoint() float64 { return h.Mat.State().SetpointC }

// goesBy takes the best plan for a loaf in 17 hours, if need be one whose dough
// or starter waits on the mat.
func (h *shareDaemon) goesBy(t *testing.T, ask planning.Ask, step string) (planning.Sheet, planning.Step) {
	t.Helper()
	ctx := context.Background()
	ask.Ready = time.Now().Add(17 * time.Hour)
	sheet, err := h.plans.Offer(ctx, ask)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range sheet.Plans {
		for _, s := range p.Steps {
			if s.Name == step && s.Mat && float64(*s.WarmthC) != h.usual {
				if err := h.plans.Choose(ctx, p.ID); err != nil {
					t.Fatal(err)
				}
				return sheet, s
			}
		}
	}
	t.Fatalf("no plan has what follows the %s on the mat: %+v", step, sheet)
	return sheet, planning.Step{}
}

func (h *shareDaemon) done(t *testing.T, steps ...string) {
	t.Helper()
	for _, s := range steps {
		if err := h.plans.Done(context.Background(), s); err != nil {
			t.Fatalf("%s: %v", s, err)
		}
	}
	h.pass(t, 2*time.Minute, nil)
}

// tells reports whether a sentence stands among others.
func tells(all []planning.Said, part string) bool {
	for _, s := range all {
		if strings.Contains(s.Text, part) {
			return true
		}
	}
	return false
}

func shares(t *testing.T, text string, play func(*testing.T, *shareDaemon, func() *shareDaemon)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		k := invented(t)
		h := &shareDaemon{openTestDaemon(t, k, text, nil), 26}
		h.pass(t, 3*time.Minute, nil)
		play(t, h, func() *shareDaemon {
			h.close(t)
			h = &shareDaemon{openTestDaemon(t, k, text, nil), 26}
			h.pass(t, 3*time.Minute, nil)
			return h
		})
		if f := h.Mat.State().Faults; len(f) > 0 {
			t.Errorf("the mat has faults: %v", f)
		}
		h.close(t)
	})
}

// Dough on a jar's mat: the plan says whose mat it is, what cannot be seen, and
// that the thermometer must go along; it has the mat hold the dough's warmth from
// the mixing to the shaping, over a restart too, and gives it back.
func TestDoughOnTheJarsMat(t *testing.T) {
	simtest.NotUnderRace(t)
	shares(t, shareConfig(t.TempDir(), "jar", "bowl", ""), func(t *testing.T, h *shareDaemon, restart func() *shareDaemon) {
		sheet, mix := h.goesBy(t, planning.Ask{}, "mix")
		warm := float64(*mix.WarmthC)
		if want := "on the mat of Bramble at " + fmt.Sprintf("%.0f °C", warm); !strings.Contains(mix.Text, want) || !strings.Contains(mix.Text, "Put the mat’s thermometer with it") {
			t.Errorf("the mixing says %q, want %q", mix.Text, want)
		}
		if !tells(sheet.Doubts, "A plan keeps the dough on the mat of Bramble and sets that mat meanwhile") {
			t.Errorf("the doubts are %+v", sheet.Doubts)
		}
		h.done(t, "feed")
		warm = float64(*stepOf(t, h.plans.Chosen(), "mix").WarmthC) // worked out again once it is fed
		h.done(t, "mix")
		if got := h.setpoint(); got != warm {
			t.Errorf("mixed, the mat holds %g °C, want the dough's %g", got, warm)
		}
		h = restart()
		if got := h.setpoint(); got != warm {
			t.Errorf("mixed, and started again, the mat holds %g °C, want the dough's %g", got, warm)
		}
		// A target time of the baker's for the jar stands before the plan.
		if err := h.readyBy.Ask(context.Background(), "bramble", time.Now().Add(6*time.Hour)); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 2*time.Minute, nil)
		if request := h.readyBy.Request(); request.At.IsZero() || request.Plan {
			t.Errorf("the baker's target time is %+v", request)
		}
		if err := h.readyBy.Drop(context.Background(), "bramble"); err != nil {
			t.Fatal(err)
		}
		h.pass(t, 2*time.Minute, nil)
		if got := h.setpoint(); got != warm {
			t.Errorf("the target time is dropped, and the mat holds %g °C, want the dough's %g", got, warm)
		}
		// The dough is not shaped: once that is too late, the mat is the jar's again.
		late := stepOf(t, h.plans.Chosen(), "shape").Latest.Add(30 * time.Minute)
		h.pass(t, time.Until(late), nil)
		if s := stepOf(t, h.plans.Chosen(), "shape"); time.Now().After(s.Latest) && h.setpoint() != h.usual {
			t.Errorf("the dough is over, and the mat holds %g °C", h.setpoint())
		}
		h.done(t, "shape")
		c := h.plans.Chosen()
		if s := stepOf(t, c, "shape"); !s.Mat && h.setpoint() != h.usual {
			t.Errorf("shaped, for the fridge, and the mat holds %g °C, want its usual %g", h.setpoint(), h.usual)
		}
		if err := h.plans.Drop(context.Background()); err != nil || h.setpoint() != h.usual {
			t.Errorf("dropped: %v, the mat holds %g °C, want its usual %g", err, h.setpoint(), h.usual)
		}
	})
}

// Without consent nothing is set: the baker keeps the mat to himself, or the
// config keeps the dough off it.
func TestDoughKeptOffTheJarsMat(t *testing.T) {
	shares(t, shareConfig(t.TempDir(), "jar", "bowl", ""), func(t *testing.T, h *shareDaemon, _ func() *shareDaemon) {
		sheet, _ := h.goesBy(t, planning.Ask{ByHand: true}, "mix")
		if !tells(sheet.Doubts, "which you set yourself") {
			t.Errorf("the doubts are %+v", sheet.Doubts)
		}
		h.done(t, "feed")
		h.done(t, "mix")
		if got := h.setpoint(); got != h.usual {
			t.Errorf("the baker keeps the mat, and it holds %g °C", got)
		}
		if err := h.Mat.SetMode(time.Now(), control.Off); err != nil {
			t.Fatal(err)
		}
		sheet, _ = h.goesBy(t, planning.Ask{}, "mix")
		h.done(t, "feed")
		h.done(t, "mix")
		if s := h.Mat.State(); s.SetpointC != h.usual || s.On {
			t.Errorf("the mat is switched off by the baker, and stands at %g °C, on %v", s.SetpointC, s.On)
		}
	})
	shares(t, shareConfig(t.TempDir(), "jar", "bowl", "dough_on_mat = false\n"), func(t *testing.T, h *shareDaemon, _ func() *shareDaemon) {
		sheet, err := h.plans.Offer(context.Background(), planning.Ask{Ready: time.Now().Add(17 * time.Hour)})
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range sheet.Plans {
			for _, s := range p.Steps {
				if s.Mat && s.Name != "feed" && s.Name != "feed it first" {
					t.Errorf("the dough is to be kept off the mat, and the plan says %q", s.Text)
				}
			}
		}
	})
}

// No plan asks for more than the mat's own limits, whatever [plan] allows.
func TestSharedMatKeepsItsLimits(t *testing.T) {
	simtest.NotUnderRace(t)
	text := strings.Replace(shareConfig(t.TempDir(), "jar", "bowl", "coolest_c = 18\nwarmest_c = 32\n"), "setpoint_c = 26\n", "setpoint_c = 22\nsetpoint_max_c = 23\nsetpoint_min_c = 21\n", 1)
	shares(t, text, func(t *testing.T, h *shareDaemon, _ func() *shareDaemon) {
		h.usual = 22
		_, mix := h.goesBy(t, planning.Ask{}, "mix")
		h.done(t, "feed")
		h.done(t, "mix")
		for range 6 {
			h.pass(t, 30*time.Minute, nil)
			if got := h.setpoint(); got > 23 || got < 21 || float64(*mix.WarmthC) > 23 {
				t.Errorf("the mat holds %g °C for dough planned at %g", got, float64(*mix.WarmthC))
			}
		}
	})
}

// The other way round: the mat is a bowl's, and the starter may stand on it.
func TestStarterOnTheBowlsMat(t *testing.T) {
	shares(t, shareConfig(t.TempDir(), "bowl", "jar", "starter_on_mat = true\n"), func(t *testing.T, h *shareDaemon, restart func() *shareDaemon) {
		sheet, feed := h.goesBy(t, planning.Ask{}, "feed")
		if !strings.Contains(feed.Text, "Keep it on the mat of Bramble at ") || !tells(sheet.Doubts, "A plan keeps the starter on the mat of Bramble") {
			t.Errorf("the feed says %q, the doubts are %+v", feed.Text, sheet.Doubts)
		}
		h.done(t, "feed")
		if got := h.setpoint(); got != float64(*feed.WarmthC) {
			t.Errorf("fed, the mat holds %g °C, want the starter's %g", got, float64(*feed.WarmthC))
		}
		if h = restart(); h.setpoint() != float64(*feed.WarmthC) {
			t.Errorf("fed, and started again, the mat holds %g °C, want the starter's %g", h.setpoint(), float64(*feed.WarmthC))
		}
		if err := h.plans.Drop(context.Background()); err != nil || h.setpoint() != h.usual {
			t.Errorf("dropped: %v, the mat holds %g °C, want its usual %g", err, h.setpoint(), h.usual)
		}
	})
	shares(t, shareConfig(t.TempDir(), "bowl", "jar", ""), func(t *testing.T, h *shareDaemon, _ func() *shareDaemon) {
		sheet, err := h.plans.Offer(context.Background(), planning.Ask{Ready: time.Now().Add(17 * time.Hour)})
		if err != nil || len(sheet.Plans) == 0 {
			t.Fatalf("%v %+v", err, sheet)
		}
		if s := sheet.Plans[0].Steps[0]; s.Mat || !strings.Contains(s.Text, "in the room") {
			t.Errorf("not a word that the starter may stand on the bowl's mat: %q", s.Text)
		}
	})
}

// A starter that is fed once first, to wake it up, is held at the plan's warmth
// on its own mat, where no hour is steered to.
func TestFirstRiseIsHeld(t *testing.T) {
	dir := t.TempDir()
	synctest.Test(t, func(t *testing.T) {
		leavendtest.BramblesPast(t, filepath.Join(dir, "leavend.db"), time.Now().AddDate(0, 0, -10), 4, true)
		k := invented(t)
		h := &shareDaemon{openTestDaemon(t, k, shareConfig(dir, "jar", "bowl", "coolest_c = 27\n"), nil), 26}
		h.pass(t, 3*time.Minute, nil)
		ask := planning.Ask{Ready: time.Now().Add(24 * time.Hour)}
		sheet, err := h.plans.Offer(context.Background(), ask)
		if err != nil || len(sheet.Plans) == 0 || sheet.Plans[0].Steps[0].Name != plan.RefreshFeed || !sheet.Plans[0].Steps[0].Mat {
			t.Fatalf("%v, %+v", err, sheet)
		}
		if err := h.plans.Choose(context.Background(), sheet.Plans[0].ID); err != nil {
			t.Fatal(err)
		}
		h.done(t, plan.RefreshFeed)
		if got, want := h.setpoint(), float64(*sheet.Plans[0].Steps[0].WarmthC); got != want {
			t.Errorf("fed once first, the mat holds %g °C, want the plan's %g", got, want)
		}
		if err := h.plans.Drop(context.Background()); err != nil || h.setpoint() != h.usual {
			t.Errorf("dropped: %v, the mat holds %g °C, want its usual %g", err, h.setpoint(), h.usual)
		}
		h.close(t)
	})
}
