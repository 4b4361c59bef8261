package web

import (
	"net/http"
	"time"

	"leavend/cmd/leavend/internal/web/problem"
)

// maxPoints is the most points of one curve: more than any screen has columns.
const maxPoints = 2000

func getOpenAPI(w http.ResponseWriter, _ *http.Request) error {
	b, err := described()
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.Header().Set("Cache-Control", "no-cache")
	_, _ = w.Write(b) // a reader who left is no error of ours
	return nil
}

// watchHandler tells what is so now.
type watchHandler struct {
	watch    Watch
	snaps    snapshots
	stream   *stream
	sessions *sessions
	backup   restoreHandler
}

func (h watchHandler) getNow(w http.ResponseWriter, _ *http.Request) error {
	b, err := h.snaps.encoded()
	if err != nil {
		return err
	}
	writeEncoded(w, http.StatusOK, b)
	return nil
}

func (h watchHandler) getSetup(w http.ResponseWriter, _ *http.Request) error {
	setup := h.watch.Setup()
	setup.Checks, setup.Restore = orEmpty(setup.Checks), h.backup.offered()
	return writeJSON(w, http.StatusOK, setup)
}

// historyHandler answers about the past.
type historyHandler struct {
	history History
	now     func() time.Time
}

func (h historyHandler) getWindow(w http.ResponseWriter, r *http.Request) error {
	q := query{values: r.URL.Query()}
	to := q.time("to", h.now())
	span := Span{From: q.time("from", to.Add(-24*time.Hour)), To: to, Max: q.integer("max", maxPoints, 2, maxPoints)}
	if q.err != nil {
		return q.err
	}
	if !span.From.Before(span.To) {
		return problem.New(http.StatusBadRequest, "parameter", "from must be before to.")
	}
	win, err := h.history.Window(r.Context(), r.PathValue("vessel"), span)
	if err != nil {
		return err
	}
	win.Marks = orEmpty(win.Marks)
	return writeJSON(w, http.StatusOK, win)
}

func (h historyHandler) getRecord(w http.ResponseWriter, r *http.Request) error {
	rec, err := h.history.Record(r.Context(), r.PathValue("vessel"))
	if err != nil {
		return err
	}
	rec.Rows = orEmpty(rec.Rows)
	return writeJSON(w, http.StatusOK, rec)
}

func (h historyHandler) getRefused(w http.ResponseWriter, r *http.Request) error {
	list, err := h.history.Refused(r.Context(), r.PathValue("vessel"))
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, struct {
		Refused []Refused `json:"refused"`
	}{orEmpty(list)})
}

// journalHandler reads the journal.
type journalHandler struct {
	journal Journal
	now     func() time.Time
}

func (h journalHandler) getBook(w http.ResponseWriter, r *http.Request) error {
	q := query{values: r.URL.Query()}
	before := q.time("before", h.now().Add(24*time.Hour))
	limit := q.integer("limit", 20, 1, 200)
	if q.err != nil {
		return q.err
	}
	book, err := h.journal.Book(r.Context(), r.PathValue("vessel"), before, limit)
	if err != nil {
		return err
	}
	book.DiscardMoves, book.Signs, book.Starters = orEmpty(book.DiscardMoves), orEmpty(book.Signs), orEmpty(book.Starters)
	book.Feeds, book.Bakes, book.Reminders = orEmpty(book.Feeds), orEmpty(book.Bakes), orEmpty(book.Reminders)
	for i := range book.Feeds {
		book.Feeds[i].Flours = orEmpty(book.Feeds[i].Flours)
	}
	return writeJSON(w, http.StatusOK, book)
}

func (h journalHandler) getSuggestion(w http.ResponseWriter, r *http.Request) error {
	q := query{values: r.URL.Query()}
	need := q.number("need_g", 0, 20_000)
	if q.err != nil {
		return q.err
	}
	sug, err := h.journal.Suggest(r.Context(), r.PathValue("vessel"), need)
	if err != nil {
		return err
	}
	sug.Flours = orEmpty(sug.Flours)
	return writeJSON(w, http.StatusOK, sug)
}

func (h historyHandler) getFeedCurve(w http.ResponseWriter, r *http.Request) error {
	c, err := h.history.FeedCurve(r.Context(), r.PathValue("vessel"), r.PathValue("feed"))
	if err != nil {
		return err
	}
	return writeJSON(w, http.StatusOK, c)
}

// orEmpty keeps null out of the answers where the page expects a list.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
