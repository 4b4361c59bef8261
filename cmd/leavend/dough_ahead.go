package main

import (
	"context"
	"fmt"
	"math"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/store"
	"leavend/control"
	"leavend/peak"
	"leavend/peak/dough"
	"leavend/peak/ripening"
)

// doughAhead foretells from past doughs when one that was just mixed has risen
// enough, until its own curve shows it. It is worked out anew every few minutes,
// for whoever looks must not wait for the history.
type doughAhead struct {
	mu    sync.Mutex // guards what follows
	fedAt time.Time  // of the dough that model and recipe are for
	model *dough.Model
	word  dough.Recipe
	at    time.Time // when it was last worked out
	said  peak.Forecast
	ok    bool
}

// aheadEvery is how long what was foretold stands.
const aheadEvery = 5 * time.Minute

// DoughAhead returns what past doughs say of the dough in a bowl, and how many
// they are; false where its own curve speaks, or nothing is in it.
func (d *daemon) DoughAhead(ctx context.Context, v *vessel) (peak.Forecast, int, bool) {
	w := v.View()
	if bowl, ok := bowlOf(d.conf); !ok || bowl.Slug != v.conf.Slug || !v.conf.Calibrated() || w.Expecting ||
		w.Status.FedAt.IsZero() || w.Status.FedSource == "" || !w.Target.At.IsZero() || w.Status.Stage != peak.Lag && w.Status.Stage != peak.Rising {
		return peak.Forecast{}, 0, false
	}
	now := d.clock.Now()
	a := &d.ahead
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.fedAt.Equal(w.Status.FedAt) {
		a.fedAt, a.model, a.at = w.Status.FedAt, nil, time.Time{}
	}
	if now.Sub(a.at).Abs() >= aheadEvery {
		a.at, a.ok = now, false
		if err := a.begin(ctx, d, v.conf.Slug); err != nil {
			d.log.Error("past doughs cannot be read", "vessel", v.conf.Name, "err", err)
		} else {
			a.said, a.ok = a.foretell(now, d.warmthOf(ctx, v, now), v.Target())
		}
	}
	if !a.ok {
		return peak.Forecast{}, 0, false
	}
	return a.said, a.model.Doughs(), true
}

// begin learns from the doughs before the one that fedAt is of, once. The caller
// holds mu.
func (a *doughAhead) begin(ctx context.Context, d *daemon, slug string) error {
	if a.model != nil {
		return nil
	}
	named, err := bakedBy(ctx, d.store)
	if err != nil {
		return err
	}
	mixes, err := d.store.Feeds(ctx, store.Query{Vessel: slug, Limit: 1})
	if err != nil {
		return err
	}
	var mix store.Feed
	if len(mixes) > 0 && mixes[0].At.Sub(a.fedAt).Abs() < time.Minute {
		mix = mixes[0]
	}
	a.word = recipeOf(d.conf, named(a.fedAt), mix)
	model, err := doughsOf(ctx, d.store, d.conf)
	if err == nil {
		a.model = model
	}
	return err
}

// foretell says when it has risen enough, given that by now it has not. The
// caller holds mu.
func (a *doughAhead) foretell(now time.Time, c ripening.Course, target float64) (peak.Forecast, bool) {
	span := a.model.ReadyAfter(a.word, a.fedAt, c, doughDoubtC)
	passed := span.Before(now.Sub(a.fedAt))
	if passed > 0.9 {
		return peak.Forecast{}, false // it takes its own way
	}
	at := func(p float64) time.Time {
		return a.fedAt.Add(span.Quantile(passed + (1-passed)*p)).Round(time.Minute)
	}
	return peak.Forecast{PeakAt: at(0.5), Low: at(0.1), High: at(0.9), RiseRatio: target, RiseMM: math.NaN()}, true
}

// warmthOf is the course of a dough's warmth since it was mixed: as measured up
// to now, and from there on to the mat's setpoint or the room's warmth.
func (d *daemon) warmthOf(ctx context.Context, v *vessel, now time.Time) ripening.Course {
	w := v.View()
	age := now.Sub(w.Status.FedAt)
	past, err := courseOf(ctx, d.store, v.conf.Slug, peak.Feed{At: w.Status.FedAt, PeakAt: now, MeanTempC: orZero(w.TempC)})
	if err != nil {
		past = ripening.Steady(w.TempC)
	}
	to, ok := roomWarmth(ctx, d.store, v.conf.Slug, now)
	if !ok {
		to = d.conf.Plan.RoomC
	}
	if d.warm != nil && d.warm.vessel == v.conf.Slug && d.warm.State().Mode == control.Hold {
		to = max(to, d.warm.State().SetpointC)
	}
	from := w.TempC
	if math.IsNaN(from) {
		from = to
	}
	ahead := ripening.Settling(from, to, bowlHalf)
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

// doughNote says what such a forecast rests on.
func doughNote(doughs int) string {
	switch doughs {
	case 0:
		return "foretold by common practice, for no dough of yours was watched yet; the curve will tell better"
	case 1:
		return "foretold from your last dough; the curve will tell better"
	}
	return fmt.Sprintf("foretold from your last %d doughs; the curve will tell better", doughs)
}
