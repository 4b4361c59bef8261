package config

import (
	"math"
	"strconv"
	"strings"
	"time"

	"leavend/cmd/leavend/internal/text"
	"leavend/peak/dough"
	"leavend/peak/plan"
)

func readPlan(s *section, p *Plan, zone *time.Location) {
	s.clock("asleep_from", &p.AsleepFrom)
	s.clock("asleep_to", &p.AsleepTo)
	s.temperature("coolest_c", &p.CoolestC, limits{low: 15, high: 32})
	s.temperature("warmest_c", &p.WarmestC, limits{low: 15, high: 32})
	if p.CoolestC > p.WarmestC {
		s.wrong("coolest_c", "config.above_key", text.Name("given", plain(p.CoolestC)), text.Name("key", "plan.warmest_c"), text.Name("limit", plain(p.WarmestC)))
	}
	s.flag("dough_on_mat", &p.DoughOnMat)
	s.flag("starter_on_mat", &p.StarterOnMat)
	s.temperature("room_c", &p.RoomC, limits{low: 5, high: 38})
	ratios(s, "ratios", &p.Ratios)
	s.text("usual_recipe", &p.Recipe)
	for _, sub := range s.sections("away") {
		p.Away = append(p.Away, readAway(sub, zone))
	}
	for _, sub := range s.sections("flour") {
		p.Flours = append(p.Flours, readFlour(sub))
	}
	s.temperature("fridge_c", &p.FridgeC, limits{low: 0, high: 12})
	readStops(s, p)
	var own []plan.Recipe
	for _, sub := range s.sections("recipe") {
		one := readRecipe(sub)
		if _, twice := find(own, one.Name); twice && one.Name != "" {
			sub.wrong("name", "config.two_recipes", text.Name("name", one.Name))
		}
		own = append(own, one)
	}
	p.Recipes = withExamples(own)
	if _, ok := p.FindRecipe(""); !ok {
		s.wrong("usual_recipe", "config.no_recipe", text.Name("name", p.Recipe), text.Sub("hint", didYouMean(p.Recipe, p.RecipeNames())))
	}
	s.done()
}

// readStops reads the table of when a bulk ends; one of the file takes the place of the
// whole table that leavend brings along.
func readStops(s *section, p *Plan) {
	var own dough.Stops
	for _, sub := range s.sections("stop") {
		row := dough.Stop{}
		percent := func(key string, dst *float64) {
			v := 0.0
			sub.number(key, &v, limits{low: 10, high: 300, unit: " %"})
			sub.must(sub.given(key), key)
			*dst = v / 100
		}
		sub.temperature("dough_c", &row.DoughC, limits{low: 5, high: 40})
		sub.must(sub.given("dough_c"), "dough_c")
		percent("cold_percent", &row.ColdRise)
		percent("room_percent", &row.RoomRise)
		percent("rye_percent", &row.RyeRise)
		own = append(own, row)
		sub.done()
	}
	if len(own) == 0 {
		return
	}
	if err := own.Check(); err != nil && !s.r.broken {
		s.wrong("stop", "config.as_written", text.Cause("err", err))
		return
	}
	p.Stops = own
}

// ratios reads a list of texts such as "1:5:5".
func ratios(s *section, key string, dst *[]plan.Ratio) {
	var texts []string
	if s.texts(key, &texts); texts == nil {
		return
	}
	got := []plan.Ratio{}
	for _, written := range texts {
		one, ok := ParseRatio(written)
		if !ok {
			s.wrong(key, "config.ratio", text.Name("given", written))
			continue
		}
		got = append(got, one)
	}
	if len(got) == 0 {
		s.wrong(key, "config.no_ratio")
		return
	}
	*dst = got
}

// ParseRatio reads starter : flour : water, such as "1:5:5", with any amount of
// starter.
func ParseRatio(text string) (plan.Ratio, bool) {
	parts := strings.Split(text, ":")
	if len(parts) != 3 {
		return plan.Ratio{}, false
	}
	var v [3]float64
	for i, part := range parts {
		f, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil || math.IsNaN(f) || math.IsInf(f, 0) || f < 0 {
			return plan.Ratio{}, false
		}
		v[i] = f
	}
	one := plan.Ratio{Flour: v[1] / v[0], Water: v[2] / v[0]}
	return one, v[0] > 0 && one.Flour >= 0.1 && one.Flour <= 100 && one.Water <= 200
}

