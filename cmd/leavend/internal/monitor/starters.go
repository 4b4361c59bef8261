package monitor

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
)

// A jar may come to hold another starter: the old one went mouldy, or a new one
// was given. What was learnt of the old is then no word about the new. Nothing
// is deleted: each jar's past is divided into reigns, one after the other, and
// only the present one is learnt from.

// generation is a time in which a jar held one starter.
type generation struct {
	Slug     string
	From, To time.Time // zero: from the first, until now
}

// generationSlack is how long before somebody said "a new starter" the new one may
// have been fed: whoever presses Fed first, and thinks of the other then, means
// this feed too.
const generationSlack = time.Minute

// generationsOf divides a jar's past, oldest first; the last is the present one.
func generationsOf(ctx context.Context, s *store.Store, slug string) ([]generation, error) {
	begun, err := s.Journal.Starters(ctx, store.Query{Vessel: slug})
	if err != nil {
		return nil, err
	}
	all := []generation{{Slug: slug}}
	for i := len(begun) - 1; i >= 0; i-- { // oldest first
		at := begun[i].At.Add(-generationSlack)
		all[len(all)-1].To = at
		all = append(all, generation{Slug: slug, From: at})
	}
	return all, nil
}

// BegunAt is since when a jar holds its present starter; zero if it never held
// another.
func BegunAt(ctx context.Context, s *store.Store, slug string) (time.Time, error) {
	all, err := generationsOf(ctx, s, slug)
	if err != nil {
		return time.Time{}, err
	}
	return all[len(all)-1].From, nil
}

// lineage returns when and in which jars the starter stood that a vessel holds
// now. Jars with a starter of one name share it as long as they have been given
// equally many new ones: a jar that alone got a new one learns alone, until the
// others got it too.
func lineage(ctx context.Context, s *store.Store, vessels []config.Vessel, of config.Vessel) ([]generation, error) {
	of, err := motherOf(ctx, s, vessels, of)
	if err != nil {
		return nil, err
	}
	own, err := generationsOf(ctx, s, of.Slug)
	if err != nil {
		return nil, err
	}
	var kin []generation
	for _, conf := range vessels {
		if conf.Starter != of.Starter || conf.Kind != of.Kind {
			continue
		}
		all, err := generationsOf(ctx, s, conf.Slug)
		if err != nil {
			return nil, err
		}
		if len(all) >= len(own) {
			kin = append(kin, all[len(own)-1])
		}
	}
	return kin, nil
}

// motherOf is the jar whose starter a vessel holds: another's, where a levain was built
// in it, and else its own.
func motherOf(ctx context.Context, s *store.Store, vessels []config.Vessel, of config.Vessel) (config.Vessel, error) {
	last, ok, err := s.Journal.LastFeed(ctx, of.Slug)
	if err != nil || !ok || last.From == "" {
		return of, err
	}
	for _, conf := range vessels {
		if conf.Slug == last.From && conf.Kind == of.Kind {
			return conf, nil
		}
	}
	return of, nil
}

// takenSince is how much of a jar's starter went into levains in other jars since a
// moment, in grams.
func takenSince(ctx context.Context, s *store.Store, of string, since time.Time) (grams float64, err error) {
	feeds, err := s.Journal.Feeds(ctx, store.Query{From: since})
	for _, f := range feeds {
		if f.From == of && f.At.After(since) {
			grams += f.KeptG
		}
	}
	return grams, err
}

// query asks for what belongs to a reign, the newest so many.
func (r generation) query(limit int) store.Query {
	return store.Query{Vessel: r.Slug, From: r.From, To: r.To, Limit: limit}
}

// NewStarter notes that a jar holds another starter: from a feed on, or from now
// on where feed is 0. It is on the disk before it counts.
func (m *Monitor) NewStarter(ctx context.Context, slug string, feed store.Feed, note string) (store.NewStarter, error) {
	n := store.NewStarter{Vessel: slug, At: feed.At, Note: note}
	if n.At.IsZero() {
		n.At = m.Clock.Now()
	}
	n, err := m.Store.Journal.AddStarter(ctx, n)
	if err != nil {
		return n, err
	}
	if err := m.Fridge.forget(ctx, m.Store, slug); err != nil {
		m.Log.Error("that the jar is out of the fridge could not be stored", "vessel", slug, "err", err)
	}
	return n, m.StarterChanged(ctx, slug)
}

// StarterChanged begins a jar's curve again, by what is known of its starter now.
func (m *Monitor) StarterChanged(ctx context.Context, slug string) error {
	m.usual.forget(slug)
	if m.Changed != nil {
		m.Changed(slug)
	}
	return m.Rebuild(ctx, m.Vessel(slug))
}
