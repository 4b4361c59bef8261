package web

import (
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"strconv"
	"syscall"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web/problem"
)

// asProblem turns any error into what the page may see. The text of an
// unexpected error stays in the log: it may name files.
func (s *Server) asProblem(r *http.Request, err error) *problem.Problem {
	var p *problem.Problem
	var refusal *failure.Refusal
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &refusal):
		return problem.Refused(refusal, readerOf(r))
	case errors.Is(err, failure.ErrUnknown):
		return problem.New(http.StatusNotFound, "unknown", "Nothing of that name is kept here.")
	case errors.Is(err, failure.ErrFull), errors.Is(err, syscall.ENOSPC):
		return problem.New(http.StatusInsufficientStorage, "disk-full", "The disk is full, so this could not be stored. Make room on it, then do it again.")
	case errors.As(err, &tooLarge):
		return problem.New(http.StatusRequestEntityTooLarge, "too-large", "That is more than %d bytes.", tooLarge.Limit)
	case r.Context().Err() != nil:
		return problem.New(http.StatusServiceUnavailable, "gone", "The request was given up.")
	}
	s.log.Error("web: request failed", slog.String("path", r.URL.Path), slog.Any("err", err))
	return problem.New(http.StatusInternalServerError, "broken", "The daemon could not do it; its log says why.")
}

func (s *Server) writeProblem(w http.ResponseWriter, r *http.Request, err error) {
	p := s.asProblem(r, err)
	w.Header().Set("Content-Type", "application/problem+json")
	w.Header().Set("Cache-Control", "no-store")
	if p.RetryAfter > 0 {
		seconds := int((p.RetryAfter + time.Second - 1) / time.Second)
		w.Header().Set("Retry-After", strconv.Itoa(seconds))
	}
	w.WriteHeader(p.Status)
	_ = json.NewEncoder(w).Encode(p) // a reader who left is no error of ours
}
