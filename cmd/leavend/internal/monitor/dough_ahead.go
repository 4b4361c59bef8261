package monitor

import (
	"context"
	"math"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/store"
	"leavend/peak"
	"leavend/peak/dough"
	"leavend/peak/timetopeak"
)

// doughForecaster foretells from past doughs when one that was just mixed has risen
// enough, until its own curve shows it. It is worked out again every few minutes,
// for whoever looks must not wait for the history.
type doughForecaster struct {
	mu       sync.Mutex // guards what follows
	fedAt    time.Time  // of the dough that model and recipe are for
	model    *dough.Model
	recipe   dough.Recipe
	at       time.Time // when it was last worked out
	forecast peak.Forecast
	ok       bool
}

// aheadEvery is how long what was foretold stands.
const aheadEvery = 5 * time.Minute

// DoughForecast returns what past doughs say of the dough in a bowl, and how many
// they are; false where its own curve speaks, or nothing is in it.
func (m *Monitor) DoughForecast(ctx context.Context, v *Vessel) (peak.Forecast, int, bool) {
	w := v.observed()
	if bowl, ok := bowlOf(m.Conf); !ok || bowl.Slug != v.Conf.Slug || !v.Conf.Calibrated() || w.Expecting || w.Status.FedSource == "" || w.Stage != Lag && w.Stage != Rising {
		return peak.Forecast{}, 0, false
	}
	now := m.Clock.Now()
	a := &m.ahead
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.fedAt.Equal(w.Status.FedAt) {
		a.fedAt, a.model, a.at = w.Status.FedAt, nil, time.Time{}
	}
	if now.Sub(a.at).Abs() >= aheadEvery {
		a.at, a.ok = now, false
		if err := a.begin(ctx, m, v.Conf.Slug); err != nil {
			m.Log.Error("past doughs cannot be read", "vessel", v.Conf.Name, "err", err)
		} else {
			a.forecast, a.ok = a.predict(now, m.temperatureAhead(ctx, v, now), v.Target())
		}
	}
	if !a.ok {
		return peak.Forecast{}, 0, false
	}
	return a.forecast, a.model.Doughs(), true
}

// begin learns from the doughs before the one that fedAt is of, once. The caller
// holds mu.
func (a *doughForecaster) begin(ctx context.Context, m *Monitor, slug string) error {
	if a.model != nil {
		return nil
	}
	named, err := BakedBy(ctx, m.Store)
	if err != nil {
		return err
	}
	mixes, err := m.Store.Journal.Feeds(ctx, store.Query{Vessel: slug, Limit: 1})
	if err != nil {
		return err
	}
	var mix store.Feed
	if len(mixes) > 0 && mixes[0].At.Sub(a.fedAt).Abs() < time.Minute {
		mix = mixes[0]
	}
	name := named(a.fedAt)
	a.recipe = recipeOf(m.Effective(), name, mix)
	model, err := DoughModel(ctx, m.Store, m.Effective())
	if err == nil {
		a.model = model
	}
	return err
}

// predict says when it has risen enough, given that by now it has not. The
// caller holds mu.
func (a *doughForecaster) predict(now time.Time, c timetopeak.Course, target float64) (peak.Forecast, bool) {
	span := a.model.RisenAfter(a.recipe, target, a.fedAt, c, DoughDoubtC)
	passed := span.Before(now.Sub(a.fedAt))
	if passed > 0.9 {
		return peak.Forecast{}, false // it takes its own way
	}
	at := func(p float64) time.Time {
		return a.fedAt.Add(span.Quantile(passed + (1-passed)*p)).Round(time.Minute)
	}
	return peak.Forecast{PeakAt: at(0.5), Low: at(0.1), High: at(0.9), RiseRatio: target, RiseMM: math.NaN()}, true
}

// temperatureAhead is the course of a vessel's temperature since it was fed: as measured up
// to now, and from there on to the mat's setpoint or the room's warmth.
func (m *Monitor) temperatureAhead(ctx context.Context, v *Vessel, now time.Time) timetopeak.Course {
	w := v.observed()
	age := now.Sub(w.Status.FedAt)
	past, err := courseOf(ctx, m.Store, v.Conf.Slug, peak.Feed{At: w.Status.FedAt, PeakAt: now, MeanTempC: orZero(w.TempC)})
	if err != nil {
		past = timetopeak.Steady(w.TempC)
	}
	to, ok := RoomTemperature(ctx, m.Store, v.Conf.Slug, now)
	if !ok {
		to = m.Conf.Plan.RoomC
	}
	if m.HeldAt != nil {
		if c, ok := m.HeldAt(v.Conf.Slug); ok {
			to = max(to, c)
		}
	}
	from := w.TempC
	if math.IsNaN(from) {
		from = to
	}
	half := BowlHalf
	if v.Conf.Kind == config.Jar {
		half = jarHalf
	}
	ahead := timetopeak.Settling(from, to, half)
	return func(after time.Duration) float64 {
		if after < age {
			return past(after)
		}
		return ahead(after - age)
	}
}

// orZero is a number, and 0 in place of none.
func orZero(v float64) float64 {
	if math.IsNaN(v) {
		return 0
	}
	return v
}
