package backend

import (
	"context"
	"encoding/json"
	"math"
	"slices"
	"time"

	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak"
)

// History answers about the past: curves, how forecasts turned out, and readings
// that were not believed.
type History struct {
	m         *monitor.Monitor
	baselines baselineCache
}

// Window is a vessel's curve between two moments.
func (y *History) Window(ctx context.Context, slug string, span web.Span) (web.Window, error) {
	v := y.m.Vessel(slug)
	if v == nil {
		return web.Window{}, failure.ErrUnknown
	}
	w, err := y.m.Store.Readings.Window(ctx, slug, span.From, span.To, span.Max)
	if err != nil {
		return web.Window{}, err
	}
	feeds, err := y.feedsOver(ctx, slug, span)
	if err != nil {
		return web.Window{}, err
	}
	out := web.Window{From: span.From, To: span.To, StepS: web.Real(w.Step.Seconds())}
	t := newTracer(ctx, y, v, w, feeds)
	for _, pt := range w.Points {
		t.add(&out, pt)
	}
	y.baselines.keep(ctx, y.m.Store, slug)
	out.Marks, err = y.marks(ctx, slug, span)
	return out, err
}

// feedsOver returns the feeds that a span shows, oldest first, with the last
// one before it.
func (y *History) feedsOver(ctx context.Context, slug string, span web.Span) ([]store.Feed, error) {
	during, err := y.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, From: span.From, To: span.To})
	if err != nil {
		return nil, err
	}
	before, err := y.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, To: span.From, Limit: 1})
	if err != nil {
		return nil, err
	}
	feeds := append(during, before...) // newest first
	slices.Reverse(feeds)
	return feeds, nil
}

// tracer turns stored points into the page's columns, with each point's
// height against that of its own feed.
type tracer struct {
	w       store.Window
	surface store.Channel // what tells the surface: the height, or without calibration the distance that was believed
	floorMM float64       // turns that distance into a height, where there is a calibration
	down    bool          // the surface is told as a distance
	since   time.Time     // before this moment only the bare distance was kept
	feeds   []store.Feed  // oldest first
	base    func(store.Feed) (float64, bool)
	volume  func(heightMM float64) float64 // what a rise is counted in
}

func newTracer(ctx context.Context, y *History, v *monitor.Vessel, w store.Window, feeds []store.Feed) *tracer {
	t := &tracer{w: w, surface: store.Height, floorMM: v.Conf.FloorMM, feeds: feeds, volume: v.Shape.EquivalentMM}
	if !v.Conf.Calibrated() {
		t.surface, t.down, t.since = store.Surface, true, w.Since(store.Surface)
	}
	t.base = func(f store.Feed) (float64, bool) { return y.baseOf(ctx, f, v) }
	return t
}

// level returns what a point tells of the surface. What the detector refused, a
// hand over the jar, is no part of the curve.
func (t *tracer) level(pt store.Point) (store.Stat, bool) {
	if t.down && pt.At.Before(t.since) {
		return monitor.StatOf(t.w, pt, store.Distance)
	}
	s, ok := monitor.StatOf(t.w, pt, t.surface)
	if !ok && !t.down {
		s, ok = monitor.StatOf(t.w, pt, store.Surface) // from before it was measured, or imported
		s.Mean, s.Min, s.Max = t.floorMM-s.Mean, t.floorMM-s.Max, t.floorMM-s.Min
	}
	return s, ok
}

// feedOf returns the feed that a moment belongs to.
func (t *tracer) feedOf(at time.Time) (store.Feed, bool) {
	i, exact := slices.BinarySearchFunc(t.feeds, at, func(f store.Feed, at time.Time) int { return f.At.Compare(at) })
	switch {
	case exact:
		return t.feeds[i], true
	case i > 0:
		return t.feeds[i-1], true
	}
	return store.Feed{}, false
}

