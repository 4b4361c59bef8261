package planning

import (
	"strings"
	"testing"
	"time"
)

func TestParseWish(t *testing.T) {
	oslo, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Skip(err)
	}
	now := time.Date(2026, 11, 28, 8, 0, 0, 0, oslo) // a Saturday
	tests := []struct{ text, want string }{
		{"Saturday 07:30", "2026-12-05T07:30:00+01:00"}, // today's is past
		{"saturday 8:30", "2026-11-28T08:30:00+01:00"},
		{"Sun 7:30", "2026-11-29T07:30:00+01:00"},
		{"tomorrow 7:30", "2026-11-29T07:30:00+01:00"},
		{"tomorrow at 7:30", "2026-11-29T07:30:00+01:00"},
		{"today 18.15", "2026-11-28T18:15:00+01:00"},
		{"7:30", "2026-11-29T07:30:00+01:00"},
		{"6pm", "2026-11-28T18:00:00+01:00"},
		{"6:30 PM", "2026-11-28T18:30:00+01:00"},
		{"7.15 am", "2026-11-29T07:15:00+01:00"},
		{"2027-01-02 7:30 pm", "2027-01-02T19:30:00+01:00"},
		{"2027-01-02T07:30", "2027-01-02T07:30:00+01:00"},
		{"mon 7:30 am", "2026-11-30T07:30:00+01:00"},
		{"2027-01-02 07:30", "2027-01-02T07:30:00+01:00"},
		{"2027-07-02T07:30:00Z", "2027-07-02T07:30:00Z"},
	}
	for _, tt := range tests {
		got, err := ParseTime(tt.text, now, oslo)
		if err != nil || got.Format(time.RFC3339) != tt.want {
			t.Errorf("%q: got %v, %v; want %s", tt.text, got.Format(time.RFC3339), err, tt.want)
		}
	}
	spring := time.Date(2027, 3, 26, 18, 0, 0, 0, oslo)
	for _, text := range []string{"Sunday 02:30", "2027-03-28 02:30", "Sun 2:30 am"} {
		if got, err := ParseTime(text, spring, oslo); err == nil || err.Error() != "there is no 02:30 on 2027-03-28: the clocks go forward that night" {
			t.Errorf("%q: got %v, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "Saturday", "Caturday 7:30", "tomorrow 25:00", "in a while", "sa 7:30"} {
		if got, err := ParseTime(text, now, oslo); err == nil || !strings.Contains(err.Error(), "write it like") {
			t.Errorf("%q: got %v, %v", text, got, err)
		}
	}
}
