package web

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/failure"
)

// backend is the invented kitchen as the server takes it.
func (h *fakeHouse) backend() Backend {
	return Backend{Watch: h, History: h, Journal: h, Feeds: h, Bakes: h, Discards: h, Starters: h, Fridge: h, Uses: h, Reminders: h, Mats: h, Push: h, ReadyBy: h, Plans: h, Doughs: h, Depths: h, Exports: h, Holidays: h}
}

// allRoutes are the addresses that a server answers.
func allRoutes() []route { return (&Server{sessions: &sessions{}}).apiRoutes(Backend{}) }

// Rename, Remove, Hours and SetHours make the invented kitchen a Household.
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
		return &failure.Refusal{Code: "warmed", Why: "The mat warms it."}
	}
	if h.gone == nil {
		h.gone = map[string]bool{}
	}
	h.gone[vessel] = true
	return h.known(vessel)
}

func (h *fakeHouse) Hours(context.Context) (Hours, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.hours.AsleepFrom == "" {
		return Hours{AsleepFrom: "22:30", AsleepTo: "06:30", Away: []Absence{{From: "08:00", To: "17:00", Days: []string{"mon", "tue"}}}}, nil
	}
	return h.hours, nil
}

func (h *fakeHouse) SetHours(_ context.Context, hours Hours) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.hours = hours
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
