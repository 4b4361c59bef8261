package plan

import (
	"fmt"
	"slices"
	"time"
)

// What a stage adds to the dough.
const (
	AddsFlour   = "flour"
	AddsWater   = "water"
	AddsStarter = "starter"
	AddsSalt    = "salt"
)

// Added returns all that a stage may add.
func Added() []string { return []string{AddsFlour, AddsWater, AddsStarter, AddsSalt} }

// Folds are stretch-and-folds at the beginning of a rise.
type Folds struct {
	Count int
	Every time.Duration // also from the mixing to the first
}

// hour is how long it is from the beginning of the rise to the last fold.
func (f Folds) hour() time.Duration { return time.Duration(f.Count) * f.Every }

// At returns the moments of the folds of a rise that began at a time.
func (f Folds) At(began time.Time) []time.Time {
	var out []time.Time
	for i := range f.Count {
		out = append(out, began.Add(time.Duration(i+1)*f.Every))
	}
	return out
}

// Joins returns the stage at which the starter goes in: the first that says so, or else
// the first of all.
func (r Recipe) Joins() int {
	return max(0, slices.IndexFunc(r.Stages, func(s Stage) bool { return slices.Contains(s.Adds, AddsStarter) }))
}

// AddsAt returns what goes in at a stage. Where no stage says, all goes in at the first.
func (r Recipe) AddsAt(name string) []string {
	said := slices.ContainsFunc(r.Stages, func(s Stage) bool { return len(s.Adds) > 0 })
	for i, s := range r.Stages {
		switch {
		case s.Name != name:
		case said:
			return s.Adds
		case i == 0:
			return Added()
		}
	}
	return nil
}

// lead is how long before the starter joins the first stage begins.
func (r Recipe) lead() time.Duration {
	var d time.Duration
	for _, s := range r.Stages[:r.Joins()] {
		d += s.Time
	}
	return d
}

// checkMethod refuses a recipe whose method cannot be followed.
func (r Recipe) checkMethod() error {
	var all []string
	for i, s := range r.Stages {
		for _, a := range s.Adds {
			switch {
			case !slices.Contains(Added(), a):
				return fmt.Errorf("stage %d, %q: it adds %q; that must be flour, water, starter or salt", i+1, s.Name, a)
			case slices.Contains(all, a):
				return fmt.Errorf("stage %d, %q: %s went in before", i+1, s.Name, a)
			case s.Kind != Hands:
				return fmt.Errorf("stage %d, %q: only work adds something", i+1, s.Name)
			}
			all = append(all, a)
		}
		if f := s.Folds; f.Count != 0 && (s.Kind != Rise || f.Count < 0 || f.Count > 8 || f.Every < 10*time.Minute || f.Every > 3*time.Hour || f.hour() > s.Time) {
			return fmt.Errorf("stage %d, %q: %d folds every %v; that must be at most 8, 10m to 3h apart, within a rise", i+1, s.Name, f.Count, f.Every)
		}
	}
	if len(all) > 0 {
		if i := slices.IndexFunc(Added(), func(a string) bool { return !slices.Contains(all, a) }); i >= 0 {
			return fmt.Errorf("no stage adds the %s", Added()[i])
		}
		for _, s := range r.Stages[:r.Joins()] {
			if s.Kind == Rise {
				return fmt.Errorf("stage %q rises before the starter joins", s.Name)
			}
		}
	}
	return nil
}

// missedFolds is what it costs that the baker misses some folds of a rise that begins
// at a slot.
func (p Problem) missedFolds(s Stage) func(start int) float64 {
	if s.Folds.Count == 0 {
		return nil
	}
	return func(start int) float64 {
		cost := 0.0
		for _, at := range s.Folds.At(p.at(start)) {
			if p.Hours.Busy(at) != "" {
				cost += missedFold
			}
		}
		return cost
	}
}