// add appends one point to all columns.
func (t *tracer) add(out *web.Window, pt store.Point) {
	nan := math.NaN()
	height, low, high := nan, nan, nan
	ratio, ratioLow, ratioHigh := nan, nan, nan
	if s, ok := t.level(pt); ok {
		height, low, high = s.Mean, s.Min, s.Max
		if f, fed := t.feedOf(pt.At); fed {
			if base, ok := t.base(f); ok && t.down {
				height = base - height // the rise, all that is known
			} else if ok && base > 0 {
				was := t.volume(base)
				ratio, ratioLow, ratioHigh = t.volume(height)/was, t.volume(low)/was, t.volume(high)/was
			}
		} else if t.down {
			height = nan
		}
	}
	out.At = append(out.At, pt.At)
	out.HeightMM = append(out.HeightMM, height)
	out.Ratio = append(out.Ratio, ratio)
	out.RatioLow = append(out.RatioLow, ratioLow)
	out.RatioHigh = append(out.RatioHigh, ratioHigh)
	temp := store.Stat{Mean: nan, Min: nan, Max: nan}
	if s, ok := monitor.StatOf(t.w, pt, store.Warmth); ok {
		temp = s
	}
	out.TempC = append(out.TempC, temp.Mean)
	out.TempLowC = append(out.TempLowC, temp.Min)
	out.TempHighC = append(out.TempHighC, temp.Max)
	mat := nan
	if s, ok := monitor.StatOf(t.w, pt, store.MatOn); ok {
		mat = s.Mean
	}
	out.MatOn = append(out.MatOn, mat)
}

// marks are the events on a curve.
func (y *History) marks(ctx context.Context, slug string, span web.Span) ([]web.Mark, error) {
	events, err := y.m.Store.Journal.Events(ctx, store.Query{Vessel: slug, From: span.From, To: span.To, Limit: 500})
	if err != nil {
		return nil, err
	}
	marks := []web.Mark{}
	for _, e := range events {
		var data monitor.EventData
		if err := json.Unmarshal(e.Data, &data); err != nil {
			continue // an event of another version is no reason for an empty page
		}
		m := web.Mark{At: e.At, Kind: e.Kind, Text: data.Text}
		switch event.Kind(e.Kind) {
		case event.Peak:
			m.Kind, m.At = "top", data.PeakAt
		case event.Fed, event.Target, event.Collapse, event.Folded, event.AlarmRaised:
		default:
			continue
		}
		marks = append(marks, m)
	}
	begun, err := y.m.Store.Journal.Starters(ctx, store.Query{Vessel: slug, From: span.From, To: span.To})
	if err != nil {
		return nil, err
	}
	for _, n := range begun {
		marks = append(marks, web.Mark{At: n.At, Kind: "starter", Text: n.Note})
	}
	return marks, nil
}

// referenceC is the warmth against which feeds are compared.
const referenceC = 25

// FeedCurve is one feed's course against the hours since it.
func (y *History) FeedCurve(ctx context.Context, slug, id string) (web.FeedCurve, error) {
	feed, err := findFeed(ctx, y.m, slug, id)
	if err != nil {
		return web.FeedCurve{}, err
	}
	return y.courseOf(ctx, feed)
}

// courseOf is the course of a feed until the next one, or a day.
func (y *History) courseOf(ctx context.Context, feed store.Feed) (web.FeedCurve, error) {
	slug := feed.Vessel
	end := feed.At.Add(24 * time.Hour)
	if next, err := y.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, From: feed.At.Add(time.Second), To: end}); err == nil && len(next) > 0 {
		end = next[len(next)-1].At
	}
	w, err := y.Window(ctx, slug, web.Span{From: feed.At, To: end, Max: 400})
	if err != nil {
		return web.FeedCurve{}, err
	}
	c := web.FeedCurve{Feed: feedID(feed.ID), At: feed.At, ReferenceC: referenceC, Ratio: w.Ratio, TempC: w.TempC}
	warm, last := 0.0, feed.At
	for i, at := range w.At {
		c.Hours = append(c.Hours, at.Sub(feed.At).Hours())
		if math.IsNaN(w.TempC[i]) {
			warm = math.NaN() // from here on it is not known
		}
		warm += at.Sub(last).Hours() * peak.Pace(w.TempC[i]) / peak.Pace(referenceC)
		last = at
		c.WarmHours = append(c.WarmHours, warm)
	}
	return c, y.addPeak(ctx, &c, feed)
}

