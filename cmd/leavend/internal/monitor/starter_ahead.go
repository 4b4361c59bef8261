package monitor

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/text"
	"leavend/peak"
	"leavend/peak/timetopeak"
)

// feedsForUsual is how many past feeds of a starter make a habit: a guess.
const feedsForUsual = 3

// jarHalf is in what time a jar comes half of the way to another temperature: a
// guess for some hundred grams.
const jarHalf = 30 * time.Minute

// Usual is what a starter's past feeds say of the running one.
type Usual struct {
	Forecast peak.Forecast
	Takes    time.Duration // how long its past feeds took, the median
	Ratio    float64       // how far they rose, the median; NaN where that is not known
	Feeds    int           // how many they are
}

// starterForecaster foretells from a starter's past feeds when the running one
// peaks, from the feed on. It is worked out again
// every few minutes, for whoever looks must not wait for the history.
type starterForecaster struct {
	mu sync.Mutex // guards what follows
	of map[string]*usualOf
}

type usualOf struct {
	fedAt time.Time // of the feed that profile and feed are for
	known Profile
	feed  timetopeak.Feed
	at    time.Time // when it was last worked out
	usual Usual
	ok    bool
}

// UsualPeak returns what a starter's past feeds say of the running one at now; false
// where nothing rises in the jar, too few are known, or it takes its own way.
func (m *Monitor) UsualPeak(ctx context.Context, v *Vessel, now time.Time) (Usual, bool) {
	w := v.observed()
	if m.Store == nil || v.Conf.Kind != config.Jar || w.Status.FedSource == "" || w.Stage != Lag && w.Stage != Rising {
		return Usual{}, false
	}
	m.usual.mu.Lock()
	defer m.usual.mu.Unlock()
	if m.usual.of == nil {
		m.usual.of = map[string]*usualOf{}
	}
	u := m.usual.of[v.Conf.Slug]
	if u == nil {
		u = &usualOf{}
		m.usual.of[v.Conf.Slug] = u
	}
	if fed := w.Status.FedAt; u.fedAt.Equal(fed) && now.Sub(u.at).Abs() < aheadEvery {
		return u.usual, u.ok
	}
	if err := u.read(ctx, m, v.Conf, w.Status.FedAt); err != nil {
		m.Log.Error("past feeds cannot be read", "vessel", v.Conf.Name, "err", err)
	}
	u.at, u.ok = now, false
	if u.known.Model != nil && u.known.Model.Feeds() >= feedsForUsual {
		u.usual, u.ok = u.predict(now, m.temperatureAhead(ctx, v, now))
	}
	return u.usual, u.ok
}

// unusual is how far the curve's own forecast may be from what this starter
// usually takes before the baker is told that it differs.
const unusual = 30 * time.Minute

// addUsual adds the usual hour while the curve itself says nothing yet, and how
// the hour that it says differs from it.
func (m *Monitor) addUsual(s *Status, v *Vessel) {
	u, ok := m.UsualPeak(context.Background(), v, s.At)
	if !ok {
		return
	}
	if s.Forecast == nil {
		f := u.Forecast
		s.Forecast = &Forecast{MadeAt: s.At, At: f.PeakAt, Low: f.Low, High: f.High, Ratio: number(u.Ratio), Source: PastFeeds}
	}
	switch off := s.Forecast.At.Sub(s.Feed.At) - u.Takes; {
	case s.Forecast.Source == PastFeeds, s.Stage == Lag:
		s.Why = text.Say("now.note.starter_usual", text.Duration("takes", u.Takes.Round(10*time.Minute)), text.Count("n", u.Feeds))
	case off >= unusual:
		s.Why = text.Say("now.note.slower", text.Duration("by", off.Round(10*time.Minute)))
	case off <= -unusual:
		s.Why = text.Say("now.note.faster", text.Duration("by", -off.Round(10*time.Minute)))
	}
}

// forget has what is usual in a vessel computed again: another starter stands
// in it.
func (f *starterForecaster) forget(slug string) {
	f.mu.Lock()
	defer f.mu.Unlock()
	delete(f.of, slug)
}

// read learns what is known of the starter, once a feed, and what was fed, which
// may be entered afterwards.
func (u *usualOf) read(ctx context.Context, m *Monitor, of config.Vessel, fedAt time.Time) (err error) {
	if !u.fedAt.Equal(fedAt) {
		u.fedAt = fedAt
		if u.known, err = ProfileOf(ctx, m.Store, m.Conf.Vessels, of); err != nil {
			return err
		}
	}
	feeds, err := m.Store.Journal.Feeds(ctx, store.Query{Vessel: of.Slug, Limit: 2})
	if err != nil {
		return err
	}
	u.feed = FeedAt(feeds, fedAt)
	if ratio, ok := u.known.Usual.Mix(1).Ratio(); ok && u.known.HasWeights && u.feed.StarterG == 0 {
		usual := timetopeak.Mixed(1, ratio.Flour, ratio.Water)
		u.feed.StarterG, u.feed.WaterG, u.feed.Flours = usual.StarterG, usual.WaterG, usual.Flours
	}
	return nil
}

// predict says when it peaks, given that by now it has not.
func (u *usualOf) predict(now time.Time, c timetopeak.Course) (Usual, bool) {
	span, _ := u.known.Model.TopWithin(u.feed, c, DoughDoubtC)
	passed := span.Before(now.Sub(u.fedAt))
	if passed > 0.9 {
		return Usual{}, false // it takes its own way
	}
	at := func(p float64) time.Time {
		return u.fedAt.Add(span.Quantile(passed + (1-passed)*p)).Round(time.Minute)
	}
	f := peak.Forecast{PeakAt: at(0.5), Low: at(0.1), High: at(0.9), RiseRatio: math.NaN(), RiseMM: math.NaN()}
	return Usual{Forecast: f, Takes: u.known.Takes, Ratio: u.known.Rises, Feeds: u.known.Model.Feeds()}, true
}

// median is the middle of some values, or the zero value of none.
func median[T cmp.Ordered](all []T) (mid T) {
	if len(all) > 0 {
		mid = slices.Sorted(slices.Values(all))[len(all)/2]
	}
	return mid
}
