package web

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
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

func (h householdHandler) putName(r *http.Request, in struct {
	Name string `json:"name"`
}) error {
	in.Name = strings.TrimSpace(in.Name)
	var c checks
	c.that(in.Name != "" && utf8.ValidString(in.Name) && len(in.Name) <= 60 && !strings.ContainsFunc(in.Name, func(r rune) bool { return r < ' ' || r == 0x7f }),
		"name: 1 to 60 characters.")
	if c.err != nil {
		return c.err
	}
	return h.household.Rename(r.Context(), r.PathValue("vessel"), in.Name)
}

func (h householdHandler) deleteVessel(r *http.Request) error {
	return h.household.Remove(r.Context(), r.PathValue("vessel"))
}

// getDepth tells what the sensor has said since the vessel was emptied.
func (h householdHandler) getDepth(r *http.Request) (WalkReading, error) {
	q := query{values: r.URL.Query()}
	since := q.time("since", h.now().Add(-time.Minute))
	if q.err != nil {
		return WalkReading{}, q.err
	}
	return h.depths.Depth(r.Context(), r.PathValue("vessel"), since)
}

func (h householdHandler) putFloor(r *http.Request, in struct {
	FloorMM Real `json:"floor_mm"`
}) error {
	var c checks
	if c.that(in.FloorMM >= 1 && in.FloorMM <= 4000, "floor_mm: 1 to 4000."); c.err != nil {
		return c.err
	}
	return h.household.SetFloor(r.Context(), r.PathValue("vessel"), float64(in.FloorMM))
}

func (h householdHandler) getHours(r *http.Request) (Hours, error) {
	hours, err := h.household.Hours(r.Context())
	hours.Away = orEmpty(hours.Away)
	return hours, err
}

func (h householdHandler) putHours(r *http.Request, in Hours) error {
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
	return h.household.SetHours(r.Context(), in)
}
