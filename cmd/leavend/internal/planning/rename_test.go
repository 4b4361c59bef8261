package planning

import (
	"testing"
	"time"

	"leavend/cmd/leavend/internal/leavendtest"
)

// A plan that was chosen goes on when its recipe is renamed, under the new name.
func TestRecipeOfThePlanIsRenamed(t *testing.T) {
	k := newKitchen(t, leavendtest.ThursdayEvening, "")
	k.chooses(Ask{Vessel: "bramble", Recipe: "pan loaf", Ready: time.Date(2026, 11, 28, 17, 0, 0, 0, time.UTC)})
	r, _ := k.m.Conf.Plan.FindRecipe("pan loaf")
	r.Name = "tin loaf"
	if err := k.m.Rules().SetRecipe(t.Context(), "pan loaf", r); err != nil {
		t.Fatal(err)
	}
	if c := k.Chosen(); c.Ask.Recipe != "tin loaf" || c.Trouble != nil {
		t.Errorf("it is %q, %v", c.Ask.Recipe, c.Trouble)
	}
	if err := k.Done(t.Context(), k.Chosen().Plan.Steps[0].Name); err != nil { // the rest is worked out again
		t.Fatal(err)
	}
	if c := k.Chosen(); c.Ask.Recipe != "tin loaf" || c.Trouble != nil {
		t.Errorf("after a step it is %q, %v", c.Ask.Recipe, c.Trouble)
	}
}
