package planning

import (
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
)

// On a holiday no loaf of every week is planned, and nothing is told of it; after it the
// next one is.
func TestHolidaySkipsTheWeeklyLoaf(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, "")
	home := leavendtest.ThursdayEvening.AddDate(0, 0, 12) // a Tuesday
	if err := k.m.Rules().SetHoliday(t.Context(), monitor.Holiday{From: leavendtest.ThursdayEvening, Until: home}); err != nil {
		t.Fatal(err)
	}
	if err := k.SetWeekly(t.Context(), Weekly{Days: []string{"sat"}, At: "18:00", Vessel: "bramble"}); err != nil {
		t.Fatal(err)
	}
	for now := leavendtest.ThursdayEvening; now.Before(home); now = now.Add(6 * time.Hour) {
		if k.to(now); k.Chosen() != nil {
			t.Fatalf("at %v a loaf is planned for %v", now, k.Chosen().Ask.Ready)
		}
	}
	if told := k.takes(); len(told) > 0 {
		t.Errorf("on holiday is told %q", told)
	}
	k.to(home.AddDate(0, 0, 2))
	if c := k.Chosen(); c == nil || c.Ask.Ready.Before(home) {
		t.Errorf("after the holiday is planned %+v", c)
	}
}

// No step of a plan is set while the baker is away.
func TestPlanKeepsOutOfTheHoliday(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, "")
	home := time.Date(2026, 11, 27, 15, 0, 0, 0, time.UTC)
	if err := k.m.Rules().SetHoliday(t.Context(), monitor.Holiday{From: leavendtest.ThursdayEvening, Until: home}); err != nil {
		t.Fatal(err)
	}
	sheet, err := k.Offer(t.Context(), Ask{Vessel: "bramble", Ready: time.Date(2026, 11, 28, 17, 0, 0, 0, time.UTC)})
	if err != nil || len(sheet.Plans) == 0 {
		t.Fatalf("%+v, %v", sheet.NoPlan, err)
	}
	for _, p := range sheet.Plans {
		for _, s := range p.Steps {
			if s.Kind == "do" && s.At.Before(home) {
				t.Errorf("plan %s: %s at %v", p.ID, s.Name, s.At)
			}
		}
	}
}

// A holiday that is named ahead keeps the plan off its days, and leaves those before it.
func TestPlanGoesRoundAHolidayAhead(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, "")
	leave, home := time.Date(2026, 11, 28, 0, 0, 0, 0, time.UTC), time.Date(2026, 12, 5, 9, 0, 0, 0, time.UTC)
	if err := k.m.Rules().SetHoliday(t.Context(), monitor.Holiday{From: leave, Until: home}); err != nil {
		t.Fatal(err)
	}
	for ready, want := range map[time.Time]bool{
		time.Date(2026, 11, 27, 20, 0, 0, 0, time.UTC): true,
		time.Date(2026, 11, 29, 12, 0, 0, 0, time.UTC): false,
	} {
		sheet, err := k.Offer(t.Context(), Ask{Vessel: "bramble", Ready: ready})
		if err != nil {
			t.Fatal(err)
		}
		if got := len(sheet.Plans) > 0 && sheet.NoPlan == nil; got != want {
			t.Errorf("a sound plan for %v: %v, want %v (%+v)", ready, got, want, sheet.NoPlan)
		}
	}
}
