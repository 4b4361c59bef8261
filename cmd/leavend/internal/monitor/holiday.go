package monitor

import (
	"context"
	"fmt"
	"sync"
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

// holidaySetting is the name under which the store keeps it.
const holidaySetting = "holiday"

// holiday is the last that the baker named.
type holiday struct {
	mu   sync.Mutex // guards what follows
	last Holiday
}

// Holiday is the last that the baker named, over or not.
func (m *Monitor) Holiday() Holiday {
	m.holiday.mu.Lock()
	defer m.holiday.mu.Unlock()
	return m.holiday.last
}

// OpenHoliday recalls it. Not knowing it costs a reminder.
func (m *Monitor) OpenHoliday(ctx context.Context) error {
	m.holiday.mu.Lock()
	defer m.holiday.mu.Unlock()
	if _, err := m.Store.States.Setting(ctx, holidaySetting, &m.holiday.last); err != nil {
		m.Log.Error("the holiday cannot be read", "err", err)
	}
	return nil
}

// SetHoliday puts one in the place of the last; the zero Holiday ends it. It is on the
// disk before it counts.
func (m *Monitor) SetHoliday(ctx context.Context, h Holiday) error {
	if err := m.Store.States.SetSetting(ctx, holidaySetting, h); err != nil {
		return fmt.Errorf("holiday: %w", err)
	}
	m.holiday.mu.Lock()
	defer m.holiday.mu.Unlock()
	m.holiday.last = h
	return nil
}
