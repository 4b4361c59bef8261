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

// NewBakes returns the loaves of a monitor's store.
func NewBakes(m *monitor.Monitor) Bakes { return Bakes{m} }

// AddBake notes a bake.
func (k Bakes) AddBake(ctx context.Context, slug string, b web.Bake) (web.Bake, error) {
	if k.m.Vessel(slug) == nil {
		return b, failure.ErrUnknown
	}
	if b.At.IsZero() {
		b.At = k.m.Clock.Now()
	}
	dough, err := k.m.Loaves().DoughOf(ctx, b.At)
	if err != nil {
		return b, err
	}
	stored, err := k.m.Store.Journal.AddBake(ctx, storeBake(0, slug, dough, b))
	if err != nil {
		return b, err
	}
	b.ID, b.Dough = feedID(stored.ID), dough
	return b, k.keepPhoto(ctx, stored.ID, &b)
}

// CorrectBake replaces what is known of a bake; the old is kept.
func (k Bakes) CorrectBake(ctx context.Context, slug, bake string, b web.Bake) (web.Bake, error) {
	old, err := k.bake(ctx, slug, bake)
	if err != nil {
		return b, err
	}
	dough := old.Dough
	if moved := !b.At.IsZero() && !b.At.Equal(old.At); moved {
		if dough, err = k.m.Loaves().DoughOf(ctx, b.At); err != nil {
			return b, err
		}
	}
	if err := k.m.Store.Journal.CorrectBake(ctx, storeBake(old.ID, slug, dough, b)); err != nil {
		return b, err
	}
	if b.ID, b.Corrected, b.Dough = bake, true, dough; b.At.IsZero() {
		b.At = old.At
	}
	photos, err := k.m.Store.Journal.Photographed(ctx, slug)
	if err != nil {
		return b, err
	}
	b.Has = photos[old.ID]
	return b, k.keepPhoto(ctx, old.ID, &b)
}

// storeBake is a loaf of the page's as the store keeps it.
func storeBake(id int64, slug string, dough *store.Dough, b web.Bake) store.Bake {
	return store.Bake{ID: id, Vessel: slug, At: b.At, Note: b.Note, Stars: b.Stars, Crumb: b.Crumb, CoreC: b.CoreC, WeightG: b.WeightG, Dough: dough}
}

// webBake is a stored loaf as the page knows it.
func webBake(b store.Bake, photo, corrected bool) web.Bake {
	return web.Bake{
		ID: feedID(b.ID), At: b.At, Stars: b.Stars, Note: b.Note, Crumb: b.Crumb, CoreC: b.CoreC, WeightG: b.WeightG,
		Dough: b.Dough, Has: photo, Corrected: corrected,
	}
}

// Loaves tells where the best loaves ended their bulk, and of which nothing is written
// down.
func (k Bakes) Loaves(ctx context.Context) (web.Loaves, error) {
	stops, err := k.m.Loaves().BestStops(ctx)
	if err != nil {
		return web.Loaves{}, err
	}
	out := web.Loaves{Stops: []web.BestStop{}}
	for _, s := range stops {
		out.Stops = append(out.Stops, web.BestStop{
			LoafKind: web.LoafKind(s.LoafKind), Rated: s.Rated, Best: s.Best.Best, Low: s.Low, High: s.High, Middle: s.Middle, TempC: s.TempC, InUse: s.InUse,
		})
	}
	out.Ask, err = k.m.Loaves().Unrated(ctx)
	return out, err
}

// UseStop has plans end the bulk of a kind of loaf where the best ended, or by the table
// again.
func (k Bakes) UseStop(ctx context.Context, kind web.LoafKind, use bool) error {
	known, err := k.m.Loaves().UseStop(ctx, monitor.LoafKind(kind), use)
	if err == nil && !known {
		return failure.ErrUnknown
	}
	return err
}

// keepPhoto stores a bake's photo, if it came with one.
func (k Bakes) keepPhoto(ctx context.Context, id int64, b *web.Bake) error {
	if len(b.Photo) == 0 {
		return nil
	}
	err := k.m.Store.Journal.SetPhoto(ctx, id, "image/jpeg", b.Photo)
	b.Photo, b.Has = nil, err == nil
	return err
}

// UndoBake takes a bake back.
func (k Bakes) UndoBake(ctx context.Context, slug, bake string) error {
	b, err := k.bake(ctx, slug, bake)
	if err != nil {
		return err
	}
	return k.m.Store.Journal.UndoBake(ctx, b.ID)
}

// bake finds a vessel's bake by the page's name for it.
func (k Bakes) bake(ctx context.Context, slug, id string) (store.Bake, error) {
	n, err := parseID(id)
	if err != nil {
		return store.Bake{}, err
	}
	bakes, err := k.m.Store.Journal.Bakes(ctx, store.Query{Vessel: slug})
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
	_, data, err := k.m.Store.Journal.Photo(ctx, id)
	if errors.Is(err, store.ErrNotFound) {
		return nil, failure.ErrUnknown
	}
	return data, err
}
