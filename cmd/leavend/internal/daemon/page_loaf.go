package daemon

import (
	"context"
	"errors"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// AddBake notes a bake.
func (p *PageHouse) AddBake(ctx context.Context, slug string, b web.Bake) (web.Bake, error) {
	if p.D.Vessel(slug) == nil {
		return b, failure.ErrUnknown
	}
	if b.At.IsZero() {
		b.At = p.D.Clock.Now()
	}
	stored, err := p.D.Store.AddBake(ctx, store.Bake{Vessel: slug, At: b.At, Note: b.Note, Stars: b.Stars})
	if err != nil {
		return b, err
	}
	b.ID = feedID(stored.ID)
	return b, p.keepPhoto(ctx, stored.ID, &b)
}

// CorrectBake replaces what is known of a bake; the old is kept.
func (p *PageHouse) CorrectBake(ctx context.Context, slug, bake string, b web.Bake) (web.Bake, error) {
	old, err := p.bake(ctx, slug, bake)
	if err != nil {
		return b, err
	}
	if err := p.D.Store.CorrectBake(ctx, store.Bake{ID: old.ID, Vessel: slug, At: b.At, Note: b.Note, Stars: b.Stars}); err != nil {
		return b, err
	}
	if b.ID, b.Corrected = bake, true; b.At.IsZero() {
		b.At = old.At
	}
	photos, err := p.D.Store.Photographed(ctx, slug)
	if err != nil {
		return b, err
	}
	b.Has = photos[old.ID]
	return b, p.keepPhoto(ctx, old.ID, &b)
}

// keepPhoto stores a bake's photo, if it came with one.
func (p *PageHouse) keepPhoto(ctx context.Context, id int64, b *web.Bake) error {
	if len(b.Photo) == 0 {
		return nil
	}
	err := p.D.Store.SetPhoto(ctx, id, "image/jpeg", b.Photo)
	b.Photo, b.Has = nil, err == nil
	return err
}

// UndoBake takes a bake back.
func (p *PageHouse) UndoBake(ctx context.Context, slug, bake string) error {
	b, err := p.bake(ctx, slug, bake)
	if err != nil {
		return err
	}
	return p.D.Store.UndoBake(ctx, b.ID)
}

// bake finds a vessel's bake by the page's name for it.
func (p *PageHouse) bake(ctx context.Context, slug, id string) (store.Bake, error) {
	n, err := parseID(id)
	if err != nil {
		return store.Bake{}, err
	}
	bakes, err := p.D.Store.Bakes(ctx, store.Query{Vessel: slug})
	if err != nil {
		return store.Bake{}, err
	}
	for _, b := range bakes {
		if b.ID == n && p.D.Vessel(slug) != nil {
			return b, nil
		}
	}
	return store.Bake{}, failure.ErrUnknown
}

// movesShown is how many moves of discard the journal shows.
const movesShown = 8

// MoveDiscard notes what became of discard.
func (p *PageHouse) MoveDiscard(ctx context.Context, slug string, m web.DiscardMove) (web.DiscardMove, error) {
	if p.D.Vessel(slug) == nil {
		return m, failure.ErrUnknown
	}
	if m.At.IsZero() {
		m.At = p.D.Clock.Now()
	}
	stored, err := p.D.Store.AddDiscard(ctx, store.DiscardMove{Vessel: slug, At: m.At, Act: string(m.Act), Grams: float64(m.Grams), Note: m.Note})
	return webMove(stored), err
}

// UndoDiscard takes a move of discard back.
func (p *PageHouse) UndoDiscard(ctx context.Context, slug, move string) error {
	id, err := parseID(move)
	if err != nil || p.D.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	if err = p.D.Store.UndoDiscard(ctx, id); errors.Is(err, store.ErrNotFound) {
		return failure.ErrUnknown
	}
	return err
}

// webMove is a stored move of discard as the page knows it.
func webMove(m store.DiscardMove) web.DiscardMove {
	return web.DiscardMove{ID: feedID(m.ID), At: m.At, Act: web.DiscardAct(m.Act), Grams: web.Real(m.Grams), Note: m.Note}
}
