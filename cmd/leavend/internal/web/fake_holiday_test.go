package web

import (
	"context"
	"time"
)

func (h *fakeHouse) Holiday() (from, back time.Time, own bool) { return h.leave, h.home, true }

func (h *fakeHouse) SetHoliday(_ context.Context, from, back time.Time) error {
	if from.IsZero() {
		from = fakeStart
	}
	h.leave, h.home = from, back
	return nil
}
