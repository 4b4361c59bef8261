package planning

import (
	"math"
	"strings"
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// TestPlanGoesByThisKitchen plans for a cold proof in an invented kitchen: at first its room
// and its fridge are assumed, and then both were measured, and the fridge is a slow one.
func TestPlanGoesByThisKitchen(t *testing.T) {
	now := leavendtest.ThursdayEvening
	k := newKitchen(t, now.AddDate(0, 0, -8), "[plan]\naway = [{ from = \"08:30\", to = \"17:30\", days = [\"fri\"] }]\n")
	ask := Ask{Vessel: "bramble", Recipe: "hearth loaf", Ready: time.Date(2026, 11, 28, 7, 30, 0, 0, time.UTC)}
	lines := func() (room, cold string) {
		t.Helper()
		sheet, _, _, err := k.planner().Answer(t.Context(), ask, now)
		if err != nil || len(sheet.Plans) == 0 {
			t.Fatalf("%+v, %v", sheet.NoPlan, err)
		}
		for _, p := range sheet.Plans {
			for _, s := range p.Steps {
				if strings.Contains(s.Text, "in the room") {
					room = s.Text
				}
				if strings.Contains(s.Text, "until it is cold") {
					cold = s.Text
				}
			}
		}
		return room, cold
	}
	if room, cold := lines(); !strings.Contains(room, "about 21 °C (assumed)") || !strings.Contains(cold, "(assumed)") {
		t.Errorf("before anything is measured: %q, %q", room, cold)
	}
	if err := k.m.OpenKept(t.Context()); err != nil {
		t.Fatal(err)
	}
	for day := -8; day < 0; day++ {
		for minute := 0; minute < 24*60; minute += 10 {
			k.m.Clock.Advance(10 * time.Minute)
			at := now.AddDate(0, 0, day).Add(time.Duration(minute) * time.Minute)
			tempC := 19.0
			if day == -3 && minute >= 60 {
				tempC = 7 + 12*math.Exp2(-float64(minute-60)/150)
			}
			k.m.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.RoomTemp, At: at, Value: 19})
			k.m.Store.Readings.Add(store.Reading{Vessel: "bramble", Channel: store.Warmth, At: at, Value: tempC})
		}
	}
	if err := k.m.Fridge.Set(t.Context(), k.m.Store, "bramble", now.AddDate(0, 0, -3).Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	if err := k.m.Fridge.Set(t.Context(), k.m.Store, "bramble", time.Time{}); err != nil {
		t.Fatal(err)
	}
	if room, cold := lines(); !strings.Contains(room, "about 19 °C (measured here)") || !strings.Contains(cold, "(assumed)") {
		t.Errorf("measured, but for what a mass takes to cool: %q, %q", room, cold)
	}
	from := time.Date(2026, 11, 27, 20, 0, 0, 0, time.UTC)
	stay := plan.Wait{Name: "proof", Fridge: true, From: from, Until: from.Add(11 * time.Hour), Cold: from.Add(7 * time.Hour)}
	known := asked{problem: plan.Problem{Now: from, Hours: plan.Hours{Zone: time.UTC}}, kitchen: monitor.Kitchen{Stays: 3, FridgeC: 7, FridgeSlow: 1.5}}
	if says := known.inFridge(stay).In(text.Reader{}); !strings.Contains(says, "(measured here)") {
		t.Errorf("the mass was known too: %q", says)
	}
}

// Of a mat that came to 24 °C and no further, no plan asks for more.
func TestPlanAsksNoMoreOfAWeakMat(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, leavendtest.PlanMat)
	a := asked{ask: Ask{Vessel: "bramble"}, kitchen: monitor.Kitchen{MatLiftC: 8.2}, roomC: 16}
	starter, _ := k.planner().warmths(&a)
	if last := starter[len(starter)-1]; !last.Mat || last.C != 24 || len(a.doubts) != 1 {
		t.Errorf("it may be kept at %v, and %d doubts are said", starter, len(a.doubts))
	}
}
