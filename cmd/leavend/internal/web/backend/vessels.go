package backend

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/web"
)

// Vessels notes what the baker does with a jar or a bowl beside feeding.
type Vessels struct {
	m    *monitor.Monitor
	came func(subject string) // told that somebody was there
}

// Chill says that a jar went into the fridge, or came out of it.
func (s Vessels) Chill(ctx context.Context, slug string, in bool) error {
	v := s.m.Vessel(slug)
	if v == nil {
		return failure.ErrUnknown
	}
	if v.Conf.Kind != config.Jar {
		return &failure.Refusal{Code: "bowl"}
	}
	now := s.m.Clock.Now()
	s.came(slug)
	if in {
		return s.m.Fridge.Set(ctx, s.m.Store, slug, now)
	}
	return s.m.Fridge.Out(ctx, s.m.Store, slug, now)
}

// Use says what was done with what stood ready.
func (s Vessels) Use(ctx context.Context, slug, how string) (web.Used, error) {
	v := s.m.Vessel(slug)
	switch {
	case v == nil:
		return web.Used{}, failure.ErrUnknown
	case !monitor.UseIn(v.Conf.Kind, monitor.Use(how)):
		return web.Used{}, &failure.Refusal{Code: "use"}
	case v.Curve().FedAt.IsZero():
		return web.Used{}, &failure.Refusal{Code: "not-fed"}
	}
	s.came(slug)
	used, err := s.m.UseNow(ctx, v.Status(s.m.Clock.Now()), monitor.Use(how), s.m.Clock.Now())
	return web.Used{How: how, At: used.At, UndoUntil: used.At.Add(monitor.UndoFor)}, err
}

// Unuse takes back what Use said.
func (s Vessels) Unuse(ctx context.Context, slug string) error {
	if s.m.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	return s.m.Uses.Set(ctx, s.m.Store, slug, monitor.Used{})
}

// Depth is what the sensor over a vessel has said since a moment.
func (s Vessels) Depth(_ context.Context, slug string, since time.Time) (web.WalkReading, error) {
	v := s.m.Vessel(slug)
	if v == nil {
		return web.WalkReading{}, failure.ErrUnknown
	}
	middle, spread, came, failed := v.Depth(since)
	return web.WalkReading{Value: web.Real(middle), Spread: web.Real(spread), Unit: "mm", Taken: came, Failed: failed}, nil
}

// Fold says that the dough in a bowl was folded just now.
func (s Vessels) Fold(_ context.Context, slug string) error {
	v := s.m.Vessel(slug)
	switch {
	case v == nil:
		return failure.ErrUnknown
	case v.Conf.Kind != config.Bowl:
		return &failure.Refusal{Code: "jar"}
	}
	for _, e := range v.Folded(s.m.Clock.Now()) {
		s.m.Hub.Event(e)
	}
	return nil
}
