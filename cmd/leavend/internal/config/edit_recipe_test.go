package config

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leavend/peak/plan"
)

// Every recipe that leavend brings along is written so that it reads back as it was.
func TestEditRecipeReadsBack(t *testing.T) {
	file := []byte("# Mine.\n[plan]\nroom_c = 20.0 # the kitchen\n")
	for _, r := range plan.Recipes() {
		r.Name, r.Invented = "my "+r.Name, false
		var err error
		if file, err = EditRecipe(file, "leavend.toml", r.Name, &r); err != nil {
			t.Fatalf("%s: %v", r.Name, err)
		}
		c, err := Parse(file, "leavend.toml")
		if err != nil {
			t.Fatal(err)
		}
		got, ok := c.Plan.FindRecipe(r.Name)
		if d := cmp.Diff(got, r); !ok || d != "" {
			t.Errorf("%s (-got +want):\n%s", r.Name, d)
		}
	}
	if !strings.HasPrefix(string(file), "# Mine.\n[plan]\nroom_c = 20.0 # the kitchen\n") {
		t.Errorf("the rest has changed:\n%s", file)
	}
}

// One recipe is changed, renamed and taken out; the others, with their comments, stay.
func TestEditRecipeLeavesTheOthers(t *testing.T) {
	const one = "# A neighbour's.\n[[plan.recipe]]\nname = \"rolls\" # small\nstarter_g = 80\nwater_g = 300\nsalt_g = 9\n\n[[plan.recipe.flour]]\nkind = \"white spelt\"\ngrams = 450\n\n" +
		"[[plan.recipe.stage]]\nname = \"mix\"\nkind = \"hands\"\ntime = \"15m\"\n[[plan.recipe.stage]]\nname = \"bulk\"\nkind = \"rise\"\ntime = \"5h\"\nat_c = 25\n[[plan.recipe.stage]]\nname = \"bake\"\ntime = \"20m\"\n"
	const mat = "\n# The mat.\n[mat]\nsetpoint_c = 26\n"
	loaf := plan.Recipes()[0]
	loaf.Name = "our loaf"
	edit := func(file, name string, r *plan.Recipe) string {
		t.Helper()
		after, err := EditRecipe([]byte(file), "leavend.toml", name, r)
		if err != nil {
			t.Fatal(err)
		}
		return string(after)
	}
	both := edit(one+mat, "our loaf", &loaf)
	if !strings.HasPrefix(both, one) || !strings.HasSuffix(both, mat) || !strings.Contains(both, "our loaf") {
		t.Fatalf("added:\n%s", both)
	}
	loaf.Name, loaf.Flours = "weekend loaf", []plan.Flour{{Kind: "wheat", Grams: 400}, {Kind: "whole rye", Grams: 100}}
	renamed := edit(both, "our loaf", &loaf)
	if strings.Contains(renamed, "our loaf") || !strings.Contains(renamed, "kind = \"whole rye\"\ngrams = 100\n") {
		t.Errorf("renamed:\n%s", renamed)
	}
	if d := cmp.Diff(edit(renamed, "weekend loaf", nil), one+mat); d != "" {
		t.Errorf("taken out again (-got +want):\n%s", d)
	}
	loaf.StarterG = 0
	if _, err := EditRecipe([]byte(one), "leavend.toml", "rolls", &loaf); err == nil {
		t.Error("a recipe without starter was taken")
	}
	if _, err := EditRecipe([]byte("plan.recipe = []\n"), "leavend.toml", "x", &loaf); err == nil {
		t.Error("a layout that cannot be followed was changed")
	}
}

// The usual recipe keeps its place under another name, and falls back to an example.
func TestEditRecipeFollowsTheUsual(t *testing.T) {
	loaf := plan.Recipes()[0]
	loaf.Name = "our loaf"
	file, err := EditRecipe(nil, "leavend.toml", "our loaf", &loaf)
	if err != nil {
		t.Fatal(err)
	}
	if file, err = Edit(file, "leavend.toml", "plan", "", Setting{"usual_recipe", `"our loaf"`}); err != nil {
		t.Fatal(err)
	}
	loaf.Name = "weekend loaf"
	for name, want := range map[string]string{"weekend loaf": "weekend loaf", "": "pan loaf"} {
		r := &loaf
		if name == "" {
			r = nil
		}
		after, err := EditRecipe(file, "leavend.toml", "our loaf", r)
		if err != nil {
			t.Fatal(err)
		}
		if c, err := Parse(after, "leavend.toml"); err != nil || c.Plan.Recipe != want {
			t.Errorf("the usual recipe is %q, %v; want %q", c.Plan.Recipe, err, want)
		}
	}
}
