package web

import (
	"context"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/text"
)

// backend is the invented kitchen as the server takes it.
func (h *fakeHouse) backend() Backend {
	return Backend{Watch: h, History: h, Journal: h, Feeds: h, Bakes: h, Discards: h, Starters: h, Fridge: h, Uses: h, Reminders: h, Mats: h, Push: h, ReadyBy: h, Plans: h, Doughs: h, Depths: h, Exports: h, Holidays: h, Rules: h}
}

// allRoutes are the addresses that a server answers.
func allRoutes() []route { return (&Server{sessions: &sessions{}}).apiRoutes(Backend{}) }

// Rename, Remove and SetFloor make the invented kitchen a Household.
func (h *fakeHouse) Rename(_ context.Context, vessel, name string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.names == nil {
		h.names = map[string]string{}
	}
	h.names[vessel] = name
	return h.known(vessel)
}

func (h *fakeHouse) Remove(_ context.Context, vessel string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if vessel == "bramble" {
		return &failure.Refusal{Code: "warmed", Say: text.Message{}}
	}
	if h.gone == nil {
		h.gone = map[string]bool{}
	}
	h.gone[vessel] = true
	return h.known(vessel)
}

// Hours are those that were set, or else those of an invented configuration.
func (h *fakeHouse) Hours() Hours {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.hours.Own {
		return Hours{AsleepFrom: "22:30", AsleepTo: "06:30", Away: []Absence{{From: "08:00", To: "17:00", Days: []config.Day{"mon", "tue"}}}}
	}
	return h.hours
}

func (h *fakeHouse) SetHours(_ context.Context, hours Hours) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.hours = hours
	h.hours.Own = true
	return nil
}

func (h *fakeHouse) ResetHours(context.Context) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.hours = Hours{}
	return nil
}

func (h *fakeHouse) SetFloor(_ context.Context, vessel string, mm float64) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.floors == nil {
		h.floors = map[string]float64{}
	}
	h.floors[vessel] = mm
	return h.known(vessel)
}

func (h *fakeHouse) Depth(_ context.Context, vessel string, _ time.Time) (WalkReading, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return WalkReading{Value: 171.4, Spread: 0.8, Unit: "mm", Taken: 5}, h.known(vessel)
}

// Recipes are what was kept, and one example, changed or not.
func (h *fakeHouse) Recipes() Recipes {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := Recipes{All: slices.Clone(h.recipes), Removed: []string{}}
	is := slices.ContainsFunc(out.All, func(r Recipe) bool { return r.Changed })
	if h.noLoaf {
		out.Removed = []string{panLoaf().Name}
	} else if !is {
		out.All = append(out.All, panLoaf())
	}
	return out
}

func panLoaf() Recipe {
	return Recipe{Name: "pan loaf", StarterG: 100, WaterG: 330, SaltG: 10, Flours: []Flour{{"wheat", 500}}, Stages: []RecipeStage{
		{Name: "mix", Kind: "hands", Minutes: 30}, {Name: "bulk", Kind: "rise", Minutes: 390, AtC: 25, Rise: 1, Early: 0.12, Late: 0.2, Folds: 2, FoldsEvery: 45},
		{Name: "shape", Kind: "hands", Minutes: 20}, {Name: "proof", Kind: "rise", Minutes: 120, AtC: 25, Early: 0.2, Late: 0.35, FridgeShortest: 480, FridgeLongest: 960},
		{Name: "bake", Kind: "hands", Minutes: 40, OvenBefore: 20}, {Name: "cool", Kind: "rest", Minutes: 90, Late: 2},
	}}
}

func (h *fakeHouse) SetRecipe(_ context.Context, name string, r Recipe) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	r.Own, r.Changed = true, name == panLoaf().Name
	h.recipes = append([]Recipe{r}, h.without(name)...)
	return nil
}

// without are the kept recipes without one. The caller holds mu.
func (h *fakeHouse) without(name string) []Recipe {
	return slices.DeleteFunc(slices.Clone(h.recipes), func(r Recipe) bool { return r.Name == name })
}

func (h *fakeHouse) RemoveRecipe(_ context.Context, name string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if name != panLoaf().Name && len(h.without(name)) == len(h.recipes) {
		return failure.ErrUnknown
	}
	h.recipes, h.noLoaf = h.without(name), h.noLoaf || name == panLoaf().Name
	return nil
}

func (h *fakeHouse) RestoreRecipe(_ context.Context, name string) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.recipes, h.noLoaf = h.without(name), false
	return nil
}
