package monitor

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
)

// fridge knows which jars somebody has put into the fridge. Nothing can be
// seen of them there, and they want feeding by the week and not by the day.
type fridge struct {
	mu    sync.Mutex // guards what follows
	since map[string]time.Time
	stays map[string]time.Duration // that ended since the last feed
}

// FridgeSetting is the name under which the store keeps it.
func FridgeSetting(slug string) string { return "fridge/" + slug }

// staysState is the name under which the store keeps how long it was there.
func staysState(slug string) string { return "fridge-stays/" + slug }

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
	f.since, f.stays = map[string]time.Time{}, map[string]time.Duration{}
	for _, v := range vessels {
		var at time.Time
		if known, err := s.States.Setting(ctx, FridgeSetting(v.Slug), &at); err != nil {
			return err
		} else if known && !at.IsZero() {
			f.since[v.Slug] = at
		}
		var stayed time.Duration
		if _, err := s.States.State(ctx, staysState(v.Slug), &stayed); err != nil {
			return err
		}
		f.stays[v.Slug] = stayed
	}
	return nil
}

// OpenFridge recalls which jars are in the fridge. Not knowing it costs a
// reminder that comes early, and not the night.
func (m *Monitor) OpenFridge(ctx context.Context) error {
	if err := m.Fridge.recall(ctx, m.Store, m.Conf.Vessels); err != nil {
		m.Log.Error("which jars are in the fridge cannot be read", "err", err)
	}
	return nil
}

// Set notes that a jar went in at a moment, or came out (zero). It is on the
// disk before it counts.
func (f *fridge) Set(ctx context.Context, s *store.Store, slug string, at time.Time) error {
	if _, in := f.Since(slug); !in && at.IsZero() {
		return nil
	}
	if err := s.States.SetSetting(ctx, FridgeSetting(slug), at); err != nil {
		return fmt.Errorf("fridge: %w", err)
	}
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.since[slug] = at; at.IsZero() {
		delete(f.since, slug)
	}
	return nil
}

// Hours is how many hours a jar has been in the fridge since its last feed.
func (f *fridge) Hours(slug string, now time.Time) float64 {
	f.mu.Lock()
	defer f.mu.Unlock()
	stayed := f.stays[slug]
	if at, in := f.since[slug]; in {
		stayed += max(now.Sub(at), 0)
	}
	return stayed.Hours()
}

// Out notes that a jar came out. How long it was there is kept until its next
// feed, which rises the slower for it.
func (f *fridge) Out(ctx context.Context, s *store.Store, slug string, now time.Time) error {
	if _, in := f.Since(slug); !in {
		return nil
	}
	stayed := time.Duration(f.Hours(slug, now) * float64(time.Hour))
	return errors.Join(f.stay(ctx, s, slug, stayed), f.Set(ctx, s, slug, time.Time{}))
}

// forget notes that a jar was fed: it is out, and the count begins again.
func (f *fridge) forget(ctx context.Context, s *store.Store, slug string) error {
	return errors.Join(f.stay(ctx, s, slug, 0), f.Set(ctx, s, slug, time.Time{}))
}

// stay keeps how long a jar was in the fridge.
func (f *fridge) stay(ctx context.Context, s *store.Store, slug string, stayed time.Duration) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.stays[slug] == stayed {
		return nil
	}
	if err := s.States.SetState(ctx, staysState(slug), stayed); err != nil {
		return fmt.Errorf("fridge: %w", err)
	}
	f.stays[slug] = stayed
	return nil
}