// addPeak adds the peak that was called, as the journal has it.
func (y *History) addPeak(ctx context.Context, c *web.FeedCurve, feed store.Feed) error {
	nan := web.Real(math.NaN())
	c.PeakHours, c.PeakWarmHours, c.PeakRatio = nan, nan, nan
	outcomes, err := y.m.Outcomes(ctx, feed.Vessel, []store.Feed{feed})
	o, ok := outcomes[feed.ID]
	if err != nil || !ok {
		return err
	}
	peaked := o.PeakAt.Sub(feed.At).Hours()
	c.PeakHours, c.PeakRatio = web.Real(peaked), web.Real(monitor.OrNaN(o.RiseRatio))
	if i, _ := slices.BinarySearch(c.Hours, peaked); i < len(c.WarmHours) {
		c.PeakWarmHours = web.Real(c.WarmHours[i])
	}
	return nil
}

// scoreAhead is how long before a top the forecast is looked up that is
// scored against it.
const scoreAhead = 2 * time.Hour

// Record tells how past forecasts turned out.
func (y *History) Record(ctx context.Context, slug string) (web.Record, error) {
	if y.m.Vessel(slug) == nil {
		return web.Record{}, failure.ErrUnknown
	}
	out := web.Record{Rows: []web.RecordRow{}}
	begun, err := monitor.BegunAt(ctx, y.m.Store, slug)
	if err != nil {
		return out, err
	}
	tops, err := y.m.Store.Journal.Events(ctx, store.Query{Vessel: slug, From: begun, Limit: 200})
	if err != nil {
		return out, err
	}
	for _, e := range tops {
		var data monitor.EventData
		if event.Kind(e.Kind) != event.Peak || json.Unmarshal(e.Data, &data) != nil || len(out.Rows) == 30 {
			continue
		}
		from := data.PeakAt.Add(-12 * time.Hour)
		if from.Before(begun) {
			from = begun
		}
		said, err := y.m.Store.Journal.Forecasts(ctx, store.Query{Vessel: slug, From: from, To: data.PeakAt.Add(-scoreAhead), Limit: 1})
		if err != nil {
			return out, err
		}
		if len(said) == 0 {
			continue
		}
		f := said[0]
		out.Rows = append(out.Rows, web.RecordRow{
			FeedAt: y.fedBefore(ctx, slug, data.PeakAt), MadeAt: f.At, TopAt: data.PeakAt, SaidAt: f.Peak, LowAt: f.Low, HighAt: f.High,
			AheadMin: web.Real(data.PeakAt.Sub(f.At).Minutes()),
		})
	}
	return out, nil
}

// fedBefore returns when a vessel was last fed before a moment.
func (y *History) fedBefore(ctx context.Context, slug string, at time.Time) time.Time {
	feeds, err := y.m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, To: at, Limit: 1})
	if err != nil || len(feeds) == 0 {
		return time.Time{}
	}
	return feeds[0].At
}

// Refused returns the latest readings that were not believed.
func (y *History) Refused(_ context.Context, slug string) ([]web.Refused, error) {
	v := y.m.Vessel(slug)
	if v == nil {
		return nil, failure.ErrUnknown
	}
	out := []web.Refused{}
	for _, r := range v.Refusals() {
		out = append(out, web.RefusedOf(r, y.m.Conf.Reader()))
	}
	return out, nil
}

// topShare is how much of its rise a jar must have to stand at its peak, a choice
// of ours: bakers call it the top for as long as they see no fall.
const topShare = 0.95

// onTop returns for how many hours a curve stood within topShare of its rise,
// and whether it has left its peak since.
func onTop(c web.FeedCurve) (hours float64, over bool) {
	most := 1.0
	for _, r := range c.Ratio {
		if r > most { // false for a gap
			most = r
		}
	}
	first, last := math.NaN(), math.NaN()
	for i, r := range c.Ratio {
		switch {
		case math.IsNaN(r):
		case r >= 1+topShare*(most-1):
			if math.IsNaN(first) {
				first = c.Hours[i]
			}
			last, over = c.Hours[i], false
		default:
			over = !math.IsNaN(first)
		}
	}
	return last - first, over && most > 1
}
