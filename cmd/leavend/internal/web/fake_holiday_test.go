package web

import (
	"context"
	"time"
)

func (h *fakeHouse) Holiday() time.Time { return h.home }

func (h *fakeHouse) SetHoliday(_ context.Context, back time.Time) error {
	h.home = back
	return nil
}
