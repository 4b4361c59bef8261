package web

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/text"
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
	sheet := PlanSheet{Ask: ask, Name: "Bramble", Invented: true, Grounds: says("plan.grounds.feeds", text.Count("n", 8)), Recipes: fakeRecipes, MadeAt: now, RoomC: 21, FeedsUsed: 8}
	if !ask.Ready.After(now) {
		return sheet, &failure.Refusal{Code: "past-hour", Say: text.Say("error.past_hour")}
	}
	if ask.Ready.Before(now.Add(8 * time.Hour)) {
		sheet.NoPlan, sheet.Earliest = new(says("plan.none.no_time", text.Sub("at", text.Say("time.that_week", text.Time("at", ask.Ready))))), now.Add(11*time.Hour)
		return sheet, nil
	}
	if ask.Fridge {
		sheet.Doubts = []planning.Said{says("plan.doubt.long", text.Name("name", "Bramble"), text.Count("n", 12))}
	}
	h.plans.ask, h.plans.shown = ask, nil
	for i, ratio := range []string{"1:5:5", "1:2:2"} {
		h.plans.shown = append(h.plans.shown, fakePlan(fmt.Sprintf("p-%d", i+1), ratio, ask.Ready, time.Duration(i)*3*time.Hour))
	}
	sheet.Plans = h.plans.shown
	return sheet, nil
}

// says is a sentence of the invented kitchen, whose clock is in UTC.
func says(key string, args ...text.Arg) planning.Said {
	m := text.Say(key, args...)
	return planning.Said{Text: m.In(text.Reader{}), Say: m}
}

// then is a sentence with another behind it.
func then(s planning.Said, key string, args ...text.Arg) planning.Said {
	m := text.Sentences(s.Say, text.Say(key, args...))
	return planning.Said{Text: m.In(text.Reader{}), Say: m}
}

// weighs lists weights by what is weighed.
func weighs(all ...any) (out []text.Message) {
	for i := 0; i < len(all); i += 2 {
		out = append(out, text.Say("plan.step.weight", text.Weight("grams", all[i].(float64)), text.Sub("what", text.Ingredient(all[i+1].(string)))))
	}
	return out
}

func fakePlan(id, ratio string, ready time.Time, later time.Duration) Plan {
	at := func(before time.Duration) time.Time { return ready.Add(-before) }
	line := func(name, kind string, text planning.Said, before, early, late time.Duration) PlanStep {
		return PlanStep{Name: name, Kind: kind, Text: text.Text, Say: text.Say, At: at(before), Earliest: at(before + early), Latest: at(before - late), Until: at(before - 20*time.Minute)}
	}
	mat := text.Say("plan.kept.mat", text.Temp("temp", 26))
	feed := line("feed", "do", then(says("plan.step.feed", text.Name("ratio", ratio), text.Weight("keep", 12), text.List("flours", weighs(58.0, "wheat")), text.Weight("water", 58)),
		"plan.then.keep", text.Sub("kept", mat)), 24*time.Hour-later, time.Hour, 2*time.Hour)
	feed.Mat, feed.WarmthC = true, new(26.0)
	shape := line("shape", "do", then(says("plan.step.work", text.Sub("stage", text.Stage("shape"))), "plan.then.fridge", text.Sub("stage", text.Stage("proof")), text.Sub("until", text.Say("time.that_week", text.Time("at", at(time.Hour))))), 11*time.Hour, time.Hour, time.Hour)
	shape.Fridge = true
	bake := line("bake", "do", says("plan.step.oven", text.Time("at", at(time.Hour)), text.Sub("stage", text.Stage("bake")), text.Duration("span", 40*time.Minute), text.Temp("low", 93), text.Temp("high", 98)), 40*time.Minute, 0, 0)
	bake.OvenOn = at(time.Hour)
	return Plan{ID: id, Score: 98 - int(later.Hours())*4, Ratio: ratio, Loaf: ready, Late: new(0.01),
		Steps: []PlanStep{feed,
			line("top", "top", says("plan.step.peak"), 17*time.Hour-later, 40*time.Minute, 50*time.Minute),
			line("mix", "do", then(says("plan.step.adds", text.Sub("stage", text.Stage("mix")), text.List("adds", weighs(100.0, "ripe starter", 500.0, "wheat", 330.0, "water", 10.0, "salt"))),
				"plan.then.ready", text.Sub("stage", text.Stage("bulk")), text.Sub("kept", mat), text.Sub("at", text.Say("time.that_day", text.Time("at", at(12*time.Hour)))), text.Time("low", at(13*time.Hour)), text.Time("high", at(11*time.Hour))), 17*time.Hour-later, 30*time.Minute, 100*time.Minute),
			shape, bake, line("loaf", "loaf", says("plan.step.loaf"), 0, 0, 0)},
		Risks: []planning.Said{says("plan.risk.that", text.Sub("chance", text.Say("plan.chance.n2")), text.Sub("what", text.Say("plan.risk.peak_before", text.Sub("at", text.Say("time.that_day", text.Time("at", at(25*time.Hour)))), text.Sub("busy", text.Say("plan.busy.asleep")))))},
		Why: []planning.Said{says("plan.because.peak", text.Sub("otherwise", text.Say("plan.because.fed", text.Name("ratio", "1:1:1"))), text.Sub("at", text.Say("time.that_day", text.Time("at", at(28*time.Hour+50*time.Minute)))),
			text.Sub("verdict", text.Say("plan.because.busy", text.Sub("busy", text.Say("plan.busy.asleep")))))}}
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
	return &failure.Refusal{Code: "stale", Say: text.Say("error.stale")}
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
