package web

import (
	"net/http"
	"time"
)

// readyByHandler takes the time at which a vessel should be ready.
type readyByHandler struct {
	readyBy ReadyBy
	now     func() time.Time
}

// putTargetTime takes the hour at which a vessel shall be ready.
func (h readyByHandler) putTargetTime(r *http.Request, in struct {
	At time.Time `json:"at"`
}) error {
	var c checks
	c.given(!in.At.IsZero(), "at")
	c.that(in.At.After(h.now()), "at: that hour is past.")
	c.that(in.At.Before(h.now().Add(48*time.Hour)), "at: a target time lies at most two days ahead.")
	if c.err != nil {
		return c.err
	}
	return h.readyBy.SetTargetTime(r.Context(), r.PathValue("vessel"), in.At)
}
