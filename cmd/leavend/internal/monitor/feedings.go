package monitor

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
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

// Open makes the vessels and takes in their curves since the last
// feed, through the same code that sees them live.
func (m *Monitor) Open(ctx context.Context) error {
	for _, conf := range m.Conf.Vessels {
		v := NewVessel(conf, nil)
		v.Reader, v.of = m.Conf.Reader(), m
		m.Vessels = append(m.Vessels, v)
		if err := errors.Join(m.Rebuild(ctx, v), m.publishLastFeed(ctx, v)); err != nil {
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
		if feed, readings, err = m.sinceFeed(ctx, fresh); err != nil {
			return nil, err
		}
		m.recallTarget(ctx, fresh, feed.At)
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
	return m.publishMissed(ctx, v, feed, append(said, missed...))
}

// LastCurve is how the curve of a vessel's last feed stands by the stored
// readings alone.
func (m *Monitor) LastCurve(ctx context.Context, conf config.Vessel) (peak.Status, error) {
	v := NewVessel(conf, nil)
	_, readings, err := m.sinceFeed(ctx, v)
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
func (m *Monitor) recallTarget(ctx context.Context, v *Vessel, fedAt time.Time) {
	var kept bowlTarget
	if _, err := m.Store.States.State(ctx, targetState(v.Conf.Slug), &kept); err != nil {
		m.Log.Error("the rise that the dough waits for cannot be read", "vessel", v.Conf.Name, "err", err)
	} else if kept.FedAt.Sub(fedAt).Abs() < time.Minute {
		v.SetTarget(kept.Ratio)
	}
}

// sinceFeed tells a new vessel of the last feed of its starter, and returns
// that and the readings since.
func (m *Monitor) sinceFeed(ctx context.Context, fresh *Vessel) (store.Feed, func(func(store.Reading, error) bool), error) {
	slug := fresh.Conf.Slug
	begun, err := BegunAt(ctx, m.Store, slug)
	if err != nil {
		return store.Feed{}, nil, err
	}
	feed, fed, err := m.Store.Journal.LastFeed(ctx, slug)
	switch {
	case err != nil:
		return feed, nil, err
	case fed && !feed.At.Before(begun):
		fresh.Fed(feed.At)
		return feed, m.Store.Readings.ReadingsSinceFeed(ctx, feed), nil
	}
	since := m.Clock.Now().Add(-curveSpan)
	if since.Before(begun) {
		since = begun
	}
	// The last feed, if there is one, is of another starter.
	return store.Feed{At: begun}, m.Store.Readings.ReadingsSince(ctx, slug, since), nil
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
func (m *Monitor) publishMissed(ctx context.Context, v *Vessel, feed store.Feed, said []event.Event) error {
	known, err := m.Store.Journal.Events(ctx, store.Query{Vessel: v.Conf.Slug, From: feed.At})
	if err != nil {
		return err
	}
	for _, e := range said {
		if e.Kind == event.Forecast || e.Kind == event.AlarmRaised || e.Kind == event.Fed && e.Detected.Source != store.Found {
			continue
		}
		if !hasEvent(known, e.Kind) {
			e.Past = true
			m.Hub.Event(e)
		}
	}
	return nil
}

// publishLastFeed tells of the last feed where a kill came between what was stored of it
// and its event.
func (m *Monitor) publishLastFeed(ctx context.Context, v *Vessel) error {
	feed, ok, err := m.Store.Journal.LastFeed(ctx, v.Conf.Slug)
	if err != nil || !ok || feed.Source != store.Marked || m.Clock.Now().Sub(feed.At) > longAgo {
		return err
	}
	known, err := m.Store.Journal.Events(ctx, store.Query{Vessel: v.Conf.Slug, From: feed.At})
	if err == nil && !hasEvent(known, event.Fed) {
		e := v.fedEvent(feed.At)
		e.Past = true
		m.Hub.Event(e)
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

// Fed notes that a vessel was fed: first on the disk, then in the detector.
// When it cannot be stored the curve starts again all the same, for fed it was,
// and the error says that the journal lacks it. No other surface is told then: the
// baker presses again until it is stored, and that is told once.
func (m *Monitor) Fed(ctx context.Context, slug string, feed store.Feed) (store.Feed, error) {
	v := m.Vessel(slug)
	if v == nil {
		return feed, fmt.Errorf("there is no vessel %q", slug)
	}
	now := m.Clock.Now()
	if feed.At.IsZero() {
		feed.At = now
	}
	if feed.At.After(now.Add(event.Ahead)) {
		return feed, fmt.Errorf("%s: a feed at %s lies in the future", v.Conf.Name, feed.At.Format(time.RFC3339))
	}
	if feed.At.After(now) {
		feed.At = now // the phone's clock is a little fast
	}
	feed.Vessel, feed.Source = slug, store.Marked
	if err := m.CheckLevain(slug, feed.From); err != nil {
		return feed, err
	}
	feed.ChilledH = m.Fridge.Hours(cmp.Or(feed.From, slug), feed.At)
	if begun, err := BegunAt(ctx, m.Store, slug); err == nil && feed.At.Before(begun) {
		return m.Store.Journal.AddFeed(ctx, feed) // of the starter before; the curve goes on
	}
	stored, err := m.Store.Journal.AddFeed(ctx, feed)
	if err != nil {
		v.SetFeedID(0, now) // to take back the feed before would be wrong
		v.Fed(feed.At)
		return feed, err
	}
	feed = stored
	if now.Sub(feed.At) >= lateAfter {
		err = m.fedLate(ctx, v, feed, now)
	} else {
		v.SetFeedID(feed.ID, now)
		for _, e := range v.Fed(feed.At) {
			m.Hub.Event(e)
		}
		if feed.From != "" { // it is foretold by the curves of the starter that it is built from
			err = m.Rebuild(ctx, v)
			v.SetFeedID(feed.ID, now)
		}
	}
	// Who is fed is not asleep; back in the fridge it is said again.
	return feed, errors.Join(err, m.Fridge.forget(ctx, m.Store, slug))
}

// CheckLevain refuses a feed of a vessel that is said to be built from a jar where that
// cannot be.
func (m *Monitor) CheckLevain(slug, from string) error {
	if from == "" {
		return nil
	}
	v, mother := m.Vessel(slug), m.Vessel(from)
	if mother == nil || v == nil || mother == v || mother.Conf.Kind != config.Jar || v.Conf.Kind != config.Jar {
		return fmt.Errorf("a levain is built in a jar from the starter of another; %q is none", from)
	}
	return nil
}

// lateAfter is from when on a feed counts as noted late. The button is pressed
// with floury hands, some minutes after the jar was put back at times; that much
// is left to the detector.
const lateAfter = 5 * time.Minute

// fedLate takes a feed into the curve that was noted long after it was given.
// The detector looks ahead only, so the curve is built again. A feed before the
// last one is for the journal and no news.
func (m *Monitor) fedLate(ctx context.Context, v *Vessel, feed store.Feed, now time.Time) error {
	last, _, err := m.Store.Journal.LastFeed(ctx, v.Conf.Slug)
	if err != nil || last.ID != feed.ID {
		return err
	}
	m.Hub.Event(v.fedEvent(feed.At))
	err = m.Rebuild(ctx, v)
	v.SetFeedID(feed.ID, now)
	return err
}

// Unfed takes a feed back, and the curve goes on from the feed before.
func (m *Monitor) Unfed(ctx context.Context, slug string, id int64) error {
	v := m.Vessel(slug)
	if v == nil {
		return fmt.Errorf("there is no vessel %q", slug)
	}
	return errors.Join(m.Store.Journal.UndoFeed(ctx, id), m.Rebuild(ctx, v))
}

// SaveSample hands a sample's numbers to the store.
func (m *Monitor) SaveSample(s Sample) {
	for channel, value := range map[store.Channel]float64{
		store.Distance: s.DistanceMM, store.Height: s.HeightMM, store.Surface: s.SurfaceMM, store.Warmth: s.TempC,
		store.MatTemp: s.MatC, store.RoomTemp: s.RoomC, store.MatOn: s.MatOn,
	} {
		if !math.IsNaN(value) {
			m.Store.Readings.Add(store.Reading{Vessel: s.Vessel, Channel: channel, At: s.At, Value: value})
		}
	}
}

// EventData is what the store keeps of an event beside its kind and time.
type EventData struct {
	Text      string    `json:"text,omitempty"`
	Detail    string    `json:"detail,omitempty"` // of a fault, for whoever mends it
	PeakAt    time.Time `json:"peak_at,omitzero"`
	Fault     string    `json:"fault,omitempty"`
	Past      bool      `json:"past,omitempty"` // told late
	RiseMM    *float64  `json:"rise_mm,omitempty"`
	RiseRatio *float64  `json:"rise_ratio,omitempty"`
}

// dataOf is what the store keeps of an event; nothing of one that another
// version wrote.
func dataOf(e store.Event) (data EventData) {
	_ = json.Unmarshal(e.Data, &data) // what cannot be read is not known
	return data
}

// Finite returns a pointer to v, or nil when v is no number or not known.
func Finite(v float64) *float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) || v == 0 {
		return nil
	}
	return &v
}

// keepForecast stores a forecast, to be scored once the top has come.
func keepForecast(ctx context.Context, m *Monitor, e event.Event) error {
	feed, ok, err := m.Store.Journal.LastFeed(ctx, e.Subject)
	if err != nil || !ok {
		return err
	}
	f := store.Forecast{Vessel: e.Subject, At: e.At, Feed: feed.ID, Peak: e.Detected.PeakAt, Low: e.Detected.Low, High: e.Detected.High}
	if r := Finite(e.Detected.RiseRatio); r != nil {
		f.RiseRatio = *r
	}
	_, err = m.Store.Journal.AddForecast(ctx, f)
	return err
}

// curveOf is what was learned of the running feed, so that the next forecast of
// this starter knows it.
func curveOf(m *Monitor, e event.Event) (store.Curve, bool) {
	record, ok := m.Vessel(e.Subject).Record()
	if !ok || record.At.IsZero() {
		return store.Curve{}, false // of a feed that was not seen nothing can be learned
	}
	data, err := json.Marshal(record)
	return store.Curve{Vessel: e.Subject, At: record.At, Data: data}, err == nil
}

// Vessel returns the vessel with a slug, or nil.
func (m *Monitor) Vessel(slug string) *Vessel {
	for _, v := range m.Vessels {
		if v.Conf.Slug == slug {
			return v
		}
	}
	return nil
}

// Find returns the vessel that somebody calls by either, or nil.
func (m *Monitor) Find(name string) *Vessel {
	for _, v := range m.Vessels {
		if v.Conf.Slug == name || v.Conf.Name == name {
			return v
		}
	}
	return nil
}

// ServedBy returns the slug of the vessel a sensor serves.
func (m *Monitor) ServedBy(name string) string {
	for _, v := range m.Conf.Vessels {
		if v.Distance == name || v.Temperature == name {
			return v.Slug
		}
	}
	return ""
}
