package daemon

import (
	"context"
	"errors"
	"fmt"
	"math"
	"sync"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/notify"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/store"
	"leavend/control"
	"leavend/peak"
	"leavend/peak/readyby"
)

// steering moves the mat so that what stands on it is ready at the hour that
// the baker wished. It only asks: the course that it asks for ends by itself
// when it is not renewed, and the guard decides as ever.
type steering struct {
	v    *monitor.Vessel
	said wishSaid

	mu    sync.Mutex // guards what follows, and is held while a wish changes
	steer *readyby.Controller
	fedAt time.Time // of the feed that steer knows
	read  time.Time // of the last distance
	holds bool      // a course was asked for
	since time.Time // the hour could not be met; zero while it can
}

// wishSaid is the wish and what was last said of it. It has a lock of its own, for
// who looks must not wait for who reads the history.
type wishSaid struct {
	mu   sync.Mutex // guards what follows
	wish wishMemory
	last readyby.Advice // of a wish that is over too
}

// now returns the wish, and what was last said of it or of one that is over.
func (s *wishSaid) now() (wishMemory, readyby.Advice) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.wish, s.last
}

// wished notes a wish, or that there is none.
func (s *wishSaid) wished(w wishMemory) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.wish = w
}

// say notes what is said now and returns what was said before.
func (s *wishSaid) say(a readyby.Advice) (before readyby.Advice) {
	s.mu.Lock()
	defer s.mu.Unlock()
	before, s.last = s.last, a
	return before
}

// wishMemory is what the store keeps of a wish; a zero At is none.
type wishMemory struct {
	Made time.Time `json:"made,omitzero"`
	At   time.Time `json:"at,omitzero"`
	Plan bool      `json:"plan,omitempty"` // a plan's, which says itself what comes of it
	Told bool      `json:"told,omitempty"` // that it cannot be met
}

// wishState is the name under which the store keeps it.
func wishState(slug string) string { return "wish/" + slug }

const (
	steerEvery = time.Minute
	courseFor  = 15 * time.Minute // how long a course holds without being renewed
	learnSpan  = 24 * time.Hour   // of readings, how the vessel warms and cools
)

// openSteering makes the steering of the vessel on the mat, if there is one,
// and takes back the wish that was made before a restart.
func (d *Daemon) openSteering(ctx context.Context) {
	if d.Warm == nil || d.Vessel(d.Warm.Vessel) == nil {
		return
	}
	v := d.Vessel(d.Warm.Vessel)
	o := readyby.Opts{Limits: steerLimits(d.Conf), UsualC: d.usualC()}
	if v.Conf.Kind == config.Bowl {
		o.Kind = peak.Bowl
	}
	g := &steering{v: v, steer: readyby.New(o)}
	d.steering = g
	d.plans.Mat = steeredMat{d}
	var kept wishMemory
	if _, err := d.Store.State(ctx, wishState(v.Conf.Slug), &kept); err != nil {
		d.Log.Error("the wish that was made cannot be read", "vessel", v.Conf.Name, "err", err)
	} else if !kept.At.IsZero() {
		g.said.wished(kept)
		g.steer.Restore(kept.Made, kept.At.In(d.Conf.Timezone))
	}
	now := d.Clock.Now()
	if err := g.learn(d.Store.ReadingsBetween(ctx, v.Conf.Slug, now.Add(-learnSpan), now)); err != nil {
		d.Log.Error("how the vessel warms cannot be read from the history", "err", err)
	}
}

// steerLimits are the setpoints that a course may ask for.
func steerLimits(c *config.Config) readyby.Limits {
	within := func(v float64) float64 { return min(max(v, c.Mat.SetpointMinC), c.Mat.SetpointMaxC) }
	return readyby.Limits{CoolestC: within(c.Plan.CoolestC), WarmestC: within(c.Plan.WarmestC)}
}

// usualC is the setpoint that the baker set.
func (d *Daemon) usualC() float64 {
	return setpointOf(d.keeper.Memory(), d.Conf.Mat)
}

// learn shows the steer stored readings.
func (g *steering) learn(readings func(func(store.Reading, error) bool)) error {
	on := false
	for r, err := range readings {
		switch {
		case err != nil:
			return err
		case r.Channel == store.MatOn:
			on = r.Value > 0.5
		case r.Channel == store.Warmth:
			g.steer.Observe(r.At, r.Value, on)
		}
	}
	return nil
}

