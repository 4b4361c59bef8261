package planning

import (
	"context"
	"log/slog"
	"path/filepath"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/config/configtest"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
)

// kitchen is a keeper in an invented kitchen, with a clock that is set by hand and a
// baker who writes down what is told.
type kitchen struct {
	*Keeper
	t    *testing.T
	told []string
}

// newKitchen opens a kitchen of the plan's configuration, with no mat, with more lines.
func newKitchen(t *testing.T, now time.Time, more string) *kitchen {
	t.Helper()
	conf := configtest.Parse(t, leavendtest.PlanConfig+more)
	m := monitor.NewMonitor(conf, event.NewClock(now, 2), slog.New(slog.DiscardHandler))
	var err error
	if m.Store, _, err = store.Open(t.Context(), filepath.Join(t.TempDir(), "leavend.db"), store.Opts{Clock: store.SteadyClock(m.Clock.Now, t.Name())}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { m.Store.Close() })
	for _, v := range conf.Vessels {
		m.Vessels = append(m.Vessels, monitor.NewVessel(v, nil))
	}
	k := &kitchen{Keeper: NewKeeper(t.Context(), m), t: t}
	k.Notifier = k
	return k
}

// to sets the clock.
func (k *kitchen) to(at time.Time) {
	k.t.Helper()
	k.m.Clock.Advance(at.Sub(k.m.Clock.Now()))
	if err := k.Tick(context.Background(), at); err != nil {
		k.t.Fatal(err)
	}
}

// chooses asks for a loaf and takes the best plan.
func (k *kitchen) chooses(ask Ask) *Chosen {
	k.t.Helper()
	sheet, err := k.Offer(k.t.Context(), ask)
	if err != nil || len(sheet.Plans) == 0 {
		k.t.Fatalf("%+v, %v", sheet.NoPlan, err)
	}
	if err := k.Choose(k.t.Context(), sheet.Plans[0].ID); err != nil {
		k.t.Fatal(err)
	}
	return k.Chosen()
}

// takes returns what was told since the last call.
func (k *kitchen) takes() []string {
	told := k.told
	k.told = nil
	return told
}

func (k *kitchen) StepDue(_, _ string, s Step, _ time.Time) { k.told = append(k.told, s.Name) }
func (k *kitchen) StepAhead(_, _ string, s Step, _ time.Time) {
	k.told = append(k.told, "ahead "+s.Name)
}
func (k *kitchen) StepOver(string, time.Time) {}
func (k *kitchen) PlanFails(_, _ string, why text.Message, _ time.Time) {
	k.told = append(k.told, "fails "+why.Key)
}
