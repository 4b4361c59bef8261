package monitor

import (
	"context"
	"fmt"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
)

// A jar is fed once, and its feed may be told several times: a browser sends a
// request again when a line breaks, a broker delivers a command at least once, and
// the detector finds a feed before the baker presses the button.
const (
	// repeatWithin is how close two reports of the same feed lie.
	repeatWithin = time.Minute
	// repeatByHand is the same in a clock that runs fast: what a browser needs to
	// send a request again.
	repeatByHand = 3 * time.Second
	// foundWithin is how far apart the baker's press and a feed that the detector found
	// may lie: the jar is away for up to a quarter of an hour, the detector takes seven
	// minutes, and the button is pressed some minutes before or after.
	foundWithin = 30 * time.Minute
)

// asTold is a feed with its vessel and time, or says why it cannot be.
func (m *Monitor) asTold(v *Vessel, feed store.Feed, now time.Time) (store.Feed, error) {
	if feed.At.IsZero() {
		feed.At = now
	}
	if feed.At.After(now.Add(event.Ahead)) {
		return feed, fmt.Errorf("%s: a feed at %s lies in the future", v.Conf.Name, feed.At.Format(time.RFC3339))
	}
	if feed.At.After(now) {
		feed.At = now // the phone's clock is a little fast
	}
	feed.Vessel, feed.Source = v.Conf.Slug, store.Marked
	return feed, m.CheckLevain(v.Conf.Slug, feed.From)
}

// toldBefore returns the journal's entry of the feed that is told here, and whether
// the baker told it already; no entry where it is new. What cannot be read is new: a
// feed must not be lost.
func (m *Monitor) toldBefore(ctx context.Context, feed store.Feed) (entry *store.Feed, repeated bool) {
	near := max(repeatWithin, time.Duration(m.Clock.Speed()*float64(repeatByHand)))
	far := max(near, foundWithin)
	feeds, _ := m.Store.Journal.Feeds(ctx, store.Query{Vessel: feed.Vessel, From: feed.At.Add(-far), To: feed.At.Add(far)})
	for i, f := range feeds {
		apart := feed.At.Sub(f.At).Abs()
		switch {
		case f.Source == store.Marked && apart < near && (sameMix(feed, store.Feed{}) || sameMix(feed, f)):
			return &feeds[i], true
		case f.Source == store.Found && apart < foundWithin:
			entry = &feeds[i]
		}
	}
	return entry, false
}

// sameMix reports whether two feeds say the same of what went in.
func sameMix(a, b store.Feed) bool {
	warm := func(f store.Feed) float64 {
		if f.WaterTempC == nil {
			return -1
		}
		return *f.WaterTempC
	}
	return a.KeptG == b.KeptG && a.WaterG == b.WaterG && a.DiscardG == b.DiscardG && warm(a) == warm(b) &&
		a.CleanJar == b.CleanJar && a.From == b.From && a.Note == b.Note && slices.Equal(a.Flours, b.Flours)
}

// writeFeed stores a feed that the baker tells, in the place of the entry that the
// detector made of it where there is one.
func writeFeed(ctx context.Context, journal *store.Journal, feed store.Feed, found *store.Feed) (store.Feed, error) {
	if found == nil {
		return journal.AddFeed(ctx, feed)
	}
	feed.ID = found.ID
	return feed, journal.CorrectFeed(ctx, feed)
}

// pressedFirst moves the feed that the baker told before the jar was taken away to when
// that was, and reports whether there is such a feed: what the detector found is no other.
func (m *Monitor) pressedFirst(ctx context.Context, e event.Event) bool {
	feed, ok, err := m.Store.Journal.LastFeed(ctx, e.Subject)
	since := e.Detected.FeedAt.Sub(feed.At)
	if err != nil || !ok || feed.Source != store.Marked || since < 0 || since >= foundWithin {
		return false
	}
	feed.At = e.Detected.FeedAt
	return m.Store.Journal.CorrectFeed(ctx, feed) == nil
}