// steerOn looks every minute how the wish stands, until ctx ends.
func (d *Daemon) steerOn(ctx context.Context) error {
	if d.steering == nil {
		return nil
	}
	d.Clock.Every(ctx, steerEvery, func(now time.Time) { d.steerNow(ctx, now) })
	return nil
}

// steerNow shows the steer the present, and asks the mat for what it advises.
func (d *Daemon) steerNow(ctx context.Context, now time.Time) {
	g := d.steering
	g.mu.Lock()
	defer g.mu.Unlock()
	w := g.v.Observed()
	if !w.Status.FedAt.Equal(g.fedAt) {
		d.steerFed(ctx, w.Status.FedAt)
	}
	if !math.IsNaN(w.DistanceMM) {
		g.read = w.At
	}
	mat := d.Warm.State()
	if mat.VesselOK {
		g.steer.Observe(now, mat.VesselC, mat.On)
	}
	wish, _ := g.said.now()
	if wish.At.IsZero() {
		return
	}
	g.steer.SetStarter(nil, d.usualC())
	a := g.steer.Advise(now, g.view(w))
	if before := g.said.say(a); before.Reason != a.Reason {
		d.Log.Info(a.String(), "vessel", g.v.Conf.Name, "why", a.Reason.String())
	}
	d.follow(now, a, mat.Mode)
	d.tellMiss(ctx, now, wish, a)
	if a.Done() {
		if err := d.keepWish(ctx, wishMemory{}); err != nil {
			d.Log.Error("the end of a wish could not be stored", "err", err)
		}
	}
}

// missFor is how long a wish must look lost before it is told: a lid that is
// lifted spoils the curve for minutes.
const missFor = 10 * time.Minute

// tellMiss tells once that the hour cannot be met, early, and what can be. The
// caller holds mu.
func (d *Daemon) tellMiss(ctx context.Context, now time.Time, w wishMemory, a readyby.Advice) {
	g := d.steering
	if a.Reason != readyby.TooEarly && a.Reason != readyby.TooLate {
		g.since = time.Time{}
		return
	}
	if g.since.IsZero() {
		g.since = now
	}
	if w.Plan || w.Told || d.teller == nil || now.Sub(g.since) < missFor {
		return
	}
	w.Told = true
	if err := d.keepWish(ctx, w); err != nil {
		d.Log.Error("that a wish was told of could not be stored", "err", err)
		return // it is told at the next look
	}
	d.teller.tell(notify.Event{What: notify.WishFails, Vessel: g.v.Conf.Slug, Name: g.v.Conf.Name, At: now, For: a.ReadyBy, Text: a.Miss().In(d.Conf.Form())})
}

// follow asks the mat for a course, or ends the one it has.
func (d *Daemon) follow(now time.Time, a readyby.Advice, mode control.Mode) {
	c := 0.0
	if a.Steers() && mode == control.Hold {
		c = min(max(a.SetpointC, d.Conf.Mat.SetpointMinC), d.Conf.Mat.SetpointMaxC)
	}
	if c == 0 && !d.steering.holds {
		return
	}
	d.steering.holds = c != 0
	if err := d.Warm.SetCourse(now, c, courseFor); err != nil {
		d.Log.Error("the mat does not take the course", "setpoint_c", c, "err", err)
	}
}

// view is what the detector knows, in the steer's words. The caller holds mu.
func (g *steering) view(w monitor.Observation) readyby.Observation {
	return readyby.Observation{Forecast: w.Forecast, HasForecast: w.Expecting, Stage: w.Status.Stage, Came: w.Call, ReadAt: g.read}
}

