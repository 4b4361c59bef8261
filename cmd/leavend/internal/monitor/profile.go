package monitor

import (
	"context"
	"math"
	"slices"
	"sort"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/feedmath"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
	"leavend/peak/timetopeak"
)

// Profile is what the history tells of a starter. Its zero value with a
// new model is a starter of which nothing is known.
type Profile struct {
	Model      *timetopeak.Model
	Fed        bool       // there is a feed in the journal
	Last       store.Feed // the newest
	Peaked     bool       // it came to its peak since
	PeakedAt   time.Time  // when, as far as that was kept
	Watched    bool       // the jar was watched since
	TakenG     float64    // of it, for levains in other jars since
	Usual      feedmath.Feed
	HasWeights bool          // Usual has weights
	Rises      float64       // its rise ratio at the peak, the median; NaN where that is not known
	Takes      time.Duration // from a feed to its peak, the median of those learnt from
	Hydration  float64       // of the starter, water over flour, by what it is usually fed; 0 where that is not known
}

// learnFrom is how many of the last tops are learnt from.
const learnFrom = 30

// ProfileOf gathers what is known of the starter in a vessel, from every vessel
// that it was in.
func ProfileOf(ctx context.Context, s *store.Store, vessels []config.Vessel, of config.Vessel) (Profile, error) {
	out := Profile{Model: timetopeak.New()}
	if s == nil {
		return out, nil
	}
	generations, err := lineage(ctx, s, vessels, of)
	if err != nil {
		return out, err
	}
	var past []pastPeak
	for _, g := range generations {
		peaks, err := pastPeaks(ctx, s, g)
		if err != nil {
			return out, err
		}
		past = append(past, peaks...)
	}
	slices.SortStableFunc(past, func(a, b pastPeak) int { return a.at.Compare(b.at) })
	var took []time.Duration
	var rose []float64
	for _, p := range past[max(0, len(past)-learnFrom):] {
		if !out.Model.Learn(p.past) {
			continue
		}
		took = append(took, p.past.Top)
		if p.rise > 1 {
			rose = append(rose, p.rise)
		}
	}
	out.Takes, out.Rises = median(took), median(rose)
	if len(rose) == 0 {
		out.Rises = math.NaN()
	}
	return out, out.present(ctx, s, of)
}

// present looks at how the starter stands now. What the baker usually gives is
// the baker's habit, and outlives a starter.
func (r *Profile) present(ctx context.Context, s *store.Store, of config.Vessel) error {
	feeds, err := s.Journal.Feeds(ctx, store.Query{Vessel: of.Slug, Limit: 20})
	if err != nil || len(feeds) == 0 {
		return err
	}
	r.Usual, r.HasWeights = feedmath.Suggest(MixedFeeds(feeds))
	if h, ok := r.Usual.Mix(1).AddedHydration(); ok && r.HasWeights {
		r.Hydration = h // its own, after a few such feeds
	}
	begun, err := BegunAt(ctx, s, of.Slug)
	if err != nil || feeds[0].At.Before(begun) {
		return err
	}
	r.Fed, r.Last = true, feeds[0]
	if r.TakenG, err = takenSince(ctx, s, of.Slug, r.Last.At); err != nil {
		return err
	}
	events, err := s.Journal.Events(ctx, store.Query{Vessel: of.Slug, From: r.Last.At})
	if err != nil {
		return err
	}
	for _, e := range events {
		if event.Kind(e.Kind) != event.Peak {
			continue
		}
		r.Peaked, r.PeakedAt = true, e.At
		if at := dataOf(e).PeakAt; !at.IsZero() {
			r.PeakedAt = at
		}
	}
	w, err := s.Readings.Window(ctx, of.Slug, r.Last.At, r.Last.At.Add(48*time.Hour), 200)
	r.Watched = len(w.Points) > 20
	return err
}

// pastPeak is a past feed that came to its peak.
type pastPeak struct {
	at   time.Time
	past timetopeak.Past
	rise float64 // the ratio; 0 where it is not known
}

// pastPeaks returns the feeds of a reign that came to their top, with what
// they were and how warm they stood.
func pastPeaks(ctx context.Context, s *store.Store, r generation) ([]pastPeak, error) {
	past, err := pastFeeds(ctx, s, r.query(learnFrom))
	if err != nil {
		return nil, err
	}
	feeds, err := s.Journal.Feeds(ctx, r.query(4*learnFrom))
	if err != nil {
		return nil, err
	}
	var out []pastPeak
	for _, f := range past {
		course, err := courseOf(ctx, s, r.Slug, f)
		if err != nil {
			return nil, err
		}
		out = append(out, pastPeak{f.At, timetopeak.Past{Feed: FeedAt(feeds, f.At), Course: course, Top: f.PeakAt.Sub(f.At)}, f.RiseRatio})
	}
	return out, nil
}

// FeedAt finds the journal's feed at a moment; one without weights if there is
// none. feeds are newest first.
func FeedAt(feeds []store.Feed, at time.Time) timetopeak.Feed {
	for i, f := range feeds {
		if f.At.Sub(at).Abs() > time.Minute {
			continue
		}
		out := TimeToPeakFeed(f)
		if i+1 < len(feeds) {
			out.Rested = f.At.Sub(feeds[i+1].At)
		}
		return out
	}
	return timetopeak.Feed{}
}

// TimeToPeakFeed is a stored feed as the time-to-peak model wants it.
func TimeToPeakFeed(f store.Feed) timetopeak.Feed {
	out := timetopeak.Feed{StarterG: f.KeptG, WaterG: f.WaterG, Chilled: time.Duration(f.ChilledH * float64(time.Hour))}
	for _, fl := range f.Flours {
		out.Flours = append(out.Flours, timetopeak.Flour{Kind: fl.Kind, Grams: fl.Grams})
	}
	return out
}

// courseOf is the warmth that a past feed had until its peak; its mean where
// the readings are gone.
func courseOf(ctx context.Context, s *store.Store, slug string, f peak.Feed) (timetopeak.Course, error) {
	if !f.PeakAt.After(f.At) {
		return timetopeak.Steady(math.NaN()), nil
	}
	w, err := s.Readings.Window(ctx, slug, f.At, f.PeakAt, 200)
	if err != nil {
		return nil, err
	}
	var after []time.Duration
	var tempC []float64
	for _, p := range w.Points {
		if st, ok := StatOf(w, p, store.Warmth); ok {
			after, tempC = append(after, p.At.Sub(f.At)), append(tempC, st.Mean)
		}
	}
	if len(after) == 0 {
		return timetopeak.Steady(OrNaN(f.MeanTempC)), nil
	}
	return func(d time.Duration) float64 {
		i := sort.Search(len(after), func(i int) bool { return after[i] > d })
		return tempC[max(0, i-1)]
	}, nil
}

// RoomTemperature is the room's mean warmth of the last day, as far as a probe
// measured it.
func RoomTemperature(ctx context.Context, s *store.Store, slug string, now time.Time) (float64, bool) {
	if s == nil {
		return 0, false
	}
	w, err := s.Readings.Window(ctx, slug, now.Add(-24*time.Hour), now, 1)
	if err != nil || len(w.Points) == 0 {
		return 0, false
	}
	st, ok := StatOf(w, w.Points[0], store.RoomTemp)
	return st.Mean, ok
}
