package daemon

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// NewStarter says that a jar holds another starter, from a feed on or from now
// on.
func (p *PageHouse) NewStarter(ctx context.Context, slug string, s web.Starter) (web.Starter, error) {
	v := p.D.Vessel(slug)
	if v == nil {
		return s, failure.ErrUnknown
	}
	if v.Conf.Kind != config.Jar {
		return s, &failure.Refusal{Code: "bowl", Why: "A bowl holds dough, which is another each time; only jars hold a starter."}
	}
	var feed store.Feed
	if s.Feed != "" {
		var err error
		if feed, err = p.feed(ctx, slug, s.Feed); err != nil {
			return s, err
		}
	}
	n, err := p.D.NewStarter(ctx, slug, feed, s.Note)
	return webStarter(n), err
}

// UndoStarter takes back that a new starter began.
func (p *PageHouse) UndoStarter(ctx context.Context, slug, id string) error {
	if p.D.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	all, err := p.D.Store.Starters(ctx, store.Query{Vessel: slug})
	if err != nil {
		return err
	}
	for _, n := range all {
		if feedID(n.ID) == id {
			if err := p.D.Store.UndoStarter(ctx, n.ID); err != nil {
				return err
			}
			return p.D.StarterChanged(ctx, slug)
		}
	}
	return fmt.Errorf("starter %s: %w", id, failure.ErrUnknown)
}

// moveStarter moves the beginning of a starter with the feed that it began
// with, when the hour of that feed is corrected.
func (p *PageHouse) moveStarter(ctx context.Context, slug string, from, to time.Time) error {
	begun, err := p.D.Store.Starters(ctx, store.Query{Vessel: slug, From: from, To: from.Add(time.Millisecond)})
	if err != nil {
		return err
	}
	for _, n := range begun {
		n.At = to
		if err := p.D.Store.CorrectStarter(ctx, n); err != nil {
			return err
		}
	}
	return nil
}

// webStarter is a beginning as the page knows it.
func webStarter(n store.NewStarter) web.Starter {
	return web.Starter{ID: feedID(n.ID), At: n.At, Note: n.Note}
}
