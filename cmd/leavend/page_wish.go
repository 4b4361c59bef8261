package main

import (
	"context"
	"errors"
	"time"

	"leavend/cmd/leavend/internal/failure"
	"leavend/cmd/leavend/internal/web"
)

// Wish asks that a vessel be ready at an hour.
func (p *pageHouse) Wish(ctx context.Context, slug string, at time.Time) error {
	return p.wished(slug, func() error { return p.d.WishReady(ctx, slug, at) })
}

// DropWish forgets the wish.
func (p *pageHouse) DropWish(ctx context.Context, slug string) error {
	return p.wished(slug, func() error { return p.d.DropWish(ctx, slug) })
}

func (p *pageHouse) wished(slug string, do func() error) error {
	if p.d.Vessel(slug) == nil {
		return failure.ErrUnknown
	}
	err := do()
	if errors.Is(err, errNotOnMat) {
		return &failure.Refusal{Code: "no-mat", Why: "It does not stand on the mat, so its hour cannot be steered."}
	}
	return err
}

// wish is a vessel's wish as the page shows it; nil when there is none.
func (p *pageHouse) wish(slug string) *web.Wish {
	a, ok := p.d.Steered(slug)
	if !ok {
		return nil
	}
	line := a.Say()
	return &web.Wish{At: a.ReadyBy, Over: a.Done(), Reason: a.Reason.String(), Text: line.In(p.d.Conf.Form()), Say: line, SetpointC: web.Real(a.SetpointC),
		ExpectAt: a.Expect, LowAt: a.Low, HighAt: a.High, SoonestAt: a.Soonest, LatestAt: a.Latest}
}
