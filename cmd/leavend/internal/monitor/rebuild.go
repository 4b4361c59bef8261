package monitor

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/hardware"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
)

// curveSpan is how far back readings are taken in when no feed is known.
const curveSpan = 36 * time.Hour

// rebuilder builds curves from what is stored.
type rebuilder struct{ m *Monitor }

func rebuilderOf(m *Monitor) rebuilder { return rebuilder{m} }

// Open makes the vessels and takes in their curves since the last
// feed, through the same code that sees them live.
func (m *Monitor) Open(ctx context.Context) error {
	for _, conf := range m.Conf.Vessels {
		v := NewVessel(conf, nil)
		v.Reader, v.of = m.Conf.Reader(), m
		m.Vessels = append(m.Vessels, v)
		if err := errors.Join(m.Rebuild(ctx, v), rebuilderOf(m).publishLastFeed(ctx, v)); err != nil {
			// A past that cannot be read costs the curve so far, not the night.
			m.Log.Error("the curve so far cannot be read", "vessel", conf.Name, "err", err)
			m.Alarms.Raise(m.Clock.Now(), event.AlarmKey{Subject: event.SubjectDaemon, Reason: event.StorageFailing}, event.AlarmText{
				Say: text.Say("alarm.storage.curve", text.Name("name", conf.Name)), Detail: err.Error(),
			})
		}
	}
	return nil
}

// Rebuild starts a vessel's detector again from what is stored. What it then
// says and was not told before, because the daemon was off, is told now.
func (m *Monitor) Rebuild(ctx context.Context, v *Vessel) error {
	var feed store.Feed
	var said []event.Event
	missed, err := v.Rebuild(func() (*Vessel, error) {
		history, err := m.History(ctx, v)
		if err != nil {
			return nil, err
		}
		fresh := NewVessel(v.Conf, history)
		fresh.Reader = v.Reader
		var readings func(func(store.Reading, error) bool)
		if feed, readings, err = rebuilderOf(m).sinceFeed(ctx, fresh); err != nil {
			return nil, err
		}
		rebuilderOf(m).recallTarget(ctx, fresh, feed.At)
		known, err := m.Store.Journal.Events(ctx, store.Query{Vessel: v.Conf.Slug, From: feed.At})
		if err != nil {
			return nil, err
		}
		fresh.recall(known)
		said, err = replayInto(fresh, readings)
		return fresh, err
	})
	if err != nil {
		return err
	}
	v.SetFeedID(feed.ID, feed.At)
	return rebuilderOf(m).publishMissed(ctx, v, feed, append(said, missed...))
}

// LastCurve is how the curve of a vessel's last feed stands by the stored
// readings alone.
func (m *Monitor) LastCurve(ctx context.Context, conf config.Vessel) (peak.Status, error) {
	v := NewVessel(conf, nil)
	_, readings, err := rebuilderOf(m).sinceFeed(ctx, v)
	if err != nil {
		return peak.Status{}, err
	}
	_, err = replayInto(v, readings)
	return v.Curve(), err
}

// bowlTarget is what the store keeps of the rise that a dough waits for.
type bowlTarget struct {
	FedAt time.Time `json:"fed_at"`
	Ratio float64   `json:"ratio"`
}

// targetState is the name under which the store keeps it.
func targetState(slug string) string { return "bowl-target/" + slug }

// SaveTarget stores the rise that the dough mixed at a moment waits for.
func (m *Monitor) SaveTarget(ctx context.Context, slug string, fedAt time.Time, ratio float64) error {
	return m.Store.States.SetState(ctx, targetState(slug), bowlTarget{FedAt: fedAt, Ratio: ratio})
}

// recallTarget gives a bowl the rise that its dough waited for before a restart.
func (r rebuilder) recallTarget(ctx context.Context, v *Vessel, fedAt time.Time) {
	var kept bowlTarget
	if _, err := r.m.Store.States.State(ctx, targetState(v.Conf.Slug), &kept); err != nil {
		r.m.Log.Error("the rise that the dough waits for cannot be read", "vessel", v.Conf.Name, "err", err)
	} else if kept.FedAt.Sub(fedAt).Abs() < time.Minute {
		v.SetTarget(kept.Ratio)
	}
}

