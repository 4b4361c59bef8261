package web

import (
	"context"
	"net/http"
	"time"
)

// Holidays are times for which the baker is away: no reminders, and no loaf of every week.
type Holidays interface {
	// Holiday is the day on which the baker leaves next, or has left, and the one on which
	// the baker is back; both zero where none is named. own tells that it was named here.
	Holiday() (from, back time.Time, own bool)
	// SetHoliday has one last from a day, or from now where that is zero, until another;
	// a zero back ends it.
	SetHoliday(ctx context.Context, from, back time.Time) error
}

// Holiday are the days on which the baker leaves and is back, such as "2026-12-20". An
// empty from is now, an empty back no holiday.
type Holiday struct {
	From string `json:"from,omitempty"`
	Back string `json:"back"`
	Own  bool   `json:"own"` // it was named here; false: in the configuration
}

type holidayHandler struct {
	holidays Holidays
	now      func() time.Time
}

func (h holidayHandler) shown() any {
	from, back, own := h.holidays.Holiday()
	if back.IsZero() {
		return Holiday{}
	}
	return Holiday{from.Format(time.DateOnly), back.Format(time.DateOnly), own}
}

// longestHoliday bounds a slip of the pen.
const longestHoliday = 366 * 24 * time.Hour

func (h holidayHandler) putHoliday(r *http.Request, in Holiday) error {
	var c checks
	from, back := c.day("from", in.From), c.day("back", in.Back)
	if !back.IsZero() {
		c.that(back.After(h.now()) && back.Sub(h.now()) < longestHoliday, "back: a day within the next year.")
		c.that(from.IsZero() || from.Before(back), "back: a day after the one on which you leave.")
	}
	if c.err != nil {
		return c.err
	}
	return h.holidays.SetHoliday(r.Context(), from, back)
}
