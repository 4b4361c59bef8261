package monitor

import (
	"slices"
	"testing"

	"leavend/cmd/leavend/internal/config"
	"leavend/peak/plan"
)

// What is changed of the recipes of a configuration holds in their place, by their names
// of before too, and can be taken back.
func TestRecipeBook(t *testing.T) {
	example := plan.Recipes()
	loaf, rolls := example[0], example[1]
	loaf.Name, loaf.Invented, rolls.Name, rolls.Invented = "loaf", false, "rolls", false
	file := append([]plan.Recipe{loaf, rolls}, example...)
	p := config.Plan{Recipe: "loaf", Recipes: file}
	as := func(name string) plan.Recipe {
		r := loaf
		r.Name, r.WaterG = name, 1
		return r
	}
	all := []string{"loaf", "rolls", "pan loaf", "overnight loaf", "hearth loaf", "rye tin"}
	var b RecipeBook
	for _, step := range []struct {
		name  string
		book  func() RecipeBook
		want  []string  // all names
		means [2]string // a name, and the recipe that is found by it
		usual string
	}{
		{"nothing changed", func() RecipeBook { return b }, all, [2]string{"rolls", "rolls"}, "loaf"},
		{"one renamed", func() RecipeBook { return b.with(file, "loaf", as("our loaf")) }, slices.Concat([]string{"our loaf"}, all[1:]), [2]string{"loaf", "our loaf"}, "our loaf"},
		{"renamed again", func() RecipeBook { return b.with(file, "our loaf", as("weekend loaf")) }, slices.Concat([]string{"weekend loaf"}, all[1:]), [2]string{"loaf", "weekend loaf"}, "weekend loaf"},
		{"one added", func() RecipeBook { return b.with(file, "buns", as("buns")) }, []string{"weekend loaf", "rolls", "buns", "pan loaf", "overnight loaf", "hearth loaf", "rye tin"}, [2]string{"our loaf", "weekend loaf"}, "weekend loaf"},
		{"an example changed", func() RecipeBook { return b.with(file, "rye tin", as("rye tin")) }, []string{"weekend loaf", "rolls", "rye tin", "buns", "pan loaf", "overnight loaf", "hearth loaf"}, [2]string{"buns", "buns"}, "weekend loaf"},
		{"one taken out", func() RecipeBook { return b.without(file, "weekend loaf") }, []string{"rolls", "rye tin", "buns", "pan loaf", "overnight loaf", "hearth loaf"}, [2]string{"our loaf", ""}, "rolls"},
		{"the added one taken out", func() RecipeBook { return b.without(file, "buns") }, []string{"rolls", "rye tin", "pan loaf", "overnight loaf", "hearth loaf"}, [2]string{"buns", ""}, "rolls"},
		{"made again by that name", func() RecipeBook { return b.with(file, "loaf", as("loaf")) }, []string{"loaf", "rolls", "rye tin", "pan loaf", "overnight loaf", "hearth loaf"}, [2]string{"our loaf", "loaf"}, "loaf"},
	} {
		b = step.book()
		got := p
		b.over(&got)
		found, _ := got.FindRecipe(step.means[0])
		if names := got.RecipeNames(); !slices.Equal(names, step.want) || found.Name != step.means[1] || got.Recipe != step.usual {
			t.Errorf("%s: %q, %q is %q, usual is %q", step.name, names, step.means[0], found.Name, got.Recipe)
		}
	}
	if n := len(b.Changes); n != 2 {
		t.Errorf("%d changes are kept, want 2: %+v", n, b)
	}
}
