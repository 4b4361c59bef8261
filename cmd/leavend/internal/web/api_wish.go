package web

import (
	"net/http"
	"time"
)

// putWish takes the hour at which a vessel shall be ready.
func (s *Server) putWish(w http.ResponseWriter, r *http.Request) error {
	var in struct {
		At time.Time `json:"at"`
	}
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	if in.At.IsZero() {
		return newProblem(http.StatusUnprocessableEntity, "missing", "at is missing.")
	}
	var c checks
	c.that(in.At.After(s.now()), "at: that hour is past.")
	c.that(in.At.Before(s.now().Add(48*time.Hour)), "at: a wish lies at most two days ahead.")
	if c.err != nil {
		return c.err
	}
	if err := s.house.Wish(r.Context(), r.PathValue("vessel"), in.At); err != nil {
		return err
	}
	return noContent(w)
}

func (s *Server) deleteWish(w http.ResponseWriter, r *http.Request) error {
	if err := s.house.DropWish(r.Context(), r.PathValue("vessel")); err != nil {
		return err
	}
	return noContent(w)
}
