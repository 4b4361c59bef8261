package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strconv"
	"syscall"
	"time"

	"leavend/cmd/leavend/internal/failure"
)

// problem is an error on its way out, in the form of RFC 9457.
type problem struct {
	Status     int           `json:"status"`
	Code       string        `json:"code"`
	Title      string        `json:"title"`
	Detail     string        `json:"detail,omitempty"`
	RetryAfter time.Duration `json:"-"`
}

func (p *problem) Error() string { return fmt.Sprintf("%d %s: %s", p.Status, p.Code, p.Detail) }

// Detail is what a person reads of an error of the page.
func Detail(err error) string {
	var p *problem
	if errors.As(err, &p) {
		return p.Detail
	}
	return err.Error()
}

func newProblem(status int, code, detail string, args ...any) *problem {
	if len(args) > 0 {
		detail = fmt.Sprintf(detail, args...)
	}
	return &problem{Status: status, Code: code, Title: http.StatusText(status), Detail: detail}
}

// asProblem turns any error into what the page may see. The text of an
// unexpected error stays in the log: it may name files.
func (s *Server) asProblem(r *http.Request, err error) *problem {
	var p *problem
	var refusal *failure.Refusal
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &refusal):
		return newProblem(http.StatusConflict, refusal.Code, "%s", refusal.Why)
	case errors.Is(err, failure.ErrUnknown):
		return newProblem(http.StatusNotFound, "unknown", "Nothing of that name is kept here.")
	case errors.Is(err, failure.ErrFull), errors.Is(err, syscall.ENOSPC):
		return newProblem(http.StatusInsufficientStorage, "disk-full", "The disk is full, so this could not be stored. Make room on it, then do it again.")
	case errors.As(err, &tooLarge):
		return newProblem(http.StatusRequestEntityTooLarge, "too-large", "That is more than %d bytes.", tooLarge.Limit)
	case r.Context().Err() != nil:
		return newProblem(http.StatusServiceUnavailable, "gone", "The request was given up.")
	}
	s.log.Error("web: request failed", slog.String("path", r.URL.Path), slog.Any("err", err))
	return newProblem(http.StatusInternalServerError, "broken", "The daemon could not do it; its log says why.")
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
