package heating

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/event"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/store"
	"leavend/control"
	"leavend/peak"
	"leavend/peak/readyby"
)

// ReadyBy moves the mat so that what stands on it is ready at the time that was
// asked for. It only asks: the course that it asks for ends by itself
// when it is not renewed, and the guard decides as ever.
type ReadyBy struct {
	// Missed is told once that a time which a person asked for cannot be met; nil
	// for none. A plan says itself what comes of its own.
	Missed func(now time.Time, v *monitor.Vessel, a readyby.Advice)

	m      *monitor.Monitor
	h      *Heater
	v      *monitor.Vessel        // on the mat
	latest atomic.Pointer[latest] // changed with mu held

	mu         sync.Mutex // guards what follows, and is held while a request changes
	controller *readyby.Controller
	fedAt      time.Time // of the feed that the controller knows
	holds      bool      // a course was asked for
	since      time.Time // the time could not be met; zero while it can
}

// latest is the request and the last advice. It is read without the lock, for
// whoever looks must not wait for whoever reads the history.
type latest struct {
	request Request
	advice  readyby.Advice // of a request that is over too
}

// Request is a time at which the vessel on the mat shall be ready, as the store
// keeps it; a zero At is none.
type Request struct {
	Made time.Time `json:"made,omitzero"`
	At   time.Time `json:"at,omitzero"`
	Plan bool      `json:"plan,omitempty"` // a plan's, which says itself what comes of it
	Told bool      `json:"told,omitempty"` // that it cannot be met
}

// requestState is the name under which the store keeps it.
func requestState(slug string) string { return "wish/" + slug }

const (
	steerEvery = time.Minute
	courseFor  = 15 * time.Minute // how long a course holds without being renewed
	learnSpan  = 24 * time.Hour   // of readings, how the vessel warms and cools
)

// OpenReadyBy makes what steers the vessel on the mat, and takes up the request
// that was made before a restart; nil where no vessel stands on a mat.
func OpenReadyBy(ctx context.Context, m *monitor.Monitor, h *Heater) *ReadyBy {
	if h.Mat == nil || m.Vessel(h.Mat.Vessel) == nil {
		return nil
	}
	v := m.Vessel(h.Mat.Vessel)
	o := readyby.Opts{Limits: steerLimits(m.Conf), UsualC: h.Setpoint()}
	if v.Conf.Kind == config.Bowl {
		o.Kind = peak.Bowl
	}
	g := &ReadyBy{m: m, h: h, v: v, controller: readyby.New(o)}
	g.latest.Store(&latest{})
	var kept Request
	if _, err := m.Store.States.State(ctx, requestState(v.Conf.Slug), &kept); err != nil {
		m.Log.Error("the ready-by time cannot be read", "vessel", v.Conf.Name, "err", err)
	} else if !kept.At.IsZero() {
		g.latest.Store(&latest{request: kept})
		g.controller.Restore(kept.Made, kept.At.In(m.Conf.Timezone))
	}
	now := m.Clock.Now()
	if err := g.learn(m.Store.Readings.ReadingsBetween(ctx, v.Conf.Slug, now.Add(-learnSpan), now)); err != nil {
		m.Log.Error("how the vessel warms cannot be read from the history", "err", err)
	}
	return g
}

// steerLimits are the setpoints that a course may ask for.
func steerLimits(c *config.Config) readyby.Limits {
	within := func(v float64) float64 { return min(max(v, c.Mat.SetpointMinC), c.Mat.SetpointMaxC) }
	return readyby.Limits{CoolestC: within(c.Plan.CoolestC), WarmestC: within(c.Plan.WarmestC)}
}

// learn shows the controller stored readings.
func (g *ReadyBy) learn(readings func(func(store.Reading, error) bool)) error {
	on := false
	for r, err := range readings {
		switch {
		case err != nil:
			return err
		case r.Channel == store.MatOn:
			on = r.Value > 0.5
		case r.Channel == store.Warmth:
			g.controller.Observe(r.At, r.Value, on)
		}
	}
	return nil
}

// Run looks every minute how the request stands, until ctx ends.
func (g *ReadyBy) Run(ctx context.Context) error {
	if g == nil {
		return nil
	}
	g.m.Clock.Every(ctx, steerEvery, func(now time.Time) { g.update(ctx, now) })
	return nil
}

