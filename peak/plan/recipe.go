package plan

import (
	"errors"
	"fmt"
	"slices"
	"time"
)

// Kind says what a stage asks of the baker.
type Kind string

// The kinds of stages.
const (
	Hands Kind = "hands" // work: somebody must be there throughout
	Rise  Kind = "rise"  // the dough works by itself, faster when warm
	Rest  Kind = "rest"  // only time passes, whatever the warmth
)

// Kinds returns all kinds of stages.
func Kinds() []Kind { return []Kind{Hands, Rise, Rest} }

// Stage is one part of a recipe, from the mixing on.
type Stage struct {
	Name string
	Kind Kind
	Time time.Duration // of Rise: at AtC
	AtC  float64       // of Rise: the warmth that Time is for, °C
	To   float64       // of Rise: the share by which it has risen after Time; 0 is doubled, which is 1

	// Of Rise and Rest: how much sooner or later than ready it may end and be
	// as good, as shares of its time. Twice as far is the hard limit.
	Early, Late float64

	// Of Rise: it may be spent in the fridge instead, for this long. Both 0:
	// it may not.
	FridgeShortest, FridgeLongest time.Duration

	Adds  []string // of Hands: what goes in; nil throughout a recipe: all at its first stage
	Folds Folds    // of Rise: at its beginning

	Before time.Duration // of Hands: somebody must be there so long before, to heat the oven
}

// Cold reports whether the stage may be spent in the fridge.
func (s Stage) Cold() bool { return s.FridgeLongest > 0 }

// Flour is a weight of one kind of flour.
type Flour struct {
	Kind  string
	Grams float64
}

// Recipe is a bread: what goes in, and its stages in their order. The first
// stage begins with ripe starter.
type Recipe struct {
	Name     string // what it is asked for by
	Invented bool   // made up for leavend from common practice, not somebody's tried recipe
	StarterG float64
	Flours   []Flour
	WaterG   float64
	SaltG    float64
	Stages   []Stage
}

// Check refuses a recipe that cannot be planned, and says which stage is to
// blame.
func (r Recipe) Check() error {
	switch {
	case r.Name == "":
		return errors.New("it has no name")
	case len(r.Stages) == 0:
		return errors.New("it has no stages")
	case len(r.Stages) > 12:
		return fmt.Errorf("it has %d stages; 12 are the most", len(r.Stages))
	case r.Stages[0].Kind != Hands:
		return fmt.Errorf("stage %q comes first, so it must be work with the hands: the mixing", r.Stages[0].Name)
	case !(r.StarterG > 0):
		return errors.New("it takes no starter")
	}
	for i, s := range r.Stages {
		if err := s.check(); err != nil {
			return fmt.Errorf("stage %d, %q: %w", i+1, s.Name, err)
		}
		if slices.ContainsFunc(r.Stages[:i], func(before Stage) bool { return before.Name == s.Name }) {
			return fmt.Errorf("stage %d, %q: a stage before has that name; each needs one of its own, such as \"%s %d\"", i+1, s.Name, s.Name, i+1)
		}
		if i > 0 && s.Kind != Hands && r.Stages[i-1].Kind != Hands {
			return fmt.Errorf("stage %d, %q: two waits stand in a row; put the work between them, or make them one", i+1, s.Name)
		}
	}
	if err := r.checkMethod(); err != nil {
		return err
	}
	if last := r.until(false); last[len(last)-1].Kind != Hands {
		return fmt.Errorf("stage %d, %q: nothing is done with the dough after it; put the work that ends it behind, such as \"bake\" or \"use\"", len(last), last[len(last)-1].Name)
	}
	return nil
}

// ownNames are those of a plan's steps that are no recipe's.
var ownNames = []string{OutOfFridge, WarmingUp, RefreshFeed, RefreshWait, FeedName, TopName, IntoFridge, LoafName}

func (s Stage) check() error {
	switch {
	case s.Name == "":
		return errors.New("it has no name")
	case slices.Contains(ownNames, s.Name):
		return errors.New("the plan's own steps have that name; call it otherwise")
	case s.Kind != Hands && s.Kind != Rise && s.Kind != Rest:
		return fmt.Errorf("its kind is %q; it must be hands, rise or rest", s.Kind)
	case s.Time < time.Minute || s.Time > 72*time.Hour:
		return fmt.Errorf("it takes %v; that must be between 1m and 72h", s.Time)
	case s.Kind == Rise && !(s.AtC >= 4 && s.AtC <= 40):
		return fmt.Errorf("its time is for %g °C; that must be between 4 and 40", s.AtC)
	case !(s.Early >= 0 && s.Early <= 0.5) || !(s.Late >= 0 && s.Late <= 2):
		return fmt.Errorf("it may end early by %g and late by %g of its time; that must be at most 0.5 and 2", s.Early, s.Late)
	case s.Cold() && s.Kind != Rise:
		return errors.New("only dough that rises can go into the fridge instead")
	case s.Cold() && (s.FridgeShortest < time.Hour || s.FridgeShortest > s.FridgeLongest || s.FridgeLongest > 96*time.Hour):
		return fmt.Errorf("in the fridge from %v to %v; that must be between 1h and 96h, the shorter first", s.FridgeShortest, s.FridgeLongest)
	case s.Before != 0 && (s.Kind != Hands || s.Before < 0 || s.Before > 3*time.Hour):
		return errors.New("heating up before it is for work only, and takes up to 3h")
	}
	return nil
}

