package config

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leavend/peak/plan"
)

// The recipe that the reference shows is the pan loaf that leavend brings
// along, so that a baker who edits it starts from what was planned before.
func TestReferenceShowsThePanLoaf(t *testing.T) {
	full := unset.ReplaceAllString(Reference(), "$1")
	c, err := Parse([]byte(full), "leavend.toml")
	if err != nil {
		t.Fatal(err)
	}
	want := plan.Recipes()[0]
	want.Invented = false
	if d := cmp.Diff(append([]plan.Recipe{want}, plan.Recipes()[1:]...), c.Plan.Recipes); d != "" {
		t.Errorf("the baker's own takes the place of its namesake (-want +got):\n%s", d)
	}
	if got := c.Plan.Away[1].End.Sub(c.Plan.Away[1].Start); got != 32*time.Hour {
		t.Errorf("away once for %v, want 32h", got)
	}
}

func TestPlanProblems(t *testing.T) {
	tests := []struct{ name, text, want string }{
		{"a ratio without water", "[plan]\nratios = [\"1:5\"]", `leavend.toml:2: plan.ratios: "1:5" is no ratio; write starter : flour : water with 1 of starter, such as "1:5:5"`},
		{"no ratio", "[plan]\nratios = []", "plan.ratios: has no ratio in it"},
		{"unknown recipe", "[plan]\nusual_recipe = \"pan laof\"", `plan.usual_recipe: there is no recipe "pan laof"; did you mean "pan loaf"?`},
		{"away without an end", "[plan]\n[[plan.away]]\nfrom = \"08:00\"", "leavend.toml:3: plan.away[1].from: from and to must be given"},
		{"away twice over", "[plan]\n[[plan.away]]\nfrom = \"08:00\"\nto = \"09:00\"\nstart = \"2027-01-01 10:00\"", "plan.away[1].start: start and end are for once"},
		{"away backwards", "[[plan.away]]\nstart = \"2027-01-02 10:00\"\nend = 2027-01-01T10:00:00Z", "plan.away[1].end: is not after start"},
		{"no date", "[[plan.away]]\nstart = \"Saturday\"\nend = \"Sunday\"", `plan.away[1].start: "Saturday" is text; a date with a time such as "2027-01-02 18:00" is wanted`},
		{"flour without a kind", "[[plan.flour]]\ngrams = 5", "plan.flour[1].kind: must be given"},
		{"a stage that rises at no warmth", "[[plan.recipe]]\nname = \"a\"\n[[plan.recipe.stage]]\nname = \"bulk\"\nkind = \"rise\"\ntime = \"5h\"", "leavend.toml:3: plan.recipe[a].stage[bulk].at_c: must be given with kind = \"rise\""},
		{"a kind with a slip", "[[plan.recipe]]\nname = \"a\"\n[[plan.recipe.stage]]\nname = \"bulk\"\nkind = \"rice\"\ntime = \"5h\"", `plan.recipe[a].stage[bulk].kind: "rice" is not one of "hands", "rise", "rest"; did you mean "rise"?`},
		{"a recipe without stages", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10", "leavend.toml:2: plan.recipe[a].name: this recipe cannot be planned: it has no stages"},
		{"two waits in a row", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"mix\"\ntime = \"5m\"\n[[plan.recipe.stage]]\nname = \"b\"\nkind = \"rest\"\ntime = \"5m\"\n[[plan.recipe.stage]]\nname = \"c\"\nkind = \"rest\"\ntime = \"5m\"", `stage 3, "c": two waits stand in a row`},
		{"two stages of one name", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"fold\"\ntime = \"5m\"\n[[plan.recipe.stage]]\nname = \"fold\"\ntime = \"5m\"", `stage 2, "fold": a stage before has that name; each needs one of its own, such as "fold 2"`},
		{"a stage with a name of the plan's", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"feed\"\ntime = \"5m\"", `stage 1, "feed": the plan's own steps have that name; call it otherwise`},
		{"dough that no stage uses", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"mix\"\ntime = \"5m\"\n[[plan.recipe.stage]]\nname = \"bulk\"\nkind = \"rise\"\nat_c = 24\ntime = \"5h\"", `stage 2, "bulk": nothing is done with the dough after it; put the work that ends it behind, such as "bake" or "use"`},
		{"a stage of no time", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"mix\"\ntime = \"0h\"", `plan.recipe[a].stage[mix].time: "0h" is below the limit 1m`},
		{"a stage of weeks", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"mix\"\ntime = \"400h\"", `plan.recipe[a].stage[mix].time: "400h" is above the limit 72h`},
		{"a key of the wrong table", "[plan]\noven_before = \"5m\"", "there is no such key here; it belongs in [[plan.recipe.stage]]"},
		{"twice the same recipe", "[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"m\"\ntime = \"5m\"\n[[plan.recipe]]\nname = \"a\"\nstarter_g = 10\n[[plan.recipe.stage]]\nname = \"m\"\ntime = \"5m\"", `leavend.toml:8: plan.recipe[a].name: two recipes are called "a"`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse([]byte(tt.text), "leavend.toml")
			if err == nil || !strings.Contains(err.Error(), tt.want) {
				t.Errorf("got %v\nwant %s", err, tt.want)
			}
			if err != nil && !regexp.MustCompile(`(?m)^leavend.toml:\d+: `).MatchString(err.Error()) {
				t.Errorf("no line is named: %v", err)
			}
		})
	}
}

// A recipe is found by the name it has, by one it had before, and where none is
// named it is the usual one.
func TestFindRecipe(t *testing.T) {
	p := Plan{Recipe: "loaf", Recipes: []plan.Recipe{{Name: "loaf"}, {Name: "rye"}}, Renamed: map[string]string{"pan": "loaf", "gone": "nowhere"}}
	for name, want := range map[string]string{"": "loaf", "rye": "rye", "pan": "loaf", "gone": "", "none": ""} {
		if got, ok := p.FindRecipe(name); got.Name != want || ok != (want != "") {
			t.Errorf("FindRecipe(%q) = %q, %v, want %q", name, got.Name, ok, want)
		}
	}
	for name, want := range map[string]string{"": "", "pan": "loaf", "gone": "gone", "rye": "rye"} {
		if got := p.NameNow(name); got != want {
			t.Errorf("NameNow(%q) = %q, want %q", name, got, want)
		}
	}
}

func TestParseRatio(t *testing.T) {
	for text, want := range map[string]plan.Ratio{
		"1:5:5": {Flour: 5, Water: 5}, " 2 : 4 : 3 ": {Flour: 2, Water: 1.5}, "0.5:1:0": {Flour: 2}, "1:100:200": {Flour: 100, Water: 200},
	} {
		if got, ok := ParseRatio(text); !ok || got != want {
			t.Errorf("ParseRatio(%q) = %v, %v, want %v", text, got, ok, want)
		}
	}
	for _, text := range []string{"", "1:5", "1:5:5:5", "0:5:5", "-1:5:5", "1:nan:5", "1:5:inf", "1:five:5", "1:101:5", "1:5:201", "1:0.05:1"} {
		if got, ok := ParseRatio(text); ok {
			t.Errorf("ParseRatio(%q) = %v", text, got)
		}
	}
}

func TestWeekdays(t *testing.T) {
	for i, d := range Days() {
		if got := d.Weekday(); got != time.Weekday((i+1)%7) || !strings.EqualFold(got.String()[:3], string(d)) {
			t.Errorf("%s is %v", d, got)
		}
	}
}
