package monitor

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/store"
)

// Due is what the journal counts of a vessel at one moment, and what is due.
type Due struct {
	feedmath.Counts
	Reminders []feedmath.Reminder // none of dough: it is shaped and not fed
	LastFed   time.Time           // zero where no feed is known
	Cleaned   time.Time           // the last feed into a clean jar, or when this starter began; zero where neither is known
	InFridge  bool
	Discards  []store.DiscardMove // newest first
}

// Due counts what the journal tells of a vessel at now.
func (m *Monitor) Due(ctx context.Context, v *Vessel, now time.Time) (Due, error) {
	slug := v.Conf.Slug
	begun, err := BegunAt(ctx, m.Store, slug)
	if err != nil {
		return Due{}, err
	}
	feeds, err := m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, Limit: 500})
	if err != nil {
		return Due{}, err
	}
	d := Due{Cleaned: begun}
	if d.Discards, err = m.Store.Journal.Discards(ctx, store.Query{Vessel: slug, Limit: 500}); err != nil {
		return Due{}, err
	}
	for i, f := range feeds {
		if f.At.Before(begun) {
			break // of the starter before
		}
		if i == 0 {
			d.LastFed = f.At
		}
		if f.CleanJar {
			d.Cleaned = f.At
			break
		}
	}
	d.Counts = feedmath.Count(now, begun, MixedFeeds(feeds), discardMoves(d.Discards))
	s := v.Status(now)
	d.InFridge = s.FridgeSince != nil
	if s.Kind == config.Jar {
		d.Reminders = feedmath.Due(d.Counts, d.InFridge, rulesFor(m.Conf.Reminders, s))
	}
	return d, nil
}

// rulesFor are the reminders of the trade as the config wants them, for a jar as it
// stands.
func rulesFor(r config.Reminders, s Status) feedmath.Rules {
	rules := feedmath.UsualRules()
	rules.FeedEvery, rules.FridgeEvery, rules.CleanFeeds, rules.DiscardAge = feedmath.FeedEveryAt(r.FeedEvery, s.FreshTempC()), r.FridgeFeedEvery, r.CleanJarFeeds, r.DiscardKeeps
	return rules
}

// feedDue is when a jar is to be fed next; nil where that is not minded.
func feedDue(r config.Reminders, s Status) *time.Time {
	rules := rulesFor(r, s)
	every := rules.FeedEvery
	if s.FridgeSince != nil {
		every = rules.FridgeEvery
	}
	if every <= 0 {
		return nil
	}
	return moment(s.Feed.At.Add(every))
}

// discardMoves are stored moves of discard as the arithmetic wants them.
func discardMoves(moves []store.DiscardMove) []feedmath.DiscardMove {
	out := make([]feedmath.DiscardMove, 0, len(moves))
	for _, m := range moves {
		out = append(out, feedmath.DiscardMove{At: m.At, Act: m.Act, Grams: m.Grams})
	}
	return out
}
