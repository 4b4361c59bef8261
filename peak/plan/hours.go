package plan

import (
	"slices"
	"time"
)

// Hours say when the baker can work. Clock times are minutes since midnight.
type Hours struct {
	Zone                 *time.Location // of the clock times; nil is UTC
	AsleepFrom, AsleepTo int            // both the same: never asleep
	Away                 []Away
}

// Away is a time at which the baker is not at home: every week, or once.
type Away struct {
	From, To   int            // clock times; To before From goes past midnight
	Days       []time.Weekday // on which From falls; empty is every day
	Start, End time.Time      // once, instead of the above, where Start is set
}

// Why the baker cannot work.
const (
	Asleep  = "asleep"
	NotHome = "away"
)

// Busy says why the baker cannot work at a moment; "" where the baker can.
func (h Hours) Busy(at time.Time) string {
	zone := h.Zone
	if zone == nil {
		zone = time.UTC
	}
	at = at.In(zone)
	minute := at.Hour()*60 + at.Minute()
	if within(minute, h.AsleepFrom, h.AsleepTo) {
		return Asleep
	}
	for _, a := range h.Away {
		if a.covers(at, minute) {
			return NotHome
		}
	}
	return ""
}

func (a Away) covers(at time.Time, minute int) bool {
	if !a.Start.IsZero() {
		return !at.Before(a.Start) && at.Before(a.End)
	}
	if !within(minute, a.From, a.To) {
		return false
	}
	day := at.Weekday()
	if a.To < a.From && minute < a.To {
		day = (day + 6) % 7 // it began the day before
	}
	return len(a.Days) == 0 || slices.Contains(a.Days, day)
}

// within reports whether a minute of the day lies in [from, to), past midnight
// too.
func within(minute, from, to int) bool {
	if from <= to {
		return minute >= from && minute < to
	}
	return minute >= from || minute < to
}

// why says what keeps the baker from the whole slot from at; "" if nothing.
func (h Hours) why(at time.Time) string {
	if w := h.Busy(at); w != "" {
		return w
	}
	return h.Busy(at.Add(Slot - time.Second))
}

// free reports whether the whole slot from at can be worked in.
func (h Hours) free(at time.Time) bool {
	return h.why(at) == ""
}

// Ever reports whether there is a slot between two times in which somebody can
// work.
func (h Hours) Ever(from, to time.Time) bool {
	for at := from; at.Before(to); at = at.Add(Slot) {
		if h.free(at) {
			return true
		}
	}
	return false
}
