package web

import (
	"context"
	"net/http"
	"strings"
	"time"
	"unicode/utf8"
)

// Household changes what stands in the configuration about the jars and bowls. The
// daemon starts again with each change.
type Household interface {
	// Rename gives a jar or bowl another name. Its history stays.
	Rename(ctx context.Context, vessel, name string) error
	// Remove takes it out of the configuration. Its history stays in the store.
	Remove(ctx context.Context, vessel string) error
	// SetFloor says how far below its sensor the floor of a vessel is.
	SetFloor(ctx context.Context, vessel string, mm float64) error
}

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
