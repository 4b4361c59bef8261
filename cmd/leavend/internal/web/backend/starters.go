package backend

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// Starters begins starters again in a jar.
type Starters struct{ m *monitor.Monitor }

// NewStarter says that a jar holds another starter, from a feed on or from now
// on.
func (b Starters) NewStarter(ctx context.Context, slug string, s web.Starter) (web.Starter, error) {
	v := b.m.Vessel(slug)
	if v == nil {
		return s, failure.ErrUnknown
	}
	if v.Conf.Kind != config.Jar {
		return s, &failure.Refusal{Code: "bowl"}
	}
	var feed store.Feed
	if s.Feed != "" {
		var err error
		if feed, err = findFeed(ctx, b.m, slug, s.Feed); err != nil {
			return s, err
		}
	}
	n, err := b.m.NewStarter(ctx, slug, feed, s.Note)
	return webStarter(n), err
}

// UndoStarter takes back that a new starter began.
func (b Starters) UndoStarter(ctx context.Context, slug, id string) error {
	if b.m.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	all, err := b.m.Store.Journal.Starters(ctx, store.Query{Vessel: slug})
	if err != nil {
		return err
	}
	for _, n := range all {
		if feedID(n.ID) == id {
			if err := b.m.Store.Journal.UndoStarter(ctx, n.ID); err != nil {
				return err
			}
			return b.m.StarterChanged(ctx, slug)
		}
	}
	return fmt.Errorf("starter %s: %w", id, failure.ErrUnknown)
}

// moveStarter moves the beginning of a starter with the feed that it began
// with, when the hour of that feed is corrected.
func moveStarter(ctx context.Context, m *monitor.Monitor, slug string, from, to time.Time) error {
	begun, err := m.Store.Journal.Starters(ctx, store.Query{Vessel: slug, From: from, To: from.Add(time.Millisecond)})
	if err != nil {
		return err
	}
	for _, n := range begun {
		n.At = to
		if err := m.Store.Journal.CorrectStarter(ctx, n); err != nil {
			return err
		}
	}
	return nil
}

// webStarter is a beginning as the page knows it.
func webStarter(n store.NewStarter) web.Starter {
	return web.Starter{ID: feedID(n.ID), At: n.At, Note: n.Note}
}