// steerFed shows the steer a feed: what is in it, and all that is known of
// this starter by now. The caller holds mu.
func (d *Daemon) steerFed(ctx context.Context, at time.Time) {
	g := d.steering
	if g.fedAt = at; at.IsZero() {
		return
	}
	record, err := monitor.ProfileOf(ctx, d.Store, d.Conf.Vessels, g.v.Conf)
	if err != nil {
		d.Log.Error("the starter's record cannot be read", "err", err)
	}
	feeds, err := d.Store.Feeds(ctx, store.Query{Vessel: g.v.Conf.Slug, Limit: 5})
	if err != nil {
		d.Log.Error("the feed cannot be read", "err", err)
	}
	g.steer.SetStarter(record.Model, d.usualC())
	g.steer.Fed(at, monitor.FeedAt(feeds, at))
	if err := g.learn(d.Store.ReadingsBetween(ctx, g.v.Conf.Slug, at, d.Clock.Now())); err != nil {
		d.Log.Error("the warmth since the feed cannot be read", "err", err)
	}
}

// forgetSteered has the steer look at the running feed and its starter again.
func (d *Daemon) forgetSteered() {
	if g := d.steering; g != nil {
		g.mu.Lock()
		defer g.mu.Unlock()
		g.fedAt = time.Time{}
	}
}

// errNotOnMat is the answer to a wish for what no mat warms.
var errNotOnMat = errors.New("it does not stand on the mat, so its hour cannot be steered")

// WishReady asks that a vessel be ready at an hour: its starter at the top,
// its dough at the target. It is on the disk before it counts.
func (d *Daemon) WishReady(ctx context.Context, slug string, at time.Time) error {
	return d.wishAs(ctx, slug, wishMemory{At: at})
}

// wishAs is WishReady for whoever wishes.
func (d *Daemon) wishAs(ctx context.Context, slug string, w wishMemory) error {
	g := d.steering
	if g == nil || g.v.Conf.Slug != slug {
		return errNotOnMat
	}
	now := d.Clock.Now()
	w.Made = now
	g.mu.Lock()
	err := g.steer.SetReadyBy(now, w.At.In(d.Conf.Timezone))
	if err == nil {
		if err = d.keepWish(ctx, w); err != nil {
			g.steer.Clear()
			g.said.wished(wishMemory{})
			err = fmt.Errorf("the wish could not be stored: %w", err)
		}
	}
	g.mu.Unlock()
	if err != nil {
		return err
	}
	d.steerNow(ctx, now)
	return nil
}

// wishReady takes a wish in a baker's words; none forgets the one there is.
func (d *Daemon) wishReady(ctx context.Context, slug, text string) error {
	if text == "" {
		return d.DropWish(ctx, slug)
	}
	at, err := planning.ParseTime(text, d.Clock.Now(), d.Conf.Timezone)
	if err != nil {
		return err
	}
	return d.WishReady(ctx, slug, at)
}

// DropWish forgets the wish, and the mat goes back to what it would do.
func (d *Daemon) DropWish(ctx context.Context, slug string) error {
	g := d.steering
	if g == nil || g.v.Conf.Slug != slug {
		return errNotOnMat
	}
	g.mu.Lock()
	defer g.mu.Unlock()
	if err := d.keepWish(ctx, wishMemory{}); err != nil {
		return fmt.Errorf("that the wish was dropped could not be stored: %w", err)
	}
	g.said.say(readyby.Advice{})
	d.follow(d.Clock.Now(), readyby.Advice{}, control.Hold)
	return nil
}

// keepWish stores a wish, or that there is none; the caller holds mu.
func (d *Daemon) keepWish(ctx context.Context, w wishMemory) error {
	g := d.steering
	if err := d.Store.SetState(ctx, wishState(g.v.Conf.Slug), w); err != nil {
		return err
	}
	if g.said.wished(w); w.At.IsZero() {
		g.steer.Clear()
	}
	return nil
}

// Steered returns what was last said of a vessel's wish; false when there is
// none and none has just ended.
func (d *Daemon) Steered(slug string) (readyby.Advice, bool) {
	g := d.steering
	if g == nil || g.v.Conf.Slug != slug {
		return readyby.Advice{}, false
	}
	wish, last := g.said.now()
	over := wish.At.IsZero()
	if last.ReadyBy.IsZero() || over && d.Clock.Now().Sub(last.ReadyBy) > toldFor {
		return readyby.Advice{}, false
	}
	return last, true
}

// toldFor is how long after its hour the end of a wish is shown.
const toldFor = 6 * time.Hour

// scheduleStage is a vessel's stage in the words of the mat's schedule.
func scheduleStage(s monitor.Stage) control.Stage {
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
