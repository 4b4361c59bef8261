package control

import (
	"testing"
	"time"
)

// zone loads a zone of the tz database, which holds the rules that are checked.
func zone(t *testing.T, name string) *time.Location {
	t.Helper()
	l, err := time.LoadLocation(name)
	if err != nil {
		t.Skipf("no tz database here: %v", err)
	}
	return l
}

// follows is the setpoint that a mat in a zone follows at an instant that is
// written in UTC.
func follows(t *testing.T, loc *time.Location, utc string, s Schedule) float64 {
	t.Helper()
	at, err := time.Parse("2006-01-02 15:04", utc)
	if err != nil {
		t.Fatal(err)
	}
	m, err := New(&Dry{}, Opts{SetpointC: 25, Location: loc, Schedule: s})
	if err != nil {
		t.Fatal(err)
	}
	m.Tick(at)
	return m.State().SetpointC
}

// A slot means the time of day of the configured place, wherever the board
// thinks it is. Transitions of 2026 by the tz database: Oslo goes to summer
// time on 29 March at 01:00 UTC and back on 25 October at 01:00 UTC; Auckland
// leaves summer time on 4 April at 14:00 UTC and returns on 26 September.
func TestScheduleInItsZone(t *testing.T) {
	h := func(h, m int) time.Duration { return time.Duration(h)*time.Hour + time.Duration(m)*time.Minute }
	night := Schedule{{From: h(22, 0), To: h(6, 0), SetpointC: 20}}
	small := Schedule{{From: h(2, 15), To: h(2, 45), SetpointC: 20}}
	sunday := Schedule{{Days: []time.Weekday{time.Sunday}, From: h(1, 0), To: h(4, 0), SetpointC: 20}}
	tests := []struct {
		name, zone, utc string
		s               Schedule
		want            float64
	}{
		{"midday in UTC is night in Auckland", "Pacific/Auckland", "2026-01-10 12:00", night, 20},
		{"night in UTC is midday in Auckland", "Pacific/Auckland", "2026-01-10 23:30", night, 25},
		{"Saturday in UTC is Sunday in Auckland", "Pacific/Auckland", "2026-01-10 13:00", sunday, 20},
		{"Oslo in winter, before the slot", "Europe/Oslo", "2026-01-10 20:59", night, 25},
		{"Oslo in winter, in the slot", "Europe/Oslo", "2026-01-10 21:00", night, 20},
		{"Oslo in summer, in the slot", "Europe/Oslo", "2026-07-10 20:00", night, 20},
		{"the short night, before it", "Europe/Oslo", "2026-03-29 00:59", night, 20},
		{"the short night ends at six of the new time", "Europe/Oslo", "2026-03-29 03:59", night, 20},
		{"the short night is over", "Europe/Oslo", "2026-03-29 04:00", night, 25},
		{"a slot in the hour that does not exist", "Europe/Oslo", "2026-03-29 01:00", small, 25},
		{"the long night, two o'clock for the first time", "Europe/Oslo", "2026-10-25 00:30", small, 20},
		{"the long night, between", "Europe/Oslo", "2026-10-25 00:50", small, 25},
		{"the long night, two o'clock once more", "Europe/Oslo", "2026-10-25 01:30", small, 20},
		{"the long night ends at six of the new time", "Europe/Oslo", "2026-10-25 04:59", night, 20},
		{"the long night is over", "Europe/Oslo", "2026-10-25 05:00", night, 25},
		{"the other half of the world, a long Sunday", "Pacific/Auckland", "2026-04-04 15:59", sunday, 20},
		{"and its end", "Pacific/Auckland", "2026-04-04 16:00", sunday, 25},
		{"half an hour of offset", "Asia/Kolkata", "2026-01-10 16:30", night, 20},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := follows(t, zone(t, tt.zone), tt.utc, tt.s); got != tt.want {
				t.Errorf("follows %g, want %g", got, tt.want)
			}
		})
	}
}
