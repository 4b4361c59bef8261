package web

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/peak/said"
)

// fakePlans are the plans of the invented kitchen: a loaf by the hour asked
// for, with steps counted back from it.
type fakePlans struct {
	shown  []Plan
	ask    PlanAsk
	chosen *ChosenPlan
	weekly *Weekly
}

var fakeRecipes = []string{"pan loaf", "rye tin"}

func (h *fakeHouse) Plans(_ context.Context, ask PlanAsk) (PlanSheet, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	now := h.clock()
	if ask.Recipe == "" {
		ask.Recipe = fakeRecipes[0]
	}
	sheet := PlanSheet{Ask: ask, Name: "Bramble", Invented: true, Grounds: says("The times rest on 8 past feeds of this starter."), Recipes: fakeRecipes, MadeAt: now, RoomC: 21, FeedsUsed: 8}
	if !ask.Ready.After(now) {
		return sheet, &failure.Refusal{Code: "ask", Why: "That hour is past."}
	}
	if ask.Ready.Before(now.Add(8 * time.Hour)) {
		sheet.NoPlan, sheet.Earliest = new(says("There is no way to the pan loaf by %v: too little time, with your hours of sleep and absence.", said.Near(ask.Ready, now))), now.Add(11*time.Hour)
		return sheet, nil
	}
	if ask.Fridge {
		sheet.Doubts = []Said{says("Bramble was last fed 12 days ago. It is fed once first to wake it up; how lively it then is cannot be known before.")}
	}
	h.plans.ask, h.plans.shown = ask, nil
	for i, ratio := range []string{"1:5:5", "1:2:2"} {
		h.plans.shown = append(h.plans.shown, fakePlan(fmt.Sprintf("p-%d", i+1), ratio, ask.Ready, time.Duration(i)*3*time.Hour))
	}
	sheet.Plans = h.plans.shown
	return sheet, nil
}

// says is a sentence of the invented kitchen, whose clock is in UTC.
func says(format string, values ...any) Said {
	l := said.Say(format, values...)
	return Said{Text: l.In(said.Form{}), Say: l}
}

func fakePlan(id, ratio string, ready time.Time, later time.Duration) Plan {
	at := func(before time.Duration) time.Time { return ready.Add(-before) }
	line := func(name, kind string, text Said, before, early, late time.Duration) PlanStep {
		return PlanStep{Name: name, Kind: kind, Text: text.Text, Say: text.Say, At: at(before), Earliest: at(before + early), Latest: at(before - late), Until: at(before - 20*time.Minute)}
	}
	feed := line("feed", "do", says("Feed %v: keep %v of starter, add %v of wheat and %v of water. Keep it on the mat at %v.", ratio, said.Grams(12), said.Grams(58), said.Grams(58), said.Degrees(26)), 24*time.Hour-later, time.Hour, 2*time.Hour)
	feed.Mat, feed.WarmthC = true, new(26.0)
	shape := line("shape", "do", says("Shape. Then proof in the fridge until the morning."), 11*time.Hour, time.Hour, time.Hour)
	shape.Fridge = true
	bake := line("bake", "do", says("Oven on at %v. Bake for 40 min.", said.Clock(at(time.Hour))), 40*time.Minute, 0, 0)
	bake.OvenOn = at(time.Hour)
	return Plan{ID: id, Score: 98 - int(later.Hours())*4, Ratio: ratio, Loaf: ready, Late: new(0.01),
		Steps: []PlanStep{feed,
			line("top", "top", says("Top of the starter, likely."), 17*time.Hour-later, 40*time.Minute, 50*time.Minute),
			line("mix", "do", says("Mix: %v of ripe starter, %v of wheat, %v of water, %v of salt. Then bulk on the mat at %v.", said.Grams(100), said.Grams(500), said.Grams(330), said.Grams(10), said.Degrees(26)), 17*time.Hour-later, 30*time.Minute, 100*time.Minute),
			shape, bake, line("loaf", "loaf", says("The loaf is out of the oven."), 0, 0, 0)},
		Risks: []Said{says("Two in ten that the top comes before %v, while you sleep.", said.Clock(at(25*time.Hour)))},
		Why:   []Said{says("Fed 1:1:1 the top would come at about %v, while you sleep.", said.Clock(at(28*time.Hour+50*time.Minute)))}}
}

func (h *fakeHouse) ChosenPlan() (*ChosenPlan, []string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.plans.chosen == nil {
		return nil, fakeRecipes
	}
	c := *h.plans.chosen
	c.Plan.Steps = append([]PlanStep(nil), c.Plan.Steps...)
	return &c, fakeRecipes
}

func (h *fakeHouse) ChoosePlan(_ context.Context, id string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	for _, p := range h.plans.shown {
		if p.ID == id {
			p.Steps = append([]PlanStep(nil), p.Steps...)
			h.plans.chosen = &ChosenPlan{Ask: h.plans.ask, Name: "Bramble", Plan: p, ChosenAt: h.clock()}
			return nil
		}
	}
	return &failure.Refusal{Code: "stale", Why: "This plan was shown too long ago. Ask again and choose then."}
}

func (h *fakeHouse) DropPlan(context.Context) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.plans.chosen = nil
	return nil
}

func (h *fakeHouse) WeeklyPlan() *Weekly {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.plans.weekly == nil {
		return nil
	}
	w := *h.plans.weekly
	return &w
}

func (h *fakeHouse) SetWeeklyPlan(_ context.Context, w Weekly) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.plans.weekly = nil; len(w.Days) > 0 {
		w.Next = h.clock().AddDate(0, 0, 5)
		h.plans.weekly = &w
	}
	return nil
}

func (h *fakeHouse) SkipWeeklyPlan(context.Context) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.plans.weekly == nil {
		return failure.ErrUnknown
	}
	w := h.plans.weekly
	w.Skipped, w.Next = w.Next, w.Next.AddDate(0, 0, 7)
	return nil
}

func (h *fakeHouse) PlanStepDone(_ context.Context, step string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.plans.chosen == nil {
		return failure.ErrUnknown
	}
	for i := range h.plans.chosen.Plan.Steps {
		if s := &h.plans.chosen.Plan.Steps[i]; s.Name == step && s.Kind == "do" {
			s.Done, s.At = true, h.clock()
			return nil
		}
	}
	return failure.ErrUnknown
}

func (h *fakeHouse) PlanCalendar(_ context.Context, id string, _ Taste) ([]byte, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if id == "" && h.plans.chosen == nil {
		return nil, failure.ErrUnknown
	}
	return []byte("BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//invented//EN\r\nEND:VCALENDAR\r\n"), nil
}