// FlourG is the weight of all flour, without that in the starter.
func (r Recipe) FlourG() float64 {
	sum := 0.0
	for _, f := range r.Flours {
		sum += f.Grams
	}
	return sum
}

// DoughG is the weight of the dough.
func (r Recipe) DoughG() float64 { return r.FlourG() + r.WaterG + r.SaltG + r.StarterG }

// Bakes reports whether the recipe ends in the oven.
func (r Recipe) Bakes() bool {
	all := r.until(false)
	if len(all) == 0 {
		return false
	}
	last := all[len(all)-1]
	return last.Kind == Hands && (last.Before > 0 || last.Name == "bake")
}

// until returns the recipe's stages; without the last wait, the cooling, if
// the loaf is wanted as it comes out of the oven.
func (r Recipe) until(cooled bool) []Stage {
	n := len(r.Stages)
	if !cooled && n > 1 && r.Stages[n-1].Kind == Rest {
		n--
	}
	return r.Stages[:n]
}

// Recipes returns the recipes that leavend brings along. All are invented;
// their times are common practice: bulk six to eight hours warm, or overnight
// to about double; a pan loaf bakes for about 40 minutes; shaped dough waits
// in the fridge for eight to sixteen hours.
func Recipes() []Recipe {
	const m, h = time.Minute, time.Hour
	mix := Stage{Name: "mix", Kind: Hands, Time: 30 * m, Adds: Added()}
	shape := Stage{Name: "shape", Kind: Hands, Time: 20 * m}
	cool := Stage{Name: "cool", Kind: Rest, Time: 90 * m, Late: 2}
	return []Recipe{
		{Name: "pan loaf", Invented: true, StarterG: 100, Flours: []Flour{{"wheat", 500}}, WaterG: 330, SaltG: 10, Stages: []Stage{
			mix, {Name: "bulk", Kind: Rise, Time: 6*h + 30*m, AtC: 25, To: 1, Early: 0.12, Late: 0.2, Folds: Folds{2, 45 * m}},
			shape, {Name: "proof", Kind: Rise, Time: 2 * h, AtC: 25, Early: 0.2, Late: 0.35, FridgeShortest: 8 * h, FridgeLongest: 16 * h},
			{Name: "bake", Kind: Hands, Time: 40 * m, Before: 20 * m}, cool,
		}},
		{Name: "overnight loaf", Invented: true, StarterG: 45, Flours: []Flour{{"wheat", 500}}, WaterG: 325, SaltG: 10, Stages: []Stage{
			mix, {Name: "bulk", Kind: Rise, Time: 10 * h, AtC: 22, To: 1, Early: 0.12, Late: 0.2},
			shape, {Name: "proof", Kind: Rise, Time: 2 * h, AtC: 24, Early: 0.2, Late: 0.35, FridgeShortest: 8 * h, FridgeLongest: 16 * h},
			{Name: "bake", Kind: Hands, Time: 40 * m, Before: 20 * m}, cool,
		}},
		{Name: "hearth loaf", Invented: true, StarterG: 100, Flours: []Flour{{"wheat", 450}, {"whole wheat", 50}}, WaterG: 360, SaltG: 10, Stages: []Stage{
			{Name: "autolyse", Kind: Hands, Time: 10 * m, Adds: []string{AddsFlour, AddsWater}}, {Name: "soak", Kind: Rest, Time: 40 * m, Late: 1},
			{Name: "mix", Kind: Hands, Time: 20 * m, Adds: []string{AddsStarter, AddsSalt}},
			{Name: "bulk", Kind: Rise, Time: 6 * h, AtC: 25, To: 1, Early: 0.12, Late: 0.2, Folds: Folds{Count: 4, Every: 30 * m}},
			{Name: "preshape", Kind: Hands, Time: 10 * m}, {Name: "bench rest", Kind: Rest, Time: 20 * m, Late: 1},
			{Name: "shape", Kind: Hands, Time: 10 * m}, {Name: "proof", Kind: Rise, Time: 90 * m, AtC: 25, Early: 0.2, Late: 0.35, FridgeShortest: 8 * h, FridgeLongest: 36 * h},
			{Name: "bake", Kind: Hands, Time: 45 * m, Before: 45 * m}, cool,
		}},
		{Name: "rye tin", Invented: true, StarterG: 200, Flours: []Flour{{"rye", 500}}, WaterG: 420, SaltG: 11, Stages: []Stage{
			{Name: "mix", Kind: Hands, Time: 20 * m, Adds: Added()}, {Name: "proof", Kind: Rise, Time: 2*h + 30*m, AtC: 27, To: 0.3, Early: 0.12, Late: 0.2},
			{Name: "bake", Kind: Hands, Time: 60 * m, Before: 20 * m}, {Name: "cool", Kind: Rest, Time: 12 * h, Late: 1},
		}},
	}
}
