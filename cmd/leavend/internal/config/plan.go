package config

import (
	"leavend/peak/dough"
	"leavend/peak/plan"
)

// Plan is what the planner may assume of the baker and the kitchen, and the
// warmth it may ask for.
type Plan struct {
	AsleepFrom, AsleepTo ClockTime   // no feed is planned in between
	Away                 []plan.Away // nor while the baker is away
	CoolestC, WarmestC   float64     // setpoints that a plan may choose
	DoughOnMat           bool        // dough may stand on a jar's mat
	StarterOnMat         bool        // the starter may stand on a bowl's mat
	RoomC                float64     // taken where no probe measures the room
	Ratios               []plan.Ratio
	Recipe               string        // the bread that is meant where none is named
	Recipes              []plan.Recipe // the baker's own; they come before those of the same name that leavend brings along
	Flours               []plan.Flour  // what is in the house; nil: enough of everything
	Stops                dough.Stops   // how far a bulk rises, by the dough's temperature and by what follows
	FridgeC              float64       // of the fridge that dough goes into
}

// AllRecipes are the baker's own and, after them, those that leavend brings
// along under other names.
func (p Plan) AllRecipes() []plan.Recipe {
	all := append([]plan.Recipe(nil), p.Recipes...)
	for _, r := range plan.Recipes() {
		if _, own := find(p.Recipes, r.Name); !own {
			all = append(all, r)
		}
	}
	return all
}

// FindRecipe returns the recipe of a name; "" is the usual one.
func (p Plan) FindRecipe(name string) (plan.Recipe, bool) {
	if name == "" {
		name = p.Recipe
	}
	return find(p.AllRecipes(), name)
}

func find(all []plan.Recipe, name string) (plan.Recipe, bool) {
	for _, r := range all {
		if r.Name == name {
			return r, true
		}
	}
	return plan.Recipe{}, false
}

// RecipeNames are the names of all recipes.
func (p Plan) RecipeNames() []string {
	var names []string
	for _, r := range p.AllRecipes() {
		names = append(names, r.Name)
	}
	return names
}
