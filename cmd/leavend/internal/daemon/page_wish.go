package daemon

import (
	"context"
	"errors"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
)

// Wish asks that a vessel be ready at an hour.
func (p *PageHouse) Wish(ctx context.Context, slug string, at time.Time) error {
	return p.wished(slug, func() error { return p.D.WishReady(ctx, slug, at) })
}

// DropWish forgets the wish.
func (p *PageHouse) DropWish(ctx context.Context, slug string) error {
	return p.wished(slug, func() error { return p.D.DropWish(ctx, slug) })
}

func (p *PageHouse) wished(slug string, do func() error) error {
	if p.D.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	err := do()
	if errors.Is(err, errNotOnMat) {
		return &failure.Refusal{Code: "no-mat", Why: "It does not stand on the mat, so its hour cannot be steered."}
	}
	return err
}

// wish is a vessel's wish as the page shows it; nil when there is none.
func (p *PageHouse) wish(slug string) *web.Wish {
	a, ok := p.D.Steered(slug)
	if !ok {
		return nil
	}
	line := a.Say()
	return &web.Wish{At: a.ReadyBy, Over: a.Done(), Reason: a.Reason.String(), Text: line.In(p.D.Conf.Form()), Say: line, SetpointC: web.Real(a.SetpointC),
		ExpectAt: a.Expect, LowAt: a.Low, HighAt: a.High, SoonestAt: a.Soonest, LatestAt: a.Latest}
}
