package web

import (
	"net/http"
	"slices"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

// Recipes are all that a plan can be asked for.
type Recipes struct {
	All     []Recipe `json:"recipes"`
	Removed []string `json:"removed"` // names of those that were taken out here and that the configuration, or leavend, has
}

// Recipe is a bread: what goes in, and its stages in their order.
type Recipe struct {
	Name     string        `json:"name"`
	Own      bool          `json:"own"`     // the baker's own; false: an example that leavend brings along
	Changed  bool          `json:"changed"` // it was changed here; the configuration, or leavend, has it otherwise
	StarterG Real          `json:"starter_g"`
	WaterG   Real          `json:"water_g"`
	SaltG    Real          `json:"salt_g"`
	Flours   []Flour       `json:"flours"`
	Stages   []RecipeStage `json:"stages"`
}

// RecipeStage is one part of a recipe. Times are in minutes.
type RecipeStage struct {
	Name           string   `json:"name"`
	Kind           string   `json:"kind"` // hands, rise or rest
	Minutes        Real     `json:"minutes"`
	AtC            Real     `json:"at_c,omitempty"`            // of a rise: the temperature that its time is for
	Rise           Real     `json:"rise,omitempty"`            // of a rise: the share by which it has risen then
	Early          Real     `json:"early,omitempty"`           // how much sooner it may end, as a share of its time
	Late           Real     `json:"late,omitempty"`            // how much later
	Folds          int      `json:"folds,omitempty"`           // of a rise
	FoldsEvery     Real     `json:"folds_every,omitempty"`     // of a rise
	FridgeShortest Real     `json:"fridge_shortest,omitempty"` // of a rise: how long it may be in the fridge instead
	FridgeLongest  Real     `json:"fridge_longest,omitempty"`
	OvenBefore     Real     `json:"oven_before,omitempty"` // of work: how long before it the oven is switched on
	Adds           []string `json:"adds,omitempty"`        // of work: what goes in
}

// maxStages bounds a recipe's stages, as the plan does.
const maxStages = 12

func (h rulesHandler) putRecipe(r *http.Request, in Recipe) error {
	var c checks
	c.that(in.Name != "", "name: 1 to 60 characters.")
	c.text("name", in.Name, 60)
	for name, g := range map[string]Real{"starter_g": in.StarterG, "water_g": in.WaterG, "salt_g": in.SaltG} {
		c.grams(name, float64(g))
	}
	c.that(len(in.Flours) >= 1 && len(in.Flours) <= maxFlours, "flours: 1 to 8.")
	for _, f := range in.Flours {
		c.grams("grams", float64(f.Grams))
		c.text("kind", f.Kind, 60)
		c.that(f.Kind != "", "kind: 1 to 60 characters.")
	}
	c.that(len(in.Stages) >= 1 && len(in.Stages) <= maxStages, "stages: 1 to 12.")
	if c.err != nil {
		return c.err
	}
	name := r.PathValue("recipe")
	is := slices.ContainsFunc(h.rules.Recipes().All, func(one Recipe) bool { return one.Name == name })
	if is && r.Header.Get("If-None-Match") == "*" { // a new one was asked for
		return &failure.Refusal{Code: "recipe-taken", Say: text.Say("error.recipe_taken")}
	}
	return h.rules.SetRecipe(r.Context(), name, in)
}
