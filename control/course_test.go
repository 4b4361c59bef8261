package control_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"leavend/control"
)

// A course goes before schedule and setpoint, and when it is not renewed both
// hold again as they were.
func TestCourseEndsByItself(t *testing.T) {
	m, err := control.New(&control.Dry{}, control.Opts{SetpointC: 25, Schedule: control.Schedule{{SetpointC: 23}}})
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	m.Tick(now)
	if err := m.SetCourse(now, 27, 15*time.Minute); err != nil {
		t.Fatal(err)
	}
	if got := m.State().SetpointC; got != 27 {
		t.Errorf("with a course of 27: setpoint %g", got)
	}
	m.Tick(now.Add(14 * time.Minute))
	if got := m.State().SetpointC; got != 27 {
		t.Errorf("after 14 of 15 minutes: setpoint %g", got)
	}
	m.Tick(now.Add(16 * time.Minute))
	if got := m.State().SetpointC; got != 23 {
		t.Errorf("after its end: setpoint %g, want the schedule's 23", got)
	}
	now = now.Add(20 * time.Minute)
	if err := m.SetCourse(now, 27, 99*time.Hour); err != nil {
		t.Fatal(err)
	}
	m.Tick(now.Add(61 * time.Minute))
	if got := m.State().SetpointC; got != 23 {
		t.Errorf("an hour and a minute after the longest course: setpoint %g", got)
	}
}

// Rule 2 holds for a course as for every setpoint: nothing within 2 °C of a
// cutoff, whatever is asked.
func TestCourseStaysBelowTheCutoffs(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cutoff := rapid.Float64Range(30, 45).Draw(t, "cutoff")
		m, err := control.New(&control.Dry{}, control.Opts{SetpointC: 25, VesselCutoffC: cutoff})
		if err != nil {
			t.Fatal(err)
		}
		now := time.Now()
		for range 10 {
			now = now.Add(time.Duration(rapid.IntRange(0, 7200).Draw(t, "s")) * time.Second)
			c := rapid.OneOf(rapid.Float64(), rapid.Float64Range(0, 60), rapid.Just(math.NaN()), rapid.Just(math.Inf(1))).Draw(t, "c")
			err := m.SetCourse(now, c, time.Duration(rapid.Int64().Draw(t, "hold")))
			if err == nil && c != 0 && !(c >= 5 && c <= cutoff-control.SetpointMarginC) {
				t.Fatalf("%g °C was taken with the cutoff at %g", c, cutoff)
			}
			if got := m.State().SetpointC; !(got >= 5 && got <= cutoff-control.SetpointMarginC) {
				t.Fatalf("asked for %g °C, it holds %g; cutoff %g", c, got, cutoff)
			}
		}
	})
}
