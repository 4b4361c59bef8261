package web

import (
	"context"
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

// handler answers a request, or says why not.
type handler = func(http.ResponseWriter, *http.Request) error

// reads answers with what is found.
func reads[Out any](find func(*http.Request) (Out, error)) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		out, err := find(r)
		if err != nil {
			return err
		}
		return writeJSON(w, http.StatusOK, out)
	}
}

// does acts, and answers with nothing.
func does(act func(*http.Request) error) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		err := act(r)
		if err == nil {
			noContent(w)
		}
		return err
	}
}

// act has a part of the backend act.
func act[T any](part T, do func(T, context.Context) error) handler {
	return does(func(r *http.Request) error { return do(part, r.Context()) })
}

// actOn has a part of the backend act on what the address names.
func actOn[T any](part T, act func(T, context.Context, string) error, name string) handler {
	return does(func(r *http.Request) error { return act(part, r.Context(), r.PathValue(name)) })
}

// actIn has a part of the backend act on what the address names of a vessel.
func actIn[T any](part T, act func(T, context.Context, string, string) error, name string) handler {
	return does(func(r *http.Request) error {
		return act(part, r.Context(), r.PathValue("vessel"), r.PathValue(name))
	})
}

// takes acts on what the body says, and answers with nothing.
func takes[In any](act func(*http.Request, In) error) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		return does(func(r *http.Request) error {
			body, err := bodyOf[In](w, r)
			if err != nil {
				return err
			}
			return act(r, body)
		})(w, r)
	}
}

// makes answers with what becomes of the body.
func makes[In, Out any](status int, act func(*http.Request, In) (Out, error)) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		body, err := bodyOf[In](w, r)
		if err != nil {
			return err
		}
		out, err := act(r, body)
		if err != nil {
			return err
		}
		return writeJSON(w, status, out)
	}
}

// bodyOf reads a request's body.
func bodyOf[In any](w http.ResponseWriter, r *http.Request) (body In, err error) {
	limit := int64(maxBody)
	if _, photo := any(body).(bakeBody); photo {
		limit = maxPhotoBody
	}
	err = readBody(w, r, limit, &body)
	return body, err
}

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

func noContent(w http.ResponseWriter) {
	w.Header().Set("Cache-Control", "no-store")
	w.WriteHeader(http.StatusNoContent)
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
