package monitor

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
)

// Fed notes that a vessel was fed: first on the disk, then in the detector.
// When it cannot be stored the curve starts again all the same, for fed it was,
// and the error says that the journal lacks it. No other surface is told then: the
// baker presses again until it is stored, and that is told once. A feed that was
// told before is stored once, see toldBefore.
func (m *Monitor) Fed(ctx context.Context, slug string, feed store.Feed) (store.Feed, error) {
	m.feeding.Lock()
	defer m.feeding.Unlock()
	v := m.Vessel(slug)
	if v == nil {
		return feed, fmt.Errorf("there is no vessel %q", slug)
	}
	now := m.Clock.Now()
	feed, err := m.asTold(v, feed, now)
	if err != nil {
		return feed, err
	}
	before, repeated := m.toldBefore(ctx, feed)
	if repeated {
		return *before, nil
	}
	feed.ChilledH = m.Fridge.Hours(cmp.Or(feed.From, slug), feed.At)
	if begun, err := BegunAt(ctx, m.Store, slug); err == nil && feed.At.Before(begun) {
		return writeFeed(ctx, m.Store.Journal, feed, before) // of the starter before; the curve goes on
	}
	stored, err := writeFeed(ctx, m.Store.Journal, feed, before)
	if err != nil {
		v.SetFeedID(0, now) // to take back the feed before would be wrong
		v.Fed(feed.At)
		return feed, err
	}
	// Who is fed is not asleep; back in the fridge it is said again.
	return stored, errors.Join(m.beginCurve(ctx, v, stored, now), m.Fridge.forget(ctx, m.Store, slug))
}

// beginCurve starts the curve of a feed that is stored, and tells it.
func (m *Monitor) beginCurve(ctx context.Context, v *Vessel, feed store.Feed, now time.Time) error {
	if now.Sub(feed.At) >= lateAfter {
		return m.fedLate(ctx, v, feed, now)
	}
	v.SetFeedID(feed.ID, now)
	for _, e := range v.Fed(feed.At) {
		m.Hub.Event(e)
	}
	if feed.From == "" {
		return nil
	}
	err := m.Rebuild(ctx, v) // it is foretold by the curves of the starter that it is built from
	v.SetFeedID(feed.ID, now)
	return err
}

// CheckLevain refuses a feed of a vessel that is said to be built from a jar where that
// cannot be.
func (m *Monitor) CheckLevain(slug, from string) error {
	if from == "" {
		return nil
	}
	v, mother := m.Vessel(slug), m.Vessel(from)
	if mother == nil || v == nil || mother == v || mother.Conf.Kind != config.Jar || v.Conf.Kind != config.Jar {
		return text.Fail("plan.asked.levain", text.Name("name", from))
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