// readAway reads a time at which the baker is away: of every week, or once.
func readAway(s *section, zone *time.Location) plan.Away {
	var a plan.Away
	var from, to ClockTime
	var days []Day
	s.clock("from", &from)
	s.clock("to", &to)
	wordList(s, "days", &days, Days()...)
	moment := func(n *node) (time.Time, bool) { return n.moment(zone) }
	value(s, "start", &a.Start, text.Say("config.want.moment"), moment)
	value(s, "end", &a.End, text.Say("config.want.moment"), moment)
	a.From, a.To = int(from), int(to)
	for _, d := range days {
		a.Days = append(a.Days, d.Weekday())
	}
	weekly, once := s.given("from") || s.given("to") || s.given("days"), s.given("start") || s.given("end")
	switch {
	case weekly && once:
		s.wrong("start", "config.away_both")
	case once && (!s.given("start") || !s.given("end")):
		s.together("start", "end")
	case once && !a.Start.IsZero() && !a.End.IsZero() && !a.End.After(a.Start):
		s.wrong("end", "config.not_after", text.Name("other", "start"))
	case !once && (!s.given("from") || !s.given("to")):
		s.missing("from", "config.away_none")
	case !once && from == to:
		s.wrong("to", "config.same_hours")
	}
	s.done()
	return a
}

func readFlour(s *section) plan.Flour {
	var f plan.Flour
	s.text("kind", &f.Kind)
	f.Kind = plan.FlourKind(f.Kind)
	s.number("grams", &f.Grams, limits{low: 0, high: 100_000, unit: " g"})
	s.must(f.Kind != "", "kind")
	s.must(s.given("grams"), "grams")
	s.done()
	return f
}

// readRecipe reads one of the baker's own recipes.
func readRecipe(s *section) plan.Recipe {
	var out plan.Recipe
	before := len(s.r.problems)
	s.text("name", &out.Name)
	const most = 20_000
	s.number("starter_g", &out.StarterG, limits{low: 1, high: most, unit: " g"})
	s.number("water_g", &out.WaterG, limits{low: 0, high: most, unit: " g"})
	s.number("salt_g", &out.SaltG, limits{low: 0, high: most, unit: " g"})
	for _, sub := range s.sections("flour") {
		out.Flours = append(out.Flours, readFlour(sub))
	}
	for _, sub := range s.sections("stage") {
		out.Stages = append(out.Stages, readStage(sub))
	}
	s.done()
	if err := out.Check(); err != nil && len(s.r.problems) == before && !s.r.broken {
		s.wrong("name", "config.unplannable", text.Cause("err", err))
	}
	return out
}

// readStage reads one stage of a recipe.
func readStage(s *section) plan.Stage {
	st := plan.Stage{Kind: plan.Hands}
	s.text("name", &st.Name)
	word(s, "kind", &st.Kind, plan.Kinds()...)
	if st.Kind == plan.Rise {
		st.Early, st.Late = 0.12, 0.2 // no dough is ready for a minute only
	}
	s.span("time", &st.Time, time.Minute, 72*time.Hour)
	s.span("oven_before", &st.Before, 0, 3*time.Hour)
	s.temperature("at_c", &st.AtC, limits{low: 4, high: 40})
	percent := 0.0
	s.number("rise_percent", &percent, limits{low: 10, high: 300, unit: " %"})
	st.To = percent / 100
	s.number("early", &st.Early, limits{low: 0, high: 0.5})
	s.number("late", &st.Late, limits{low: 0, high: 2})
	wordList(s, "adds", &st.Adds, plan.Added()...)
	s.whole("folds", &st.Folds.Count, 0, 8)
	s.span("folds_every", &st.Folds.Every, 10*time.Minute, 3*time.Hour)
	s.span("fridge_shortest", &st.FridgeShortest, time.Hour, 96*time.Hour)
	s.span("fridge_longest", &st.FridgeLongest, time.Hour, 96*time.Hour)
	s.must(s.given("name"), "name")
	s.must(s.given("time"), "time")
	s.mustWith(st.Kind != plan.Rise || s.given("at_c"), "at_c", `kind = "rise"`)
	for _, key := range []string{"at_c", "rise_percent", "fridge_shortest", "fridge_longest"} {
		if st.Kind != plan.Rise && s.given(key) {
			s.wrong(key, "config.rise_only", text.Name("given", string(st.Kind)))
		}
	}
	s.together("fridge_shortest", "fridge_longest")
	s.done()
	return st
}

// onePlan is a [plan] that has one of everything, for schema.
func onePlan() *node {
	one := func(t *node) *node { return &node{shape: isTables, line: 1, items: []*node{t}} }
	recipe, p := newTable(1), newTable(1)
	recipe.add("flour", one(newTable(1)))
	recipe.add("stage", one(newTable(1)))
	p.add("away", one(newTable(1)))
	p.add("flour", one(newTable(1)))
	p.add("recipe", one(recipe))
	p.add("stop", one(newTable(1)))
	return p
}
