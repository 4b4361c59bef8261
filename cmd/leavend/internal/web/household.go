package web

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"leavend/cmd/leavend/internal/web/problem"
)

// Household changes what stands in the configuration about the jars and bowls,
// and about the baker's day. The daemon starts again with each change.
type Household interface {
	// Rename gives a jar or bowl another name. Its history stays.
	Rename(ctx context.Context, vessel, name string) error
	// Remove takes it out of the configuration. Its history stays in the store.
	Remove(ctx context.Context, vessel string) error
	// SetFloor says how far below its sensor the floor of a vessel is.
	SetFloor(ctx context.Context, vessel string, mm float64) error
	Hours(ctx context.Context) (Hours, error)
	SetHours(ctx context.Context, h Hours) error
	RecipeBook
}

// Hours are when no step of a plan is set.
type Hours struct {
	AsleepFrom string    `json:"asleep_from"` // "22:30"
	AsleepTo   string    `json:"asleep_to"`
	Away       []Absence `json:"away"`              // every week
	Blocked    string    `json:"blocked,omitempty"` // why they cannot be changed here
}

// Absence is a time of the week at which the baker is away.
type Absence struct {
	From string   `json:"from"`
	To   string   `json:"to"`
	Days []string `json:"days"` // on which From falls, mon to sun; none is every day
}

// weekdays are the days of an absence.
var weekdays = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}

// maxAway bounds the absences of a week.
const maxAway = 40

// householdHandler passes changes of the configuration on.
type householdHandler struct {
	household Household
	depths    Depths
	now       func() time.Time
}

func (h householdHandler) there() (Household, error) {
	if h.household == nil {
		return nil, problem.New(http.StatusConflict, "no-reach", noReach)
	}
	return h.household, nil
}

// change answers once something is changed.
func (h householdHandler) change(w http.ResponseWriter, act func(Household) error) error {
	household, err := h.there()
	if err == nil {
		err = act(household)
	}
	if err != nil {
		return err
	}
	return noContent(w)
}

func (h householdHandler) putName(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		Name string `json:"name"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	in.Name = strings.TrimSpace(in.Name)
	var c checks
	c.that(in.Name != "" && utf8.ValidString(in.Name) && len(in.Name) <= 60 && !strings.ContainsFunc(in.Name, func(r rune) bool { return r < ' ' || r == 0x7f }),
		"name: 1 to 60 characters.")
	if c.err != nil {
		return c.err
	}
	return h.change(w, func(household Household) error { return household.Rename(r.Context(), r.PathValue("vessel"), in.Name) })
}

func (h householdHandler) deleteVessel(w http.ResponseWriter, r *http.Request) error {
	return h.change(w, func(household Household) error { return household.Remove(r.Context(), r.PathValue("vessel")) })
}

// getDepth tells what the sensor has said since the vessel was emptied.
func (h householdHandler) getDepth(w http.ResponseWriter, r *http.Request) error {
	q := query{values: r.URL.Query()}
	since := q.time("since", h.now().Add(-time.Minute))
	if q.err != nil {
		return q.err
	}
	depth, err := h.depths.Depth(r.Context(), r.PathValue("vessel"), since)
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, depth)
}

func (h householdHandler) putFloor(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		FloorMM Real `json:"floor_mm"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	var c checks
	c.that(in.FloorMM >= 1 && in.FloorMM <= 4000, "floor_mm: 1 to 4000.")
	if c.err != nil {
		return c.err
	}
	return h.change(w, func(household Household) error {
		return household.SetFloor(r.Context(), r.PathValue("vessel"), float64(in.FloorMM))
	})
}

func (h householdHandler) getHours(w http.ResponseWriter, r *http.Request) error {
	household, err := h.there()
	if err != nil {
		return err
	}
	hours, err := household.Hours(r.Context())
	if err != nil {
		return err
	}
	hours.Away = orEmpty(hours.Away)
	return writeJSON(w, http.StatusOK, hours)
}

func (h householdHandler) putHours(w http.ResponseWriter, r *http.Request) error {
	var in Hours
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	var c checks
	c.that(len(in.Away) <= maxAway, "away: at most 40 times.")
	for _, a := range in.Away {
		for _, d := range a.Days {
			c.that(slices.Contains(weekdays, d), "days: mon to sun.")
		}
	}
	if c.err != nil {
		return c.err
	}
	return h.change(w, func(household Household) error { return household.SetHours(r.Context(), in) })
}
