package backend

import (
	"context"
	"errors"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// Bakes keeps loaves with what the baker thought of them.
type Bakes struct{ m *monitor.Monitor }

// AddBake notes a bake.
func (k Bakes) AddBake(ctx context.Context, slug string, b web.Bake) (web.Bake, error) {
	if k.m.Vessel(slug) == nil {
		return b, failure.ErrUnknown
	}
	if b.At.IsZero() {
		b.At = k.m.Clock.Now()
	}
	stored, err := k.m.Store.AddBake(ctx, store.Bake{Vessel: slug, At: b.At, Note: b.Note, Stars: b.Stars})
	if err != nil {
		return b, err
	}
	b.ID = feedID(stored.ID)
	return b, k.keepPhoto(ctx, stored.ID, &b)
}

// CorrectBake replaces what is known of a bake; the old is kept.
func (k Bakes) CorrectBake(ctx context.Context, slug, bake string, b web.Bake) (web.Bake, error) {
	old, err := k.bake(ctx, slug, bake)
	if err != nil {
		return b, err
	}
	if err := k.m.Store.CorrectBake(ctx, store.Bake{ID: old.ID, Vessel: slug, At: b.At, Note: b.Note, Stars: b.Stars}); err != nil {
		return b, err
	}
	if b.ID, b.Corrected = bake, true; b.At.IsZero() {
		b.At = old.At
	}
	photos, err := k.m.Store.Photographed(ctx, slug)
	if err != nil {
		return b, err
	}
	b.Has = photos[old.ID]
	return b, k.keepPhoto(ctx, old.ID, &b)
}

// keepPhoto stores a bake's photo, if it came with one.
func (k Bakes) keepPhoto(ctx context.Context, id int64, b *web.Bake) error {
	if len(b.Photo) == 0 {
		return nil
	}
	err := k.m.Store.SetPhoto(ctx, id, "image/jpeg", b.Photo)
	b.Photo, b.Has = nil, err == nil
	return err
}

// UndoBake takes a bake back.
func (k Bakes) UndoBake(ctx context.Context, slug, bake string) error {
	b, err := k.bake(ctx, slug, bake)
	if err != nil {
		return err
	}
	return k.m.Store.UndoBake(ctx, b.ID)
}

// bake finds a vessel's bake by the page's name for it.
func (k Bakes) bake(ctx context.Context, slug, id string) (store.Bake, error) {
	n, err := parseID(id)
	if err != nil {
		return store.Bake{}, err
	}
	bakes, err := k.m.Store.Bakes(ctx, store.Query{Vessel: slug})
	if err != nil {
		return store.Bake{}, err
	}
	for _, b := range bakes {
		if b.ID == n && k.m.Vessel(slug) != nil {
			return b, nil
		}
	}
	return store.Bake{}, failure.ErrUnknown
}

// BakePhoto returns the photo of a bake.
func (k Bakes) BakePhoto(ctx context.Context, _, bake string) ([]byte, error) {
	id, err := parseID(bake)
	if err != nil {
		return nil, err
	}
	_, data, err := k.m.Store.Photo(ctx, id)
	if errors.Is(err, store.ErrNotFound) {
		return nil, failure.ErrUnknown
	}
	return data, err
}
