package monitor

import (
	"testing"
	"time"
)

func TestHoliday(t *testing.T) {
	from := time.Date(2026, 12, 5, 18, 0, 0, 0, time.UTC)
	h := Holiday{From: from, Until: from.AddDate(0, 0, 9)}
	for at, want := range map[time.Duration][2]bool{
		-time.Minute: {false, false}, 0: {true, false}, 9*24*time.Hour - time.Minute: {true, false},
		9 * 24 * time.Hour: {false, true}, 10*24*time.Hour - time.Minute: {false, true}, 10 * 24 * time.Hour: {false, false},
	} {
		if now := from.Add(at); h.Covers(now) != want[0] || h.Ended(now) != want[1] {
			t.Errorf("after %v: %v, %v", at, h.Covers(now), h.Ended(now))
		}
	}
	if (Holiday{}).Covers(from) || (Holiday{}).Ended(from) {
		t.Error("no holiday is one")
	}
}
