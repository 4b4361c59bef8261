package web

import (
	"context"
	"fmt"
	"io"
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// exportHandler streams what is stored to programs and to people.
type exportHandler struct {
	exports Exports
	slots   chan struct{} // a small board reads so many pasts at once
}

// exportsAtOnce is how many exports may go on; more wait for their turn.
const exportsAtOnce = 2

// exportWrite is how long a visitor may take for the next piece.
const exportWrite = 30 * time.Second

// writeExport writes one kind of export.
type writeExport func(ctx context.Context, w io.Writer, vessel string, from, to time.Time) error

func (h exportHandler) getRecording(w http.ResponseWriter, r *http.Request) error {
	vessel := r.PathValue("vessel")
	return h.send(w, r, vessel, vessel+".csv", "text/csv; charset=utf-8; header=present", h.exports.Recording)
}

func (h exportHandler) getReadings(w http.ResponseWriter, r *http.Request) error {
	vessel := r.URL.Query().Get("vessel")
	switch format := r.URL.Query().Get("format"); format {
	case "", "csv":
		return h.send(w, r, vessel, "readings.csv", "text/csv; charset=utf-8; header=present", h.exports.Table)
	case "line-protocol":
		return h.send(w, r, vessel, "readings.txt", "text/plain; charset=utf-8", h.exports.Lines)
	default:
		return problem.New(http.StatusBadRequest, "parameter", "format: %q is neither csv nor line-protocol.", clip(format))
	}
}

func (h exportHandler) getJournal(w http.ResponseWriter, r *http.Request) error {
	return h.send(w, r, r.URL.Query().Get("vessel"), "journal.json", "application/json", h.exports.JournalFile)
}

// send streams. What fails once it has begun breaks the connection off, so
// that a part is not taken for the whole.
func (h exportHandler) send(w http.ResponseWriter, r *http.Request, vessel, name, kind string, write writeExport) error {
	q := query{values: r.URL.Query()}
	from, to := q.time("from", time.UnixMilli(0)), q.time("to", time.UnixMilli(1<<47))
	if q.err != nil {
		return q.err
	}
	if !from.Before(to) {
		return problem.New(http.StatusBadRequest, "parameter", "from must be before to.")
	}
	if vessel != "" {
		if err := h.exports.Known(vessel); err != nil {
			return err
		}
	}
	select {
	case h.slots <- struct{}{}:
		defer func() { <-h.slots }()
	case <-r.Context().Done():
		return r.Context().Err()
	}
	out := &patient{w: w, control: http.NewResponseController(w)}
	out.begin = func() {
		w.Header().Set("Content-Type", kind)
		w.Header().Set("Cache-Control", "no-store")
		w.Header().Set("Content-Disposition", fmt.Sprintf("attachment; filename=%q", name))
	}
	err := write(r.Context(), out, vessel, from, to)
	if err != nil && out.begin == nil {
		panic(http.ErrAbortHandler)
	}
	if err == nil {
		out.start() // also where there is nothing
	}
	return err
}

// patient gives a visitor time for each piece, and not for the whole.
type patient struct {
	w       io.Writer
	control *http.ResponseController
	begin   func() // sets the headers; nil once it has
}

func (p *patient) start() {
	if p.begin != nil {
		p.begin()
		p.begin = nil
	}
}

func (p *patient) Write(b []byte) (int, error) {
	p.start()
	_ = p.control.SetWriteDeadline(time.Now().Add(exportWrite)) // a test's recorder has none
	return p.w.Write(b)
}
