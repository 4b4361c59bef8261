package web

import (
	"net/http"
	"slices"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
)

// planHandler plans bread.
type planHandler struct {
	plans Plans
	now   func() time.Time
}

// getPlans answers the baker's question: for a loaf at an hour, what to do
// when. It changes nothing.
func (h planHandler) getPlans(r *http.Request) (PlanSheet, error) {
	q := query{values: r.URL.Query()}
	ask := PlanAsk{
		Vessel: q.values.Get("vessel"), Recipe: q.values.Get("recipe"), Ready: q.time("ready", h.now()),
		Cooled: q.flag("cooled"), Fridge: q.flag("fridge"), HaveG: q.number("have_g", 0, maxGrams), ByHand: q.flag("by_hand"),
		Loaves: int(q.number("loaves", 0, mostLoaves)), Levain: q.values.Get("levain"),
	}
	if q.err != nil {
		return PlanSheet{}, q.err
	}
	sheet, err := h.plans.Plans(r.Context(), ask)
	sheet.Doubts, sheet.Plans, sheet.Recipes = orEmpty(sheet.Doubts), orEmpty(sheet.Plans), orEmpty(sheet.Recipes)
	for i := range sheet.Plans {
		sheet.Plans[i] = whole(sheet.Plans[i])
	}
	return sheet, err
}

// whole keeps null out of a plan's lists.
func whole(p Plan) Plan {
	p.Steps, p.Risks, p.Why = orEmpty(p.Steps), orEmpty(p.Risks), orEmpty(p.Why)
	return p
}

func (h planHandler) getPlan(*http.Request) (out struct {
	Chosen  *ChosenPlan `json:"chosen"`
	Recipes []string    `json:"recipes"`
	Weekly  *Weekly     `json:"weekly"`
}, err error) {
	out.Chosen, out.Recipes = h.plans.ChosenPlan()
	if out.Recipes, out.Weekly = orEmpty(out.Recipes), h.plans.WeeklyPlan(); out.Chosen != nil {
		out.Chosen.Plan = whole(out.Chosen.Plan)
	}
	return out, nil
}

func (h planHandler) putPlanWeekly(r *http.Request, in struct {
	Days   []string `json:"days"`
	At     string   `json:"at"`
	Recipe string   `json:"recipe"`
	Vessel string   `json:"vessel"`
	Cooled bool     `json:"cooled"`
	ByHand bool     `json:"by_hand"`
	Levain string   `json:"levain"`
}) error {
	return h.plans.SetWeeklyPlan(r.Context(), Weekly{Days: in.Days, At: in.At, Recipe: in.Recipe, Vessel: in.Vessel, Cooled: in.Cooled, ByHand: in.ByHand, Levain: in.Levain})
}

func (h planHandler) deletePlanWeekly(r *http.Request) error {
	return h.plans.SetWeeklyPlan(r.Context(), Weekly{})
}

func (h planHandler) putPlan(r *http.Request, in struct {
	ID string `json:"id"`
}) error {
	return h.plans.ChoosePlan(r.Context(), in.ID)
}

func (h planHandler) putPlanDone(r *http.Request, in struct {
	Step string `json:"step"`
}) error {
	return h.plans.PlanStepDone(r.Context(), in.Step)
}

func (h planHandler) getPlanCalendar(w http.ResponseWriter, r *http.Request) error {
	q := query{values: r.URL.Query()}
	taste := Taste{Units: q.choice("units", "metric", "us"), Clock: q.choice("clock", "24", "12"), Language: q.choice("language", text.Languages()...)}
	if q.err != nil {
		return q.err
	}
	b, err := h.plans.PlanCalendar(r.Context(), q.values.Get("id"), taste)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/calendar; charset=utf-8")
	w.Header().Set("Content-Disposition", `attachment; filename="bread.ics"`)
	w.Header().Set("Cache-Control", "no-store")
	_, _ = w.Write(b)
	return nil
}

// flag reads a parameter that is true or false, and false when it is not there.
func (q *query) flag(name string) bool {
	switch q.values.Get(name) {
	case "", "false":
		return false
	case "true":
		return true
	}
	q.fail(name, "true or false")
	return false
}

// choice reads a parameter that is one of some words, and "" when it is not there.
func (q *query) choice(name string, words ...string) string {
	got := q.values.Get(name)
	if got != "" && !slices.Contains(words, got) {
		q.fail(name, strings.Join(words, " or "))
	}
	return got
}

// mostLoaves are as many as one dough is planned for.
const mostLoaves = 12
