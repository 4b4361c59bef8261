package backend

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak/plan"
)

// Rules are what all plans go by.
type Rules struct{ monitor.Rules }

// Recipes are the baker's own and those that leavend brings along.
func (p Rules) Recipes() web.Recipes {
	all, removed := p.Rules.Recipes()
	out := web.Recipes{All: []web.Recipe{}, Removed: append([]string{}, removed...)}
	for _, r := range all {
		out.All = append(out.All, shownRecipe(r))
	}
	return out
}

// SetRecipe saves a recipe.
func (p Rules) SetRecipe(ctx context.Context, name string, r web.Recipe) error {
	return p.Rules.SetRecipe(ctx, name, recipeOf(r))
}

func shownRecipe(r monitor.Recipe) web.Recipe {
	out := web.Recipe{Name: r.Name, Own: !r.Invented, Changed: r.Changed, StarterG: web.Real(r.StarterG), WaterG: web.Real(r.WaterG), SaltG: web.Real(r.SaltG), Flours: []web.Flour{}, Stages: []web.RecipeStage{}}
	for _, f := range r.Flours {
		out.Flours = append(out.Flours, web.Flour{Kind: f.Kind, Grams: web.Real(f.Grams)})
	}
	for _, s := range r.Stages {
		out.Stages = append(out.Stages, web.RecipeStage{
			Name: s.Name, Kind: string(s.Kind), Minutes: web.Real(s.Time.Minutes()), AtC: web.Real(s.AtC), Rise: web.Real(s.To), Early: web.Real(s.Early), Late: web.Real(s.Late),
			Folds: s.Folds.Count, FoldsEvery: web.Real(s.Folds.Every.Minutes()), FridgeShortest: web.Real(s.FridgeShortest.Minutes()), FridgeLongest: web.Real(s.FridgeLongest.Minutes()),
			OvenBefore: web.Real(s.Before.Minutes()), Adds: s.Adds,
		})
	}
	return out
}

func recipeOf(r web.Recipe) plan.Recipe {
	out := plan.Recipe{Name: r.Name, StarterG: float64(r.StarterG), WaterG: float64(r.WaterG), SaltG: float64(r.SaltG)}
	for _, f := range r.Flours {
		out.Flours = append(out.Flours, plan.Flour{Kind: plan.FlourKind(f.Kind), Grams: float64(f.Grams)})
	}
	minutes := func(m web.Real) time.Duration {
		return time.Duration(float64(m) * float64(time.Minute)).Round(time.Minute)
	}
	for _, s := range r.Stages {
		out.Stages = append(out.Stages, plan.Stage{
			Name: s.Name, Kind: plan.Kind(s.Kind), Time: minutes(s.Minutes), AtC: float64(s.AtC), To: float64(s.Rise), Early: float64(s.Early), Late: float64(s.Late),
			Folds: plan.Folds{Count: s.Folds, Every: minutes(s.FoldsEvery)}, FridgeShortest: minutes(s.FridgeShortest), FridgeLongest: minutes(s.FridgeLongest),
			Before: minutes(s.OvenBefore), Adds: s.Adds,
		})
	}
	return out
}
