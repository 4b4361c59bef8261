package peak

import (
	"math"
	"testing"
	"time"
)

// TestUsualDistanceOfReadings: what lies between a mark and the readings around it
// says nothing about how far readings are apart, and a lasting change is followed.
func TestUsualDistanceOfReadings(t *testing.T) {
	for _, tt := range []struct {
		name  string
		first time.Duration // from the mark to the first reading
		every time.Duration
	}{
		{"the reading comes with the mark", 0, time.Minute},
		{"it comes a moment after", 3 * time.Second, 40 * time.Second},
		{"a first pair that is close", 0, 30 * time.Second},
	} {
		var c clock
		c.mark(starts)
		at := starts.Add(tt.first)
		c.advance(at)
		if tt.name == "a first pair that is close" {
			at = at.Add(time.Second)
			c.advance(at)
		}
		for range 120 {
			at = at.Add(tt.every)
			c.advance(at)
		}
		if got := c.period * 3600; math.Abs(got-tt.every.Seconds()) > 1 {
			t.Errorf("%s: readings are thought to be %.3g s apart, want %v", tt.name, got, tt.every)
		}
	}
}

// TestStirReadByTheMinute stirs down a collapsed jar that is read once a minute: it stands at
// its new level at once, so it was not away, and the spoon brought no flour.
func TestStirReadByTheMinute(t *testing.T) {
	d := New(Opts{})
	at := starts
	d.Fed(at)
	for i := range 14 * 60 {
		hours := float64(i) / 60
		h := -150 + 50*sigmoid((hours-4)/0.7)*(1-0.6*sigmoid((hours-9)/0.4))
		if hours >= 12 {
			h -= 19
		}
		for _, e := range d.Add(at, h+0.3*math.Sin(float64(i)*2.4), 25) {
			if e.Kind == EventFed {
				t.Errorf("after %.2f h a feed is found", hours)
			}
		}
		at = at.Add(time.Minute)
	}
	if d.feed.source != "marked" || !d.feed.collapse {
		t.Error("the jar has not collapsed")
	}
}
