package backend

import (
	"context"
	"errors"
	"math"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/heating"
	"leavend/cmd/leavend/internal/monitor"
	"leavend/cmd/leavend/internal/planning"
	"leavend/cmd/leavend/internal/web"
	"leavend/peak"
	"leavend/peak/plan"
)

// ReadyBy takes the time at which a vessel should be ready.
type ReadyBy struct {
	m     *monitor.Monitor
	ready *heating.ReadyBy // nil where no vessel stands on a mat
}

// SetTargetTime asks that a vessel be ready at a time.
func (p ReadyBy) SetTargetTime(ctx context.Context, slug string, at time.Time) error {
	return p.onMat(slug, func() error { return p.ready.Ask(ctx, slug, at) })
}

// ClearTargetTime forgets it.
func (p ReadyBy) ClearTargetTime(ctx context.Context, slug string) error {
	return p.onMat(slug, func() error { return p.ready.Drop(ctx, slug) })
}

func (p ReadyBy) onMat(slug string, do func() error) error {
	if p.m.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	err := do()
	if errors.Is(err, heating.ErrNotOnMat) {
		return &failure.Refusal{Code: "no-mat"}
	}
	return err
}

// targetTime is a vessel's target time as the page shows it; nil when there is none.
func (p ReadyBy) targetTime(slug string) *web.TargetTime {
	a, ok := p.ready.Advice(slug)
	if !ok {
		return nil
	}
	line := planning.Steered(a)
	out := &web.TargetTime{At: a.ReadyBy, Over: a.Done(), Reason: a.Reason.String(), Text: line.In(p.m.Conf.Reader()), Say: line, SetpointC: web.Real(a.SetpointC),
		ExpectAt: a.Expect, LowAt: a.Low, HighAt: a.High, SoonestAt: a.Soonest, LatestAt: a.Latest, DegreeHours: web.Real(math.Round(10*a.DegreeHours) / 10)}
	if a.Kind == peak.Jar && !a.Expect.IsZero() {
		out.UsefulUntil = a.Expect.Add(plan.UsefulFor)
	}
	return out
}
