package web

import (
	"context"
	"net/http"
	"time"
)

// Holidays are times for which the baker is away: no reminders, and no loaf of every week.
type Holidays interface {
	// Holiday is the day on which the baker is back; zero where none is named, or it is over.
	Holiday() time.Time
	// SetHoliday has one last until a day; zero ends it.
	SetHoliday(ctx context.Context, back time.Time) error
}

// Holiday is the day on which the baker is back, such as "2026-12-20"; "" is no holiday.
type Holiday struct {
	Back string `json:"back"`
}

type holidayHandler struct {
	holidays Holidays
	now      func() time.Time
}

func (h holidayHandler) getHoliday(w http.ResponseWriter, _ *http.Request) error {
	out := Holiday{}
	if back := h.holidays.Holiday(); !back.IsZero() {
		out.Back = back.Format(time.DateOnly)
	}
	return writeJSON(w, http.StatusOK, out)
}

// longestHoliday bounds a slip of the pen.
const longestHoliday = 366 * 24 * time.Hour

func (h holidayHandler) putHoliday(w http.ResponseWriter, r *http.Request) error {
	var in Holiday
	if err := readBody(w, r, maxBody, &in); err != nil {
		return err
	}
	var back time.Time
	if in.Back != "" {
		var c checks
		var err error
		back, err = time.Parse(time.DateOnly, in.Back)
		c.that(err == nil, `back: write a day as "2026-12-20".`)
		c.that(err != nil || back.After(h.now()) && back.Sub(h.now()) < longestHoliday, "back: a day within the next year.")
		if c.err != nil {
			return c.err
		}
	}
	if err := h.holidays.SetHoliday(r.Context(), back); err != nil {
		return err
	}
	return noContent(w)
}
