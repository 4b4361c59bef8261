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
func (h planHandler) getPlans(w http.ResponseWriter, r *http.Request) error {
	q := query{values: r.URL.Query()}
	ask := PlanAsk{
		Vessel: q.values.Get("vessel"), Recipe: q.values.Get("recipe"), Ready: q.time("ready", h.now()),
		Cooled: q.flag("cooled"), Fridge: q.flag("fridge"), HaveG: q.number("have_g", 0, maxGrams), ByHand: q.flag("by_hand"),
		Loaves: int(q.number("loaves", 0, mostLoaves)), Levain: q.values.Get("levain"),
	}
	if q.err != nil {
		return q.err
	}
	sheet, err := h.plans.Plans(r.Context(), ask)
	if err != nil {
		return err
	}
	sheet.Doubts, sheet.Plans, sheet.Recipes = orEmpty(sheet.Doubts), orEmpty(sheet.Plans), orEmpty(sheet.Recipes)
	for i := range sheet.Plans {
		sheet.Plans[i] = whole(sheet.Plans[i])
	}
	return writeJSON(w, http.StatusOK, sheet)
}

// whole keeps null out of a plan's lists.
func whole(p Plan) Plan {
	p.Steps, p.Risks, p.Why = orEmpty(p.Steps), orEmpty(p.Risks), orEmpty(p.Why)
	return p
}

func (h planHandler) getPlan(w http.ResponseWriter, _ *http.Request) error {
	chosen, recipes := h.plans.ChosenPlan()
	if chosen != nil {
		chosen.Plan = whole(chosen.Plan)
	}
	return writeJSON(w, http.StatusOK, struct {
		Chosen  *ChosenPlan `json:"chosen"`
		Recipes []string    `json:"recipes"`
		Weekly  *Weekly     `json:"weekly"`
	}{chosen, orEmpty(recipes), h.plans.WeeklyPlan()})
}

func (h planHandler) putPlanWeekly(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Days   []string `json:"days"`
		At     string   `json:"at"`
		Recipe string   `json:"recipe"`
		Vessel string   `json:"vessel"`
		Cooled bool     `json:"cooled"`
		ByHand bool     `json:"by_hand"`
		Levain string   `json:"levain"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	ask := Weekly{Days: in.Days, At: in.At, Recipe: in.Recipe, Vessel: in.Vessel, Cooled: in.Cooled, ByHand: in.ByHand, Levain: in.Levain}
	if err := h.plans.SetWeeklyPlan(r.Context(), ask); err != nil {
		return err
	}
	return noContent(w)
}

func (h planHandler) deletePlanWeekly(w http.ResponseWriter, r *http.Request) error {
	if err := h.plans.SetWeeklyPlan(r.Context(), Weekly{}); err != nil {
		return err
	}
	return noContent(w)
}

func (h planHandler) postPlanSkip(w http.ResponseWriter, r *http.Request) error {
	if err := h.plans.SkipWeeklyPlan(r.Context()); err != nil {
		return err
	}
	return noContent(w)
}

func (h planHandler) putPlan(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		ID string `json:"id"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if err := h.plans.ChoosePlan(r.Context(), in.ID); err != nil {
		return err
	}
	return noContent(w)
}

func (h planHandler) deletePlan(w http.ResponseWriter, r *http.Request) error {
	if err := h.plans.DropPlan(r.Context()); err != nil {
		return err
	}
	return noContent(w)
}

func (h planHandler) putPlanDone(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Step string `json:"step"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if err := h.plans.PlanStepDone(r.Context(), in.Step); err != nil {
		return err
	}
	return noContent(w)
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
