package backend

import (
	"context"
	"errors"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// Discards keeps what became of discard.
type Discards struct{ m *monitor.Monitor }

// movesShown is how many moves of discard the journal shows.
const movesShown = 8

// MoveDiscard notes what became of discard.
func (d Discards) MoveDiscard(ctx context.Context, slug string, m web.DiscardMove) (web.DiscardMove, error) {
	if d.m.Vessel(slug) == nil {
		return m, failure.ErrUnknown
	}
	if m.At.IsZero() {
		m.At = d.m.Clock.Now()
	}
	stored, err := d.m.Store.Journal.AddDiscard(ctx, store.DiscardMove{Vessel: slug, At: m.At, Act: string(m.Act), Grams: float64(m.Grams), Note: m.Note})
	return webMove(stored), err
}

// UndoDiscard takes a move of discard back.
func (d Discards) UndoDiscard(ctx context.Context, slug, move string) error {
	id, err := parseID(move)
	if err != nil || d.m.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	if err = d.m.Store.Journal.UndoDiscard(ctx, id); errors.Is(err, store.ErrNotFound) {
		return failure.ErrUnknown
	}
	return err
}

// webMove is a stored move of discard as the page knows it.
func webMove(m store.DiscardMove) web.DiscardMove {
	return web.DiscardMove{ID: feedID(m.ID), At: m.At, Act: web.DiscardAct(m.Act), Grams: web.Real(m.Grams), Note: m.Note}
}
