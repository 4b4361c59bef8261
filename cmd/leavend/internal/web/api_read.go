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

func (h watchHandler) getSetup(r *http.Request) (Setup, error) {
	setup := h.watch.Setup(readerOf(r).Language)
	setup.Checks, setup.Restore = orEmpty(setup.Checks), h.backup.offered()
	return setup, nil
}

// historyHandler answers about the past.
type historyHandler struct {
	history History
	now     func() time.Time
}

func (h historyHandler) getWindow(r *http.Request) (Window, error) {
	q := query{values: r.URL.Query()}
	to := q.time("to", h.now())
	span := Span{From: q.time("from", to.Add(-24*time.Hour)), To: to, Max: q.integer("max", maxPoints, 2, maxPoints)}
	if q.err != nil {
		return Window{}, q.err
	}
	if !span.From.Before(span.To) {
		return Window{}, problem.New(http.StatusBadRequest, "parameter", "from must be before to.")
	}
	win, err := h.history.Window(r.Context(), r.PathValue("vessel"), span)
	win.Marks = orEmpty(win.Marks)
	return win, err
}

func (h historyHandler) getRecord(r *http.Request) (Record, error) {
	rec, err := h.history.Record(r.Context(), r.PathValue("vessel"))
	rec.Rows = orEmpty(rec.Rows)
	return rec, err
}

func (h historyHandler) getRefused(r *http.Request) (out struct {
	Refused []Refused `json:"refused"`
}, err error) {
	out.Refused, err = h.history.Refused(r.Context(), r.PathValue("vessel"))
	out.Refused = orEmpty(out.Refused)
	return out, err
}

// journalHandler reads the journal.
type journalHandler struct {
	journal Journal
	now     func() time.Time
}

func (h journalHandler) getBook(r *http.Request) (Book, error) {
	q := query{values: r.URL.Query()}
	before := q.time("before", h.now().Add(24*time.Hour))
	limit := q.integer("limit", 20, 1, 200)
	if q.err != nil {
		return Book{}, q.err
	}
	book, err := h.journal.Book(r.Context(), r.PathValue("vessel"), before, limit)
	book.DiscardMoves, book.Signs, book.Starters = orEmpty(book.DiscardMoves), orEmpty(book.Signs), orEmpty(book.Starters)
	book.Feeds, book.Bakes, book.Reminders = orEmpty(book.Feeds), orEmpty(book.Bakes), orEmpty(book.Reminders)
	for i := range book.Feeds {
		book.Feeds[i].Flours = orEmpty(book.Feeds[i].Flours)
	}
	return book, err
}

func (h journalHandler) getSuggestion(r *http.Request) (Suggestion, error) {
	q := query{values: r.URL.Query()}
	need := q.number("need_g", 0, 20_000)
	if q.err != nil {
		return Suggestion{}, q.err
	}
	sug, err := h.journal.Suggest(r.Context(), r.PathValue("vessel"), need)
	sug.Flours = orEmpty(sug.Flours)
	return sug, err
}

func (h historyHandler) getFeedCurve(r *http.Request) (FeedCurve, error) {
	return h.history.FeedCurve(r.Context(), r.PathValue("vessel"), r.PathValue("feed"))
}

// orEmpty keeps null out of the answers where the page expects a list.
func orEmpty[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}