// update shows the controller the present, and asks the mat for what it advises.
func (g *ReadyBy) update(ctx context.Context, now time.Time) {
	g.mu.Lock()
	defer g.mu.Unlock()
	s := g.v.Status(now)
	if fed := g.v.Curve().FedAt; !fed.Equal(g.fedAt) {
		g.fed(ctx, fed)
	}
	mat := g.h.Mat.State()
	if mat.VesselOK {
		g.controller.Observe(now, mat.VesselC, mat.On)
	}
	request, before := g.latest.Load().request, g.latest.Load().advice
	if request.At.IsZero() {
		return
	}
	g.controller.SetStarter(nil, g.h.Setpoint())
	a := g.controller.Advise(now, observationOf(s))
	g.latest.Store(&latest{request, a})
	if before.Reason != a.Reason {
		g.m.Log.Info(a.String(), "vessel", g.v.Conf.Name, "why", a.Reason.String())
	}
	g.follow(now, a, mat.Mode)
	g.missed(ctx, now, request, a)
	if a.Done() {
		if err := g.keep(ctx, Request{}); err != nil {
			g.m.Log.Error("that a ready-by time is over could not be stored", "err", err)
		}
	}
}

// missFor is how long a request must look lost before it is told: a lid that is
// lifted spoils the curve for minutes.
const missFor = 10 * time.Minute

// missed tells once that the time cannot be met, early, and what can be. The
// caller holds mu.
func (g *ReadyBy) missed(ctx context.Context, now time.Time, w Request, a readyby.Advice) {
	if a.Reason != readyby.TooEarly && a.Reason != readyby.TooLate {
		g.since = time.Time{}
		return
	}
	if g.since.IsZero() {
		g.since = now
	}
	if w.Plan || w.Told || g.Missed == nil || now.Sub(g.since) < missFor {
		return
	}
	w.Told = true
	if err := g.keep(ctx, w); err != nil {
		g.m.Log.Error("that the baker was told of a ready-by time which fails could not be stored", "err", err)
		return // it is told at the next look
	}
	g.Missed(now, g.v, a)
}

// follow asks the mat for a course, or ends the one it has.
func (g *ReadyBy) follow(now time.Time, a readyby.Advice, mode control.Mode) {
	c := 0.0
	if a.Steers() && mode == control.Hold {
		c = min(max(a.SetpointC, g.m.Conf.Mat.SetpointMinC), g.m.Conf.Mat.SetpointMaxC)
	}
	if c == 0 && !g.holds {
		return
	}
	g.holds = c != 0
	if err := g.h.Mat.SetCourse(now, c, courseFor); err != nil {
		g.m.Log.Error("the mat does not take the course", "setpoint_c", c, "err", err)
	}
}

// observationOf is how a vessel stands, in the controller's words. A sensor that does
// not answer is no lost curve yet: the controller has a limit of its own.
func observationOf(s monitor.Status) readyby.Observation {
	var o readyby.Observation
	if s.Stage == monitor.Unsure && (s.Alarm == nil || s.Alarm.Key.Reason != event.NoReading) {
		o.Stage = peak.Lost
	}
	if f := s.OwnForecast(); f != nil {
		o.HasForecast, o.Forecast = true, peak.Forecast{PeakAt: f.At, Low: f.Low, High: f.High}
	}
	if s.Call != nil {
		o.Came = peak.Event{At: s.Call.MadeAt, PeakAt: s.Call.At}
	}
	if s.Used != nil && s.Kind == config.Bowl { // its dough is gone
		o.Came = peak.Event{At: s.Used.At, PeakAt: s.Used.At}
	}
	if s.SeenAt != nil {
		o.ReadAt = *s.SeenAt
	}
	return o
}

// fed shows the controller a feed: what is in it, and all that is known of
// this starter by now. The caller holds mu.
func (g *ReadyBy) fed(ctx context.Context, at time.Time) {
	if g.fedAt = at; at.IsZero() {
		return
	}
	record, err := monitor.ProfileOf(ctx, g.m.Store, g.m.Conf.Vessels, g.v.Conf)
	g.report(ctx, "the starter's record cannot be read", err)
	feeds, err := g.m.Store.Journal.Feeds(ctx, store.Query{Vessel: g.v.Conf.Slug, Limit: 5})
	g.report(ctx, "the feed cannot be read", err)
	g.controller.SetStarter(record.Model, g.h.Setpoint())
	g.controller.Fed(at, monitor.FeedAt(feeds, at))
	err = g.learn(g.m.Store.Readings.ReadingsBetween(ctx, g.v.Conf.Slug, at, g.m.Clock.Now()))
	g.report(ctx, "the temperature since the feed cannot be read", err)
}

// report logs a failure. While the daemon ends, its store reads nothing more,
// and that is no failure.
func (g *ReadyBy) report(ctx context.Context, what string, err error) {
	if err != nil && ctx.Err() == nil {
		g.m.Log.Error(what, "err", err)
	}
}

