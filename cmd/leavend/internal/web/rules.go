package web

import (
	"context"
	"net/http"
	"slices"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
)

// PlanRules are what all plans go by. What is changed holds at once, in the place of what
// the configuration says.
type PlanRules interface {
	Hours() Hours
	SetHours(ctx context.Context, h Hours) error
	// ResetHours has the hours of the configuration hold again.
	ResetHours(ctx context.Context) error
	Recipes() Recipes
	// SetRecipe puts a recipe in the place of the one of that name, or beside the
	// others.
	SetRecipe(ctx context.Context, name string, r Recipe) error
	RemoveRecipe(ctx context.Context, name string) error
	// RestoreRecipe has a recipe of the configuration, or one that leavend brings
	// along, hold again that was changed or taken out.
	RestoreRecipe(ctx context.Context, name string) error
}

// Hours are when no step of a plan is set.
type (
	Hours   = monitor.Hours
	Absence = monitor.Absence
)

// maxAway bounds the absences of a week.
const maxAway = 40

type rulesHandler struct{ rules PlanRules }

func (h rulesHandler) putHours(r *http.Request, in Hours) error {
	in.Away = orEmpty(in.Away)
	var c checks
	c.that(len(in.Away) <= maxAway, "away: at most 40 times.")
	for i, a := range in.Away {
		in.Away[i].Days = orEmpty(a.Days)
		for _, d := range a.Days {
			c.that(slices.Contains(config.Days(), d), "days: mon to sun.")
		}
	}
	if c.err != nil {
		return c.err
	}
	return h.rules.SetHours(r.Context(), in)
}
