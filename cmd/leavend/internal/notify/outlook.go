package notify

import (
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/monitor"
)

// OutlookOf is what a vessel's status foretells; false where it foretells
// nothing. bake says that a bake waits for it.
func OutlookOf(s monitor.Status, bake bool) (Outlook, bool) {
	if s.Forecast == nil || s.Forecast.Source == monitor.PastFeeds { // what is usual is no news
		return Outlook{}, false
	}
	f := s.Forecast
	return Outlook{Vessel: s.ID, Name: s.Name, Bowl: s.Kind == config.Bowl, Bake: bake, At: f.At, Low: f.Low, High: f.High}, true
}

// DueOf is a reminder of the journal's as an event; false of one that is for the
// page alone.
func DueOf(r feedmath.Reminder, d monitor.Due, v config.Vessel, now time.Time) (Event, bool) {
	h := Event{At: now, Vessel: v.Slug, Name: v.Name, Chilled: d.InFridge}
	switch r.Kind {
	case feedmath.FeedDue, feedmath.FridgeDue:
		h.Kind, h.For = FeedOverdue, d.LastFed
	case feedmath.FridgeLate:
		// A second message, under a time of its own, when it has waited too long.
		h.Kind, h.For, h.Late = FeedOverdue, d.LastFed, true
	case feedmath.CleanDue:
		h.Kind, h.For, h.Count = JarDirty, d.Cleaned, r.Feeds
	case feedmath.DiscardOld:
		h.Kind, h.For = DiscardAged, now.Add(-r.Since).Truncate(time.Second)
	default:
		return Event{}, false
	}
	return h, true
}
