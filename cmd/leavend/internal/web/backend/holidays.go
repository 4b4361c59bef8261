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

// Holiday is when the baker leaves and is back; zero where none is named, or it is over.
func (h Holidays) Holiday() (from, back time.Time, own bool) {
	away, own := h.m.Rules().NextHoliday(h.m.Clock.Now())
	return away.From.In(h.m.Conf.Timezone), away.Until.In(h.m.Conf.Timezone), own
}

// SetHoliday has one last from a day, or from now, until the morning of another; a zero
// back ends it.
func (h Holidays) SetHoliday(ctx context.Context, from, back time.Time) error {
	if back.IsZero() {
		return h.m.Rules().EndHoliday(ctx)
	}
	away := monitor.Holiday{From: h.hourOf(from, 0), Until: h.hourOf(back, homeFrom)}
	if now := h.m.Clock.Now(); away.From.Before(now) {
		away.From = now
	}
	return h.m.Rules().SetHoliday(ctx, away)
}

// hourOf is an hour of a day of the kitchen's calendar.
func (h Holidays) hourOf(day time.Time, hour int) time.Time {
	return time.Date(day.Year(), day.Month(), day.Day(), hour, 0, 0, 0, h.m.Conf.Timezone)
}
