package backend

import (
	"context"
	"errors"
	"fmt"
	"math"
	"strconv"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/cmd/leavend/internal/web"
)

// Feeds enters feeds, corrects them and takes them back.
type Feeds struct {
	m        *monitor.Monitor
	inMemory bool // the history lasts until the end of the process
}

// webFeed is a stored feed as the page knows it.
func feedOf(f store.Feed) web.Feed {
	nan := web.Real(math.NaN())
	out := web.Feed{
		ID: feedID(f.ID), At: f.At, Found: f.Source == store.Found, KeptG: web.Real(f.KeptG), WaterG: web.Real(f.WaterG),
		DiscardG: web.Real(f.DiscardG), CleanJar: f.CleanJar, From: f.From, Note: f.Note, Flours: []web.Flour{},
		Outcome: &web.Outcome{HydrationPct: nan, RiseRatio: nan, HoursToTop: nan, HoursOnTop: nan, MeanTempC: nan},
	}
	for _, fl := range f.Flours {
		out.Flours = append(out.Flours, web.Flour{Kind: fl.Kind, Grams: web.Real(fl.Grams)})
	}
	if f.WaterTempC != nil {
		t := web.Real(*f.WaterTempC)
		out.WaterTempC = &t
	}
	mix := monitor.MixedFeed(f).Mix(1)
	if r, ok := mix.Ratio(); ok {
		out.Outcome.Ratio = r.String()
	}
	if h, ok := mix.Hydration(); ok {
		out.Outcome.HydrationPct = web.Real(100 * h)
	}
	return out
}

// storeFeed is the page's feed as the store keeps it.
func storeFeed(f web.Feed) store.Feed {
	out := store.Feed{At: f.At, KeptG: float64(f.KeptG), WaterG: float64(f.WaterG), DiscardG: float64(f.DiscardG), CleanJar: f.CleanJar, From: f.From, Note: f.Note}
	for _, fl := range f.Flours {
		out.Flours = append(out.Flours, store.Flour{Kind: fl.Kind, Grams: float64(fl.Grams)})
	}
	if f.WaterTempC != nil {
		t := float64(*f.WaterTempC)
		out.WaterTempC = &t
	}
	return out
}

// AddFeed notes a feed; it is on the disk when it returns.
func (e Feeds) AddFeed(ctx context.Context, slug string, f web.Feed) (web.Feed, error) {
	if e.m.Vessel(slug) == nil {
		return f, failure.ErrUnknown
	}
	if err := e.m.CheckLevain(slug, f.From); err != nil {
		return f, &failure.Refusal{Code: "from", Say: text.Explain(err)}
	}
	stored, err := e.m.Fed(ctx, slug, storeFeed(f))
	if err != nil {
		return f, err
	}
	out := feedOf(stored)
	out.UndoUntil = e.m.Clock.Now().Add(monitor.UndoFor)
	out.InMemory = e.inMemory
	return out, nil
}

// CorrectFeed replaces a feed's details; the old ones are kept.
func (e Feeds) CorrectFeed(ctx context.Context, slug, id string, f web.Feed) (web.Feed, error) {
	old, err := findFeed(ctx, e.m, slug, id)
	if err != nil {
		return f, err
	}
	if err := e.m.CheckLevain(slug, f.From); err != nil {
		return f, &failure.Refusal{Code: "from", Say: text.Explain(err)}
	}
	at := f.At
	if at.IsZero() {
		at = old.At
	}
	changed := storeFeed(f)
	changed.ID, changed.Vessel, changed.Source, changed.ChilledH = old.ID, slug, old.Source, old.ChilledH
	if err := e.m.Store.Journal.CorrectFeed(ctx, changed); err != nil {
		return f, err
	}
	if !f.At.IsZero() && !f.At.Equal(old.At) || f.From != old.From {
		if err := errors.Join(moveStarter(ctx, e.m, slug, old.At, at), e.m.Rebuild(ctx, e.m.Vessel(slug))); err != nil {
			return f, err
		}
	}
	stored, err := findFeed(ctx, e.m, slug, id)
	out := feedOf(stored)
	out.Corrected = true
	return out, err
}

// UndoFeed takes a feed back.
func (e Feeds) UndoFeed(ctx context.Context, slug, id string) error {
	f, err := findFeed(ctx, e.m, slug, id)
	if err != nil {
		return err
	}
	return e.m.Unfed(ctx, slug, f.ID)
}

// feed finds a feed by the page's name for it.
func findFeed(ctx context.Context, m *monitor.Monitor, slug, id string) (store.Feed, error) {
	n, err := parseID(id)
	if err != nil {
		return store.Feed{}, err
	}
	if m.Vessel(slug) == nil {
		return store.Feed{}, failure.ErrUnknown
	}
	feeds, err := m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug})
	if err != nil {
		return store.Feed{}, err
	}
	for _, f := range feeds {
		if f.ID == n {
			return f, nil
		}
	}
	return store.Feed{}, fmt.Errorf("feed %s: %w", id, failure.ErrUnknown)
}

// feedID and parseID turn the store's numbers into the page's names and back.
func feedID(id int64) string { return strconv.FormatInt(id, 10) }

func parseID(id string) (int64, error) {
	n, err := strconv.ParseInt(id, 10, 64)
	if err != nil {
		return 0, failure.ErrUnknown
	}
	return n, nil
}
