package setup

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak/plan"
)

// Recipes are the baker's own and those that leavend brings along.
func (w *Setup) Recipes(context.Context) (web.Recipes, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	conf, _, err := w.present()
	if err != nil {
		return web.Recipes{}, err
	}
	out := web.Recipes{All: []web.Recipe{}, Blocked: w.blocked()}
	for i, r := range conf.Plan.AllRecipes() {
		shown := shownRecipe(r)
		shown.Own = i < len(conf.Plan.Recipes)
		out.All = append(out.All, shown)
	}
	return out, nil
}

// SetRecipe saves a recipe. The recipe that is meant where none is named follows
// when it gets another name.
func (w *Setup) SetRecipe(_ context.Context, name string, r web.Recipe) error {
	return w.change(func(conf *config.Config, text []byte) ([]byte, error) {
		own := recipeOf(r)
		if r.Name != name {
			if _, taken := conf.Plan.FindRecipe(r.Name); taken {
				return nil, &failure.Refusal{Code: "recipe-taken", Why: "There is a recipe of that name already."}
			}
		}
		return config.EditRecipe(text, w.file, name, &own)
	})
}

// RemoveRecipe takes one of the baker's own out.
func (w *Setup) RemoveRecipe(_ context.Context, name string) error {
	return w.change(func(conf *config.Config, text []byte) ([]byte, error) {
		for _, r := range conf.Plan.Recipes {
			if r.Name == name {
				return config.EditRecipe(text, w.file, name, nil)
			}
		}
		return nil, failure.ErrUnknown
	})
}

func shownRecipe(r plan.Recipe) web.Recipe {
	out := web.Recipe{Name: r.Name, StarterG: web.Real(r.StarterG), WaterG: web.Real(r.WaterG), SaltG: web.Real(r.SaltG), Flours: []web.Flour{}, Stages: []web.RecipeStage{}}
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
