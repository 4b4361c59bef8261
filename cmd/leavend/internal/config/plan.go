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
	Recipe               string            // the bread that is meant where none is named
	Recipes              []plan.Recipe     // the baker's own, then those that leavend brings along under other names
	Renamed              map[string]string // names that recipes had before, with those that they have now
	Flours               []plan.Flour      // what is in the house; nil: enough of everything
	Stops                dough.Stops       // how far a bulk rises, by the dough's temperature and by what follows
	FridgeC              float64           // of the fridge that dough goes into
}

// FindRecipe returns the recipe of a name, also of one that it had before; "" is the
// usual one.
func (p Plan) FindRecipe(name string) (plan.Recipe, bool) {
	if name == "" {
		name = p.Recipe
	}
	if r, ok := find(p.Recipes, name); ok {
		return r, true
	}
	return find(p.Recipes, p.Renamed[name])
}

// NameNow is the name that a recipe has now; of one that is no longer there it stays.
func (p Plan) NameNow(name string) string {
	if r, ok := p.FindRecipe(name); ok && name != "" {
		return r.Name
	}
	return name
}

func find(all []plan.Recipe, name string) (plan.Recipe, bool) {
	for _, r := range all {
		if r.Name == name {
			return r, true
		}
	}
	return plan.Recipe{}, false
}

// withExamples adds the recipes that leavend brings along under other names.
func withExamples(own []plan.Recipe) []plan.Recipe {
	all := own
	for _, r := range plan.Recipes() {
		if _, is := find(own, r.Name); !is {
			all = append(all, r)
		}
	}
	return all
}

// RecipeNames are the names of all recipes.
func (p Plan) RecipeNames() []string {
	var names []string
	for _, r := range p.Recipes {
		names = append(names, r.Name)
	}
	return names
}
