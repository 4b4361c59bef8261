package main

import (
	"context"
	"fmt"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
)

// fridge knows which jars somebody has put into the fridge. Nothing can be
// seen of them there, and they want feeding by the week and not by the day.
type fridge struct {
	mu    sync.Mutex // guards since
	since map[string]time.Time
}

// fridgeSetting is the name under which the store keeps it.
func fridgeSetting(slug string) string { return "fridge/" + slug }

// Since returns since when a jar is in the fridge; false when it is not.
func (f *fridge) Since(slug string) (time.Time, bool) {
	f.mu.Lock()
	defer f.mu.Unlock()
	at, in := f.since[slug]
	return at, in
}

// recall reads what the store knows.
func (f *fridge) recall(ctx context.Context, s *store.Store, vessels []config.Vessel) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.since = map[string]time.Time{}
	for _, v := range vessels {
		var at time.Time
		if known, err := s.Setting(ctx, fridgeSetting(v.Slug), &at); err != nil {
			return err
		} else if known && !at.IsZero() {
			f.since[v.Slug] = at
		}
	}
	return nil
}

// openFridge recalls which jars are in the fridge. Not knowing it costs a
// reminder that comes early, and not the night.
func (d *daemon) openFridge(ctx context.Context) error {
	if err := d.fridge.recall(ctx, d.store, d.conf.Vessels); err != nil {
		d.log.Error("which jars are in the fridge cannot be read", "err", err)
	}
	return nil
}

// set notes that a jar went in at a moment, or came out (zero). It is on the
// disk before it counts.
func (f *fridge) set(ctx context.Context, s *store.Store, slug string, at time.Time) error {
	if _, in := f.Since(slug); !in && at.IsZero() {
		return nil
	}
	if err := s.SetSetting(ctx, fridgeSetting(slug), at); err != nil {
		return fmt.Errorf("fridge: %w", err)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.since[slug] = at; at.IsZero() {
		delete(f.since, slug)
	}
	return nil
}

// Chill says that a jar went into the fridge, or came out of it.
func (p *pageHouse) Chill(ctx context.Context, slug string, in bool) error {
	v := p.d.vessel(slug)
	if v == nil {
		return web.ErrUnknown
	}
	if v.conf.Kind != config.Jar {
		return &web.Refusal{Code: "bowl", Why: "Dough in the fridge is not followed; only jars are."}
	}
	var at time.Time
	if in {
		at = p.d.clock.Now()
	}
	p.d.teller.Came(slug)
	return p.d.fridge.set(ctx, p.d.store, slug, at)
}
