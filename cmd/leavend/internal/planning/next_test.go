package planning

import (
	"slices"
	"testing"
	"time"
)

// The hour stays when the clocks change: in Oslo on 28 March 2027.
func TestEveryWeekKeepsItsHour(t *testing.T) {
	zone, err := time.LoadLocation("Europe/Oslo")
	if err != nil {
		t.Fatal(err)
	}
	w := weekly{Days: []time.Weekday{time.Saturday, time.Monday}, Clock: 7*60 + 30}
	at := time.Date(2027, 3, 26, 12, 0, 0, 0, zone)
	var got []string
	for range 3 {
		at = w.next(at, zone)
		got = append(got, at.Format(time.RFC3339))
	}
	want := []string{"2027-03-27T07:30:00+01:00", "2027-03-29T07:30:00+02:00", "2027-04-03T07:30:00+02:00"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
}