// Forget has the controller look at the running feed and its starter again.
func (g *ReadyBy) Forget() {
	if g != nil {
		g.mu.Lock()
		defer g.mu.Unlock()
		g.fedAt = time.Time{}
	}
}

// ErrNotOnMat is the answer to a request for what no mat warms.
var ErrNotOnMat = errors.New("it does not stand on the mat, so its hour cannot be steered")

// Ask asks that a vessel be ready at a time: its starter at the top,
// its dough at the target. It is on the disk before it counts.
func (g *ReadyBy) Ask(ctx context.Context, slug string, at time.Time) error {
	return g.ask(ctx, slug, Request{At: at})
}

// ask is Ask for whoever asks.
func (g *ReadyBy) ask(ctx context.Context, slug string, w Request) error {
	if g == nil || g.v.Conf.Slug != slug {
		return ErrNotOnMat
	}
	now := g.m.Clock.Now()
	w.Made = now
	g.mu.Lock()
	err := g.controller.SetReadyBy(now, w.At.In(g.m.Conf.Timezone))
	if err == nil {
		if err = g.keep(ctx, w); err != nil {
			g.controller.Clear()
			g.latest.Store(&latest{advice: g.latest.Load().advice})
			err = fmt.Errorf("the ready-by time could not be stored: %w", err)
		}
	}
	g.mu.Unlock()
	if err != nil {
		return err
	}
	g.update(ctx, now)
	return nil
}

// Drop forgets the request, and the mat goes back to what it would do.
func (g *ReadyBy) Drop(ctx context.Context, slug string) error {
	if g == nil || g.v.Conf.Slug != slug {
		return ErrNotOnMat
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if err := g.keep(ctx, Request{}); err != nil {
		return fmt.Errorf("that the ready-by time was dropped could not be stored: %w", err)
	}
	g.latest.Store(&latest{})
	g.follow(g.m.Clock.Now(), readyby.Advice{}, control.Hold)
	return nil
}

// keep stores a request, or that there is none; the caller holds mu.
func (g *ReadyBy) keep(ctx context.Context, w Request) error {
	if err := g.m.Store.States.SetState(ctx, requestState(g.v.Conf.Slug), w); err != nil {
		return err
	}
	g.latest.Store(&latest{w, g.latest.Load().advice})
	if w.At.IsZero() {
		g.controller.Clear()
	}
	return nil
}

// Advice returns the last advice on a vessel's request; false when there is
// none and none has just ended.
func (g *ReadyBy) Advice(slug string) (readyby.Advice, bool) {
	if g == nil || g.v.Conf.Slug != slug {
		return readyby.Advice{}, false
	}
	last, over := g.latest.Load().advice, g.Request().At.IsZero()
	if last.ReadyBy.IsZero() || over && g.m.Clock.Now().Sub(last.ReadyBy) > shownFor {
		return readyby.Advice{}, false
	}
	return last, true
}

// shownFor is how long after its hour the end of a request is shown.
const shownFor = 6 * time.Hour

// Request returns what was asked for; a zero At is nothing.
func (g *ReadyBy) Request() Request { return g.latest.Load().request }

// What follows is the mat as a plan asks for it.

// Vessel is what stands on the mat.
func (g *ReadyBy) Vessel() *monitor.Vessel { return g.v }

// ReadyBy is the time that the mat is steered to, whoever asked; zero for none.
func (g *ReadyBy) ReadyBy() time.Time { return g.Request().At }

// SteerTo asks for a time on behalf of a plan.
func (g *ReadyBy) SteerTo(ctx context.Context, at time.Time) error {
	return g.ask(ctx, g.v.Conf.Slug, Request{At: at, Plan: true})
}

// Release ends the steering.
func (g *ReadyBy) Release(ctx context.Context) error { return g.Drop(ctx, g.v.Conf.Slug) }

// Allowed reports whether a person lets the mat heat.
func (g *ReadyBy) Allowed() bool { return g.h.Mat.State().Mode == control.Hold }

// Hold asks for a temperature for some minutes; 0 ends that.
func (g *ReadyBy) Hold(now time.Time, celsius float64) error {
	return g.h.Mat.SetCourse(now, celsius, courseFor)
}

// ScheduleStage is a vessel's stage in the words of the mat's schedule.
func ScheduleStage(s monitor.Stage) control.Stage {
	switch s {
	case monitor.AtPeak:
		return control.AtTop
	case monitor.AtTarget, monitor.Over:
		return control.AtTarget
	case monitor.Falling, monitor.Collapsed, monitor.Past:
		return control.Falling
	}
	return control.Rising
}
