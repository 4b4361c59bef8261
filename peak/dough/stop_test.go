package dough

import (
	"math"
	"testing"
	"time"
)

// TestStops holds the table to common practice (no source): wheat at a fifth of
// starter before a cold proof from 30 % at 27 °C to 100 % below 20 °C, 75 to 100 %
// before a proof in the room, rye 30 to 50 %.
func TestStops(t *testing.T) {
	s := UsualStops()
	if err := s.Check(); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		c    float64
		next Next
		want float64
	}{
		{27, ColdProof, 0.30}, {30, ColdProof, 0.30}, {19, ColdProof, 1}, {16, ColdProof, 1},
		{25.5, ColdProof, 0.40}, {24, RoomProof, 0.75}, {18, RoomProof, 1}, {27, RyeBake, 0.30}, {19, RyeBake, 0.50},
	} {
		if got := s.Rise(tt.c, tt.next); math.Abs(got-tt.want) > 1e-9 {
			t.Errorf("at %g °C before %v: %g, want %g", tt.c, tt.next, got, tt.want)
		}
	}
	for c := 15.0; c < 32; c += 0.5 {
		for _, next := range []Next{RoomProof, ColdProof, RyeBake} {
			if s.Rise(c+0.5, next) > s.Rise(c, next)+1e-9 {
				t.Errorf("warmer than %g °C it should rise more before %v", c, next)
			}
		}
	}
	if (Stops{{20, 1, 1, 1}, {25, 1, 1, 1}}).Check() == nil || (Stops{{20, 0, 1, 1}}).Check() == nil {
		t.Error("a bad table was taken")
	}
}

// TestCooling: a loaf of a kilogram that goes into the fridge warm works on for
// hours, a small one less (the time constants are computed, not measured).
func TestCooling(t *testing.T) {
	kilo := Cooling{MassKg: 1}
	if got, ok := kilo.Until(27, 10); !ok || got < 3*time.Hour || got > 5*time.Hour {
		t.Errorf("from 27 to 10 °C in %v", got)
	}
	if _, ok := kilo.Until(27, 4); ok {
		t.Error("it comes down to the fridge's own temperature")
	}
	warm, cool := kilo.GoesOn(27, 16*time.Hour), kilo.GoesOn(19, 16*time.Hour)
	if warm < 1.5 || warm > 4 || cool >= 0.7*warm {
		t.Errorf("from 27 °C it works on for %.1f h at 25 °C, from 19 °C for %.1f", warm, cool)
	}
	if small := (Cooling{MassKg: 0.4}).GoesOn(27, 16*time.Hour); small >= warm {
		t.Errorf("400 g work on for %.1f h, a kilogram for %.1f", small, warm)
	}
	var after []time.Duration
	var temps []float64
	course := Cooling{MassKg: 1, Slow: 130 * time.Minute}.Course(25)
	for m := 0; m < 300; m += 10 {
		after, temps = append(after, time.Duration(m)*time.Minute), append(temps, course(time.Duration(m)*time.Minute)+0.1*math.Sin(float64(m)))
	}
	if got, ok := MeasuredCooling(4, after, temps); !ok || (got-130*time.Minute).Abs() > 10*time.Minute {
		t.Errorf("measured %v, %v; it is 2h10m", got, ok)
	}
	if _, ok := MeasuredCooling(4, after[:3], temps[:3]); ok {
		t.Error("three readings tell the cooling")
	}
}
