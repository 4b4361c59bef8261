package main

import (
	"context"
	"fmt"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// A jar may come to hold another starter: the old one went mouldy, or a new one
// was given. What was learnt of the old is then no word about the new. Nothing
// is deleted: each jar's past is divided into reigns, one after the other, and
// only the present one is learnt from.

// reign is a time in which a jar held one starter.
type reign struct {
	Slug     string
	From, To time.Time // zero: from the first, until now
}

// reignSlack is how long before somebody said "a new starter" the new one may
// have been fed: whoever presses Fed first, and thinks of the other then, means
// this feed too.
const reignSlack = time.Minute

// reignsOf divides a jar's past, oldest first; the last is the present one.
func reignsOf(ctx context.Context, s *store.Store, slug string) ([]reign, error) {
	begun, err := s.Starters(ctx, store.Query{Vessel: slug})
	if err != nil {
		return nil, err
	}
	all := []reign{{Slug: slug}}
	for i := len(begun) - 1; i >= 0; i-- { // oldest first
		at := begun[i].At.Add(-reignSlack)
		all[len(all)-1].To = at
		all = append(all, reign{Slug: slug, From: at})
	}
	return all, nil
}

// begunAt is since when a jar holds its present starter; zero if it never held
// another.
func begunAt(ctx context.Context, s *store.Store, slug string) (time.Time, error) {
	all, err := reignsOf(ctx, s, slug)
	if err != nil {
		return time.Time{}, err
	}
	return all[len(all)-1].From, nil
}

// kinOf returns when and in which jars the starter stood that a vessel holds
// now. Jars with a starter of one name share it as long as they have been given
// equally many new ones: a jar that alone got a new one learns alone, until the
// others got it too.
func kinOf(ctx context.Context, s *store.Store, vessels []config.Vessel, of config.Vessel) ([]reign, error) {
	own, err := reignsOf(ctx, s, of.Slug)
	if err != nil {
		return nil, err
	}
	var kin []reign
	for _, conf := range vessels {
		if conf.Starter != of.Starter || conf.Kind != of.Kind {
			continue
		}
		all, err := reignsOf(ctx, s, conf.Slug)
		if err != nil {
			return nil, err
		}
		if len(all) >= len(own) {
			kin = append(kin, all[len(own)-1])
		}
	}
	return kin, nil
}

// query asks for what belongs to a reign, the newest so many.
func (r reign) query(limit int) store.Query {
	return store.Query{Vessel: r.Slug, From: r.From, To: r.To, Limit: limit}
}

// NewStarter notes that a jar holds another starter: from a feed on, or from now
// on where feed is 0. It is on the disk before it counts.
func (d *daemon) NewStarter(ctx context.Context, slug string, feed store.Feed, note string) (store.NewStarter, error) {
	n := store.NewStarter{Vessel: slug, At: feed.At, Note: note}
	if n.At.IsZero() {
		n.At = d.clock.Now()
	}
	n, err := d.store.AddStarter(ctx, n)
	if err != nil {
		return n, err
	}
	if err := d.fridge.forget(ctx, d.store, slug); err != nil {
		d.log.Error("that the jar is out of the fridge could not be stored", "vessel", slug, "err", err)
	}
	return n, d.starterChanged(ctx, slug)
}

// starterChanged begins a jar's curve anew, by what is known of its starter now.
func (d *daemon) starterChanged(ctx context.Context, slug string) error {
	d.teller.Came(slug)
	d.forgetSteered()
	return d.rebuild(ctx, d.vessel(slug))
}

// NewStarter says that a jar holds another starter, from a feed on or from now
// on.
func (p *pageHouse) NewStarter(ctx context.Context, slug string, s web.Starter) (web.Starter, error) {
	v := p.d.vessel(slug)
	if v == nil {
		return s, failure.ErrUnknown
	}
	if v.conf.Kind != config.Jar {
		return s, &failure.Refusal{Code: "bowl", Why: "A bowl holds dough, which is another each time; only jars hold a starter."}
	}
	var feed store.Feed
	if s.Feed != "" {
		var err error
		if feed, err = p.feed(ctx, slug, s.Feed); err != nil {
			return s, err
		}
	}
	n, err := p.d.NewStarter(ctx, slug, feed, s.Note)
	return webStarter(n), err
}

// UndoStarter takes back that a new starter began.
func (p *pageHouse) UndoStarter(ctx context.Context, slug, id string) error {
	if p.d.vessel(slug) == nil {
		return failure.ErrUnknown
	}
	all, err := p.d.store.Starters(ctx, store.Query{Vessel: slug})
	if err != nil {
		return err
	}
	for _, n := range all {
		if feedID(n.ID) == id {
			if err := p.d.store.UndoStarter(ctx, n.ID); err != nil {
				return err
			}
			return p.d.starterChanged(ctx, slug)
		}
	}
	return fmt.Errorf("starter %s: %w", id, failure.ErrUnknown)
}

// moveStarter moves the beginning of a starter with the feed that it began
// with, when the hour of that feed is corrected.
func (p *pageHouse) moveStarter(ctx context.Context, slug string, from, to time.Time) error {
	begun, err := p.d.store.Starters(ctx, store.Query{Vessel: slug, From: from, To: from.Add(time.Millisecond)})
	if err != nil {
		return err
	}
	for _, n := range begun {
		n.At = to
		if err := p.d.store.CorrectStarter(ctx, n); err != nil {
			return err
		}
	}
	return nil
}

// webStarter is a beginning as the page knows it.
func webStarter(n store.NewStarter) web.Starter {
	return web.Starter{ID: feedID(n.ID), At: n.At, Note: n.Note}
}
