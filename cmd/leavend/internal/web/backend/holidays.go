package backend

import (
	"context"
	"time"

	"leavend/cmd/leavend/internal/monitor"
)

// Holidays are times for which the baker is away.
type Holidays struct{ m *monitor.Monitor }

// homeFrom is the hour, after midnight, at which the baker counts as back on a day.
const homeFrom = 9

// Holiday is the day on which the baker is back; zero where none is named, or it is over.
func (h Holidays) Holiday() time.Time {
	away := h.m.Holiday()
	if !away.Covers(h.m.Clock.Now()) {
		return time.Time{}
	}
	return away.Until.In(h.m.Conf.Timezone)
}

// SetHoliday has one last until the morning of a day; zero ends it.
func (h Holidays) SetHoliday(ctx context.Context, back time.Time) error {
	if !back.IsZero() {
		back = time.Date(back.Year(), back.Month(), back.Day(), homeFrom, 0, 0, 0, h.m.Conf.Timezone)
	}
	return h.m.SetHoliday(ctx, back)
}
