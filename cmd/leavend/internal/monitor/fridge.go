package monitor

import (
	"context"
	"errors"
	"time"

	"leavend/cmd/leavend/internal/store"
)

// fridge knows which jars somebody has put into the fridge. Nothing can be
// seen of them there, and they want feeding by the week and not by the day.
type fridge struct {
	since kept[time.Time]
	stays kept[time.Duration] // that ended since the last feed
}

// FridgeSetting is the name under which the store keeps it.
func FridgeSetting(slug string) string { return "fridge/" + slug }

// staysState is the name under which the store keeps how long it was there.
func staysState(slug string) string { return "fridge-stays/" + slug }

// Since returns since when a jar is in the fridge; false when it is not.
func (f *fridge) Since(slug string) (time.Time, bool) {
	at := f.since.of(FridgeSetting(slug))
	return at, !at.IsZero()
}

// Set notes that a jar went in at a moment, or came out (zero). It is on the
// disk before it counts.
func (f *fridge) Set(ctx context.Context, s *store.Store, slug string, at time.Time) error {
	if _, in := f.Since(slug); !in && at.IsZero() {
		return nil
	}
	return f.since.set(ctx, s.States.SetSetting, FridgeSetting(slug), at)
}

// Hours is how many hours a jar has been in the fridge since its last feed.
func (f *fridge) Hours(slug string, now time.Time) float64 {
	stayed := f.stays.of(staysState(slug))
	if at, in := f.Since(slug); in {
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
	if f.stays.of(staysState(slug)) == stayed {
		return nil
	}
	return f.stays.set(ctx, s.States.SetState, staysState(slug), stayed)
}
