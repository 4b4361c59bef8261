package monitor

import (
	"context"
	"maps"
	"slices"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// RecipeBook is what the baker changed of the recipes on the page.
type RecipeBook struct {
	Changes []RecipeChange    `json:"changes"`
	Renamed map[string]string `json:"renamed,omitempty"` // names that recipes had before, with those that they have now: plans and loaves of the past know them by those
}

// RecipeChange is a recipe as it is on the page.
type RecipeChange struct {
	Of     string      `json:"of,omitempty"`    // the recipe of the configuration in whose place it stands; "": it stands beside them
	Recipe plan.Recipe `json:"recipe,omitzero"` // without a name the other is taken out
}

// named finds the change that a recipe goes by now; -1 where there is none.
func (b RecipeBook) named(name string) int {
	return slices.IndexFunc(b.Changes, func(c RecipeChange) bool { return c.Recipe.Name == name })
}

// of finds the change of a recipe of the configuration; -1 where there is none.
func (b RecipeBook) of(name string) int {
	return slices.IndexFunc(b.Changes, func(c RecipeChange) bool { return c.Of == name })
}

// over puts the recipes into a plan's settings.
func (b RecipeBook) over(p *config.Plan) {
	var all []plan.Recipe
	for _, r := range p.Recipes {
		if b.of(r.Name) < 0 && b.named(r.Name) < 0 {
			all = append(all, r)
		} else if i := b.of(r.Name); i >= 0 && b.Changes[i].Recipe.Name != "" {
			all = append(all, b.Changes[i].Recipe)
		}
	}
	for _, c := range b.Changes {
		if c.Recipe.Name != "" && !has(all, c.Recipe.Name) {
			all = append(all, c.Recipe)
		}
	}
	slices.SortStableFunc(all, func(a, b plan.Recipe) int { return order(a) - order(b) })
	p.Recipes, p.Renamed = all, b.Renamed
	if r, ok := p.FindRecipe(""); ok {
		p.Recipe = r.Name
	} else if len(all) > 0 {
		p.Recipe = all[0].Name
	}
}

// order puts the baker's own before the examples.
func order(r plan.Recipe) int {
	if r.Invented {
		return 1
	}
	return 0
}

func has(all []plan.Recipe, name string) bool {
	return slices.ContainsFunc(all, func(r plan.Recipe) bool { return r.Name == name })
}

// with returns the book with a recipe in the place of the one of a name, or beside the
// others. file are the recipes of the configuration.
func (b RecipeBook) with(file []plan.Recipe, name string, r plan.Recipe) RecipeBook {
	out := RecipeBook{slices.Clone(b.Changes), b.Renamed}
	i := b.named(name)
	switch {
	case i < 0 && has(file, name):
		i = b.of(name) // taken out before, if there is one
		out.Changes = append(out.Changes, RecipeChange{Of: name, Recipe: r})
		out.Renamed = renamed(b.Renamed, name, r.Name)
	case i < 0:
		out.Changes = append(out.Changes, RecipeChange{Recipe: r})
	default:
		out.Changes[i].Recipe = r
		out.Renamed = renamed(b.Renamed, name, r.Name)
		return out
	}
	if i >= 0 {
		out.Changes = slices.Delete(out.Changes, i, i+1)
	}
	return out
}

// without returns the book without a recipe: one of the configuration is noted as taken
// out.
func (b RecipeBook) without(file []plan.Recipe, name string) RecipeBook {
	out, of := RecipeBook{slices.Clone(b.Changes), b.Renamed}, name
	if i := b.named(name); i >= 0 {
		of = b.Changes[i].Of
		out.Changes = slices.Delete(out.Changes, i, i+1)
	}
	if has(file, of) {
		out.Changes = append(out.Changes, RecipeChange{Of: of})
		out.Renamed = renamed(b.Renamed, name, of)
	} else {
		out.Renamed = maps.Clone(b.Renamed)
		maps.DeleteFunc(out.Renamed, func(_, now string) bool { return now == name })
	}
	return out
}

// renamed notes that a recipe has another name now.
func renamed(before map[string]string, from, to string) map[string]string {
	if from == to {
		return before
	}
	out := map[string]string{from: to}
	for old, now := range before {
		if now == from {
			now = to
		}
		out[old] = now
	}
	delete(out, to)
	return out
}

// Recipe is a recipe and where it comes from.
type Recipe struct {
	plan.Recipe
	Changed bool // it stands in the place of one of the configuration
}

// Recipes are all that hold, and the names of those of the configuration that were taken
// out.
func (p Rules) Recipes() (all []Recipe, out []string) {
	book := p.m.changes.recipes.of(recipesSetting)
	for _, r := range p.m.Effective().Plan.Recipes {
		i := book.named(r.Name)
		all = append(all, Recipe{r, i >= 0 && has(p.m.Conf.Plan.Recipes, book.Changes[i].Of)})
	}
	for _, c := range book.Changes {
		if c.Recipe.Name == "" && has(p.m.Conf.Plan.Recipes, c.Of) {
			out = append(out, c.Of)
		}
	}
	return all, out
}

// SetRecipe puts a recipe in the place of the one of that name, or beside the others.
// Whatever names it by a name that it had goes on to mean it.
func (p Rules) SetRecipe(ctx context.Context, name string, r plan.Recipe) error {
	if err := r.Check(); err != nil {
		return &failure.Refusal{Code: "recipe", Say: text.Say("config.unplannable", text.Cause("err", err))}
	}
	book := p.m.changes.recipes.of(recipesSetting)
	now, former := book.Renamed[r.Name]
	if r.Name != name && has(p.m.Effective().Plan.Recipes, r.Name) || former && now != name {
		return &failure.Refusal{Code: "recipe-taken", Say: text.Say("error.recipe_taken")}
	}
	return p.saveRecipes(ctx, book.with(p.m.Conf.Plan.Recipes, name, r))
}

// RemoveRecipe takes a recipe out. One stays.
func (p Rules) RemoveRecipe(ctx context.Context, name string) error {
	all := p.m.Effective().Plan.Recipes
	switch {
	case !has(all, name):
		return failure.ErrUnknown
	case len(all) == 1:
		return &failure.Refusal{Code: "recipe-last", Say: text.Say("error.recipe_last")}
	}
	return p.saveRecipes(ctx, p.m.changes.recipes.of(recipesSetting).without(p.m.Conf.Plan.Recipes, name))
}

// RestoreRecipe has a recipe of the configuration hold again that was changed or taken
// out.
func (p Rules) RestoreRecipe(ctx context.Context, name string) error {
	book := p.m.changes.recipes.of(recipesSetting)
	i := book.named(name)
	if i < 0 {
		i = book.of(name)
	}
	if i < 0 || !has(p.m.Conf.Plan.Recipes, book.Changes[i].Of) {
		return failure.ErrUnknown
	}
	out := RecipeBook{slices.Delete(slices.Clone(book.Changes), i, i+1), maps.Clone(book.Renamed)}
	out.Renamed = renamed(out.Renamed, name, book.Changes[i].Of)
	return p.saveRecipes(ctx, out)
}

func (p Rules) saveRecipes(ctx context.Context, book RecipeBook) error {
	return p.m.changes.recipes.set(ctx, p.m.Store.States.SetSetting, recipesSetting, book)
}
