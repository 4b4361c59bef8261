package monitor

import (
	"context"
	"time"
)

// Holiday is a time for which the baker is away: nothing is fed then. The zero Holiday is
// none.
type Holiday struct {
	From  time.Time `json:"from"`
	Until time.Time `json:"until"`
}

// Covers reports whether a moment is in it.
func (h Holiday) Covers(at time.Time) bool { return !at.Before(h.From) && at.Before(h.Until) }

// Ended reports whether the baker came back within the last day.
func (h Holiday) Ended(now time.Time) bool {
	return !h.Until.IsZero() && !now.Before(h.Until) && now.Sub(h.Until) < 24*time.Hour
}

// Holiday is the last that the baker named, over or not.
func (m *Monitor) Holiday() Holiday { return m.changes.holiday.of(holidaySetting) }

// SetHoliday puts one in the place of the last; the zero Holiday ends it.
func (m *Monitor) SetHoliday(ctx context.Context, h Holiday) error {
	return m.changes.holiday.set(ctx, m.Store.States.SetSetting, holidaySetting, h)
}
