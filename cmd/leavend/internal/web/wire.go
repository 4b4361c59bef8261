package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"net/url"
	"strconv"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// Limits of a request's body.
const (
	maxBody      = 16 << 10
	maxPhotoBody = 3 << 20
)

// readBody decodes one JSON value into v. Unknown names are errors: a change
// that was misspelt must not half happen.
func readBody(w http.ResponseWriter, r *http.Request, limit int64, v any) error {
	kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil || kind != "application/json" {
		return problem.New(http.StatusUnsupportedMediaType, "json", "Send JSON, with Content-Type: application/json.")
	}
	d := json.NewDecoder(http.MaxBytesReader(w, r.Body, limit))
	d.DisallowUnknownFields()
	if err := d.Decode(v); err != nil {
		return bodyProblem(err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return problem.New(http.StatusBadRequest, "body", "There is something after the JSON value.")
	}
	return nil
}

func bodyProblem(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return err
	}
	return problem.New(http.StatusBadRequest, "body", "The request cannot be read: %s.", clip(err.Error()))
}

// writeJSON answers with v. Nothing of the API may be kept by a cache.
func writeJSON(w http.ResponseWriter, status int, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return fmt.Errorf("web: encode answer: %w", err)
	}
	writeEncoded(w, status, b)
	return nil
}

func writeEncoded(w http.ResponseWriter, status int, b []byte) {
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(status)
	_, _ = w.Write(b) // a reader who left is no error of ours
}

func noContent(w http.ResponseWriter) error {
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(http.StatusNoContent)
	return nil
}

// query reads one request's parameters and remembers the first mistake.
type query struct {
	values url.Values
	err    error
}

func (q *query) fail(name, want string) {
	if q.err == nil {
		q.err = problem.New(http.StatusBadRequest, "parameter", "%s: %q is not %s.", name, clip(q.values.Get(name)), want)
	}
}

func (q *query) time(name string, otherwise time.Time) time.Time {
	text := q.values.Get(name)
	if text == "" {
		return otherwise
	}
	t, err := time.Parse(time.RFC3339Nano, text)
	if err != nil || t.Year() < 1970 || t.Year() > 9000 {
		q.fail(name, "a time such as 2026-11-25T07:00:00Z")
		return otherwise
	}
	return t
}

func (q *query) integer(name string, otherwise, low, high int) int {
	text := q.values.Get(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < low || n > high {
		q.fail(name, fmt.Sprintf("a whole number from %d to %d", low, high))
		return otherwise
	}
	return n
}

func (q *query) number(name string, low, high float64) float64 {
	text := q.values.Get(name)
	if text == "" {
		return low
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= low && v <= high) {
		q.fail(name, fmt.Sprintf("a number from %g to %g", low, high))
		return low
	}
	return v
}
