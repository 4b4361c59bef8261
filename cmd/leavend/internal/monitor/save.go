package monitor

import (
	"context"
	"encoding/json"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
)

// keepLimit is how long the disk may take over an event before those who pass it
// on get it all the same.
const keepLimit = 10 * time.Second

// Save stores what the hub tells: samples as readings, events in the event log
// and the journal.
func (m *Monitor) Save(it Item) {
	ctx, cancel := context.WithTimeout(context.Background(), keepLimit)
	defer cancel()
	if it.Status != nil {
		m.SaveSample(*it.Status)
		_ = m.Events.Retry(ctx) // what the disk refuses has been logged, and is an alarm
		return
	}
	e := *it.Event
	if e.Kind == event.Forecast {
		if err := keepForecast(ctx, m, e); err != nil {
			m.Log.Warn("a forecast could not be stored", "subject", e.Subject, "err", err)
		}
		return
	}
	if err := m.SaveEvent(ctx, e); err != nil {
		m.Log.Error("an event could not be stored; it is tried again", "kind", e.Kind, "subject", e.Subject, "err", err)
	}
}

// SaveEvent puts an event into the log, for everyone who passes it on, and into
// the journal together with what follows from it.
func (m *Monitor) SaveEvent(ctx context.Context, e event.Event) error {
	body, err := json.Marshal(e)
	if err != nil {
		return err
	}
	return m.Events.Commit(ctx, event.Change{Records: []event.Record{{Body: body}}, Journal: entriesOf(ctx, m, e)})
}

// SavePast stores an event that is no news to anybody.
func (m *Monitor) SavePast(ctx context.Context, e event.Event) error {
	if e.Kind == event.Forecast {
		return keepForecast(ctx, m, e)
	}
	return m.Events.Commit(ctx, event.Change{Journal: entriesOf(ctx, m, e)})
}

// entriesOf are the journal entries that an event calls for.
func entriesOf(ctx context.Context, m *Monitor, e event.Event) []event.Entry {
	var all []event.Entry
	switch {
	case e.Kind == event.Fed && e.Detected.Source == store.Found && !m.pressedFirst(ctx, e):
		all = append(all, found(m, e))
	case e.Kind == event.Peak:
		if curve, ok := curveOf(m, e); ok {
			all = append(all, curve.Entry())
		}
	}
	data, err := json.Marshal(EventData{Text: e.Text, Detail: e.Detail, PeakAt: e.Detected.PeakAt, Fault: string(e.Alarm.Reason), Past: e.Past,
		RiseMM: Finite(e.Detected.RiseMM), RiseRatio: Finite(e.Detected.RiseRatio)})
	if err != nil {
		data = nil // Finite has taken out what JSON cannot say
	}
	return append(all, store.Event{Vessel: e.Subject, At: e.At, Kind: string(e.Kind), Data: data}.Entry())
}

// found is the journal's entry of a feed that was found in the curve. Its number
// goes to the vessel, unless there was another feed since.
func found(m *Monitor, e event.Event) event.Entry {
	entry := store.Feed{Vessel: e.Subject, At: e.Detected.FeedAt, Source: store.Found}.Entry()
	entry.Stored = func(id int64) {
		v := m.Vessel(e.Subject)
		if v != nil && v.Curve().FedAt.Sub(e.Detected.FeedAt).Abs() < time.Second {
			v.SetFeedID(id, e.At)
		}
	}
	return entry
}