// sinceFeed tells a new vessel of the last feed of its starter, and returns
// that and the readings since.
func (r rebuilder) sinceFeed(ctx context.Context, fresh *Vessel) (store.Feed, func(func(store.Reading, error) bool), error) {
	slug := fresh.Conf.Slug
	begun, err := BegunAt(ctx, r.m.Store, slug)
	if err != nil {
		return store.Feed{}, nil, err
	}
	feed, fed, err := r.m.Store.Journal.LastFeed(ctx, slug)
	switch {
	case err != nil:
		return feed, nil, err
	case fed && !feed.At.Before(begun):
		fresh.Fed(feed.At)
		return feed, r.m.Store.Readings.ReadingsSinceFeed(ctx, feed), nil
	}
	since := r.m.Clock.Now().Add(-curveSpan)
	if since.Before(begun) {
		since = begun
	}
	// The last feed, if there is one, is of another starter.
	return store.Feed{At: begun}, r.m.Store.Readings.ReadingsSince(ctx, slug, since), nil
}

// replayInto gives stored readings to a vessel. A distance goes in with the
// temperature that was fresh then.
func replayInto(v *Vessel, readings func(func(store.Reading, error) bool)) ([]event.Event, error) {
	var said []event.Event
	var tempC hardware.Recent
	for r, err := range readings {
		if err != nil {
			return said, err
		}
		switch r.Channel {
		case store.Warmth:
			tempC = hardware.Recent{Value: r.Value, At: r.At}
		case store.Distance:
			said = append(said, v.Replay(r.At, r.Value, tempC.Within(r.At, v.StaleAfter()))...)
		}
	}
	return said, nil
}

// publishMissed tells those of the events that the store does not know.
func (r rebuilder) publishMissed(ctx context.Context, v *Vessel, feed store.Feed, said []event.Event) error {
	known, err := r.m.Store.Journal.Events(ctx, store.Query{Vessel: v.Conf.Slug, From: feed.At})
	if err != nil {
		return err
	}
	for _, e := range said {
		if e.Kind == event.Forecast || e.Kind == event.AlarmRaised || e.Kind == event.Fed && e.Detected.Source != store.Found {
			continue
		}
		if !hasEvent(known, e.Kind) {
			e.Past = true
			r.m.Hub.Event(e)
		}
	}
	return nil
}

// publishLastFeed tells of the last feed where a kill came between what was stored of it
// and its event.
func (r rebuilder) publishLastFeed(ctx context.Context, v *Vessel) error {
	feed, ok, err := r.m.Store.Journal.LastFeed(ctx, v.Conf.Slug)
	if err != nil || !ok || feed.Source != store.Marked || r.m.Clock.Now().Sub(feed.At) > longAgo {
		return err
	}
	known, err := r.m.Store.Journal.Events(ctx, store.Query{Vessel: v.Conf.Slug, From: feed.At})
	if err == nil && !hasEvent(known, event.Fed) {
		e := v.fedEvent(feed.At)
		e.Past = true
		r.m.Hub.Event(e)
	}
	return err
}

// hasEvent reports whether the journal knows an event of a kind.
func hasEvent(known []store.Event, k event.Kind) bool {
	return slices.ContainsFunc(known, func(e store.Event) bool { return e.Kind == string(k) })
}

// History gathers the past feeds of a vessel's starter, whatever vessel it
// was in, oldest first.
func (m *Monitor) History(ctx context.Context, v *Vessel) ([]peak.Feed, error) {
	kin, err := lineage(ctx, m.Store, m.Conf.Vessels, v.Conf)
	if err != nil {
		return nil, err
	}
	var all []peak.Feed
	for _, r := range kin {
		feeds, err := pastFeeds(ctx, m.Store, r.query(20))
		if err != nil {
			return nil, err
		}
		all = append(all, feeds...)
	}
	slices.SortFunc(all, func(a, b peak.Feed) int { return a.At.Compare(b.At) })
	return all, nil
}

// pastFeeds returns what was learnt of past feeds.
func pastFeeds(ctx context.Context, s *store.Store, q store.Query) ([]peak.Feed, error) {
	curves, err := s.Journal.Curves(ctx, q)
	if err != nil {
		return nil, err
	}
	var all []peak.Feed
	for _, c := range curves {
		var f peak.Feed
		if err := json.Unmarshal(c.Data, &f); err != nil {
			return nil, fmt.Errorf("past feed of %s: %w", c.At.Format(time.RFC3339), err)
		}
		all = append(all, f)
	}
	return all, nil
}
