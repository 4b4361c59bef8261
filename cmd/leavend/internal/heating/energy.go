package heating

import "time"

// The night that its energy is told of: eight in the evening to eight in the
// morning.
const nightFrom, nightHours = 20, 12

// EnergySpan is what the mat drew in one span of time.
type EnergySpan struct {
	Of       string // day, night or feed
	From, To time.Time
	KWh      float64
}

// The spans of time whose energy is told.
const (
	LastDay   = "day"
	LastNight = "night"
	SinceFeed = "feed"
)

// EnergySpans returns what the mat drew in the last day, in the last night, and
// since the last feed, if one is known (zero: none). What was not counted from its
// beginning is left out.
func (h *Heater) EnergySpans(now, fed time.Time) []EnergySpan {
	var out []EnergySpan
	since := h.Meter.Since()
	if since.IsZero() {
		return out
	}
	add := func(of string, from, to time.Time) {
		to = Earliest(to, now)
		if kWh, whole := h.Meter.Between(from, to); whole {
			out = append(out, EnergySpan{of, from, to, kWh})
		}
	}
	add(LastDay, Latest(now.Add(-24*time.Hour), since), now)
	local := now.In(h.conf.Timezone)
	evening := time.Date(local.Year(), local.Month(), local.Day(), nightFrom, 0, 0, 0, local.Location())
	if evening.After(now) {
		evening = time.Date(local.Year(), local.Month(), local.Day()-1, nightFrom, 0, 0, 0, local.Location())
	}
	add(LastNight, evening, evening.Add(nightHours*time.Hour))
	if !fed.IsZero() && now.Sub(fed) < MeterSpan {
		add(SinceFeed, fed, now)
	}
	return out
}
