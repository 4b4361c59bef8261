package config

import (
	"fmt"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/plan"
)

// EditRecipe returns the text of a configuration in which a recipe of the baker's
// own stands in the place of the one of that name, or behind the others where there
// is none; nil takes it out. Everything else, comments too, stays as it was.
func EditRecipe(file []byte, path, name string, r *plan.Recipe) ([]byte, error) {
	before, err := Parse(file, path)
	if err != nil {
		return nil, err
	}
	lines := split(file)
	old, err := recipeBlocks(file, lines)
	if err != nil {
		return nil, fmt.Errorf("config: set plan.recipe in %s: %w", path, err)
	}
	var fresh []string
	found := false
	for i, one := range before.Plan.Recipes {
		switch {
		case one.Name != name:
			fresh = append(fresh, strings.Join(lines[old[i].from:old[i].to], ""))
		case r != nil:
			fresh = append(fresh, recipeTOML(*r))
			fallthrough
		default:
			found = true
		}
	}
	if r != nil && !found {
		fresh = append(fresh, recipeTOML(*r))
	}
	after := []byte(strings.TrimRight(putBlocks(lines, old, fresh, "#[[plan.recipe]]"), "\n") + "\n")
	if found && before.Plan.Recipe == name {
		if after, err = set(after, "plan", "", Setting{"usual_recipe", quote(usualAfter(name, r))}); err != nil {
			return nil, fmt.Errorf("config: set plan.usual_recipe in %s: %w", path, err)
		}
	}
	if _, err := Parse(after, path); err != nil {
		return nil, err
	}
	return after, nil
}

// usualAfter is the recipe that is meant where none is named, once the one that was is
// renamed or taken out.
func usualAfter(name string, r *plan.Recipe) string {
	if r != nil {
		return r.Name
	}
	if _, there := find(plan.Recipes(), name); there {
		return name
	}
	return plan.Recipes()[0].Name
}

// recipeBlocks finds the lines of each recipe, its flours and stages included.
func recipeBlocks(file []byte, lines []string) ([]block, error) {
	out, err := blocksOf(file, lines, "plan", "recipe")
	if err != nil || len(out) == 0 {
		return out, err
	}
	root, _, _ := parse(file)
	for i, item := range findTable(root, "plan", "").fields["recipe"].items {
		for _, part := range []string{"flour", "stage"} {
			if item.fields[part] == nil {
				continue
			}
			for _, sub := range item.fields[part].items {
				b, err := blockOf(lines, sub)
				if err != nil {
					return nil, err
				}
				out[i].to = max(out[i].to, b.to)
			}
		}
	}
	return out, nil
}

// recipeTOML writes a recipe as the file has it.
func recipeTOML(r plan.Recipe) string {
	var b strings.Builder
	fmt.Fprintf(&b, "[[plan.recipe]]\nname = %s\nstarter_g = %s\nwater_g = %s\nsalt_g = %s\n", quote(r.Name), decimal(r.StarterG), decimal(r.WaterG), decimal(r.SaltG))
	for _, f := range r.Flours {
		fmt.Fprintf(&b, "[[plan.recipe.flour]]\nkind = %s\ngrams = %s\n", quote(f.Kind), decimal(f.Grams))
	}
	for _, s := range r.Stages {
		b.WriteString(stageTOML(s))
	}
	return b.String()
}

func stageTOML(s plan.Stage) string {
	var b strings.Builder
	span := func(key string, d time.Duration) {
		if d > 0 {
			fmt.Fprintf(&b, "%s = %q\n", key, text.Spell(d))
		}
	}
	number := func(key string, v float64, want bool) {
		if want {
			fmt.Fprintf(&b, "%s = %s\n", key, decimal(v))
		}
	}
	fmt.Fprintf(&b, "[[plan.recipe.stage]]\nname = %s\nkind = %q\n", quote(s.Name), s.Kind)
	span("time", s.Time)
	number("at_c", s.AtC, s.Kind == plan.Rise)
	number("rise_percent", 100*s.To, s.To > 0)
	number("early", s.Early, s.Kind == plan.Rise || s.Early > 0)
	number("late", s.Late, s.Kind == plan.Rise || s.Late > 0)
	if s.Folds.Count > 0 {
		fmt.Fprintf(&b, "folds = %d\n", s.Folds.Count)
		span("folds_every", s.Folds.Every)
	}
	span("fridge_shortest", s.FridgeShortest)
	span("fridge_longest", s.FridgeLongest)
	span("oven_before", s.Before)
	if len(s.Adds) > 0 {
		fmt.Fprintf(&b, "adds = [\"%s\"]\n", strings.Join(s.Adds, `", "`))
	}
	return b.String()
}
