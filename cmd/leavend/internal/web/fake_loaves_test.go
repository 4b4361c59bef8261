package web

import (
	"context"

	"leavend/cmd/leavend/internal/failure"
)

func (h *fakeHouse) Loaves(context.Context) (Loaves, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return Loaves{Stops: []BestStop{{LoafKind: LoafKind{Recipe: "pan loaf"}, Rated: 14, Best: 5, Low: 0.52, High: 0.6, Middle: 0.56, TempC: 25, InUse: h.ownStop}}}, nil
}

func (h *fakeHouse) UseStop(_ context.Context, kind LoafKind, use bool) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	if kind != (LoafKind{Recipe: "pan loaf"}) {
		return failure.ErrUnknown
	}
	h.ownStop = use
	return nil
}
