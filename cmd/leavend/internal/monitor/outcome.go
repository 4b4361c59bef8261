package monitor

import (
	"context"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
)

// Outcomes returns what became of feeds, which are newest first, by their
// number: of all of them, whatever starter they were of. The peak of each is the
// one that was told; the record of its curve, which the forecast learns from, has
// it a little elsewhere and counts only where nothing was told.
func (m *Monitor) Outcomes(ctx context.Context, slug string, feeds []store.Feed) (map[int64]peak.Feed, error) {
	if len(feeds) == 0 {
		return nil, nil
	}
	from, newest := feeds[len(feeds)-1].At, feeds[0].At
	past, err := pastFeeds(ctx, m.Store, store.Query{Vessel: slug, From: from.Add(-time.Minute), To: newest.Add(time.Minute)})
	if err != nil {
		return nil, err
	}
	told, err := m.Store.Journal.Events(ctx, store.Query{Vessel: slug, From: from, To: newest.Add(3 * 24 * time.Hour)})
	if err != nil {
		return nil, err
	}
	out := map[int64]peak.Feed{}
	slices.SortStableFunc(told, func(a, b store.Event) int { return a.At.Compare(b.At) })
	for _, f := range feeds {
		for _, p := range past {
			if p.At.Sub(f.At).Abs() < time.Minute {
				out[f.ID] = withCalledPeak(p, told, f.At)
			}
		}
	}
	return out, nil
}

// withCalledPeak gives a record the first peak that was told after its feed; told is oldest
// first.
func withCalledPeak(p peak.Feed, told []store.Event, fed time.Time) peak.Feed {
	for _, e := range told {
		if data := dataOf(e); event.Kind(e.Kind) == event.Peak && data.PeakAt.After(fed) {
			p.PeakAt = data.PeakAt
			if data.RiseRatio != nil {
				p.RiseRatio = *data.RiseRatio
			}
			break
		}
	}
	return p
}
