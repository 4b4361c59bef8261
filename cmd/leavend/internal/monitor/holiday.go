package monitor

import (
	"context"
	"time"
)

// Holiday is a time for which the baker is away: nothing is planned or fed then, and
// nothing reminds of it. The zero Holiday is none.
type Holiday struct {
	From  time.Time `json:"from"`
	Until time.Time `json:"until"`
}

// covers reports whether a moment is in it.
func (h Holiday) covers(at time.Time) bool { return !at.Before(h.From) && at.Before(h.Until) }

// shortestHoliday is how long the baker is away at least to be told on coming home what
// the starter needs: a guess. Who is out for the evening knows.
const shortestHoliday = 24 * time.Hour

// ended reports whether the baker came home from it within the last day.
func (h Holiday) ended(now time.Time) bool {
	return h.Until.Sub(h.From) >= shortestHoliday && !now.Before(h.Until) && now.Sub(h.Until) < 24*time.Hour
}

// holidays are the absences with a date of the configuration, and the one that was named
// on the page.
func (p Rules) holidays() (all []Holiday) {
	for _, a := range p.m.Effective().Plan.Away {
		if !a.Start.IsZero() {
			all = append(all, Holiday{a.Start, a.End})
		}
	}
	return all
}

// AwayAt is the holiday that a moment is in.
func (p Rules) AwayAt(at time.Time) (Holiday, bool) { return p.holidayThat(Holiday.covers, at) }

// HomeFrom is the holiday that the baker came home from within the last day.
func (p Rules) HomeFrom(now time.Time) (Holiday, bool) { return p.holidayThat(Holiday.ended, now) }

func (p Rules) holidayThat(is func(Holiday, time.Time) bool, at time.Time) (Holiday, bool) {
	for _, h := range p.holidays() {
		if is(h, at) {
			return h, true
		}
	}
	return Holiday{}, false
}

// NextHoliday is the one that was named on the page, or else the first of the
// configuration, that is not over; own tells which. It is zero where there is none.
func (p Rules) NextHoliday(now time.Time) (next Holiday, own bool) {
	if h := p.m.changes.holiday.of(holidaySetting); h.Until.After(now) && h.Until.After(h.From) {
		return h, true
	}
	for _, h := range p.holidays() {
		if h.Until.After(now) && h.Until.After(h.From) && (next.From.IsZero() || h.From.Before(next.From)) {
			next = h
		}
	}
	return next, false
}

// SetHoliday puts one in the place of the last that was named on the page, and of those of
// the configuration that it overlaps.
func (p Rules) SetHoliday(ctx context.Context, h Holiday) error {
	return p.m.changes.holiday.set(ctx, p.m.Store.States.SetSetting, holidaySetting, h)
}

// EndHoliday ends the next holiday now, or calls it off.
func (p Rules) EndHoliday(ctx context.Context) error {
	now := p.m.Clock.Now()
	h, _ := p.NextHoliday(now)
	if h.Until.IsZero() {
		return nil
	}
	if h.Until = now; now.Before(h.From) {
		h.Until = h.From
	}
	return p.SetHoliday(ctx, h)
}
