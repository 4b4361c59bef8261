package main

import (
	"context"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
)

// Chill says that a jar went into the fridge, or came out of it.
func (p *pageHouse) Chill(ctx context.Context, slug string, in bool) error {
	v := p.d.Vessel(slug)
	if v == nil {
		return failure.ErrUnknown
	}
	if v.Conf.Kind != config.Jar {
		return &failure.Refusal{Code: "bowl", Why: "Dough in the fridge is not followed; only jars are."}
	}
	now := p.d.Clock.Now()
	p.d.teller.Came(slug)
	if in {
		return p.d.Fridge.Set(ctx, p.d.Store, slug, now)
	}
	return p.d.Fridge.Out(ctx, p.d.Store, slug, now)
}
