package daemon

import (
	"context"

	"leavend/cmd/leavend/internal/config"
	"leavend/cmd/leavend/internal/failure"
)

// Chill says that a jar went into the fridge, or came out of it.
func (p *PageHouse) Chill(ctx context.Context, slug string, in bool) error {
	v := p.D.Vessel(slug)
	if v == nil {
		return failure.ErrUnknown
	}
	if v.Conf.Kind != config.Jar {
		return &failure.Refusal{Code: "bowl", Why: "Dough in the fridge is not followed; only jars are."}
	}
	now := p.D.Clock.Now()
	p.D.teller.Came(slug)
	if in {
		return p.D.Fridge.Set(ctx, p.D.Store, slug, now)
	}
	return p.D.Fridge.Out(ctx, p.D.Store, slug, now)
}

// Fold says that the dough in a bowl was folded just now.
func (p *PageHouse) Fold(_ context.Context, slug string) error {
	v := p.D.Vessel(slug)
	switch {
	case v == nil:
		return failure.ErrUnknown
	case v.Conf.Kind != config.Bowl:
		return &failure.Refusal{Code: "jar", Why: "Only dough in a bowl is folded."}
	}
	for _, e := range v.Folded(p.D.Clock.Now()) {
		p.D.Hub.Event(e)
	}
	return nil
}
