package web

import (
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// readyByHandler takes the time at which a vessel should be ready.
type readyByHandler struct {
	readyBy ReadyBy
	now     func() time.Time
}

// putWish takes the hour at which a vessel shall be ready.
func (h readyByHandler) putWish(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		At time.Time `json:"at"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if in.At.IsZero() {
		return problem.New(http.StatusUnprocessableEntity, "missing", "at is missing.")
	}
	var c checks
	c.that(in.At.After(h.now()), "at: that hour is past.")
	c.that(in.At.Before(h.now().Add(48*time.Hour)), "at: a wish lies at most two days ahead.")
	if c.err != nil {
		return c.err
	}
	if err := h.readyBy.Wish(r.Context(), r.PathValue("vessel"), in.At); err != nil {
		return err
	}
	return noContent(w)
}

func (h readyByHandler) deleteWish(w http.ResponseWriter, r *http.Request) error {
	if err := h.readyBy.DropWish(r.Context(), r.PathValue("vessel")); err != nil {
		return err
	}
	return noContent(w)
}
